"""Addresses for a desk: a terminal that is well, a phone that can't be reached."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from chamberwatch.core.errors import UnknownNameError
from chamberwatch.service.views import AddressNow, Tried
from tests.make import at

TERMINAL = AddressNow("terminal", True, False, at(-12), None, "", None, 0)
PHONE = AddressNow(
    "phone",
    False,
    True,
    at(-60 * 30),
    at(-2),
    "the service refused it (HTTP 401); look at the address and its password",
    at(-75),
    waiting=2,
)
MAIL = AddressNow("mail", True, True, at(-20), at(-50), "no answer", None, 0)
NEW = AddressNow("new", True, True, None, None, "", None, 0)


@dataclass
class FakeAddresses:
    """Answers what it was given, and remembers what was tried."""

    known: list[AddressNow] = field(default_factory=lambda: [TERMINAL, PHONE, MAIL, NEW])
    outcome: Tried = field(default_factory=lambda: Tried("phone", True, "", True))
    tried: list[str] = field(default_factory=list)

    def all(self) -> Sequence[AddressNow]:
        return self.known

    def send(self, name: str) -> Tried:
        if name not in {address.name for address in self.known}:
            raise UnknownNameError(f"There is no address “{name}”.")
        self.tried.append(name)
        return self.outcome
