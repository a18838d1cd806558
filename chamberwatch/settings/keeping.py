"""The settings file on the disk: read, changed, and written so that it is never half a file."""

import contextlib
import os
import tempfile
import threading
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import time
from pathlib import Path
from typing import Any, Final

from chamberwatch.core.errors import Fault, RefusedError, SettingsError
from chamberwatch.settings.editing import Edit, edited
from chamberwatch.settings.loading import check, named, parsed, reading, sound_text
from chamberwatch.settings.models import Settings

BEFORE: Final = ".before"
"""Ends the name of the copy of what the file was before the last change from here."""

SECTIONS: Final = ("site", "mqtt", "web")
LISTS: Final[Mapping[str, tuple[str, ...]]] = {
    "chamber": ("name",),
    "sensor": ("name", "topic", "chamber"),
    "device": ("name", "chamber"),
    "notify": ("name",),
    "rotation": ("species",),
}
"""The lists of the file, with the texts by which an entry is known."""
WITHIN: Final[Mapping[str, tuple[type, ...]]] = {
    "shelves": (str,),
    "visits": (str, time),
    "when": (dict,),
    "away": (dict,),
}
"""The lists within an entry, and of what they are."""

NO_FURTHER: Final = "Nothing was changed."


def _no_more(_settings: Settings) -> Iterable[Fault]:
    return ()


def _shaped(content: Mapping[str, Any]) -> bool:
    """Tell whether sections are sections, and each entry of a list can be known by its texts."""
    return all(isinstance(content.get(name, {}), dict) for name in SECTIONS) and all(
        _list_of(content.get(name, []), (dict,))
        and all(_entry(each, keys) for each in content.get(name, []))
        for name, keys in LISTS.items()
    )


def _entry(entry: Mapping[str, Any], keys: Sequence[str]) -> bool:
    return all(isinstance(entry.get(key), str) for key in keys) and all(
        _list_of(entry.get(key, []), kinds) for key, kinds in WITHIN.items()
    )


def _list_of(entries: object, kinds: tuple[type, ...]) -> bool:
    return isinstance(entries, list) and all(isinstance(each, kinds) for each in entries)


@dataclass(frozen=True, slots=True)
class SettingsFile:
    """The grower's settings file.

    Attributes:
        path: of the file.
        environment: such as os.environ; secrets come from there.
        more: what else can be wrong with settings that are sound by themselves.
        taken: told after each change, once it is on the disk.
    """

    path: Path
    environment: Mapping[str, str]
    more: Callable[[Settings], Iterable[Fault]] = _no_more
    taken: Callable[[], None] = lambda: None
    _turn: threading.Lock = field(default_factory=threading.Lock)

    def content(self) -> dict[str, Any]:
        """Return what stands in it now, addresses with their names; no secrets of elsewhere.

        Raises:
            SettingsError: it can't be read, or a section of it has another shape than it must
                have; every fault of the file is named.
        """
        content = parsed(self.path)
        if isinstance(content.get("notify"), list):
            content["notify"] = named(content["notify"], None)
        if not _shaped(content) and (faults := check(self.path, self.environment)):
            raise SettingsError(faults)
        return content

    def change(self, edits: Sequence[Edit]) -> None:
        """Change it, all at once or not at all; two changes at once are made one by one.

        Args:
            edits: applied to what stands there now, whoever wrote it.

        Raises:
            SettingsError: what would stand there is at fault; every fault is named.
            RefusedError: it can't be changed or written; the text says what to do.
        """
        with self._turn:
            before, mark = sound_text(self.path)
            after = edited(before, edits)
            if after == before:
                return
            settings = reading(after, self.path, self.environment)
            if faults := tuple(self.more(settings)):
                raise SettingsError(faults)
            self._write(after, before, mark)
        self.taken()

    def _write(self, after: str, before: str, mark: bytes) -> None:
        # A link leads to the file that is meant; replacing the link itself would part the two.
        path = self.path.resolve()
        try:
            replaced(path.with_name(path.name + BEFORE), mark + before.encode(), like=path)
            replaced(path, mark + after.encode(), like=path)
        except OSError as error:
            raise RefusedError(
                f"{path} can't be written ({error.strerror}). {NO_FURTHER} Give the account that "
                f"runs chamberwatch the right to write that file and its folder, or change the "
                f"file by hand and read it again under Set-up."
            ) from error


def replaced(path: Path, content: bytes, *, like: Path) -> None:
    """Put a file in place of another, whole or not at all, with the rights of `like`.

    Raises:
        OSError: it can't be written.
    """
    stat = like.stat()
    handle, made = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            os.fchmod(file.fileno(), stat.st_mode & 0o7777)
            # Only root may give a file away; anyone else owns it already.
            with contextlib.suppress(PermissionError):
                os.fchown(file.fileno(), stat.st_uid, stat.st_gid)
            file.flush()
            os.fsync(file.fileno())
        Path(made).replace(path)
    except BaseException:
        Path(made).unlink(missing_ok=True)
        raise
    folder = os.open(path.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)
