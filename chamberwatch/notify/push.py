"""Messages to phones, through the notification library."""

import logging
import re
import tempfile
from pathlib import Path
from typing import Any, Final

from chamberwatch.core.errors import Fault, SettingsError
from chamberwatch.core.sentence import plain
from chamberwatch.notify import reasons
from chamberwatch.notify.patience import Patience
from chamberwatch.service.ports import Links, Outcome

log = logging.getLogger(__name__)

CONNECT_S: Final = 10
READ_S: Final = 20
"""How long a service may take; without these a dead one would hold the delivery for minutes."""
ALL_S: Final = 60.0
"""How long it may take altogether: one that answers a letter at a time is never idle for long."""

PICTURE_NAME: Final = "last-six-hours.png"


class Push:
    """One address of one person."""

    def __init__(
        self,
        name: str,
        address: str,
        links: Links | None,
        *,
        pictures: bool = True,
        patience_s: float = ALL_S,
    ) -> None:
        """Prepare the address; it may hold a secret, so it is kept out of every text.

        Args:
            name: of the address.
            address: as the library takes it.
            links: makes the links of a message.
            pictures: whether they are wanted; they are sent where the service takes them.
            patience_s: how long a service may take altogether. [s]

        Raises:
            SettingsError: the library can't make anything of it.
        """
        import apprise

        _keep_quiet()
        self.name = name
        self.links = links
        # Followed, a redirect turns a message into a mere look-up, which then counts as sent.
        # Its own time-out leaves threads of a small pool hanging that all addresses share.
        asset = apprise.AppriseAsset(http_redirects=False, service_timeout=0)
        self._apprise = apprise.Apprise(asset=asset)
        if not self._apprise.add(_patient(address)):
            cure = "This is no address that the notification library takes; look at its form."
            raise SettingsError((Fault("settings", f"notify {name}.to", "", cure),))
        self.takes_pictures = all(service.attachment_support for service in self._apprise)
        self.pictures = pictures and self.takes_pictures
        self._patience = Patience(patience_s)

    def send(self, title: str, body: str, picture: bytes | None = None) -> Outcome:
        """Hand the message over; the reason of a failure holds no secret."""
        shown = picture if self.pictures else None
        title, body = plain(title), plain(body)
        return self._patience.call((title, body), lambda: self._try(title, body, shown))

    def _try(self, title: str, body: str, picture: bytes | None) -> Outcome:
        try:
            return self._send(title, body, picture)
        except Exception as error:  # noqa: BLE001 - plug-ins of many hands; none may stop us
            kind = type(error).__name__
            return Outcome(ok=False, reason=f"the notification library failed: {kind}")

    def _send(self, title: str, body: str, picture: bytes | None) -> Outcome:
        if picture is not None:
            result = self._with_picture(title, body, picture)
            logged = _logged(result)
            if result is not None and not reasons.perhaps_the_picture(result.status.name, logged):
                return _outcome(result, logged)
            log.warning("A picture to %s was not taken; the message goes without it.", self.name)
        result = self._notify(title, body, None)
        return _outcome(result, _logged(result))

    def _with_picture(self, title: str, body: str, picture: bytes) -> Any:  # noqa: ANN401
        """Send it with a picture; None where that failed before anything went out."""
        try:
            with tempfile.TemporaryDirectory(prefix="chamberwatch-") as folder:
                file = Path(folder) / PICTURE_NAME
                file.write_bytes(picture)
                return self._notify(title, body, str(file))
        except OSError:
            return None

    def _notify(self, title: str, body: str, attach: str | None) -> Any:  # noqa: ANN401 - untyped
        from apprise import NotifyFormat

        return self._apprise.notify(
            title=title,
            body=body,
            body_format=NotifyFormat.TEXT,
            attach=attach,
            log_level=logging.DEBUG,
        )


def _logged(result: Any) -> list[str]:  # noqa: ANN401 - published without types
    return [] if result is None else [str(entry.message) for entry in result.logs()]


def _outcome(result: Any, logged: list[str]) -> Outcome:  # noqa: ANN401 - published without types
    # `result == False` is never true: its truth value is what counts.
    return Outcome(ok=True) if result else reasons.outcome(result.status.name, logged)


def _patient(address: str) -> str:
    """Add time-outs to an address that states none."""
    if re.search(r"[?&](cto|rto)=", address):
        return address
    return f"{address}{'&' if '?' in address else '?'}cto={CONNECT_S}&rto={READ_S}"


def _keep_quiet() -> None:
    """Keep what the library and its HTTP client log to themselves.

    An address is logged when it can't be read, when it fails and, in detail, when it works; its
    host or path is often the secret.
    """
    library = logging.getLogger("apprise")
    library.propagate = False
    # What it says in detail of a failure is only heard by `reasons`, and never leaves it.
    library.setLevel(logging.DEBUG)
    if not library.handlers:
        library.addHandler(logging.NullHandler())
    logging.getLogger("urllib3").setLevel(logging.ERROR)
