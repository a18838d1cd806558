"""Messages to phones, through the notification library."""

import logging
import re
from typing import Final

from chamberwatch.core.errors import Fault, SettingsError
from chamberwatch.service.ports import Links, Outcome

CONNECT_S: Final = 10
READ_S: Final = 20
"""How long a service may take; without these a dead one would hold the delivery for minutes."""

TOO_MANY: Final = 429
SERVERS_FAULT: Final = 500
_REFUSALS: Final = (401, 403)
_UNREACHED: Final = (
    "the service could not be reached or did not answer in time; look at the network and the "
    "address"
)
_REASONS: Final = {
    "TIMEOUT": "the service did not answer in time",
    "NOMATCH": "no service takes this address; look at its form",
    "PARTIAL": "only some of the receivers got it; look at the address",
}


class Push:
    """One address of one person."""

    def __init__(self, name: str, address: str, links: Links | None) -> None:
        """Prepare the address; it may hold a secret, so it is kept out of every text.

        Raises:
            SettingsError: the library can't make anything of it.
        """
        import apprise

        _keep_quiet()
        self.name = name
        self.links = links
        # Followed, a redirect turns a message into a mere look-up, which then counts as sent.
        asset = apprise.AppriseAsset(http_redirects=False)
        self._apprise = apprise.Apprise(asset=asset)
        if not self._apprise.add(_patient(address)):
            cure = "This is no address that the notification library takes; look at its form."
            raise SettingsError((Fault("settings", f"notify {name}.to", "", cure),))

    def send(self, title: str, body: str) -> Outcome:
        """Hand the message over; the reason of a failure holds no secret."""
        from apprise import NotifyFormat

        try:
            result = self._apprise.notify(title=title, body=body, body_format=NotifyFormat.TEXT)
        except Exception as error:  # noqa: BLE001 - plug-ins of many hands; none may stop us
            return Outcome(
                ok=False, reason=f"the notification library failed: {type(error).__name__}"
            )
        # `result == False` is never true: its truth value is what counts.
        if result:
            return Outcome(ok=True)
        logged = " ".join(str(entry.message) for entry in result.logs())
        return Outcome(ok=False, reason=_reason(result.status.name, logged))


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
    if not library.handlers:
        library.addHandler(logging.NullHandler())
    logging.getLogger("urllib3").setLevel(logging.ERROR)


def _reason(status: str, logged: str) -> str:
    """Return the library's status in words; of its own log only the HTTP status is safe."""
    if status in _REASONS:
        return _REASONS[status]
    found = re.search(r"\berror=(\d{3})\b", logged)
    return _answered(int(found[1])) if found else _UNREACHED


def _answered(code: int) -> str:
    """Say what an HTTP status means for the person who reads it."""
    if code in _REFUSALS:
        return f"the service refused it (HTTP {code}); look at the address and its password"
    if code == TOO_MANY:
        return f"the service wants fewer messages for now (HTTP {code})"
    if code >= SERVERS_FAULT:
        return f"the service has trouble of its own (HTTP {code})"
    return f"the service did not take it (HTTP {code}); look at the address"
