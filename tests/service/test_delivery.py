"""From the outbox to a phone that may be out of reach."""

import threading
from dataclasses import replace
from datetime import UTC, timedelta

import pytest

from chamberwatch.core.errors import StorageError
from chamberwatch.core.watch.action import Deed
from chamberwatch.core.watch.reminder import Call, Priority
from chamberwatch.service.books import OutKind, OutState
from chamberwatch.service.delivery import Delivery, DeliveryParts
from chamberwatch.service.ports import Outcome, Trouble
from tests.fakes import Phone, PlainLinks
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


def test_what_is_still_so_is_not_given_up(dry: Bench) -> None:
    dry.phone.outcome = DOWN
    for _ in range(20):
        deliver(dry)
        dry.clock.turn(minutes=61)
    assert dry.outbox(OutState.FAILED) == []
    dry.phone.outcome = Outcome(ok=True)
    deliver(dry)
    assert [row.title for row in dry.outbox(OutState.SENT)] == ["Tent: mist now"]


def test_it_gives_up_what_says_nothing_new(dry: Bench) -> None:
    """Of what was foretold nobody wants to hear twelve hours later."""
    with dry.sql.write() as book:
        (row,) = book.outbox.in_state(OutState.WAITING)
        book.outbox.save(replace(row, kind=OutKind.FORECAST))
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


def many(bench: Bench, count: int) -> None:
    """Put more messages of the same reminder in the outbox."""
    (row,) = bench.outbox()
    with bench.sql.write() as book:
        book.outbox.add(replace(row, title=f"number {n}") for n in range(count))


def test_ten_messages_to_a_dead_address_are_one_try(dry: Bench) -> None:
    many(dry, 9)
    dry.phone.outcome = DOWN
    deliver(dry)
    assert len(dry.phone.sent) == 1
    assert len({row.next_try for row in dry.outbox()}) == 1
    dry.clock.turn(seconds=29)
    deliver(dry)
    assert len(dry.phone.sent) == 1
    dry.clock.turn(seconds=1)
    deliver(dry)
    # Another one this time: one that is never taken must not stand before all others.
    assert [title for title, _ in dry.phone.sent] == ["Tent: mist now", "number 0"]


def test_as_soon_as_one_arrives_the_others_follow(dry: Bench) -> None:
    many(dry, 4)
    dry.phone.outcome = DOWN
    for _ in range(6):
        deliver(dry)
        dry.clock.turn(minutes=40)
    dry.phone.outcome = Outcome(ok=True)
    dry.phone.sent.clear()
    deliver(dry)
    assert len(dry.phone.sent) == 5
    assert len(dry.outbox(OutState.SENT)) == 5


def test_what_waits_for_a_time_of_its_own_goes_on_waiting(dry: Bench) -> None:
    many(dry, 1)
    rows = {row.title: row for row in dry.outbox()}
    later = dry.clock.now() + timedelta(minutes=20)
    with dry.sql.write() as book:
        book.outbox.save(replace(rows["number 0"], next_try=later))
    dry.phone.outcome = DOWN
    deliver(dry)
    dry.phone.outcome = Outcome(ok=True)
    dry.clock.turn(seconds=30)
    deliver(dry)
    (row,) = dry.outbox()
    assert (row.title, row.next_try) == ("number 0", later)


def test_a_grave_message_is_tried_at_once_all_the_same(dry: Bench) -> None:
    dry.phone.outcome = replace(DOWN, trouble=Trouble.LASTING)
    deliver(dry)
    (row,) = dry.outbox()
    fresh = replace(row, tries=0, error="", next_try=dry.clock.now())
    with dry.sql.write() as book:
        book.outbox.add([fresh, replace(fresh, title="grave", priority=Priority.HIGH)])
    dry.clock.turn(seconds=5)
    deliver(dry)
    assert [title for title, _ in dry.phone.sent] == ["Tent: mist now", "grave"]


@pytest.mark.parametrize(
    ("trouble", "seconds"),
    [(Trouble.PASSING, 30), (Trouble.CROWDED, 120), (Trouble.LASTING, 600)],
)
def test_the_first_wait_is_of_its_kind(dry: Bench, trouble: Trouble, seconds: int) -> None:
    dry.phone.outcome = replace(DOWN, trouble=trouble)
    deliver(dry)
    (row,) = dry.outbox()
    assert row.next_try - dry.clock.now() == timedelta(seconds=seconds)


def test_a_fault_of_ours_is_not_hidden(dry: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> Outcome:
        raise RuntimeError("ours")

    monkeypatch.setattr(dry.phone, "send", broken)
    with pytest.raises(RuntimeError, match="ours"):
        deliver(dry)


def test_a_picture_goes_with_the_first_tries(dry: Bench) -> None:
    parts = DeliveryParts(
        dry.books, dry.clock, {"phone": dry.phone}, UTC, dry.wake, picture=lambda *_: b"picture"
    )
    for _ in range(4):
        dry.phone.outcome = DOWN
        Delivery(parts).deliver_due(threading.Event())
        dry.clock.turn(minutes=5)
    assert dry.phone.got == [None] * 4
    dry.phone.pictures = True
    dry.phone.got.clear()
    dry.minutes_of("humidity", 90.0, 5)
    dry.minutes_of("humidity", 76.0, 5)
    for _ in range(3):
        Delivery(parts).deliver_due(threading.Event())
        dry.clock.turn(minutes=61)
    assert dry.phone.got == [b"picture", b"picture", None]


def test_the_outcome_outlives_a_full_disk(dry: Bench) -> None:
    """What went out while the disk filled is kept later, and not sent again."""
    delivery = dry.delivery()
    send = dry.phone.send

    def fill(title: str, body: str, picture: bytes | None = None) -> Outcome:
        dry.books.full = True
        return send(title, body, picture)

    dry.phone.send = fill  # type: ignore[method-assign]
    with pytest.raises(StorageError):
        delivery.deliver_due(threading.Event())
    dry.books.full = False
    delivery.deliver_due(threading.Event())
    assert len(dry.phone.sent) == 1
    assert len(dry.outbox(OutState.SENT)) == 1


def test_the_loop_goes_on_beside_an_address_that_hangs(dry: Bench) -> None:
    """What is due elsewhere in twenty seconds is not left till the hanging one has ended."""
    let_go, stopping = threading.Event(), threading.Event()
    slow, other = Phone("slow"), dry.phone

    def hang(title: str, body: str, picture: bytes | None = None) -> Outcome:
        slow.sent.append((title, body))
        let_go.wait(10)
        return Outcome(ok=True)

    slow.send = hang  # type: ignore[method-assign]
    (row,) = dry.outbox()
    with dry.sql.write() as book:
        book.outbox.add([replace(row, address="slow"), replace(row, address="slow")])
        later = dry.clock.now() + timedelta(seconds=20)
        book.outbox.save(replace(row, next_try=later))
    waits: list[float] = []

    def wait(event: threading.Event, seconds: float) -> bool:
        waits.append(seconds)
        dry.clock.turn(seconds=seconds)
        if len(waits) == 2:
            let_go.set()
            stopping.set()
        return event.is_set()

    dry.clock.wait = wait  # type: ignore[method-assign]
    parts = DeliveryParts(dry.books, dry.clock, {"slow": slow, "phone": other}, UTC, dry.wake)
    Delivery(parts).run(stopping)
    assert waits == [20.0, 60.0]
    assert [title for title, _ in other.sent] == ["Tent: mist now"]
    assert len(slow.sent) == 1
    assert len(dry.outbox(OutState.SENT)) == 2
