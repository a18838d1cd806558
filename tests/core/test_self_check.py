"""What the watcher says of itself when it looks itself over."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from chamberwatch.core import self_check
from chamberwatch.core.self_check import Database, Disk, SelfCheck
from chamberwatch.core.watch.reading import Quantity, Reading
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
            timedelta(minutes=3),
            False,
            False,
            "the newest reading, by sensor low, is of 2026-01-20 12:03 UTC. Set the clock (",
            id="late",
        ),
        pytest.param(
            timedelta(minutes=3),
            True,
            False,
            "is of 2026-01-20 12:03 UTC. Set the clock of that sensor",
            id="that of a sensor runs ahead",
        ),
    ],
)
def test_clock(newest: timedelta | None, synchronised: bool, well: bool, part: str) -> None:
    kept = None if newest is None else Reading(NOON + newest, "low", Quantity.HUMIDITY, 80.0)
    line = self_check.clock(NOON, kept, synchronised=synchronised)
    assert (line.name, line.well) == ("clock", well)
    assert part in line.words
    assert "2026-01-20 12:00 UTC" in line.words


@pytest.mark.parametrize(("synchronised", "well"), [(True, True), (False, False)])
def test_a_reading_that_was_dated_here_says_nothing_against_a_clock_that_was_set(
    synchronised: bool, well: bool
) -> None:
    ahead = Reading(NOON + timedelta(hours=1), "low", Quantity.HUMIDITY, 80.0, timed=False)
    assert self_check.clock(NOON, ahead, synchronised=synchronised).well is well


def test_the_clock_is_told_in_the_zone_of_the_site() -> None:
    line = self_check.clock(NOON, None, synchronised=True, zone=ZoneInfo("Europe/Helsinki"))
    assert "2026-01-20 14:00 EET" in line.words


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
            Database("postgresql://h/d", there=False, on_server=True),
            True,
            "postgresql://h/d is still empty; the first start makes its tables.",
            id="empty on a server",
        ),
        pytest.param(
            Database("postgresql://h/d", on_server=True),
            True,
            "postgresql://h/d opens; its server looks after its files, and its schema is the "
            "newest.",
            id="sound on a server",
        ),
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
            Database(FILE, newest=Reading(NOON, "low", Quantity.HUMIDITY, 80.0)),
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


@pytest.mark.parametrize(
    ("commits", "words"),
    [(1, "the last commit could not be read"), (3, "the last 3 commits could not be read")],
)
def test_what_a_power_cut_took_stands_beside_a_sound_database(commits: int, words: str) -> None:
    found = Database(FILE, cut_off=(datetime(2026, 1, 1, 23, 30, tzinfo=UTC), commits))
    check = self_check.database(found, ZoneInfo("Europe/Berlin"))
    assert check.well
    assert f"At the start of 2026-01-02 00:30 {words}" in check.words
