"""Passcodes as they are kept: argon2id (RFC 9106), fit for a board with 512 MB."""

from typing import Final

from argon2 import extract_parameters
from argon2.exceptions import Argon2Error
from pwdlib import PasswordHash
from pwdlib.exceptions import PwdlibError
from pwdlib.hashers.argon2 import Argon2Hasher

from chamberwatch.service.admission import UnreadableHashError

MEMORY_KIB: Final = 19 * 1024
PASSES: Final = 2
LANES: Final = 1
"""Dear enough for a guesser, and some tenths of a second on the smallest of boards."""


class Argon2:
    """Makes and checks hashes. Takes its time, so not on the loop that serves all."""

    def __init__(self) -> None:
        """Set the costs."""
        self._hash = PasswordHash(
            (Argon2Hasher(time_cost=PASSES, memory_cost=MEMORY_KIB, parallelism=LANES),)
        )

    def hash(self, passcode: str) -> str:
        """Return a hash with a salt of its own."""
        return self._hash.hash(passcode)

    def fits(self, passcode: str, kept: str) -> bool:
        """Tell whether a passcode is the one that the kept hash was made from.

        Raises:
            UnreadableHashError: the kept hash can't be read.
        """
        try:
            # The library takes one that is damaged for one that does not fit.
            extract_parameters(kept)
            return self._hash.verify(passcode, kept)
        except (PwdlibError, Argon2Error, ValueError) as exc:
            raise UnreadableHashError from exc
