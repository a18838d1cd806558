"""The lines of the log, word for word."""

from dataclasses import replace
from datetime import timedelta

import pytest

from chamberwatch.core import log_words
from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import Container, Entry, EntryKind, Start
from chamberwatch.core.watch.action import Action, Deed
from chamberwatch.core.watch.calibrated import Calibration
from chamberwatch.core.watch.found import Found, Kind
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.reminder import UNTOLD, Call, Event, Evidence, Move, Reminder, State
from tests.make import NOON, at, evidence

MISTED = Action(1, "tent", Deed.MISTED, NOON, "", NOON, "page")
VENTED = replace(MISTED, deed=Deed.VENTED)


@pytest.mark.parametrize(
    ("action", "words"),
    [
        pytest.param(MISTED, "misted", id="bare"),
        pytest.param(replace(MISTED, note="top"), "misted: top", id="note"),
        pytest.param(replace(MISTED, amount=3.25), "misted, 3.2 g into the air", id="sprayed"),
        pytest.param(
            replace(MISTED, amount=12.4, standing_g=25.0, advised=True),
            "misted, 12 g into the air and 25 g onto the walls, as advised",
            id="both",
        ),
        pytest.param(
            replace(MISTED, amount=3.0, standing_g=0.2), "misted, 3 g into the air", id="a trace"
        ),
        pytest.param(
            replace(MISTED, standing_g=0.2), "misted, 0.2 g onto the walls", id="only a trace"
        ),
        pytest.param(VENTED, "vented", id="vented"),
        pytest.param(replace(VENTED, amount=5.0), "vented 5 min", id="minutes"),
    ],
)
def test_deeds(action: Action, words: str) -> None:
    assert log_words.deed(action).replace("\N{NO-BREAK SPACE}", " ") == words


BARE = Found(1, "tent", Kind.MISTING, NOON, at(3))


@pytest.mark.parametrize(
    ("event", "words"),
    [
        pytest.param(BARE, "misting, seen in the readings", id="bare"),
        pytest.param(
            replace(BARE, confirmed=True, humidity_before_pct=74.2, humidity_after_pct=91.6),
            "misting, seen in the readings; you said that it was one: humidity 74 to 92 %",
            id="yes",
        ),
        pytest.param(
            replace(BARE, confirmed=False, held=timedelta(minutes=65)),
            "misting, seen in the readings; you said that it was none: held 1 h 5 min",
            id="no",
        ),
        pytest.param(
            replace(
                BARE, kind=Kind.VENTING, co2_before_ppm=1480.0, co2_after_ppm=610.0,
                humidity_before_pct=90.0,
            ),
            "venting, seen in the readings: CO2 1480 to 610 ppm",
            id="venting",
        ),
    ],
)  # fmt: skip
def test_what_the_readings_show(event: Found, words: str) -> None:
    assert log_words.found(event) == words


def test_what_came_of_a_deed() -> None:
    assert log_words.came(BARE) == ""
    assert log_words.came(replace(BARE, held=timedelta(minutes=42))) == "held 42 min"


MIST = Reminder(1, "tent", Call.MIST)


@pytest.mark.parametrize(
    ("reminder", "words"),
    [
        pytest.param(MIST, "mist", id="mist"),
        pytest.param(
            replace(MIST, call=Call.CHECK_SENSOR, subject="top"), "look at sensor top", id="sensor"
        ),
        pytest.param(replace(MIST, call=Call.DRY_OFF), "let it dry off", id="damp air"),
        pytest.param(
            replace(MIST, call=Call.DRY_OFF, subject="surfaces"),
            "let the walls dry off",
            id="walls",
        ),
        pytest.param(
            replace(MIST, call=Call.HARVEST, subject="harvest-14-2"), "harvest batch 14", id="key"
        ),
        pytest.param(
            replace(MIST, call=Call.CLEAR_OUT, subject="clear-out-5"),
            "clear out batch 5",
            id="longer key",
        ),
        pytest.param(
            replace(MIST, call=Call.START, subject="start-2026-01-20"),
            "start the next",
            id="start",
        ),
        pytest.param(replace(MIST, call=Call.TODAY), "today's list", id="list"),
        pytest.param(replace(MIST, call=Call.OPEN, subject="odd"), "open", id="no batch named"),
    ],
)
def test_what_is_asked(reminder: Reminder, words: str) -> None:
    assert log_words.asked(reminder) == words


def moved(
    event: Event, cause: str = "", after: State = State.UNACKNOWLEDGED, by: Evidence | None = None
) -> Move:
    return Move(1, 1, event, State.NORMAL, after, NOON, cause, by)


@pytest.mark.parametrize(
    ("move", "words"),
    [
        pytest.param(
            moved(Event.RAISED, "outside", by=evidence()),
            "“mist”: asked (humidity 76 %, band 80 to 95 %)",
            id="raised",
        ),
        pytest.param(
            moved(Event.RAISED, by=evidence(79.8)),
            "“mist”: asked (humidity 79.8 %, band 80 to 95 %)",
            id="just outside",
        ),
        pytest.param(
            moved(Event.RAISED, by=evidence(low=None, high=None)),
            "“mist”: asked (humidity 76 %)",
            id="no band",
        ),
        pytest.param(
            moved(Event.RAISED, by=Evidence("top", None, None, None, None, None, None)),
            "“mist”: asked",
            id="silence",
        ),
        pytest.param(
            moved(Event.WORSENED, after=State.SHELVED),
            "“mist”: asked again, since it has become worse; nobody was told, since it was put "
            "off",
            id="while put off",
        ),
        pytest.param(
            moved(Event.RAISED, after=State.OUT_OF_SERVICE),
            "“mist”: asked; nobody was told, since it was out of service",
            id="while out of service",
        ),
        pytest.param(
            moved(Event.REALARMED, "it goes on, and does harm"),
            "“mist”: asked again; it goes on, and does harm",
            id="again",
        ),
        pytest.param(moved(Event.RETURNED, "back inside"), "“mist”: over", id="over"),
        pytest.param(moved(Event.SEEN, "seen (page)"), "“mist”: seen", id="seen"),
        pytest.param(
            moved(Event.SEEN, "seen (link)"), "“mist”: seen by a link in a message", id="link"
        ),
        pytest.param(
            moved(Event.SEEN, "misted (api)"), "“mist”: answered by a program: misted", id="deed"
        ),
        pytest.param(
            moved(Event.SEEN, UNTOLD),
            "“mist”: closed; nobody had been told",
            id="closed by itself",
        ),
        pytest.param(moved(Event.SEEN), "“mist”: seen", id="seen somehow"),
        pytest.param(moved(Event.SHELVED, "put off (page)"), "“mist”: put off", id="put off"),
        pytest.param(moved(Event.SHELF_ENDED, "up"), "“mist”: no longer put off", id="shelf"),
        pytest.param(
            moved(Event.TAKEN_OUT, "being washed; Kim (page)", State.OUT_OF_SERVICE),
            "“mist”: out of service; being washed; Kim (page)",
            id="out",
        ),
        pytest.param(moved(Event.PUT_BACK), "“mist”: back in service", id="back"),
    ],
)
def test_moves(move: Move, words: str) -> None:
    assert log_words.move(MIST, move) == words


def test_the_list_of_the_day_is_sent() -> None:
    of_list = replace(MIST, call=Call.TODAY)
    assert log_words.move(of_list, moved(Event.RAISED)) == "today's list was sent"
    assert log_words.move(of_list, moved(Event.RETURNED)) == "“today's list”: over"


def test_an_end_nobody_knew_of_says_so() -> None:
    over = moved(Event.RETURNED, by=evidence(89.0, low=None, high=None))
    words = "“mist”: over; nobody had been told (humidity 89 %)"
    assert log_words.move(MIST, over, untold=True) == words
    assert not log_words.closes_untold(over)
    assert log_words.closes_untold(moved(Event.SEEN, UNTOLD))
    assert not log_words.closes_untold(moved(Event.SEEN, "seen (page)"))


START = Start("grey-oyster", Container.BAG)
NOTED = Entry(1, 1, EntryKind.NOTED, NOON, NOON, "page")


@pytest.mark.parametrize(
    ("entry", "words"),
    [
        pytest.param(NOTED, "noted", id="noted"),
        pytest.param(replace(NOTED, note="anise"), "noted: anise", id="note"),
        pytest.param(
            replace(NOTED, kind=EntryKind.STARTED, start=START),
            "started: a sealed bag of grey oyster",
            id="start",
        ),
        pytest.param(
            replace(
                NOTED,
                kind=EntryKind.STARTED,
                start=replace(START, count=3, substrate="straw"),
                chamber="tent",
                shelf="top",
            ),
            "started: 3 sealed bags of grey oyster on straw, Tent, top",
            id="start on a shelf",
        ),
        pytest.param(replace(NOTED, kind=EntryKind.STARTED), "started", id="start of nothing"),
        pytest.param(
            replace(NOTED, kind=EntryKind.MOVED, chamber="attic"), "moved to attic", id="moved"
        ),
        pytest.param(replace(NOTED, kind=EntryKind.MOVED), "moved out of the chambers", id="out"),
        pytest.param(
            replace(NOTED, kind=EntryKind.SPLIT, count=2, other=7),
            "2 taken out, batch 7 from then on",
            id="split",
        ),
        pytest.param(
            replace(NOTED, kind=EntryKind.HARVESTED, weight_g=620.0), "harvested 620 g", id="pick"
        ),
        pytest.param(
            replace(NOTED, kind=EntryKind.HARVESTED, weight_g=1240.0, flush=2),
            "harvested 1.24 kg, flush 2",
            id="second flush",
        ),
        pytest.param(
            replace(NOTED, kind=EntryKind.STAGED, stage=Stage.RESTING),
            "stage set to resting",
            id="stage",
        ),
        pytest.param(
            replace(NOTED, kind=EntryKind.LOOKED, sign="long-stems"),
            "looked at: long stems",
            id="sign",
        ),
        pytest.param(
            replace(NOTED, kind=EntryKind.LOOKED, sign="odd"), "looked at: odd", id="unknown sign"
        ),
    ],
)
def test_entries(entry: Entry, words: str) -> None:
    assert log_words.entry(entry, "Grey oyster", {"tent": "Tent"}) == words


@pytest.mark.parametrize(
    ("species", "words"), [("Grey oyster", "batch 6 (grey oyster)"), ("", "batch 6")]
)
def test_a_batch_is_named(species: str, words: str) -> None:
    assert log_words.of_batch(6, species) == words


CHECK = Calibration(1, "top", Quantity.HUMIDITY, 1.0, -1.8, NOON, "page", "salt", NOON)


@pytest.mark.parametrize(
    ("check", "words"),
    [
        pytest.param(CHECK, "corrected by \N{MINUS SIGN} 1.8 %: salt", id="offset"),
        pytest.param(
            replace(CHECK, slope=1.04, offset=2.0),
            "corrected by times 1.04, + 2.0 %: salt",
            id="both",
        ),
        pytest.param(
            replace(CHECK, slope=1.04, offset=0.0), "corrected by times 1.04: salt", id="slope"
        ),
        pytest.param(replace(CHECK, offset=0.0), "counts as sent again: salt", id="neutral"),
    ],
)
def test_checks(check: Calibration, words: str) -> None:
    assert log_words.calibration(check) == f"humidity of sensor top {words}"


def test_messages() -> None:
    assert log_words.message("phone", "Tent: mist now", "sent") == "to phone, sent: Tent: mist now"
