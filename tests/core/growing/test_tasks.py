"""The list of a day, and what a person is told of it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from chamberwatch.core.growing.batch import Batch, Container, Entry
from chamberwatch.core.growing.due import Due, DueKind, Window
from chamberwatch.core.growing.due_words import basis_words, due_words, task_words, window_words
from chamberwatch.core.growing.species import Species
from chamberwatch.core.growing.task import Task, TaskKind, overdue, tasks
from tests.core.growing.lives import DAY_0, K, begin, live, on, tell
from tests.core.growing.timed import BUTTON, ENOKI, NOTHING_OWN, OYSTER, REISHI, SHIITAKE, TABLE

BERLIN = ZoneInfo("Europe/Berlin")

OPENED = tell(K.OPENED, 16)
PINNED = tell(K.PINNED, 20)


def pick(day: float) -> Entry:
    return tell(K.HARVESTED, day, weight_g=100.0)


def grown(of: Species, *told: Entry, container: Container = Container.BAG) -> Batch:
    """Return batch 14 of a species, in the tent; a log outdoors."""
    log = container is Container.LOG
    batch = live(of, begin(container, None if log else "tent"), *told)
    return replace(
        batch, shelf=None if log else "top", start=replace(batch.start, species=of.name)
    )


def today(day: float, *batches: Batch, starts: Sequence["Planned"] = ()) -> tuple[Task, ...]:
    return tasks(batches, TABLE, NOTHING_OWN, on(day), starts)


@dataclass(frozen=True)
class Planned:
    species: str
    on: date
    colonise_at: tuple[str, str] | None = None
    turn: int = 1


# ------------------------------------------------------------------ what is on the list


@pytest.mark.parametrize(
    ("batch", "day", "keys"),
    [
        pytest.param(grown(OYSTER), 11.9, [], id="colonising"),
        pytest.param(grown(OYSTER), 12, ["open-14"], id="it may be white by now"),
        pytest.param(grown(OYSTER, tell(K.WHITE, 9)), 9, ["open-14"], id="told white: at once"),
        pytest.param(grown(OYSTER), 90, ["open-14"], id="long forgotten: still to be opened"),
        pytest.param(grown(OYSTER, OPENED), 22.9, [], id="pins grow"),
        pytest.param(grown(OYSTER, OPENED), 23, ["harvest-14-1"], id="pins may have come unseen"),
        pytest.param(grown(OYSTER, OPENED, PINNED), 23.9, [], id="fruits grow"),
        pytest.param(grown(OYSTER, OPENED, PINNED), 24, ["harvest-14-1"], id="from the low end"),
        pytest.param(
            grown(OYSTER, OPENED, PINNED), 99, ["harvest-14-1"], id="never cleared out unpicked"
        ),
        pytest.param(grown(OYSTER, OPENED, PINNED, pick(26)), 32.9, [], id="rests"),
        pytest.param(
            grown(OYSTER, OPENED, PINNED, pick(26)), 33, ["harvest-14-2"], id="look for the next"
        ),
        pytest.param(
            grown(OYSTER, OPENED, PINNED, pick(26)), 54, ["harvest-14-2"], id="late, not given up"
        ),
        pytest.param(
            grown(OYSTER, OPENED, PINNED, pick(26)), 54.1, ["clear-out-14"], id="given up"
        ),
        pytest.param(
            grown(ENOKI, OPENED, PINNED, pick(26), pick(37)), 37, ["clear-out-14"], id="all given"
        ),
        pytest.param(
            grown(SHIITAKE, OPENED, PINNED, pick(26)), 41, ["soak-14-1"], id="soaked before picked"
        ),
        pytest.param(grown(BUTTON), 13, ["case-14"], id="button is cased"),
        pytest.param(grown(BUTTON, tell(K.CASED, 14)), 22, ["open-14"], id="and then opened"),
        pytest.param(grown(REISHI, OPENED), 30, ["air-14"], id="reishi gets air for caps"),
        pytest.param(grown(OYSTER, OPENED, tell(K.CONTAMINATED, 20)), 30, [], id="thrown out"),
        pytest.param(
            grown(SHIITAKE, container=Container.LOG), 14, ["water-14-2026-11-15"], id="a dry log"
        ),
        pytest.param(grown(SHIITAKE, tell(K.WHITE, 25)), 38, [], id="white, not yet brown"),
        pytest.param(grown(SHIITAKE, tell(K.WHITE, 25)), 39, ["open-14"], id="brown by now"),
        pytest.param(
            grown(SHIITAKE, tell(K.RAINED, 13), container=Container.LOG), 26, [], id="it rained"
        ),
        pytest.param(
            grown(
                OYSTER,
                tell(K.PINNED, 300),
                pick(306),
                tell(K.RAINED, 360),
                container=Container.LOG,
            ),
            365,
            [],
            id="a log bears when the weather suits",
        ),
        pytest.param(
            grown(Species("lost", "Lost", "", dict(OYSTER.stages))),
            30,
            [],
            id="a species that the table lost",
        ),
    ],
)
def test_what_can_be_done(batch: Batch, day: float, keys: list[str]) -> None:
    assert [task.key for task in today(day, batch)] == keys


def test_what_spoils_soonest_comes_first() -> None:
    batches = [
        replace(grown(ENOKI, OPENED, PINNED, pick(26), pick(37)), id=1),
        replace(grown(SHIITAKE, OPENED, PINNED, pick(33)), id=2),
        replace(grown(OYSTER), id=3),
        replace(grown(OYSTER, tell(K.OPENED, 22), tell(K.PINNED, 33)), id=4),
        replace(grown(OYSTER, tell(K.OPENED, 20), tell(K.PINNED, 30)), id=5),
        replace(grown(SHIITAKE, container=Container.LOG), id=6),
    ]
    found = today(38, *batches, starts=[Planned("grey-oyster", date(2026, 12, 8))])
    assert [task.key for task in found] == [
        "harvest-5-1",
        "harvest-4-1",
        "open-3",
        "soak-2-1",
        "water-6-2026-11-29",
        "start-grey-oyster-2026-12-08",
        "clear-out-1",
    ]


def test_a_task_says_where_it_is_and_on_what_it_rests() -> None:
    (task,) = today(24, grown(OYSTER, OPENED, PINNED))
    assert task == Task(
        "harvest-14-1",
        TaskKind.HARVEST,
        14,
        "grey-oyster",
        "tent",
        "top",
        Window(on(24), on(27)),
        0,
        "S00",
    )


@pytest.mark.parametrize(
    ("now", "listed"),
    [
        pytest.param(
            datetime(2026, 11, 30, 23, 59, tzinfo=BERLIN), False, id="the evening before"
        ),
        pytest.param(datetime(2026, 12, 1, 0, 0, tzinfo=BERLIN), True, id="with the day"),
        pytest.param(datetime(2026, 11, 30, 23, 30, tzinfo=UTC), False, id="in the zone of now"),
    ],
)
def test_a_planned_start_begins_with_its_day(now: datetime, listed: bool) -> None:
    planned = Planned("grey-oyster", date(2026, 12, 1))
    found = tasks((), TABLE, NOTHING_OWN, now, [planned])
    assert [task.key for task in found] == ["start-grey-oyster-2026-12-01"] * listed


@pytest.mark.parametrize(
    ("places", "where"),
    [
        pytest.param([("tent", "top")], ("tent", "top"), id="one"),
        pytest.param([("tent", "")], ("tent", None), id="no shelves"),
        pytest.param([("tent", "top"), ("tent", "top")], ("tent", "top"), id="the same"),
        pytest.param([("tent", "top"), ("tent", "low")], ("tent", None), id="two shelves"),
        pytest.param([("tent", "top"), ("tub", "top")], (None, None), id="two chambers"),
        pytest.param([("tent", "top"), None], (None, None), id="one is taken"),
        pytest.param([None], (None, None), id="all are taken"),
    ],
)
def test_what_is_planned_for_one_day_is_one_task(
    places: list[tuple[str, str] | None], where: tuple[str | None, str | None]
) -> None:
    one_day = [Planned("grey-oyster", date(2026, 12, 1), place) for place in places]
    others = [Planned("shiitake", date(2026, 12, 1)), Planned("grey-oyster", date(2026, 12, 2))]
    found = today(38, starts=[others[1], one_day[0], others[0], *one_day[1:]])
    assert [(task.key, task.times) for task in found] == [
        ("start-grey-oyster-2026-12-01", len(places)),
        ("start-shiitake-2026-12-01", 1),
        ("start-grey-oyster-2026-12-02", 1),
    ]
    assert (found[0].chamber, found[0].shelf) == where


@pytest.mark.parametrize(
    ("day", "late"), [(2, False), (3, False), (7, False), (7.01, True), (9, True)]
)
def test_overdue_once_the_window_is_over(day: float, late: bool) -> None:
    task = Task("k", TaskKind.OPEN, 14, "any", None, None, Window(on(3), on(7)))
    assert overdue(task, on(day)) is late


# ------------------------------------------------------------------ what is said


def said(batch: Batch, of: Species, day: float) -> tuple[str, str]:
    task = today(day, batch)[0]
    words = task_words(task, batch, of, on(day), BERLIN)
    return words.title, words.body


def test_the_whole_of_what_is_said_of_a_harvest() -> None:
    title, body = said(grown(OYSTER, OPENED, PINNED), OYSTER, 25)
    assert title == "Batch 14 (grey oyster): pick it"
    assert body == (
        "Pick before the cap edge turns up. Twist or cut the whole cluster off at its base, don't "
        "shake it, weigh it and record the weight. Most likely ripe between 25 and 28 November; "
        "from the sources. It stands in “tent”, shelf “top”. Spores hurt lungs over time: wear a "
        "close-fitting particle mask (FFP2, N95 or better) when you open a loaded chamber, and "
        "don't air it into a room that is lived in."
    )


_SHELFLESS = replace(grown(OYSTER, OPENED, PINNED), shelf=None)
_RIPE = replace(OYSTER, pick_when="")


@pytest.mark.parametrize(
    ("batch", "of", "day", "title", "words"),
    [
        pytest.param(
            grown(OYSTER, OPENED),
            OYSTER,
            25,
            "look whether it can be picked",
            ["No pins of this flush are on record"],
            id="pins unseen",
        ),
        pytest.param(
            _SHELFLESS,
            _RIPE,
            30,
            "pick it",
            ["while the caps are young", "It stands in “tent”.", "That is past, so look today."],
            id="late, no shelf, nobody says when it is ripe",
        ),
        pytest.param(
            grown(OYSTER),
            OYSTER,
            13,
            "look whether it is white through",
            ["If it is: open or cut it", "Best done between 13 and 22 November", "clean knife"],
            id="is it white",
        ),
        pytest.param(
            grown(OYSTER, tell(K.WHITE, 14)),
            OYSTER,
            14,
            "open it",
            ["It is white through.", "green or black", "put it in a bag"],
            id="white",
        ),
        pytest.param(
            grown(SHIITAKE),
            SHIITAKE,
            36,
            "look whether it is brown all over",
            ["should be white through by now", "less than two thirds", "take the bag off"],
            id="brown, white untold",
        ),
        pytest.param(
            grown(SHIITAKE, tell(K.WHITE, 25)),
            SHIITAKE,
            40,
            "look whether it is brown all over",
            ["It is white through. After that its skin turns brown"],
            id="white, now brown",
        ),
        pytest.param(
            grown(BUTTON, container=Container.TRAY),
            BUTTON,
            14,
            "case it",
            ["black, don't stir it"],
            id="a tray is open",
        ),
        pytest.param(grown(BUTTON), BUTTON, 14, "case it", ["Look whether"], id="case it"),
        pytest.param(
            grown(BUTTON, tell(K.WHITE, 13)),
            BUTTON,
            14,
            "case it",
            ["It is white through. Then cover it"],
            id="case what is white",
        ),
        pytest.param(
            grown(BUTTON, tell(K.CASED, 14)),
            BUTTON,
            23,
            "give it fresh air",
            ["The casing should be grown through"],
            id="after the case run",
        ),
        pytest.param(
            grown(REISHI, OPENED), REISHI, 31, "give it more air", ["antlers"], id="antlers"
        ),
        pytest.param(
            grown(SHIITAKE, OPENED, PINNED, pick(26)),
            SHIITAKE,
            31,
            "soak it",
            ["6 to 24 hours", "common practice"],
            id="soak a block",
        ),
        pytest.param(
            grown(SHIITAKE, tell(K.WHITE, 300), tell(K.RAINED, 305), container=Container.LOG),
            SHIITAKE,
            306,
            "soak them",
            ["Lay them in cold, clean water", "; common practice."],
            id="soak logs",
        ),
        pytest.param(
            grown(SHIITAKE, container=Container.LOG),
            SHIITAKE,
            15,
            "water the logs",
            ["No rain and no soaking is on record since 1 November."],
            id="never wetted",
        ),
        pytest.param(
            grown(SHIITAKE, container=Container.LOG),
            SHIITAKE,
            400,
            "water the logs",
            ["since 1 November 2026.", "Best done between"],
            id="not for a year",
        ),
        pytest.param(
            grown(SHIITAKE, tell(K.RAINED, 9), container=Container.LOG),
            SHIITAKE,
            30,
            "water the logs",
            ["since 10 November", "between 24 November and 1 December", "In frost"],
            id="dry since the last rain",
        ),
        pytest.param(
            grown(ENOKI, OPENED, PINNED, pick(26), pick(37)),
            ENOKI,
            38,
            "clear it out",
            ["as many flushes as can be expected", "Put it in a bag before you carry it", "FFP2"],
            id="all flushes given",
        ),
        pytest.param(
            grown(OYSTER, OPENED, PINNED, pick(26)),
            OYSTER,
            55,
            "clear it out",
            ["long overdue"],
            id="given up",
        ),
    ],
)
def test_what_is_said(batch: Batch, of: Species, day: float, title: str, words: list[str]) -> None:
    first, body = said(batch, of, day)
    assert first == f"Batch 14 ({of.title.lower()}): {title}"
    for part in words:
        assert part in body


@pytest.mark.parametrize(
    ("batch", "of", "day", "unsaid"),
    [
        pytest.param(
            grown(BUTTON, container=Container.TRAY), BUTTON, 14, "don't open it", id="a tray"
        ),
        pytest.param(grown(OYSTER, tell(K.WHITE, 9)), OYSTER, 9, "FFP2", id="a bag sheds nothing"),
        pytest.param(
            grown(SHIITAKE, container=Container.LOG), SHIITAKE, 15, "stands in", id="outdoors"
        ),
        pytest.param(
            grown(
                SHIITAKE, tell(K.WHITE, 300), tell(K.SOAKED, 301), tell(K.PINNED, 307),
                container=Container.LOG,
            ),
            SHIITAKE,
            313,
            "FFP2",
            id="picked in the open",
        ),
    ],
)  # fmt: skip
def test_what_is_not_said(batch: Batch, of: Species, day: float, unsaid: str) -> None:
    assert unsaid not in said(batch, of, day)[1]


@pytest.mark.parametrize(
    ("places", "title", "end"),
    [
        pytest.param(
            [None],
            "Start the next grey oyster",
            "Best done between 8 and 11 December.",
            id="nowhere yet",
        ),
        pytest.param(
            [("tent", "top")],
            "Start the next grey oyster",
            "between 8 and 11 December. Put it in “tent”, shelf “top”.",
            id="a shelf",
        ),
        pytest.param(
            [("tent", "top"), ("tent", "low")],
            "Start the next 2 batches of grey oyster",
            "between 8 and 11 December. Put them in “tent”.",
            id="two shelves",
        ),
    ],
)
def test_what_is_said_of_a_start(
    places: list[tuple[str, str] | None], title: str, end: str
) -> None:
    planned = [Planned("grey-oyster", date(2026, 12, 8), place) for place in places]
    (task,) = today(38, starts=planned)
    words = task_words(task, None, OYSTER, on(38), UTC)
    assert words.title == title
    assert words.body.startswith("The rotation wants that now")
    assert words.body.endswith(end)


# ------------------------------------------------------------------ windows in words


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        pytest.param(32, 37, "between 3 and 8 December", id="one month"),
        pytest.param(27, 32, "between 28 November and 3 December", id="two months"),
        pytest.param(57, 63, "between 28 December and 3 January", id="over new year"),
        pytest.param(183, 548, "between 3 May 2027 and 2 May 2028", id="far: with years"),
        pytest.param(330, 340, "between 27 September and 7 October 2027", id="one year said once"),
        pytest.param(32, 32.4, "around 3 December", id="within a day"),
    ],
)
def test_a_window_in_dates(low: float, high: float, words: str) -> None:
    assert window_words(Window(on(low), on(high)), DAY_0, BERLIN) == words


def test_dates_are_those_of_the_grower() -> None:
    late = datetime(2026, 12, 2, 23, 30, tzinfo=UTC)
    window = Window(late, late + timedelta(days=5))
    assert window_words(window, DAY_0, UTC) == "between 2 and 7 December"
    assert window_words(window, DAY_0, BERLIN) == "between 3 and 8 December"


@pytest.mark.parametrize(
    ("kind", "flush", "count", "source", "day", "words"),
    [
        pytest.param(
            DueKind.PINS,
            1,
            0,
            "S00",
            30,
            "Batch 14: pins of flush 1, most likely between 3 and 8 December; from the sources.",
            id="from the sources",
        ),
        pytest.param(
            DueKind.FLUSH,
            2,
            4,
            "S00; common practice",
            30,
            "Batch 14: harvest of flush 2, most likely between 3 and 8 December; from the "
            "sources and 4 batches of yours.",
            id="own ones too",
        ),
        pytest.param(
            DueKind.SOAK,
            1,
            1,
            "common practice",
            40,
            "Batch 14: time to soak; it was expected between 3 and 8 December, so look now; "
            "common practice and one batch of yours.",
            id="past",
        ),
        pytest.param(
            DueKind.WHITE,
            0,
            3,
            "own batches",
            30,
            "Batch 14: white through, most likely between 3 and 8 December; from 3 batches of "
            "yours.",
            id="from own ones alone",
        ),
        pytest.param(
            DueKind.WATER,
            1,
            0,
            "common practice",
            30,
            "Batch 14: time to water, most likely between 3 and 8 December; common practice. It "
            "bears in a mild, wet spell of spring or autumn, not in frost, so its pins and "
            "harvest have no date (common practice).",
            id="outdoors",
        ),
    ],
)
def test_a_due_in_one_line(
    kind: DueKind, flush: int, count: int, source: str, day: float, words: str
) -> None:
    due = Due(14, kind, Window(on(32), on(37)), flush, count, source)
    assert due_words(due, on(day), BERLIN) == words


def test_on_whose_figures_a_window_rests() -> None:
    due = Due(14, DueKind.PINS, Window(on(32), on(37)), 1, 2, "S00")
    assert basis_words(due) == "from the sources and 2 batches of yours"
