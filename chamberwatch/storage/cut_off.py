"""What a power cut or a bad card took from the end of the write-ahead log.

SQLite keeps what it can read of the log, up to the last whole commit, and drops the rest without
a word. A grower should hear of it, so the commits that are marked in the log are counted before
it is opened and held against what SQLite could read.

Format of the log: https://www.sqlite.org/fileformat2.html#the_write_ahead_log
"""

import json
import sqlite3
import struct
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Final

from chamberwatch.storage.engine import explained

HEADER: Final = struct.Struct(">IIIIIIII")
FRAME: Final = struct.Struct(">IIIIII")
MAGIC: Final = (0x377F0682, 0x377F0683)
KEPT_AS: Final = "cut off"


@dataclass(frozen=True, slots=True)
class CutOff:
    """Commits that could not be read any more.

    Attributes:
        at: when it was noticed, aware UTC.
        commits: how many.
    """

    at: datetime
    commits: int

    def kept(self) -> str:
        """Return it as a text to be kept."""
        return json.dumps({"at": self.at.isoformat(), "commits": self.commits})

    @classmethod
    def read(cls, text: str) -> "CutOff":
        """Read what was kept."""
        told = json.loads(text)
        return cls(datetime.fromisoformat(told["at"]), int(told["commits"]))


def commits_cut_off(path: Path) -> int:
    """Return how many commits at the end of the log can't be read any more.

    Opens and closes the database, so nobody else may have it open: the daemon asks once, before
    its start. Commits of which nothing reached the disk can't be counted, and were never
    acknowledged. Where the head of the log is damaged itself, nothing can be counted.

    Args:
        path: of the database; it need not be there.

    Raises:
        StorageError: the file can't be used.
    """
    marked = _marked(path.with_name(f"{path.name}-wal"))
    if not marked:
        return 0
    with explained(path), closing(sqlite3.connect(path)) as connection:
        _, readable, _ = connection.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchone()
    return sum(number > readable for number in marked) if readable >= 0 else 0


def _marked(log: Path) -> list[int]:
    """Return the numbers, from 1, of the frames of this round of the log that end a commit."""
    try:
        file = log.open("rb")
    except FileNotFoundError:
        return []
    with file:
        head = file.read(HEADER.size)
        if len(head) < HEADER.size:
            return []
        magic, _, page, _, *salts, _, _ = HEADER.unpack(head)
        if magic not in MAGIC:
            return []
        found, number = [], 0
        while len(frame := file.read(FRAME.size)) == FRAME.size:
            _, commit, *round_of, _, _ = FRAME.unpack(frame)
            # What lies behind is left from an earlier round, and long in the database.
            if round_of != salts:
                break
            number += 1
            if commit:
                found.append(number)
            file.seek(page, 1)
        return found
