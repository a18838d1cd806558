"""Messages to phones, through the notification library."""

import logging
import re
from typing import Final

from chamberwatch.core.errors import Fault, SettingsError
from chamberwatch.service.ports import Links, Outcome

CONNECT_S: Final = 10
READ_S: Final = 20
"""How long a service may take; without these a dead one would hold the delivery for minutes."""


def readable(address: str) -> bool:
    """Tell whether the library can make something of an address."""
    import apprise

    return apprise.Apprise.instantiate(address, suppress_exceptions=True) is not None


class Push:
    """One address of one person."""

    def __init__(self, name: str, address: str, links: Links | None) -> None:
        """Prepare the address; it may hold a secret, so it is kept out of every text.

        Raises:
            SettingsError: the library can't make anything of it.
        """
        import apprise

        self.name = name
        self.links = links
        self._apprise = apprise.Apprise()
        # The library logs an address it can't read, secret and all.
        library = logging.getLogger("apprise")
        level = library.level
        library.setLevel(logging.CRITICAL)
        try:
            taken = self._apprise.add(_patient(address))
        finally:
            library.setLevel(level)
        if not taken:
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
        return Outcome(ok=False, reason=_reason(result))


def _patient(address: str) -> str:
    """Add time-outs to an address that states none."""
    if re.search(r"[?&](cto|rto)=", address):
        return address
    return f"{address}{'&' if '?' in address else '?'}cto={CONNECT_S}&rto={READ_S}"


def _reason(result: object) -> str:
    """Return the library's status as a word or two; its own log may hold the address."""
    status = getattr(result, "status", None)
    word = str(getattr(status, "name", status or "failure")).lower()
    return {
        "timeout": "the service did not answer in time",
        "nomatch": "no service takes this address",
        "partial": "only some of the receivers got it",
    }.get(word, "the service did not take it, or could not be reached")
