"""What the watcher says of itself when it looks itself over."""

from datetime import UTC, datetime, timedelta

import pytest

from chamberwatch.core import self_check
from chamberwatch.core.self_check import Database, Disk, SelfCheck
from tests.make import NOON

FILE = "/srv/tent/cw.db"


@pytest.mark.parametrize(
    ("newest", "synchronised", "well", "part"),
    [
        pytest.param(None, True, True, "A time service sets the clock", id="set"),
        pytest.param(None, False, True, "no time service vouches for it", id="nobody vouches"),
        pytest.param(timedelta(0), False, True, "timedatectl", id="nobody vouches, but no doubt"),
        pytest.param(timedelta(minutes=2), False, True, "no time service", id="just not behind"),
        pytest.param(
            timedelta(minutes=3), False, False, "of 2026-01-20 12:03 UTC. Set the clock", id="late"
        ),
        pytest.param(timedelta(minutes=3), True, False, "Set the clock", id="set, and yet late"),
    ],
)
def test_clock(newest: timedelta | None, synchronised: bool, well: bool, part: str) -> None:
    kept = None if newest is None else NOON + newest
    line = self_check.clock(NOON, kept, synchronised=synchronised)
    assert (line.name, line.well) == ("clock", well)
    assert part in line.words
    assert "2026-01-20 12:00 UTC" in line.words


@pytest.mark.parametrize(
    ("found", "well", "words"),
    [
        pytest.param(
            Disk("/srv", 79_340_000_000, writable=True),
            True,
            "79.3 GB are free at /srv.",
            id="much",
        ),
        pytest.param(
            Disk("/srv", 500_000_000, writable=True), True, "500 MB are free at /srv.", id="enough"
        ),
        pytest.param(
            Disk("/srv", 499_900_000, writable=True),
            False,
            "Only 499 MB are free at /srv, which is days and not weeks. Make room, or move the "
            "database to a larger disk.",
            id="little",
        ),
        pytest.param(
            Disk("/srv", 79_340_000_000, writable=False),
            False,
            "/srv can't be written. Give the account that runs chamberwatch the right to write "
            "there; if the whole disk can't be written any more, it wants replacing.",
            id="locked",
        ),
        pytest.param(
            Disk("/srv", None, writable=False, trouble="No such file or directory"),
            False,
            "The disk at /srv can't be looked at: No such file or directory. Look at the path.",
            id="not there",
        ),
    ],
)
def test_disk(found: Disk, well: bool, words: str) -> None:
    assert self_check.disk(found) == SelfCheck("disk", well, words)


def test_broker() -> None:
    let_in = self_check.broker("pi:1883", None)
    assert let_in == SelfCheck("broker", well=True, words="The broker at pi:1883 lets us in.")
    kept_out = self_check.broker("pi:1883", "It is off; switch it on.")
    assert kept_out == SelfCheck("broker", well=False, words="It is off; switch it on.")


@pytest.mark.parametrize(
    ("found", "well", "words"),
    [
        pytest.param(
            Database(FILE, there=False),
            True,
            f"{FILE} is not there yet; the first start makes it.",
            id="not made yet",
        ),
        pytest.param(Database(FILE, trouble="Move it."), False, "Move it.", id="of no use"),
        pytest.param(
            Database(FILE, damage="row 3 missing"),
            False,
            f"{FILE} is damaged (row 3 missing). Stop chamberwatch, keep the file aside and put "
            "the last backup in its place.",
            id="damaged",
        ),
        pytest.param(
            Database(FILE, newest=datetime(2026, 1, 1, tzinfo=UTC)),
            True,
            f"{FILE} opens; nothing in it is damaged, and its schema is the newest.",
            id="sound",
        ),
        pytest.param(
            Database(FILE, steps_missing=1),
            True,
            f"{FILE} opens; nothing in it is damaged, and the next start brings it up to date by "
            "a step.",
            id="one step old",
        ),
        pytest.param(
            Database(FILE, steps_missing=2, looked_through=False, budget_s=5.0),
            True,
            f"{FILE} opens; it is too large to be looked through in 5 s; as far as that went "
            "nothing is damaged, and the next start brings it up to date by 2 steps.",
            id="old and large",
        ),
    ],
)
def test_database(found: Database, well: bool, words: str) -> None:
    assert self_check.database(found) == SelfCheck("database", well, words)
