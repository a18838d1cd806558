"""The disk fails in the ways a card fails; what was accepted is stored once it can be again."""

import shutil
import sqlite3
import subprocess
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from tests.brokers import DEADLINE_S, MOSQUITTO, NO_MOSQUITTO, visiting, wait_until
from tests.faults.flow import HOUSE, Sender, assert_all_kept, sent_more, taken_in, three_hours_ago
from tests.faults.processes import DaemonProcess, command, daemon_at, environment

pytestmark = pytest.mark.skipif(MOSQUITTO is None, reason=NO_MOSQUITTO)


@contextmanager
def small_disk(folder: Path, size: str = "3m") -> Iterator[Path]:
    """Mount a disk of its own until the block is left; skip where that is not allowed."""
    folder.mkdir()
    made = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(folder)],
        check=False,
        capture_output=True,
        text=True,
    )
    if made.returncode:
        pytest.skip(f"a small disk can be mounted by root only: {made.stderr.strip()}")
    try:
        yield folder
    finally:
        subprocess.run(["umount", "--lazy", str(folder)], check=True)


@contextmanager
def daemon_with(folder: Path, disk: Path | None = None) -> Iterator[DaemonProcess]:
    with daemon_at(folder, log="log_type all\n") as daemon:
        daemon.place = disk
        daemon.settle(HOUSE)
        daemon.start()
        yield daemon


def acknowledged(daemon: DaemonProcess) -> int:
    """Return how many messages the daemon has told the broker to forget."""
    return daemon.broker.log().count("Received PUBACK from faults")


def fill(disk: Path) -> Path:
    """Fill a disk to its last byte; return the file that does it."""
    ballast = disk / "ballast"
    with ballast.open("wb", buffering=0) as file:
        try:
            while True:
                file.write(b"\0" * 4096)
        except OSError:
            pass
    assert shutil.disk_usage(disk).free == 0
    return ballast


def test_a_full_disk_costs_nothing_once_there_is_room_again(tmp_path: Path) -> None:
    with (
        small_disk(tmp_path / "card") as disk,
        daemon_with(tmp_path, disk) as daemon,
        visiting(daemon.broker) as client,
    ):
        sender = Sender(client, three_hours_ago())
        with sender.sending():
            sent_more(sender)
            ballast = fill(disk)
            wait_until(lambda: daemon.says("can't grow: the disk is full"), "it says so")
            sent_more(sender)
            ballast.unlink()
            wait_until(lambda: not daemon.says("can't be stored"), "it goes on by itself")
            sent_more(sender)
        accepted = sender.accepted()
        taken_in(daemon, accepted)
        assert daemon.end() == 0, daemon.log()
        assert_all_kept(daemon, sender, accepted)
        assert daemon.log().count("Readings can't be stored") == 1


def test_a_database_that_another_program_holds_is_waited_for(tmp_path: Path) -> None:
    with daemon_with(tmp_path) as daemon, visiting(daemon.broker) as client:
        sender = Sender(client, three_hours_ago())
        with sender.sending():
            sent_more(sender)
            with closing(sqlite3.connect(daemon.file, isolation_level=None)) as other:
                other.execute("begin immediate")
                # Longer than a transaction waits for its turn.
                wait_until(lambda: daemon.says("is held by another program"), "it says so")
                sent_more(sender)
                other.execute("rollback")
            wait_until(lambda: not daemon.says("can't be stored"), "it goes on by itself")
        accepted = sender.accepted()
        taken_in(daemon, accepted)
        assert daemon.end() == 0, daemon.log()
        assert_all_kept(daemon, sender, accepted)


def test_on_a_disk_that_only_reads_it_says_so_and_does_not_start(tmp_path: Path) -> None:
    with small_disk(tmp_path / "card") as disk, daemon_at(tmp_path) as daemon:
        daemon.place = disk
        daemon.settle(HOUSE)
        daemon.start()
        assert daemon.end() == 0, daemon.log()
        subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
        refused = subprocess.run(
            command("run", "--config", str(tmp_path / "cw.toml")),
            env=environment(),
            capture_output=True,
            text=True,
            timeout=3 * DEADLINE_S,
            check=False,
        )
        assert refused.returncode == 1
        assert "can't be written" in refused.stderr
        assert "Traceback" not in refused.stderr
        subprocess.run(["mount", "-o", "remount,rw", str(disk)], check=True)
        daemon.start()
        assert daemon.end() == 0, daemon.log()


def test_a_power_cut_leaves_what_was_acknowledged(tmp_path: Path) -> None:
    """The process stands still, and its files as they are then go to another machine.

    Copied so, writes count that were under way and not yet ordered; the file with its log must
    stand that as it stands a power cut.
    """
    with daemon_with(tmp_path) as daemon, visiting(daemon.broker) as client:
        sender = Sender(client, three_hours_ago())
        with sender.sending():
            wait_until(lambda: acknowledged(daemon) > 0, "the first commit")
            for cut in range(5):
                sent_more(sender)
                with daemon.standing_still():
                    confirmed = acknowledged(daemon)
                    copy = tmp_path / f"cut-{cut}.db"
                    for suffix in ("", "-wal"):
                        shutil.copy(f"{daemon.file}{suffix}", f"{copy}{suffix}")
                with closing(sqlite3.connect(copy)) as file:
                    assert file.execute("pragma integrity_check").fetchone() == ("ok",)
                    (stored,) = file.execute(
                        "select (select count(*) from readings) + (select count(*) from undated)"
                    ).fetchone()
                assert stored >= confirmed > 0
        accepted = sender.accepted()
        taken_in(daemon, accepted)
        assert_all_kept(daemon, sender, accepted)


def test_a_damaged_end_of_the_log_is_said_and_the_rest_is_there(tmp_path: Path) -> None:
    with daemon_with(tmp_path) as daemon, visiting(daemon.broker) as client:
        sender = Sender(client, three_hours_ago())
        with sender.sending():
            wait_until(lambda: acknowledged(daemon) > 0, "the first commit")
            sent_more(sender)
        accepted = sender.accepted()
        taken_in(daemon, accepted)
        before = daemon.number("select count(*) from readings")
        daemon.kill()
        log = daemon.file.with_name(f"{daemon.file.name}-wal")
        pages = bytearray(log.read_bytes())
        pages[-100] ^= 0xFF
        log.write_bytes(pages)
        daemon.start()
        assert "the last commit could not be read any more" in daemon.log()
        lost = before - daemon.number("select count(*) from readings")
        wait_until(
            lambda: "could not be read any more" in daemon.looked_over(), "the page says so"
        )
        assert daemon.number("select count(*) from readings") > 0
        # No more than was in that commit: what came in within a second of `commit_every`.
        assert 0 <= lost < 500
        assert daemon.end() == 0, daemon.log()
