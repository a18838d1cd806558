"""Weeks looked back on: from what was really heard, said and done, as it lies in the book."""

import threading
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from chamberwatch.core.errors import RefusedError
from chamberwatch.core.review.calming import Setting, Suggestion
from chamberwatch.core.review.record import Fate, Kind
from chamberwatch.core.watch.action import Deed
from chamberwatch.core.watch.found import Found
from chamberwatch.core.watch.found import Kind as FoundKind
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.reminder import (
    Call,
    Cause,
    Event,
    Evidence,
    Out,
    Priority,
    Reminder,
    advance,
)
from chamberwatch.service.books import OutKind, OutRow, OutState
from chamberwatch.service.reviewing import Reviewing, WeekReview, tellings
from tests.make import NOON, at
from tests.service.machine import Bench

# Noon is on Tuesday, 20 January 2026, in week 4.
MINUTE = timedelta(minutes=1)
TERMINAL = "terminal"
BERLIN = ZoneInfo("Europe/Berlin")


def reviewing(bench: Bench, zone: ZoneInfo | None = None) -> Reviewing:
    return Reviewing(bench.books, bench.clock, bench.house, zone or UTC, TERMINAL)


def this_week(bench: Bench) -> WeekReview:
    (found,) = reviewing(bench).weeks()
    return found


def deliver(bench: Bench) -> None:
    bench.delivery().deliver_due(threading.Event())


def dry_spell(bench: Bench, minutes: int, back: int, moist: float = 90.0) -> None:
    """Let the air be a little too dry for so long, and well for so long; messages go out."""
    bench.minutes_of("humidity", 79.0, minutes)
    bench.intake.commit()
    deliver(bench)
    bench.minutes_of("humidity", moist, back)
    bench.intake.commit()


# ---------------------------------------------------------------------- which week


def test_a_week_in_which_nothing_happened(bench: Bench) -> None:
    found = this_week(bench)
    assert (found.week.name, found.over) == ("2026-W04", False)
    assert (found.start, found.end) == (
        datetime(2026, 1, 19, tzinfo=UTC),
        datetime(2026, 1, 26, tzinfo=UTC),
    )
    assert (found.quality.messages, found.quality.episodes, found.worst) == (0, 0, ())
    assert found.quality.days == 1.5


def test_weeks_come_newest_first_and_begin_where_people_live(bench: Bench) -> None:
    found = reviewing(bench, BERLIN).weeks(count=3)
    assert [each.week.name for each in found] == ["2026-W04", "2026-W03", "2026-W02"]
    assert [each.over for each in found] == [False, True, True]
    assert found[0].start == datetime(2026, 1, 18, 23, tzinfo=UTC)
    assert found[0].start == found[1].end


def test_a_week_by_its_name(bench: Bench) -> None:
    (found,) = reviewing(bench).weeks("2025-W52")
    assert (found.week.name, found.over, found.quality.days) == ("2025-W52", True, 7.0)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        pytest.param("2026-W05", "has not begun; the newest there can be is 2026-W04", id="ahead"),
        pytest.param("soon", "“soon” is no week", id="no week"),
    ],
)
def test_what_can_not_be_looked_back_on_is_said(bench: Bench, text: str, says: str) -> None:
    with pytest.raises(RefusedError, match=says):
        reviewing(bench).weeks(text)


# ---------------------------------------------------------------------- from what was heard


def test_short_dry_spells_call_for_a_longer_delay(bench: Bench) -> None:
    # Dry for 4 minutes: raised after 3, over when it has been well for 2.
    for _ in range(5):
        dry_spell(bench, 4, 120)
    found = this_week(bench)
    figures = found.quality
    assert (figures.messages, figures.episodes, figures.told) == (5, 5, 5)
    assert (figures.fleeting, figures.chattering, figures.acknowledged) == (5, 0, 0)
    assert figures.by_priority == {Priority.LOW: 0, Priority.MEDIUM: 5, Priority.HIGH: 0}
    assert found.causes == ("Tent: mist",)
    (worst,) = found.worst
    assert worst.tiring.suggestion == Suggestion(
        Setting.ON_DELAY, Quantity.HUMIDITY, 5.0, 3.0, 5, 5
    )
    assert worst.title == "Tent: mist"
    assert worst.how == "5 messages, 5 over before anyone could act."
    assert 'set patience.humidity.on_delay = "5 min" (now 3 min)' in worst.advice


def test_what_was_misted_is_no_reason_for_patience(bench: Bench) -> None:
    for _ in range(4):
        bench.minutes_of("humidity", 79.0, 4)
        bench.intake.commit()
        deliver(bench)
        bench.clock.turn(seconds=20)
        bench.logbook.act("tent", Deed.MISTED, None, "", "page")
        bench.clock.turn(seconds=-20)
        bench.minutes_of("humidity", 90.0, 120)
        bench.intake.commit()
    found = this_week(bench)
    assert (found.quality.acknowledged, found.quality.answered) == (4, 4)
    assert found.quality.median_to_action == timedelta(seconds=20)
    assert found.quality.fleeting == 0
    (worst,) = found.worst
    assert (worst.tiring.needed, worst.tiring.suggestion) == (4, None)
    assert "More wet surface" in worst.advice


@pytest.mark.parametrize(
    ("confirmed", "action", "needed"),
    [
        pytest.param(None, None, 3, id="not asked"),
        pytest.param(True, None, 3, id="confirmed"),
        pytest.param(False, None, 0, id="denied"),
        # It belongs to a recorded deed, which is counted by itself.
        pytest.param(None, 99, 0, id="recorded"),
    ],
)
def test_mistings_that_only_the_readings_show(
    bench: Bench, confirmed: bool | None, action: int | None, needed: int
) -> None:
    for _ in range(3):
        dry_spell(bench, 4, 120)
        misted = bench.clock.now() - 120 * MINUTE
        event = Found(0, "tent", FoundKind.MISTING, misted, misted + MINUTE, action, confirmed)
        with bench.books.write() as book:
            book.found.add(event)
    found = this_week(bench)
    assert found.worst[0].tiring.needed == needed
    assert found.quality.fleeting == 3 - needed
    assert found.quality.answered == 0


def test_how_far_the_air_came_back_is_read_from_the_readings(bench: Bench) -> None:
    # Two per cent inside count as back; three are never reached.
    for _ in range(4):
        dry_spell(bench, 40, 30, moist=82.5)
    (worst,) = this_week(bench).worst
    assert worst.tiring.suggestion == Suggestion(
        Setting.DEADBAND, Quantity.HUMIDITY, 3.0, 2.0, 3, 4
    )
    assert "patience.humidity.deadband = 3 (now 2 %)" in worst.advice


def test_the_same_on_the_high_side(bench: Bench) -> None:
    for _ in range(4):
        bench.minutes_of("co2", 1100.0, 40)
        bench.intake.commit()
        deliver(bench)
        bench.minutes_of("co2", 920.0, 40)
        bench.intake.commit()
    (worst,) = this_week(bench).worst
    # 80 ppm inside: the least wider one.
    assert worst.tiring.suggestion == Suggestion(Setting.DEADBAND, Quantity.CO2, 100.0, 75.0, 3, 4)


def test_a_restart_in_the_middle_changes_no_figure(bench: Bench) -> None:
    dry_spell(bench, 4, 120)
    bench.minutes_of("humidity", 79.0, 4)
    bench.intake.commit()
    deliver(bench)
    before = this_week(bench)
    bench.crash()
    assert this_week(bench) == before
    bench.minutes_of("humidity", 79.0, 3)
    bench.minutes_of("humidity", 90.0, 5)
    bench.intake.commit()
    after = this_week(bench).quality
    assert (after.episodes, after.messages, after.told) == (2, 2, 2)


# ---------------------------------------------------------------------- from the book alone


def put(bench: Bench, call: Call, *events: tuple[Event, datetime], subject: str = "") -> Reminder:
    with bench.books.write() as book:
        reminder = book.reminders.of("tent", call, subject)
        for event, moment in events:
            cause = Cause("test", out=Out("Ann", "test"))
            reminder, move = advance(reminder, event, moment, cause)
            book.reminders.save(reminder, [move])
    return reminder


def days(number: float) -> timedelta:
    return timedelta(days=number)


def test_what_has_been_on_since_before_the_week_is_stale_in_it(bench: Bench) -> None:
    raised = NOON - days(5)
    warm = put(bench, Call.WARM, (Event.RAISED, raised))
    put(bench, Call.COOL, (Event.RAISED, raised), (Event.TAKEN_OUT, NOON - days(4)))
    put(bench, Call.VENT, (Event.RAISED, raised), (Event.RETURNED, NOON - days(4)))
    found = this_week(bench)
    assert [(s.reminder, s.since, s.lasted) for s in found.quality.stale] == [
        (warm.id, raised, days(5))
    ]
    assert found.titles[warm.id] == "Tent: warm"
    assert found.quality.episodes == 0


def test_air_without_evidence_or_without_readings_between_says_nothing_of_a_deadband(
    bench: Bench,
) -> None:
    dry = Evidence("middle", Quantity.HUMIDITY, 79.0, 80.0, 95.0, None, None)
    for place, evidence in enumerate((dry, None, dry, replace(dry, low=None))):
        with bench.books.write() as book:
            reminder = book.reminders.of("tent", Call.MIST, "")
            for event, minutes in ((Event.RAISED, 0), (Event.RETURNED, 40)):
                moment = at(-600 + 80 * place + minutes)
                spoke = evidence if event is Event.RAISED else None
                reminder, move = advance(reminder, event, moment, Cause("", spoke))
                book.reminders.save(reminder, [move])
            book.outbox.add([row(reminder=reminder.id, episode=reminder.episode)])
    (worst,) = this_week(bench).worst
    assert (worst.tiring.raises, worst.tiring.suggestion) == (4, None)


def test_a_sensor_that_falls_silent_again_and_again(bench: Bench) -> None:
    silent = Evidence("middle", None, None, None, None, None, None)
    for place in range(4):
        with bench.books.write() as book:
            reminder = book.reminders.of("tent", Call.CHECK_SENSOR, "middle")
            for event, minutes in ((Event.RAISED, 0), (Event.RETURNED, 4)):
                moment = at(-600 + 80 * place + minutes)
                spoke = silent if event is Event.RAISED else None
                reminder, move = advance(reminder, event, moment, Cause("", spoke))
                book.reminders.save(reminder, [move])
    (worst,) = this_week(bench).worst
    assert worst.title == "Tent: check the sensor middle"
    assert 'For the sensor “middle” set unheard_after = "10 min" (now 5 min)' in worst.advice


def test_a_chamber_that_is_declared_no_more_keeps_its_name(bench: Bench) -> None:
    with bench.books.write() as book:
        gone = book.reminders.of("cellar", Call.MIST, "")
        raised, move = advance(gone, Event.RAISED, at(-60), "")
        book.reminders.save(raised, [move])
        book.outbox.add([row(reminder=gone.id, created=at(-n)) for n in (60, 30)])
    found = this_week(bench)
    assert found.causes == ("cellar: mist",)
    assert found.worst[0].title == "cellar: mist"


# ---------------------------------------------------------------------- messages, not rows


def row(**changes: object) -> OutRow:
    plain = OutRow(
        id=0,
        reminder=1,
        episode=1,
        address="phone",
        title="Tent: mist now",
        body="…",
        priority=Priority.MEDIUM,
        state=OutState.SENT,
        created=at(-60),
        next_try=at(-60),
        chamber="tent",
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


def test_two_phones_hear_one_message() -> None:
    (one,) = tellings(
        [row(sent=at(-58)), row(address="second", sent=at(-59)), row(address=TERMINAL)], TERMINAL
    )
    assert (one.reminder, one.episode, one.kind, one.chamber) == (1, 1, Kind.REMINDER, "tent")
    assert (one.fate, one.created, one.told) == (Fate.OUT, at(-60), at(-59))


@pytest.mark.parametrize(
    "changes",
    [
        pytest.param({"episode": 2}, id="another episode"),
        pytest.param({"created": at(-59)}, id="told anew"),
        pytest.param({"reminder": 2}, id="another reminder"),
        pytest.param({"kind": OutKind.RETURNED}, id="that it is over"),
    ],
)
def test_what_is_another_message(changes: dict[str, object]) -> None:
    assert len(tellings([row(), row(**changes)], TERMINAL)) == 2


def test_of_what_tells_of_no_reminder_the_title_tells_them_apart() -> None:
    summary = row(reminder=0, episode=0, kind=OutKind.SUMMARY, title="The night")
    rows = [summary, replace(summary, address="second"), replace(summary, title="The day")]
    assert [t.kind for t in tellings(rows, TERMINAL)] == [Kind.SUMMARY, Kind.SUMMARY]


def test_a_trial_is_no_message() -> None:
    assert tellings([row(kind=OutKind.TRIAL)], TERMINAL) == ()


@pytest.mark.parametrize(
    ("states", "fate"),
    [
        pytest.param([OutState.SENT], Fate.OUT, id="sent"),
        pytest.param([OutState.UNCERTAIN], Fate.OUT, id="perhaps"),
        pytest.param([OutState.SENDING], Fate.WAITING, id="being sent"),
        pytest.param([OutState.FAILED, OutState.WAITING], Fate.WAITING, id="tried again"),
        pytest.param([OutState.DROPPED, OutState.FOLDED], Fate.FOLDED, id="folded"),
        pytest.param([OutState.DROPPED, OutState.FAILED], Fate.FAILED, id="failed"),
        pytest.param([OutState.DROPPED], Fate.DROPPED, id="no longer true"),
        pytest.param([OutState.DROPPED, OutState.SENT], Fate.OUT, id="one phone heard it"),
    ],
)
def test_the_best_that_became_of_a_message(states: list[OutState], fate: Fate) -> None:
    rows = [row(state=state, address=f"phone {n}") for n, state in enumerate(states)]
    (one,) = tellings(rows, TERMINAL)
    assert one.fate is fate
    assert one.told == (at(-60) if fate is Fate.OUT else None)


@pytest.mark.parametrize("state", OutState)
def test_every_state_of_a_message_has_a_fate(state: OutState) -> None:
    assert len(tellings([row(state=state)], TERMINAL)) == 1


def test_the_terminal_counts_only_where_nobody_has_a_phone() -> None:
    printed = row(address=TERMINAL)
    assert tellings([printed], TERMINAL)[0].fate is Fate.OUT
    dropped = row(state=OutState.DROPPED)
    assert tellings([printed, dropped], TERMINAL)[0].fate is Fate.DROPPED


def test_kinds_are_those_of_the_outbox() -> None:
    assert {kind.value for kind in OutKind} - {"trial"} == {kind.value for kind in Kind}
