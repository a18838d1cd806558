"""From the outbox to a phone that may be out of reach."""

import threading
from dataclasses import replace
from datetime import timedelta

import pytest

from chamberwatch.core.watch.action import Deed
from chamberwatch.core.watch.reminder import Call, Priority
from chamberwatch.service.books import OutState
from chamberwatch.service.delivery import wait_after
from chamberwatch.service.ports import Outcome
from tests.fakes import PlainLinks
from tests.service.machine import Bench

DOWN = Outcome(ok=False, reason="the service answered 500")


def deliver(bench: Bench) -> None:
    bench.delivery().deliver_due(threading.Event())


@pytest.fixture
def dry(bench: Bench) -> Bench:
    bench.minutes_of("humidity", 76.0, 5)
    return bench


def test_a_message_goes_out_once(dry: Bench) -> None:
    deliver(dry)
    deliver(dry)
    assert [title for title, _ in dry.phone.sent] == ["Tent: mist now"]
    assert len(dry.outbox(OutState.SENT)) == 1


def test_links_only_where_the_page_can_be_reached(dry: Bench) -> None:
    deliver(dry)
    assert "http" not in dry.phone.sent[0][1]


def test_a_message_carries_its_links(dry: Bench) -> None:
    dry.phone.links = PlainLinks()
    deliver(dry)
    number = dry.reminder(Call.MIST).id
    assert dry.phone.sent[0][1].splitlines()[1:] == [
        "",
        f"I have misted: http://tent/do/{number}.1.misted",
        f"Seen: http://tent/do/{number}.1.seen",
        f"Not for half an hour: http://tent/do/{number}.1.later",
    ]


def test_it_is_tried_again_more_slowly(dry: Bench) -> None:
    dry.phone.outcome = DOWN
    tried = []
    for _ in range(40):
        before = len(dry.phone.sent)
        deliver(dry)
        tried.append(len(dry.phone.sent) - before)
        dry.clock.turn(seconds=15)
    assert [i for i, n in enumerate(tried) if n] == [0, 2, 6, 14, 30]
    (row,) = dry.outbox()
    assert (row.tries, row.error) == (5, "the service answered 500")
    dry.phone.outcome = Outcome(ok=True)
    dry.clock.turn(minutes=8)
    deliver(dry)
    assert len(dry.outbox(OutState.SENT)) == 1


@pytest.mark.parametrize(
    ("tries", "seconds"),
    [
        pytest.param(1, 30, id="first"),
        pytest.param(2, 60, id="second"),
        pytest.param(7, 1920, id="seventh"),
        pytest.param(8, 3600, id="an hour at most"),
        pytest.param(1000, 3600, id="for ever"),
    ],
)
def test_waits(tries: int, seconds: int) -> None:
    assert wait_after(tries) == timedelta(seconds=seconds)


def test_it_gives_up_when_it_says_nothing_new(dry: Bench) -> None:
    dry.phone.outcome = DOWN
    for _ in range(20):
        deliver(dry)
        dry.clock.turn(minutes=61)
    assert len(dry.outbox(OutState.FAILED)) == 1


def test_what_is_answered_is_dropped(dry: Bench) -> None:
    dry.logbook.act("tent", Deed.MISTED, None, "", "page")
    deliver(dry)
    assert dry.phone.sent == []
    assert dry.outbox(OutState.DROPPED)[0].error == "no longer true"


def test_what_has_passed_is_dropped(dry: Bench) -> None:
    dry.minutes_of("humidity", 90.0, 4)
    deliver(dry)
    assert dry.phone.sent == []


def test_an_expired_message_is_dropped(dry: Bench) -> None:
    dry.clock.turn(minutes=60 * 12)
    deliver(dry)
    assert len(dry.outbox(OutState.DROPPED)) == 1


def test_an_address_that_is_gone_is_dropped(dry: Bench) -> None:
    dry.phone.name = "another"
    deliver(dry)
    assert dry.outbox(OutState.DROPPED)[0].error == "no such address any more"


@pytest.mark.parametrize(
    ("priority", "again", "state"),
    [
        pytest.param(Priority.LOW, False, OutState.UNCERTAIN, id="low"),
        pytest.param(Priority.MEDIUM, False, OutState.UNCERTAIN, id="medium"),
        pytest.param(Priority.HIGH, False, OutState.WAITING, id="high"),
        pytest.param(Priority.HIGH, True, OutState.UNCERTAIN, id="high, twice"),
    ],
)
def test_after_a_crash_while_sending(
    dry: Bench, priority: Priority, again: bool, state: OutState
) -> None:
    (row,) = dry.outbox()
    with dry.sql.write() as book:
        book.outbox.save(replace(row, priority=priority, again=again, state=OutState.SENDING))
    with dry.sql.write() as book:
        saved = book.outbox.in_state(OutState.SENDING)[0]
        assert saved.again is again
    dry.delivery()
    assert len(dry.outbox(state)) == 1


def test_once_more_says_so(bench: Bench) -> None:
    bench.minutes_of("humidity", 60.0, 15)
    row = next(r for r in bench.outbox() if r.priority is Priority.HIGH)
    with bench.sql.write() as book:
        book.outbox.save(replace(row, state=OutState.SENDING))
    deliver(bench)
    assert bench.phone.sent[0][0] == "Perhaps again (we stopped while sending this): " + row.title


def test_the_loop_sends_and_stops(dry: Bench) -> None:
    delivery, stopping = dry.delivery(), threading.Event()
    waits: list[float] = []

    def wait(event: threading.Event, seconds: float) -> bool:
        waits.append(seconds)
        dry.clock.turn(seconds=seconds)
        dry.phone.outcome = Outcome(ok=len(waits) > 1)
        if len(waits) == 4:
            stopping.set()
        return event.is_set()

    dry.clock.wait = wait  # type: ignore[method-assign]
    dry.phone.outcome = DOWN
    delivery.run(stopping)
    assert waits == [30.0, 60.0, 60.0, 60.0]
    assert len(dry.phone.sent) == 3


def test_the_loop_outlives_a_full_disk(dry: Bench) -> None:
    delivery, stopping = dry.delivery(), threading.Event()
    dry.books.full = True

    def wait(event: threading.Event, seconds: float) -> bool:
        assert seconds == 60.0
        stopping.set()
        return event.is_set()

    dry.clock.wait = wait  # type: ignore[method-assign]
    delivery.run(stopping)
    assert dry.phone.sent == []
    delivery.deliver_due(stopping)
    assert dry.phone.sent == []
