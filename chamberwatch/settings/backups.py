"""How long readings are kept, and where copies of everything go at night."""

from datetime import time, timedelta
from pathlib import PurePosixPath
from typing import Annotated, Final

from pydantic import Field, field_validator

from chamberwatch.core.backups import Stay
from chamberwatch.settings.values import LongLength, Part, TimeOfDay, Whole, between

SHORTEST, LONGEST = timedelta(days=30), timedelta(days=20 * 366)
"""Below the shortest the last weeks could not be looked back on, and what is learned of the
chambers, of two weeks at the most, would rest on less than it says."""

KEEP_CURE: Final = (
    "Give 30 days at least: what is learned of a chamber, and the weeks looked back on, need "
    "them; and 20 years at the most."
)
KeepRaw = Annotated[LongLength, between(SHORTEST, LONGEST, KEEP_CURE)]

FOLDER_CURE: Final = (
    "Write the whole path of a folder, such as /mnt/chamberwatch; or take it out, and nothing is "
    "copied at night."
)


class BackupSettings(Part):
    """Where backups go, when, and how many of them stay."""

    folder: str | None = None
    at: TimeOfDay = time(3, 10)
    days: Whole = Field(default=3, ge=1, le=366)
    weeks: Whole = Field(default=4, ge=0, le=520)
    months: Whole = Field(default=3, ge=0, le=240)

    def stay(self) -> Stay:
        """Return how many stay, in the words of the core."""
        return Stay(self.days, self.weeks, self.months)

    @field_validator("folder")
    @classmethod
    def _whole_path(cls, folder: str | None) -> str | None:
        if folder is None:
            return None
        path = PurePosixPath(folder)
        if not path.is_absolute() or path == PurePosixPath("/") or not folder.isprintable():
            raise ValueError(FOLDER_CURE)
        return str(path)
