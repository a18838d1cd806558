"""After a deed: its effect is judged, and what had none is said instead of asked again."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Final

import pytest

from chamberwatch.core.effect_words import said
from chamberwatch.core.watch.action import Action, Deed
from chamberwatch.core.watch.advice import GRACE
from chamberwatch.core.watch.doubt import Doubt, Doubted
from chamberwatch.core.watch.effect import Outcome
from chamberwatch.core.watch.found import Found, Kind
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.reminder import Call, Event, Move, State
from chamberwatch.service.books import OutRow
from chamberwatch.service.history import History, Vitals
from chamberwatch.service.responding import NO_EFFECT
from chamberwatch.service.sensor_telling import SensorTelling
from chamberwatch.service.views import ChamberNow, ReminderNow
from tests.make import NOON, TENT, at, evidence
from tests.service.machine import Bench

NOTHING: Final = (
    "You misted at {at} and humidity has not risen (still 76 %). Look: is the bottle empty, is "
    "the cover open, and does the mist reach the air around the sensor?"
)


def live(
    bench: Bench,
    minutes: int,
    humidity: float | Callable[[int], float] = 76.0,
    co2: float | None = None,
    sensor: str = "middle",
) -> None:
    """Let a sensor speak and make a round, once a minute."""
    for minute in range(minutes):
        bench.clock.turn(minutes=1)
        now = bench.clock.now().isoformat()
        # A value that never moves would be a stuck sensor.
        off = 0.04 * (minute % 3)
        value = humidity(minute + 1) if callable(humidity) else humidity
        heard = [
            f"{sensor} temperature {19.0 + off} {now}",
            f"{sensor} humidity {value + off} {now}",
        ]
        if co2 is not None:
            heard.append(f"{sensor} co2 {co2 + 10 * off} {now}")
        bench.take(";".join(heard))
        bench.rounds.look()


def act(bench: Bench, deed: Deed = Deed.MISTED, when: datetime | None = None) -> Action:
    return bench.logbook.act("tent", deed, when, "", "page")


def told(bench: Bench) -> list[OutRow]:
    """Return the messages about mist and fresh air, oldest first."""
    return [row for row in reversed(bench.outbox()) if "sensor" not in row.title]


def titles(bench: Bench) -> list[str]:
    return [row.title.removeprefix("Tent: ") for row in told(bench)]


def moves(bench: Bench, call: Call = Call.MIST) -> list[Move]:
    number = bench.reminder(call).id
    with bench.sql.read() as book:
        return [move for _, move in book.reminders.moves(number)]


def history(bench: Bench) -> History:
    vitals = Vitals(connected=True, message_ago=None, troubles=())
    return History(
        bench.books,
        bench.clock,
        bench.house,
        bench.board,
        UTC,
        lambda: vitals,
        NOON,
        "0.0",
        bench.counsel if bench.counselled else None,
        responding=bench.responding,
    )


def page(bench: Bench) -> ChamberNow:
    return history(bench).now("tent")


def shown(bench: Bench, call: Call = Call.MIST) -> ReminderNow:
    (found,) = [r for r in page(bench).reminders if r.reminder.call is call]
    return found


@pytest.fixture
def dry(bench: Bench) -> Bench:
    """Return a tent that was told to be too dry a minute ago."""
    live(bench, 25, 84.0)
    live(bench, 5)
    assert titles(bench) == ["mist now"]
    return bench


# ------------------------------------------------------------------ no effect


def test_a_misting_without_effect_comes_back_and_says_so(dry: Bench) -> None:
    act(dry)
    assert dry.reminder(Call.MIST).state is State.ACKNOWLEDGED
    live(dry, 14)
    assert titles(dry) == ["mist now"]
    live(dry, 2)
    assert titles(dry) == ["mist now", "the misting had no effect"]
    assert told(dry)[-1].body == NOTHING.format(at="12:30")
    reminder = dry.reminder(Call.MIST)
    assert (reminder.state, reminder.episode) == (State.UNACKNOWLEDGED, 1)
    last = moves(dry)[-1]
    assert (last.event, last.cause, last.time) == (Event.REALARMED, NO_EFFECT, at(45))
    assert (shown(dry).title, shown(dry).body) == (
        "Tent: the misting had no effect",
        NOTHING.format(at="12:30"),
    )
    live(dry, 200)
    assert len(told(dry)) == 2


def test_who_has_seen_it_is_left_in_peace(dry: Bench) -> None:
    act(dry)
    live(dry, 16)
    dry.logbook.seen(dry.reminder(Call.MIST).id, None, "page")
    live(dry, 60)
    assert dry.reminder(Call.MIST).state is State.ACKNOWLEDGED
    assert len(told(dry)) == 2


def test_a_second_misting_without_effect_is_said_as_well(dry: Bench) -> None:
    act(dry)
    live(dry, 20)
    act(dry)
    live(dry, 16)
    assert titles(dry) == ["mist now", "the misting had no effect", "the misting had no effect"]
    assert told(dry)[-1].body == NOTHING.format(at="12:50")


def test_a_restart_says_it_neither_twice_nor_never(dry: Bench) -> None:
    act(dry)
    live(dry, 10)
    dry.crash()
    live(dry, 6)
    assert len(told(dry)) == 2
    dry.logbook.seen(dry.reminder(Call.MIST).id, None, "page")
    dry.crash()
    live(dry, 30)
    assert len(told(dry)) == 2
    assert shown(dry).body == NOTHING.format(at="12:30")


def test_told_late_of_a_misting_long_ago(dry: Bench) -> None:
    live(dry, 40)
    act(dry, when=dry.clock.now() - timedelta(minutes=30))
    live(dry, 2)
    assert titles(dry) == ["mist now", "the misting had no effect"]
    assert told(dry)[-1].body == NOTHING.format(at="12:40")


def test_misted_before_it_was_asked(bench: Bench) -> None:
    live(bench, 25, 84.0)
    live(bench, 1)
    act(bench)
    live(bench, 14)
    assert bench.reminder(Call.MIST).active
    assert titles(bench) == []
    live(bench, 2)
    assert titles(bench) == ["the misting had no effect"]
    live(bench, 60)
    assert len(titles(bench)) == 1


def rises(minute: int) -> float:
    return min(76.0 + minute, 79.0)


@pytest.mark.parametrize(
    "humidity",
    [
        pytest.param(rises, id="not enough, and yet an effect"),
        pytest.param(lambda minute: 76.0 + (4.0 if minute == 3 else 0.0), id="for a moment"),
    ],
)
def test_an_effect_is_no_reason_to_come_back(dry: Bench, humidity: Callable[[int], float]) -> None:
    act(dry)
    live(dry, 40, humidity)
    assert dry.reminder(Call.MIST).state is State.ACKNOWLEDGED
    assert len(told(dry)) == 1


def doubt_middle(bench: Bench) -> None:
    doubt = Doubt(
        "middle", Doubted.STUCK, at(31), "middle is stuck.", frozenset({Quantity.HUMIDITY})
    )
    bench.board.doubt({"middle": doubt}, ())
    with bench.sql.write() as book:
        SensorTelling(bench.teller).doubted(book, None, doubt, bench.clock.now())


def believe_again(bench: Bench) -> None:
    doubt_middle(bench)
    with bench.sql.write() as book:
        doubt = bench.board.doubts()["middle"]
        SensorTelling(bench.teller).believed(book, doubt, bench.clock.now())
    bench.board.doubt({}, ())


def fall_silent(bench: Bench) -> None:
    bench.clock.turn(minutes=7)


def vent_too(bench: Bench) -> None:
    act(bench, Deed.VENTED)


@pytest.mark.parametrize("meanwhile", [doubt_middle, believe_again, fall_silent, vent_too])
def test_what_cannot_be_told_is_not_said(dry: Bench, meanwhile: Callable[[Bench], None]) -> None:
    act(dry)
    live(dry, 4)
    meanwhile(dry)
    live(dry, 14)
    assert dry.reminder(Call.MIST).state is State.ACKNOWLEDGED
    assert "the misting had no effect" not in titles(dry)


def test_what_came_after_all_is_not_denied(dry: Bench) -> None:
    act(dry)
    live(dry, 16)
    live(dry, 2, 78.5)
    assert shown(dry).title == "Tent: mist now"


def test_after_two_hours_it_is_asked_as_usual(dry: Bench) -> None:
    act(dry)
    live(dry, 16 + 120)
    assert shown(dry).title == "Tent: mist now"


def test_a_sensor_that_did_not_ask_does_not_answer(tmp_path: Path) -> None:
    """The mist reached the top and not the middle, which is dry."""
    bench = Bench(tmp_path)
    live(bench, 25, 84.0)
    for minute in range(5 + 16):
        if minute == 5:
            act(bench)
        bench.clock.turn(minutes=1)
        now, off = bench.clock.now().isoformat(), 0.04 * (minute % 3)
        top = 84.0 if minute < 5 else 92.0
        bench.take(f"middle humidity {76.0 + off} {now};top humidity {top + off} {now}")
        bench.rounds.look()
    assert titles(bench) == ["mist now", "the misting had no effect"]
    bench.close()


# ------------------------------------------------------------------ venting


def test_a_venting_without_effect(bench: Bench) -> None:
    live(bench, 25, 88.0, 700.0)
    live(bench, 7, 88.0, 1300.0)
    act(bench, Deed.VENTED)
    live(bench, 16, 88.0, 1300.0)
    assert titles(bench) == ["vent now", "the venting had no effect"]
    assert told(bench)[-1].body.startswith(
        "You vented at 12:32 and CO2 has not fallen (still 1300 ppm). Look: was it open wide"
    )
    assert shown(bench, Call.VENT).body == told(bench)[-1].body


def test_dry_as_well_it_is_said_before_what_to_do(bench: Bench) -> None:
    live(bench, 25, 88.0, 700.0)
    live(bench, 7, 76.0, 1300.0)
    assert titles(bench) == ["vent, then mist"]
    act(bench, Deed.VENTED)
    live(bench, 17, 76.0, 1300.0)
    assert titles(bench) == ["vent, then mist", "vent, then mist"]
    body = told(bench)[-1].body
    assert body.startswith("You vented at 12:32 and CO2 has not fallen (still 1300 ppm). Look:")
    assert "as stale? CO2 1300 ppm" in body
    assert body.endswith("fresh air dries it further.")
    assert shown(bench, Call.VENT).body == body


# ------------------------------------------------------------------ grace


def keep(bench: Bench, *found: Found) -> None:
    with bench.sql.write() as book:
        for each in found:
            book.found.add(each)


def misting(
    begun_min: float,
    over_min: float,
    action: int | None = None,
    held: timedelta | None = None,
    *,
    was_it: bool | None = None,
) -> Found:
    return Found(
        0, "tent", Kind.MISTING, at(begun_min), at(over_min), action, was_it, 76.0, 85.2, 1.4,
        held=held,
    )  # fmt: skip


def venting(begun_min: float, over_min: float) -> Found:
    return Found(
        0, "tent", Kind.VENTING, at(begun_min), at(over_min), None, None, 90.0, 76.0, -2.0, 1400.0,
        640.0,
    )  # fmt: skip


def test_the_grace_is_what_this_chamber_needs(dry: Bench) -> None:
    responding = dry.responding
    assert responding.grace("tent", Call.MIST) == GRACE
    keep(dry, *(misting(-m, 4 - m) for m in (600, 900, 1200)))
    keep(dry, misting(-300, -270, was_it=False))
    keep(dry, *(venting(-m, 7 - m) for m in (500, 800, 1100)))
    keep(dry, *(misting(-m, 30 - m) for m in (11_000, 12_000, 13_000)))
    responding.look(dry.books, dry.clock.now())
    assert responding.grace("tent", Call.MIST) == timedelta(minutes=8)
    # Seven minutes, nine tenths of a step at a lag of 90 s, an off-delay of three minutes.
    assert responding.grace("tent", Call.VENT) == timedelta(minutes=10, seconds=207)
    assert responding.grace("tent", Call.DRY_OFF) == timedelta(minutes=9)
    assert responding.grace("tent", Call.WARM) == GRACE
    assert responding.grace("shelf", Call.MIST) == GRACE
    act(dry)
    live(dry, 7)
    assert titles(dry) == ["mist now"]
    live(dry, 2)
    assert titles(dry) == ["mist now", "the misting had no effect"]


def test_mistings_that_were_told_say_more_of_the_grace(dry: Bench) -> None:
    """Four minutes from the tap to the deed, four until it shows, two to be over."""
    keep(dry, *(misting(-m, 4 - m) for m in range(100, 500, 50)))
    for minutes in (600, 900, 1200):
        told_before = act(dry, when=at(-4 - minutes))
        keep(dry, misting(-minutes, 4 - minutes, told_before.id))
    dry.responding.look(dry.books, dry.clock.now())
    assert dry.responding.grace("tent", Call.MIST) == timedelta(minutes=10)


# ------------------------------------------------------------------ what is shown


def words(bench: Bench, action: Action) -> str:
    effect = bench.responding.effects_of([action]).get(action.id)
    return "" if effect is None else said(effect)


def test_what_came_of_a_misting_is_shown(dry: Bench) -> None:
    action = act(dry)
    assert words(dry, action) == ""
    live(dry, 1)
    dry.responding.look(dry.books, dry.clock.now())
    assert dry.responding.effects_of([action])[action.id].outcome is Outcome.PENDING
    live(dry, 5, lambda minute: min(76.0 + 3.0 * minute, 85.0))
    dry.intake.commit()
    dry.responding.look(dry.books, dry.clock.now())
    assert words(dry, action) == "humidity rose 9 % in 4 min"
    beat = dry.board.pulse()
    keep(dry, misting(31, 34, action.id, timedelta(minutes=11)))
    dry.responding.look(dry.books, dry.clock.now())
    assert words(dry, action) == "humidity rose 9 % in 3 min, held 11 min"
    assert dry.board.pulse() > beat
    beat = dry.board.pulse()
    dry.responding.look(dry.books, dry.clock.now())
    assert dry.board.pulse() == beat
    effects = page(dry).effects
    assert said(effects[action.id]) == "humidity rose 9 % in 3 min, held 11 min"
    (listed,) = history(dry).actions("tent", 5)
    assert (listed.action, listed.effect) == (action, effects[action.id])
    assert history(dry).actions(None, 5) == [listed]


def test_what_had_no_effect_is_shown_and_kept_as_it_was_seen(dry: Bench) -> None:
    action = act(dry)
    live(dry, 16)
    dry.responding.look(dry.books, dry.clock.now())
    assert words(dry, action) == "humidity has not risen"
    live(dry, 5, 90.0)
    dry.responding.look(dry.books, dry.clock.now())
    assert words(dry, action) == "humidity has not risen"


def test_without_a_sensor_for_it_nothing_is_said(dry: Bench) -> None:
    elsewhere = dry.logbook.act("shelf", Deed.MISTED, None, "", "page")
    noted, old = act(dry, Deed.NOTED), act(dry, when=at(-60 * 24 * 3))
    live(dry, 16)
    dry.responding.look(dry.books, dry.clock.now())
    assert dry.responding.effects_of([elsewhere, noted, old]) == {}


def test_where_nobody_was_ever_asked_nothing_is_in_vain(dry: Bench) -> None:
    said_of = dry.responding.no_effect_words(TENT, Call.MIST, evidence(), dry.clock.now())
    assert said_of is None
