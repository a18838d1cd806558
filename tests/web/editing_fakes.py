"""Settings for the pages that change them: in memory, and in a file without a daemon."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from chamberwatch.core.errors import ChamberwatchError
from chamberwatch.settings import Edit, SettingsFile
from chamberwatch.settings.editing import applied
from chamberwatch.web.tells import SettingsStand


@dataclass
class FakeEditing:
    """Keeps what it was asked, and what would stand in the file.

    Attributes:
        now: what stands in the file.
        refuse: raised by the next change.
        asked: the changes so far.
        stands: how the settings at work stand to the file.
        again: how often it was read again.
    """

    now: dict[str, Any] = field(default_factory=dict)
    refuse: ChamberwatchError | None = None
    asked: list[list[Edit]] = field(default_factory=list)
    stands: SettingsStand = field(default_factory=SettingsStand)
    again: int = 0

    def content(self) -> dict[str, Any]:
        return self.now

    def read_again(self) -> None:
        self.again += 1

    def stand(self) -> SettingsStand:
        return self.stands

    def change(self, edits: Sequence[Edit]) -> None:
        if self.refuse is not None:
            raise self.refuse
        self.asked.append(list(edits))
        for edit in edits:
            self.now = applied(self.now, edit)


class OnDisk(FakeEditing):
    """A real file behind the pages; nothing takes it over."""

    def __init__(self, path: Path) -> None:
        super().__init__()
        self.file = SettingsFile(path, {})

    def content(self) -> dict[str, Any]:
        return self.file.content()

    def change(self, edits: Sequence[Edit]) -> None:
        self.file.change(edits)
