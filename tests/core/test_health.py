"""How everything is: a line for each thing, and what is unwell before all."""

from dataclasses import replace
from datetime import UTC, time, timedelta

import pytest

from chamberwatch.core import health
from chamberwatch.core.backups import BackupStand
from chamberwatch.core.health import Line, SensorStand
from chamberwatch.core.self_check import SelfCheck
from chamberwatch.core.watch.doubt import Doubt, Doubted, silence
from chamberwatch.core.wear import Card
from tests.make import NOON

MOMENT = (NOON, UTC)
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
NIGHTLY = time(3, 10)
STICK = "/mnt/stick/chamberwatch-20260120-031000.db"
LAST = BackupStand(STICK, NOON - 9 * HOUR, 23_000_000)
LAST_SAID = f"The last is of 03:00, 9 h ago: {STICK}, 23.0 MB, looked through and found sound."
CARD = Card(12_300_000, 400_000, 0, 5)
YEARS = {1: 150e6, 2: 160e6, 5: 1.2e9, 10: 2.4e9}
STUCK = Doubt("low", Doubted.STUCK, NOON, "low says the same for hours. Look at it.")


def test_what_is_unwell_stands_in_the_order_of_its_gravity() -> None:
    lines = [
        Line(health.BACKUP, "", ("no stick",)),
        Line(health.VERSIONS, "1"),
        Line(health.SENSORS, "2 of 4", ("low is silent", "top is silent")),
        Line(health.WATCHER, "", ("it does not run",)),
    ]
    assert health.unwell(lines) == [
        ("watcher", "it does not run"),
        ("sensors", "low is silent"),
        ("sensors", "top is silent"),
        ("backup", "no stick"),
    ]
    assert [line.name for line in health.in_order(lines)] == [
        *("watcher", "backup", "sensors", "versions"),
    ]
    assert sorted(health.ORDER) == sorted(health.GRAVITY)


@pytest.mark.parametrize(
    ("line", "said"),
    [
        pytest.param(Line("disk", "9 GB are free."), "9 GB are free.", id="well"),
        pytest.param(Line("disk", "", ("full",)), "Not well, see above.", id="all is said above"),
        pytest.param(
            Line("sensors", "2 of 4.", ("quiet",)), "2 of 4. Not well, see above.", id="both"
        ),
    ],
)
def test_a_fact_says_nothing_twice(line: Line, said: str) -> None:
    assert health.fact(line) == said


@pytest.mark.parametrize(
    ("well", "waiting", "line"),
    [
        pytest.param(True, 0, Line("clock", "It is noon."), id="well"),
        pytest.param(
            True, 3, Line("clock", "It is noon.", (health.UNDATED,)), id="readings wait for it"
        ),
        pytest.param(
            False, 3, Line("clock", "", ("It is noon.", health.UNDATED)), id="both unwell"
        ),
    ],
)
def test_what_a_look_found(well: bool, waiting: int, line: Line) -> None:
    disk = SelfCheck("disk", True, "Room.")
    found = health.with_clock([SelfCheck("clock", well, "It is noon."), disk], waiting)
    assert found == [line, Line("disk", "Room.")]


@pytest.mark.parametrize(
    ("since", "runs", "line"),
    [
        pytest.param("03:00", True, Line("watcher", "It runs since 03:00.", ("ill",)), id="since"),
        pytest.param("", True, Line("watcher", "It runs.", ("ill",)), id="beside it"),
        pytest.param("", False, Line("watcher", "", (health.STOPPED, "ill")), id="stopped"),
    ],
)
def test_the_watcher(since: str, runs: bool, line: Line) -> None:
    assert health.watcher(since, ["ill"], runs=runs) == line


@pytest.mark.parametrize(
    ("per_day", "expected", "said"),
    [
        pytest.param(
            None,
            64e6,
            "About 64.0 MB are written a day, as reckoned from the readings of the last day; "
            "backups come on top. The file is 12.7 MB now; it becomes 150 MB after 1 year, "
            "160 MB after 2, 1.2 GB after 5, 2.4 GB after 10.",
            id="reckoned",
        ),
        pytest.param(
            81e6,
            64e6,
            "81.0 MB are written a day, as measured since the start, backups included; 64.0 MB "
            "were to be expected without them. The file is 12.7 MB now; it becomes 150 MB after "
            "1 year, 160 MB after 2, 1.2 GB after 5, 2.4 GB after 10.",
            id="measured",
        ),
        pytest.param(
            None,
            0.0,
            "Nothing was read in the last day, so what is written can't be reckoned. The file is "
            "12.7 MB now.",
            id="nothing read",
        ),
        pytest.param(
            5e5,
            0.0,
            "500 kB are written a day, as measured. Nothing was read in the last day, so what is "
            "written can't be reckoned. The file is 12.7 MB now.",
            id="nothing read, yet written",
        ),
    ],
)
def test_the_card(per_day: float | None, expected: float, said: str) -> None:
    assert health.card(CARD, per_day, expected, YEARS) == Line("card", said)


KEPT = "1,234,567 are kept; each stays for 366 days, their averages for ever."


@pytest.mark.parametrize(
    ("counts", "thinned", "waits", "said"),
    [
        pytest.param((1_234_567, 0), False, "", KEPT, id="never thinned"),
        pytest.param(
            (0, 0),
            False,
            "",
            "None is kept yet; each stays for 366 days, their averages for ever.",
            id="none",
        ),
        pytest.param(
            (1_234_567, 4),
            True,
            "",
            f"{KEPT} Of 4 the time will never be known: kept, but neither judged nor averaged. "
            "Old ones were last looked for at 03:00: 17,280 went.",
            id="all of it",
        ),
        pytest.param(
            (1_234_567, 0), True, "Old ones stay.", f"{KEPT} Old ones stay.", id="they wait"
        ),
    ],
)
def test_what_is_kept(counts: tuple[int, int], thinned: bool, waits: str, said: str) -> None:
    went = (NOON - 9 * HOUR, 17_280) if thinned else None
    assert health.kept(counts, 366 * DAY, went, waits, MOMENT) == Line("readings", said)


LATE = (
    "There has been no backup for {}; one is due each night at 03:10, and more than two days are "
    "too long. Let the machine run at that hour, or change at under [backup]; make one now: "
    "chamberwatch backup"
)
BY_HAND = (
    "No nightly backup is set: what is not copied dies with the disk. Name a folder on a disk of "
    'its own: folder = "/mnt/chamberwatch" under [backup] (README, Backups).'
)
OLD = BackupStand(STICK, NOON - 2 * DAY, 23_000_000)
OLD_SAID = (
    f"The last is of 12:00 on 18 January, 2 days ago: {STICK}, 23.0 MB, looked through and "
    "found sound."
)


@pytest.mark.parametrize(
    ("stand", "at", "started", "words", "troubles"),
    [
        pytest.param(BackupStand(), None, None, BY_HAND, (), id="no folder"),
        pytest.param(LAST, None, None, f"{LAST_SAID} {BY_HAND}", (), id="by hand"),
        pytest.param(LAST, NIGHTLY, None, LAST_SAID, (), id="well"),
        pytest.param(
            BackupStand(), NIGHTLY, None, "There is none yet; the first is made at 03:10.", (),
            id="none yet",
        ),
        pytest.param(
            BackupStand(), NIGHTLY, DAY, "There is none yet; the first is made at 03:10.", (),
            id="begun a day ago",
        ),
        pytest.param(
            BackupStand(), NIGHTLY, 3 * DAY, "", (LATE.format("3 days"),), id="never, for days"
        ),
        pytest.param(OLD, NIGHTLY, 9 * DAY, OLD_SAID, (), id="just not too old"),
        pytest.param(
            BackupStand(STICK, NOON - 2 * DAY - HOUR, 23_000_000), NIGHTLY, None,
            OLD_SAID.replace("12:00", "11:00"), (LATE.format("2 days"),), id="too old",
        ),
        pytest.param(
            BackupStand(STICK, NOON - 9 * HOUR, 23_000_000, "No stick. Plug it in.", NOON - HOUR),
            NIGHTLY, None, LAST_SAID,
            ("There is no new backup. Since 11:00: No stick. Plug it in.",), id="failed",
        ),
        pytest.param(
            BackupStand(trouble="No stick."), NIGHTLY, None, "",
            ("There is no new backup. No stick.",), id="never went well",
        ),
        pytest.param(
            replace(LAST, amiss="No stick. Plug it in."), NIGHTLY, None, LAST_SAID,
            ("No stick. Plug it in.",), id="the stick was pulled out since",
        ),
        pytest.param(
            BackupStand(amiss="No stick.", trouble="It was full."), NIGHTLY, None, "",
            ("There is no new backup. It was full.",), id="what went wrong comes first",
        ),
    ],
)  # fmt: skip
def test_backups(
    stand: BackupStand,
    at: time | None,
    started: timedelta | None,
    words: str,
    troubles: tuple[str, ...],
) -> None:
    begun = None if started is None else NOON - started
    assert health.backup(stand, at, begun, MOMENT) == Line("backup", words, troubles)


@pytest.mark.parametrize(
    ("addresses", "waiting", "said"),
    [
        pytest.param(1, 0, "Nothing waits; 1 address is told.", id="one"),
        pytest.param(2, 0, "Nothing waits; 2 addresses are told.", id="two"),
        pytest.param(2, 1, "1 message can't go out for now.", id="waits"),
        pytest.param(
            0,
            0,
            "No phone is told: no address is set. Add one under Set-up, or as [[notify]].",
            id="nobody",
        ),
    ],
)
def test_delivery(addresses: int, waiting: int, said: str) -> None:
    assert health.delivery(addresses, waiting, ["why"]) == Line("messages", said, ("why",))


def heard(name: str, seconds: float | None = 4, *, silent: bool = False) -> SensorStand:
    ago = None if seconds is None else timedelta(seconds=seconds)
    return SensorStand(name, ago, silent)


QUIET = silence("low", NOON).words
ALL_QUIET = (
    "Nothing is heard of any of the 2 sensors; the last word came 2 h ago. Look at what they "
    "share: power, the router, what hands their messages to the broker."
)

NONE_YET = (
    "None of the 2 sensors has been heard yet, which takes a minute after a start. After that "
    "look at what they share: power, the router, what hands their messages to the broker."
)


@pytest.mark.parametrize(
    ("stands", "deaf", "words", "troubles"),
    [
        pytest.param([], False, "There is none yet. Add one under Set-up.", (), id="none"),
        pytest.param(
            [heard("low")], False, "1 sensor, heard; the last word came 4 s ago.", (), id="one"
        ),
        pytest.param(
            [heard("low"), heard("top", 300)], False,
            "2 sensors, all heard; the last word came 4 s ago.", (), id="all",
        ),
        pytest.param(
            [heard("low", 7200, silent=True), heard("top")], False,
            "1 of 2 sensors heard; the last word came 4 s ago.",
            (f"{QUIET} Its last word came 2 h ago.",), id="one is silent",
        ),
        pytest.param(
            [heard("low", None, silent=True)], False,
            "0 of 1 sensor heard; none has spoken yet.",
            (f"{QUIET} Its last word is still to come.",), id="the only one never spoke",
        ),
        pytest.param(
            [SensorStand("low", timedelta(seconds=9), silent=False, doubt=STUCK)], False,
            "1 sensor, heard; the last word came 9 s ago.",
            (f"{STUCK.words} Its last word came 9 s ago.",), id="in doubt",
        ),
        pytest.param(
            [SensorStand("low", 3 * HOUR, silent=True, doubt=STUCK), heard("top")], False,
            "1 of 2 sensors heard; the last word came 4 s ago.",
            (f"{QUIET} Its last word came 3 h ago.",), id="silence is graver than a doubt",
        ),
        pytest.param(
            [SensorStand("low", 3 * HOUR, silent=True, doubt=silence("low", NOON)), heard("top")],
            False, "1 of 2 sensors heard; the last word came 4 s ago.",
            (f"{QUIET} Its last word came 3 h ago.",), id="a silence that was told",
        ),
        pytest.param(
            [heard("low", 7200, silent=True), heard("top", 9000, silent=True)], False, "",
            (ALL_QUIET,),
            id="all are silent",
        ),
        pytest.param(
            [heard("low", None, silent=True), heard("top", None, silent=True)], False, "",
            (NONE_YET,),
            id="none has spoken yet",
        ),
        pytest.param(
            [heard("low", 7200, silent=True), heard("top", 9000, silent=True)], True,
            "2 sensors, which can't be heard until the above is mended; the last word came 2 h "
            "ago.",
            (), id="the broker is away",
        ),
    ],
)  # fmt: skip
def test_sensors(
    stands: list[SensorStand], deaf: bool, words: str, troubles: tuple[str, ...]
) -> None:
    assert health.sensors(stands, NOON, deaf=deaf) == Line("sensors", words, troubles)


def test_lines_of_few_words() -> None:
    versions = health.versions({"chamberwatch": "0.1.0", "schema": "7"})
    assert versions == Line("versions", "chamberwatch 0.1.0, schema 7.")
    assert "can't be read" in health.unread("card").words
    assert health.behind("card").words.startswith("Not known until the next start")
    assert health.nothing_kept("card") == Line("card", "Nothing yet.")


def test_what_others_say_is_not_said_again() -> None:
    others = [Line("broker", "", ("It is away.",)), Line("disk", "Room.")]
    line = health.told_once(Line("watcher", "It runs.", ("It is away.", "ill")), others)
    assert line == Line("watcher", "It runs.", ("ill",))


@pytest.mark.parametrize(
    ("count", "said"),
    [
        (0, "0 kB"),
        (288_000, "288 kB"),
        (999_499, "999 kB"),
        (999_500, "1.0 MB"),
        (99_499_999, "99.5 MB"),
        (99_500_000, "100 MB"),
        (1.24e9, "1.2 GB"),
    ],
)
def test_sizes(count: float, said: str) -> None:
    assert health.size(count) == said
