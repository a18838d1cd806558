"""A stick as the kernel has it: full, read-only, pulled out. In a mount namespace of its own."""

import json
import shutil
import subprocess
import sys
import threading
from contextlib import suppress
from datetime import timedelta
from pathlib import Path

import pytest

from chamberwatch.clock import WallClock
from chamberwatch.core.errors import StorageError
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.service.backup_ports import Pace
from chamberwatch.storage.backup_folder import BackupFolder
from chamberwatch.storage.book import open_books
from tests.faults.processes import ROOT, environment

UNSHARE = shutil.which("unshare")
ALONE = [str(UNSHARE), "--user", "--map-root-user", "--mount"]


def may_mount() -> bool:
    """Tell whether this machine lets us mount something for ourselves."""
    tried = [*ALONE, "mount", "-t", "tmpfs", "none", "/mnt"]
    return UNSHARE is not None and subprocess.run(tried, capture_output=True).returncode == 0


def mount(*words: str) -> None:
    subprocess.run(["mount", *words], check=True)


def make(place: BackupFolder, meanwhile: Path | None = None) -> str:
    """Make a backup; return its name, or why there is none."""

    def fill(what: str, _: float) -> None:
        if meanwhile is not None and what == "database" and not meanwhile.exists():
            with suppress(OSError), meanwhile.open("wb") as file:
                while True:
                    file.write(bytes(2**16))
                    file.flush()

    try:
        pace = Pace(threading.Event(), WallClock())
        return place.make(WallClock().now(), {".toml": ""}, pace, fill).file.name
    except StorageError as error:
        return str(error)


def play(home: Path) -> dict[str, object]:
    """Live through it all; return what was said, and what lay there."""
    stick = home / "stick"
    said: dict[str, object] = {}
    place = BackupFolder(stick, home / "cw.db")
    mount("-t", "tmpfs", "-o", "size=40m", "none", str(stick))
    place.begin()
    said["well"] = make(place)
    said["full meanwhile"] = make(place, stick / "holiday.mp4")
    said["full"] = make(place)
    (stick / "holiday.mp4").unlink()
    mount("-o", "remount,ro", str(stick))
    said["read-only"] = make(place)
    mount("-o", "remount,rw", str(stick))
    said["well again"] = make(place)
    said["there"] = sorted(path.name for path in stick.glob("*.db"))
    said["parts"] = [path.name for path in stick.rglob("*.part*")]
    subprocess.run(["umount", str(stick)], check=True)
    said["pulled out"] = make(place)
    said["on the card"] = [path.name for path in stick.iterdir()]
    return said


@pytest.mark.skipif(not may_mount(), reason="this machine lets nobody mount anything")
def test_a_stick_that_is_full_read_only_or_pulled_out(tmp_path: Path) -> None:
    now = WallClock().now()
    books = open_books(f"sqlite:///{tmp_path / 'cw.db'}", now)
    with books.write() as book:
        book.readings.add(
            Reading(now - n * timedelta(seconds=1), "top", Quantity.CO2, 900.0)
            for n in range(50_000)
        )
        book.kept.keep_text("ballast", "x" * 8_000_000)
    books.close()
    (tmp_path / "stick").mkdir()
    played = subprocess.run(
        [*ALONE, sys.executable, "-m", "tests.storage.test_storage_sticks", str(tmp_path)],
        cwd=ROOT,
        env=environment(),
        capture_output=True,
        text=True,
        check=False,
    )
    assert played.returncode == 0, played.stderr
    said = json.loads(played.stdout)
    assert said["there"] == [said["well"], said["well again"]]
    assert said["parts"] == []
    unwritable = f"No backup can be written in {tmp_path}/stick: "
    assert said["full meanwhile"].startswith(unwritable)
    assert "has it room" in said["full meanwhile"]
    assert "0 MB free, and a backup needs" in said["full"]
    assert said["read-only"].startswith(
        f"Nothing can be written to {tmp_path}/stick: it is mounted"
    )
    assert "is not marked as a place for backups" in said["pulled out"]
    assert said["on the card"] == []


if __name__ == "__main__":
    print(json.dumps(play(Path(sys.argv[1]))))
