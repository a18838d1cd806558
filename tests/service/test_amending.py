"""Deeds put right: what follows from the old one is undone, what follows from the new is drawn."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pytest

from chamberwatch.core.errors import RefusedError, UnknownNameError
from chamberwatch.core.watch.action import Action, Amounts, Deed
from chamberwatch.core.watch.found import Found, Kind
from chamberwatch.core.watch.reminder import Call, State
from chamberwatch.service.amending import DID_NOT_HAPPEN, Amending, DeedTold
from chamberwatch.service.books import Span
from chamberwatch.service.responding import NO_EFFECT
from tests.make import NOON, at
from tests.service.machine import Bench
from tests.service.test_responding import live, told

EVER = Span(NOON - timedelta(days=9), NOON + timedelta(days=9))


def amending_of(bench: Bench) -> Amending:
    return Amending(
        bench.books, bench.clock, bench.house, bench.board, bench.knowing, bench.responding
    )


@pytest.fixture
def amending(bench: Bench) -> Amending:
    return amending_of(bench)


def holds(bench: Bench) -> Sequence[Action]:
    with bench.sql.read() as book:
        return book.actions.recent("tent")


def keep(bench: Bench, *found: Found) -> None:
    with bench.sql.write() as book:
        for each in found:
            book.found.add(each)


def found(bench: Bench) -> Sequence[Found]:
    with bench.sql.read() as book:
        return book.found.within("tent", EVER)


def misting(number: int, minutes: float, action: int | None = None) -> Found:
    return Found(number, "tent", Kind.MISTING, at(minutes), at(minutes + 3), action)


@pytest.mark.parametrize(
    ("told", "changed"),
    [
        pytest.param(DeedTold(at(-20)), {"at": at(-20)}, id="time"),
        pytest.param(DeedTold(note="only the walls"), {"note": "only the walls"}, id="note"),
        pytest.param(DeedTold(note=""), {"note": ""}, id="no note"),
        pytest.param(DeedTold(amounts=Amounts(30.0)), {"amount": 30.0}, id="amount"),
        pytest.param(DeedTold(amounts=Amounts()), {"amount": None}, id="amount not known"),
    ],
)
def test_a_deed_is_corrected(
    bench: Bench,
    amending: Amending,
    told: DeedTold,
    changed: dict[str, Any],
) -> None:
    wrong = bench.logbook.act("tent", Deed.MISTED, at(-5), "two squeezes", "page", Amounts(3.0))
    bench.clock.turn(minutes=2)
    right = amending.correct(wrong.id, told, "api")
    expected = replace(wrong, id=2, recorded=at(2), via="api", corrects=1, **changed)
    assert right == expected
    assert list(holds(bench)) == [right]
    assert amending.deed(wrong.id) == wrong
    assert bench.board.deeds("tent")[Call.MIST] == right.at


def test_amounts_said_are_no_longer_those_advised(bench: Bench, amending: Amending) -> None:
    with bench.sql.write() as book:
        book.actions.add(Action(0, "tent", Deed.MISTED, NOON, "", NOON, "page", 9.0, advised=True))
    assert amending.correct(1, DeedTold(note="in a hurry"), "page").advised
    assert not amending.correct(2, DeedTold(amounts=Amounts(4.0)), "page").advised


@pytest.mark.parametrize(
    ("told", "words"),
    [
        pytest.param(DeedTold(at(9)), "in the future", id="future"),
        pytest.param(DeedTold(amounts=Amounts(2e3)), "could ever take", id="too much"),
        pytest.param(DeedTold(amounts=Amounts(vent_minutes=3.0)), "no vent_minutes", id="unfit"),
        pytest.param(DeedTold(note="x" * 2001), "shorten it", id="long note"),
        pytest.param(DeedTold(), "told already", id="nothing"),
    ],
)
def test_what_cant_be_is_refused_and_changes_nothing(
    bench: Bench, amending: Amending, told: DeedTold, words: str
) -> None:
    kept = bench.logbook.act("tent", Deed.MISTED, at(-5), "", "page", Amounts(3.0))
    with pytest.raises(RefusedError, match=words):
        amending.correct(kept.id, told, "page")
    assert list(holds(bench)) == [kept]


def test_only_what_holds_is_put_right(bench: Bench, amending: Amending) -> None:
    bench.logbook.act("tent", Deed.MISTED, at(-5), "", "page")
    amending.correct(1, DeedTold(note="once"), "page")
    with pytest.raises(RefusedError, match="corrected already, by deed 2"):
        amending.withdraw(1, "", "page")
    gone = amending.withdraw(2, "the other tent", "page")
    assert (gone.withdrawn, gone.note, gone.corrects) == (True, "the other tent", 2)
    for number in (2, 3):
        with pytest.raises(RefusedError, match="withdrawn already"):
            amending.correct(number, DeedTold(note="after all"), "page")
    with pytest.raises(UnknownNameError, match="no deed 77"):
        amending.deed(77)
    assert list(holds(bench)) == []
    assert bench.board.deeds("tent") == {}


def test_what_a_chamber_has_that_is_gone_can_be_put_right(
    bench: Bench, amending: Amending
) -> None:
    with bench.sql.write() as book:
        for _ in range(2):
            book.actions.add(Action(0, "cupboard", Deed.MISTED, NOON, "", NOON, "page"))
    assert amending.correct(1, DeedTold(note="x"), "page").chamber == "cupboard"
    assert amending.withdraw(2, "", "page").withdrawn


# ------------------------------------------------------------------ what was found


def test_a_misting_follows_its_deed_to_another_time(bench: Bench, amending: Amending) -> None:
    bench.clock.turn(minutes=90)
    wrong = bench.logbook.act("tent", Deed.MISTED, at(50), "", "page", Amounts(3.0))
    denied = replace(misting(0, 9), confirmed=False)
    keep(bench, misting(0, 10), misting(0, 48, wrong.id), denied, misting(0, 9.5))
    amending.correct(wrong.id, DeedTold(at(11), amounts=Amounts(5.0)), "page")
    assert [(f.id, f.action, f.amount) for f in found(bench)] == [
        (3, None, None), (4, None, None), (1, 2, 5.0), (2, None, None),
    ]  # fmt: skip


def test_a_misting_whose_deed_did_not_happen_is_asked_about(
    bench: Bench, amending: Amending
) -> None:
    wrong = bench.logbook.act("tent", Deed.MISTED, NOON, "", "page", Amounts(3.0))
    keep(bench, replace(misting(0, -1, wrong.id), amount=3.0), misting(0, 2, 99))
    amending.withdraw(wrong.id, "", "page")
    assert [(f.action, f.amount) for f in found(bench)] == [(None, None), (99, None)]


def venting(end: datetime) -> Found:
    return Found(0, "tent", Kind.VENTING, NOON, end, 1, amount=60.0)


@pytest.mark.parametrize(
    ("end", "minutes", "becomes"),
    [
        pytest.param(at(60), 6.0, at(6), id="it had been told to be longer than it was"),
        pytest.param(at(8), 6.0, at(8), id="the air was still changing"),
        pytest.param(at(8), 20.0, at(20), id="it was longer"),
        pytest.param(at(8), 900.0, at(180), id="no longer than tells anything"),
        pytest.param(at(8), None, at(8), id="nobody knows"),
    ],
)
def test_how_long_a_venting_was_follows_what_was_told(
    bench: Bench, amending: Amending, end: datetime, minutes: float | None, becomes: datetime
) -> None:
    bench.logbook.act("tent", Deed.VENTED, NOON, "", "page", Amounts(vent_minutes=60.0))
    keep(bench, venting(end))
    amending.correct(1, DeedTold(amounts=Amounts(vent_minutes=minutes)), "page")
    assert [(f.action, f.amount, f.end) for f in found(bench)] == [(2, minutes, becomes)]


def test_a_note_explains_nothing(bench: Bench, amending: Amending) -> None:
    bench.logbook.act("tent", Deed.NOTED, NOON, "pins", "page")
    keep(bench, misting(0, 0, 1))
    amending.withdraw(1, "", "page")
    assert [f.action for f in found(bench)] == [1]


# ------------------------------------------------------------------ reminders


def test_what_it_answered_is_asked_for_again(bench: Bench, amending: Amending) -> None:
    live(bench, 5)
    assert len(told(bench)) == 1
    wrong = bench.logbook.act("tent", Deed.MISTED, None, "", "page")
    assert bench.reminder(Call.MIST).state is State.ACKNOWLEDGED
    amending.withdraw(wrong.id, "the other tent", "page")
    assert bench.reminder(Call.MIST).state is State.UNACKNOWLEDGED
    with bench.sql.read() as book:
        assert [move.cause for _, move in book.reminders.moves()][-1] == DID_NOT_HAPPEN
    live(bench, 2)
    assert len(told(bench)) == 2


@pytest.mark.parametrize(
    "between",
    [
        pytest.param(
            lambda b: b.logbook.shelve(b.reminder(Call.MIST).id, timedelta(hours=1), "page"),
            id="put off",
        ),
        pytest.param(lambda b: live(b, 6, 90.0), id="over"),
    ],
)
def test_what_has_moved_since_is_left_alone(
    bench: Bench, amending: Amending, between: Callable[[Bench], object]
) -> None:
    live(bench, 5)
    wrong = bench.logbook.act("tent", Deed.MISTED, None, "", "page")
    between(bench)
    before = bench.reminder(Call.MIST)
    amending.withdraw(wrong.id, "", "page")
    assert bench.reminder(Call.MIST) == before


def test_the_water_that_was_never_sprayed_counts_no_more(bench: Bench, amending: Amending) -> None:
    def standing_g() -> float:
        bench.knowing.look(bench.books, bench.clock.now())
        return bench.knowing.standing_g("tent")

    live(bench, 5)
    kept = bench.logbook.act("tent", Deed.MISTED, None, "", "page", Amounts(standing_g=200.0))
    live(bench, 5)
    assert standing_g() > 50.0
    right = amending.correct(kept.id, DeedTold(amounts=Amounts(standing_g=2.0)), "page")
    assert 0.0 < bench.knowing.standing_g("tent") < 2.1
    live(bench, 1)
    assert 0.0 < standing_g() < 2.1
    amending.withdraw(right.id, "", "page")
    assert standing_g() == 0.0


def test_what_came_of_it_is_judged_anew(bench: Bench, amending: Amending) -> None:
    live(bench, 5)
    wrong = bench.logbook.act("tent", Deed.MISTED, None, "", "page")
    live(bench, 20)
    assert NO_EFFECT in causes(bench)
    amending.withdraw(wrong.id, "", "page")
    live(bench, 25)
    assert causes(bench).count(NO_EFFECT) == 1


def causes(bench: Bench) -> list[str]:
    with bench.sql.read() as book:
        return [move.cause for _, move in book.reminders.moves()]


def test_without_anybody_who_reckons(bench: Bench) -> None:
    plain = Amending(bench.books, bench.clock, bench.house, bench.board)
    bench.logbook.act("tent", Deed.MISTED, NOON, "", "page")
    plain.correct(1, DeedTold(note="walls"), "page")
    assert plain.withdraw(2, "", "page").withdrawn


def test_a_room_without_ways_is_no_matter(bench: Bench, amending: Amending) -> None:
    bench.logbook.act("room", Deed.NOTED, NOON, "aired", "page")
    assert amending.correct(1, DeedTold(note="aired twice"), "page").note == "aired twice"
