"""The figures of a week, each against its definition.

The definitions are those of ANSI/ISA-18.2 and IEC 62682, recalled from memory where the module
says so: chattering is 3 or more raises in 1 min, fleeting clears before anyone could act and does
not at once repeat, stale is on for more than 24 h, a flood starts above 10 in 10 min and ends
below 5.
"""

from collections.abc import Callable, Sequence
from datetime import timedelta

import pytest

from chamberwatch.core.review.quality import (
    CHATTERS_WITHIN,
    Cause,
    Flood,
    Quality,
    Stale,
    chattering,
    fleeting,
    floods,
    quality,
    stale,
)
from chamberwatch.core.review.record import Fate, Kind
from chamberwatch.core.watch.action import Deed
from chamberwatch.core.watch.reminder import Call, Event, Priority
from tests.core.review.weeks import COOL, DAY, LOOK, MIST, TODAY, VENT, WEEK, Told, mon

MINUTE = timedelta(minutes=1)
Tell = Callable[[Told], object]


def of(tell: Tell, now: float = WEEK + DAY) -> Quality:
    told = Told()
    tell(told)
    return quality(told.record(now))


# ---------------------------------------------------------------------- nothing at all


def test_a_week_without_a_word() -> None:
    found = quality(Told().record())
    assert (found.messages, found.per_day, found.days) == (0, 0.0, 7.0)
    assert found.by_priority == {Priority.LOW: 0, Priority.MEDIUM: 0, Priority.HIGH: 0}
    assert (found.episodes, found.told, found.acknowledged, found.answered) == (0, 0, 0, 0)
    assert (found.acknowledged_share, found.median_to_action) == (None, None)
    assert (found.chattering, found.chattering_strictly, found.fleeting) == (0, 0, 0)
    assert (found.by_cause, found.stale, found.floods, found.not_sent) == ((), (), (), {})
    assert found.most_frequent_share is None


# ---------------------------------------------------------------------- messages


def some_messages(told: Told) -> None:
    told.told(MIST, 10, 20)
    told.told(MIST, 100, 120)
    told.tell(MIST, 130, 131, kind=Kind.RETURNED, priority=Priority.HIGH)
    told.told(LOOK, 200, 300)
    told.tell(0, 450, 450, kind=Kind.SUMMARY, priority=Priority.LOW)
    told.move(TODAY, Event.RAISED, 480)
    told.tell(TODAY, 480, 480, priority=Priority.LOW)
    told.move(VENT, Event.RAISED, 500)
    for fate in (Fate.FOLDED, Fate.DROPPED, Fate.DROPPED, Fate.WAITING, Fate.FAILED):
        told.tell(VENT, 500, fate=fate)
    # Of the weeks before and after.
    told.tell(VENT, -1, -1)
    told.tell(VENT, WEEK, WEEK)


def test_messages_are_counted_by_priority_and_cause() -> None:
    found = of(some_messages)
    assert found.messages == 6
    assert found.per_day == pytest.approx(6 / 7)
    assert found.by_priority == {Priority.LOW: 2, Priority.MEDIUM: 3, Priority.HIGH: 1}
    assert found.by_cause == (
        Cause("tent", Call.MIST, "", Kind.REMINDER, 2),
        Cause("", Call.TODAY, "", Kind.REMINDER, 1),
        Cause("tent", None, "", Kind.SUMMARY, 1),
        Cause("tent", Call.CHECK_SENSOR, "middle", Kind.REMINDER, 1),
        Cause("tent", Call.MIST, "", Kind.RETURNED, 1),
    )
    assert found.not_sent == {Fate.FOLDED: 1, Fate.DROPPED: 2, Fate.WAITING: 1, Fate.FAILED: 1}


@pytest.mark.parametrize(
    ("now", "days"),
    [
        pytest.param(60, 1.0, id="an hour into Monday"),
        pytest.param(1.5 * DAY, 1.5, id="Tuesday noon"),
        pytest.param(WEEK, 7.0, id="over"),
        pytest.param(3 * WEEK, 7.0, id="long over"),
        pytest.param(-60, 1.0, id="not begun"),
    ],
)
def test_a_week_that_is_not_over_is_measured_so_far(now: float, days: float) -> None:
    found = of(lambda told: told.told(MIST, 10, 20), now)
    assert found.days == days
    assert found.per_day == pytest.approx(1 / days)


def test_the_share_of_the_ten_most_frequent() -> None:
    told = Told()
    for number in range(1, 5):
        told.tell(number, 10, 10)
    assert quality(told.record()).most_frequent_share is None
    for number in range(10, 17):
        for _ in range(2):
            told.tell(0, 10, 10, kind=Kind.SUMMARY)
        told.reminders[number] = told.reminders[MIST]
        told.tell(number, 10, 10)
        told.tell(number, 20, 20)
    # Seven with two messages and four with one: ten of the eleven make 17 of 18.
    assert quality(told.record()).most_frequent_share == pytest.approx(17 / 18)


# ---------------------------------------------------------------------- told, known, answered


def answered(told: Told) -> None:
    told.told(MIST, 10)  # misted after 6 min
    told.move(MIST, Event.SEEN, 16)
    told.did(Deed.MISTED, 16)
    told.move(MIST, Event.RETURNED, 20)
    told.told(LOOK, 100)  # seen after 60 min
    told.move(LOOK, Event.SEEN, 160)
    told.told(COOL, 200, 400)  # never
    told.episode(VENT, 300, 310)  # never told


def test_what_was_told_known_and_answered() -> None:
    found = of(answered)
    assert (found.episodes, found.told, found.acknowledged, found.answered) == (4, 3, 2, 2)
    assert found.acknowledged_share == pytest.approx(2 / 3)
    assert found.median_to_action == 33 * MINUTE


def vented(*at: float) -> Tell:
    def tell(told: Told) -> None:
        told.told(VENT, 10, 90)
        for minutes in at:
            told.did(Deed.VENTED, minutes)

    return tell


def sent_late(told: Told) -> None:
    told.move(VENT, Event.RAISED, 10)
    told.tell(VENT, 10, 70)
    told.did(Deed.VENTED, 40)
    told.did(Deed.VENTED, 75)


def told_twice(told: Told) -> None:
    told.told(VENT, 10)
    told.tell(VENT, 40, 40)
    told.did(Deed.VENTED, 45)


def next_one_too(told: Told) -> None:
    told.told(VENT, 10, 20)
    told.told(VENT, 60, 90)
    told.did(Deed.VENTED, 65)


def found_only(told: Told) -> None:
    told.told(VENT, 10, 90)
    told.did(Deed.VENTED, 20, recorded=False)


def another_deed(told: Told) -> None:
    told.told(VENT, 10, 90)
    told.did(Deed.MISTED, 20)
    told.did(Deed.NOTED, 21)


def in_the_next_week(told: Told) -> None:
    told.told(VENT, WEEK - 5, WEEK + 60)
    told.did(Deed.VENTED, WEEK + 4)


def not_sent_yet(told: Told) -> None:
    told.move(VENT, Event.RAISED, 10)
    told.tell(VENT, 10, fate=Fate.WAITING)
    told.did(Deed.VENTED, 20)


def sent_before_times_were_kept(told: Told) -> None:
    told.move(VENT, Event.RAISED, 10)
    told.tell(VENT, 11)
    told.did(Deed.VENTED, 20)


@pytest.mark.parametrize(
    ("tell", "minutes"),
    [
        pytest.param(vented(30, 50), 20, id="the first deed"),
        pytest.param(vented(120), 110, id="when it was over"),
        pytest.param(vented(9), None, id="done before"),
        pytest.param(vented(10 + 24 * 60 + 1), None, id="a day later"),
        pytest.param(vented(10 + 24 * 60), 24 * 60, id="within the day"),
        pytest.param(vented(), None, id="never"),
        pytest.param(sent_late, 5, id="from when it went out"),
        pytest.param(sent_before_times_were_kept, 9, id="else from when it was written"),
        pytest.param(told_twice, 35, id="from the first message"),
        pytest.param(next_one_too, 5, id="the answer to the next"),
        pytest.param(found_only, None, id="nobody said so"),
        pytest.param(another_deed, None, id="another deed"),
        pytest.param(in_the_next_week, 9, id="over the border"),
        pytest.param(not_sent_yet, None, id="not sent yet"),
    ],
)
def test_how_long_until_somebody_acted(tell: Tell, minutes: float | None) -> None:
    expected = None if minutes is None else minutes * MINUTE
    assert of(tell).median_to_action == expected


# ---------------------------------------------------------------------- chattering


def raised(number: int, *at: float, lasting: float = 0.1) -> Tell:
    def tell(told: Told) -> None:
        for minutes in at:
            told.episode(number, minutes, minutes + lasting)

    return tell


@pytest.mark.parametrize(
    ("at", "strictly", "at_home"),
    [
        pytest.param((10, 10.4, 10.9), 3, 3, id="three in a minute"),
        pytest.param((10, 10.5, 11.0), 3, 3, id="exactly a minute"),
        pytest.param((10, 10.5, 11.01), 0, 3, id="a little more"),
        pytest.param((10, 30, 70), 0, 3, id="exactly an hour"),
        pytest.param((10, 30, 70.5), 0, 0, id="more than an hour"),
        pytest.param((10, 40), 0, 0, id="two"),
        pytest.param((10, 40, 69, 100, 129), 0, 5, id="a long row, each counted once"),
        pytest.param((10, 20, 30, 300, 500), 0, 3, id="only those of the row"),
        pytest.param((-20, -10, 5), 0, 1, id="begun before the week"),
        pytest.param((WEEK - 10, WEEK + 5, WEEK + 9), 0, 1, id="gone on after it"),
        pytest.param((-30, -20, -10), 0, 0, id="the week before"),
    ],
)
def test_chattering(at: Sequence[float], strictly: int, at_home: int) -> None:
    found = of(raised(LOOK, *at))
    assert (found.chattering_strictly, found.chattering) == (strictly, at_home)


def test_rows_are_of_one_reminder_each() -> None:
    told = Told()
    for number in (MIST, VENT, LOOK):
        told.episode(number, 10, 11)
    assert chattering(told.record()) == frozenset()


def test_what_is_raised_while_shelved_disturbs_nobody() -> None:
    told = Told()
    told.move(MIST, Event.SHELVED, 5, 60)
    for minutes in (10, 20, 30):
        told.episode(MIST, minutes, minutes + 5)
    told.move(MIST, Event.SHELF_ENDED, 65)
    told.episode(MIST, 66, 70)
    found = quality(told.record())
    # The one after the shelf is the only one, so it stands in no row.
    assert (found.episodes, found.chattering, found.fleeting) == (1, 0, 1)


def test_tasks_of_the_crop_neither_chatter_nor_fleet_nor_grow_stale() -> None:
    told = Told()
    for minutes in (10, 20, 30, 300):
        told.episode(TODAY, minutes, minutes + 5)
    told.told(TODAY, 400)
    found = quality(told.record())
    assert (found.messages, found.episodes, found.chattering, found.fleeting) == (1, 0, 0, 0)
    assert found.stale == ()


def test_a_restart_that_ends_all_rules_and_begins_them_anew() -> None:
    """A stage changed in the settings ends an episode at the start and may raise it again."""
    told = Told()
    told.told(MIST, 10, 20)
    told.told(MIST, 20)
    found = quality(told.record(now=120))
    assert (found.episodes, found.told, found.fleeting) == (2, 2, 0)


# ---------------------------------------------------------------------- fleeting


def ends(lasting: float, number: int = MIST) -> Tell:
    return raised(number, 100, lasting=lasting)


def with_deed(deed: Deed, minutes: float, *, recorded: bool = True) -> Tell:
    def tell(told: Told) -> None:
        told.episode(MIST, 100, 110)
        told.did(deed, minutes, recorded=recorded)

    return tell


def then_again(after: float) -> Tell:
    def tell(told: Told) -> None:
        told.episode(MIST, 100, 110)
        told.episode(MIST, 110 + after, 300)

    return tell


def seen(number: int, minutes: float) -> Tell:
    def tell(told: Told) -> None:
        told.move(number, Event.RAISED, 100)
        if minutes < 110:
            told.move(number, Event.SEEN, minutes)
        told.move(number, Event.RETURNED, 110)
        if minutes > 110:
            told.move(number, Event.SEEN, minutes)

    return tell


def on_the_border(told: Told) -> None:
    told.episode(MIST, WEEK - 2, WEEK + 8)


def back_over_the_border(told: Told) -> None:
    told.episode(MIST, WEEK - 10, WEEK - 2)
    told.episode(MIST, WEEK + 5, WEEK + 60)


def of_the_week_before(told: Told) -> None:
    told.episode(MIST, -5, 5)


def still_on(told: Told) -> None:
    told.episode(MIST, 100)


@pytest.mark.parametrize(
    ("tell", "count"),
    [
        pytest.param(ends(10), 1, id="ten minutes"),
        pytest.param(ends(15), 1, id="a quarter of an hour"),
        pytest.param(ends(15.1), 0, id="longer"),
        pytest.param(still_on, 0, id="still on"),
        pytest.param(with_deed(Deed.MISTED, 105), 0, id="misted meanwhile"),
        pytest.param(with_deed(Deed.MISTED, 105, recorded=False), 0, id="as the readings show"),
        pytest.param(with_deed(Deed.MISTED, 110), 0, id="misted at the end"),
        pytest.param(with_deed(Deed.MISTED, 99), 1, id="misted before"),
        pytest.param(with_deed(Deed.MISTED, 111), 1, id="misted after"),
        pytest.param(with_deed(Deed.VENTED, 105), 1, id="another deed"),
        pytest.param(then_again(10), 0, id="came back at once"),
        pytest.param(then_again(15), 0, id="came back in a quarter of an hour"),
        pytest.param(then_again(16), 1, id="came back later"),
        pytest.param(seen(MIST, 105), 1, id="seen, but nothing done"),
        # No deed is told of a sensor: who has seen it may have turned it round.
        pytest.param(seen(LOOK, 105), 0, id="a sensor was seen to"),
        pytest.param(seen(LOOK, 130), 1, id="a sensor was seen too late"),
        pytest.param(raised(MIST, 100, 120, 140, lasting=1), 0, id="that is chattering"),
        pytest.param(on_the_border, 1, id="over the border"),
        pytest.param(back_over_the_border, 0, id="back over the border"),
        pytest.param(of_the_week_before, 0, id="raised in the week before"),
    ],
)
def test_fleeting(tell: Tell, count: int) -> None:
    told = Told()
    tell(told)
    assert len(fleeting(told.record())) == count


# ---------------------------------------------------------------------- stale


def held(raised_at: float, ended: float | None = None) -> Tell:
    return lambda told: told.episode(MIST, raised_at, ended)


def shelved_meanwhile(told: Told) -> None:
    told.move(MIST, Event.RAISED, 0)
    told.move(MIST, Event.SHELVED, 60, 20 * 60)


def taken_out(after: float, back: float | None = None) -> Tell:
    def tell(told: Told) -> None:
        told.move(MIST, Event.RAISED, 0)
        told.move(MIST, Event.TAKEN_OUT, after)
        if back is not None:
            told.move(MIST, Event.PUT_BACK, back)

    return tell


@pytest.mark.parametrize(
    ("tell", "now", "hours"),
    [
        pytest.param(held(0, 1.5 * DAY), WEEK, 36, id="a day and a half"),
        pytest.param(held(0, DAY), WEEK, None, id="exactly a day"),
        pytest.param(held(0), WEEK, 168, id="to the end of the week"),
        pytest.param(held(0), 2 * DAY, 48, id="so far"),
        pytest.param(held(0), 0.9 * DAY, None, id="not yet"),
        pytest.param(held(-3 * DAY, 60), WEEK, 73, id="from the week before"),
        pytest.param(held(-3 * DAY, -60), WEEK, None, id="over before the week"),
        pytest.param(held(-0.9 * DAY, 60), WEEK, None, id="over the border, too short"),
        pytest.param(held(6.5 * DAY, 8 * DAY), 8 * DAY, None, id="stale only in the next week"),
        pytest.param(shelved_meanwhile, WEEK, 168, id="a shelf does not end it"),
        pytest.param(taken_out(12 * 60), WEEK, None, id="out of service"),
        pytest.param(taken_out(30 * 60), WEEK, 30, id="out of service by then"),
        pytest.param(taken_out(60, 40 * 60), WEEK, 168, id="and put back"),
    ],
)
def test_stale(tell: Tell, now: float, hours: float | None) -> None:
    told = Told()
    tell(told)
    found = [each.lasted for each in stale(told.record(now))]
    assert found == ([] if hours is None else [timedelta(hours=hours)])


def test_the_longest_comes_first() -> None:
    told = Told()
    told.episode(MIST, 100)
    told.episode(VENT, 50)
    told.episode(LOOK, 50)
    assert stale(told.record(2 * DAY)) == (
        Stale(VENT, mon(50), (2 * DAY - 50) * MINUTE),
        Stale(LOOK, mon(50), (2 * DAY - 50) * MINUTE),
        Stale(MIST, mon(100), (2 * DAY - 100) * MINUTE),
    )


# ---------------------------------------------------------------------- floods


@pytest.mark.parametrize(
    ("minutes", "expected"),
    [
        pytest.param([], [], id="nothing"),
        pytest.param([0.5 * n for n in range(10)], [], id="ten are no flood"),
        pytest.param([0.5 * n for n in range(11)], [(0, 5, 11)], id="eleven are"),
        pytest.param([1.0 * n for n in range(40)], [], id="one a minute is none"),
        # The fourth of the slow ones has only three others within the ten minutes before it.
        pytest.param(
            [*(0.5 * n for n in range(11)), 12, 18, 24, 30], [(0, 12, 12)], id="ends below five"
        ),
        pytest.param(
            [*(0.5 * n for n in range(11)), *(300 + 0.5 * n for n in range(12))],
            [(0, 5, 11), (300, 305.5, 12)],
            id="two",
        ),
        pytest.param(
            [*(0.5 * n for n in range(11)), 7, 9, 11], [(0, 11, 14)], id="goes on to the end"
        ),
    ],
)
def test_floods(minutes: list[float], expected: list[tuple[float, float, int]]) -> None:
    found = floods([mon(m) for m in reversed(minutes)])
    assert found == tuple(Flood(mon(a), mon(b), n) for a, b, n in expected)


def test_a_flood_counts_what_people_got() -> None:
    told = Told()
    for number in range(11):
        told.tell(0, number, 60, kind=Kind.SUMMARY)
        told.tell(0, number, 60, kind=Kind.SUMMARY, fate=Fate.DROPPED)
    assert quality(told.record()).floods == (Flood(mon(60), mon(60), 11),)


def test_strict_and_homely_chatter_are_told_apart() -> None:
    told = Told()
    raised(LOOK, 10, 10.2, 10.4, 30)(told)
    record = told.record()
    assert {episode for _, episode in chattering(record, CHATTERS_WITHIN)} == {1, 2, 3}
    assert {episode for _, episode in chattering(record)} == {1, 2, 3, 4}
