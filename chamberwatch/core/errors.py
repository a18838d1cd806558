"""What can go wrong, as one tree. Each message says what to do."""

from dataclasses import dataclass


class ChamberwatchError(Exception):
    """Base of every error of ours; never raised itself."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong in a settings file: where it is, what stands there, how to mend it."""

    file: str
    key: str
    value: str
    cure: str

    def __str__(self) -> str:
        """Read as one line."""
        shown = f" = {self.value}" if self.value else ""
        where = f"{self.file}: {self.key}{shown}" if self.key else self.file
        return f"{where}: {self.cure}"


class SettingsError(ChamberwatchError):
    """The settings file can't be used. Mend the faults listed and start again."""

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        """Keep the faults, to be shown one a line."""
        super().__init__("\n".join(str(fault) for fault in faults))
        self.faults = faults


class BadPayloadError(ChamberwatchError):
    """A sensor's message can't be read. The text says what was found and what was expected."""


class ImpossibleMoveError(ChamberwatchError):
    """A reminder was asked to make a move its state does not allow; nothing was changed."""


class UnknownNameError(ChamberwatchError):
    """A chamber, sensor or reminder of that name does not exist. The text lists what does."""


class RefusedError(ChamberwatchError):
    """What was asked can't be done as asked; the text says why and what would work."""

    def __init__(self, words: str, field: str = "") -> None:
        """Keep the words, and the name of what they are about; empty: no one thing."""
        super().__init__(words)
        self.field = field


class WrongTimeError(RefusedError):
    """It can't have happened at that time; the text says why, and which times would do."""


class LinkError(ChamberwatchError):
    """A link from a message can't be followed; the text says why, kindly."""


class StorageError(ChamberwatchError):
    """The database can't be used; the text says what to do."""


class BrokerError(ChamberwatchError):
    """The broker can't be reached or started; the text says what to do."""
