"""Messages to receivers that fail in every way: not lost, not doubled, and it is said why."""

import threading
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace
from datetime import UTC, timedelta
from pathlib import Path

import pytest

from chamberwatch.core.watch.action import Deed
from chamberwatch.core.watch.reminder import Priority
from chamberwatch.notify.push import ALL_S, Push
from chamberwatch.service.books import OutRow, OutState
from chamberwatch.service.delivery import Delivery, DeliveryParts
from tests.brokers import DEADLINE_S, free_port, wait_until
from tests.fakes import Phone
from tests.receivers import (
    SECRET,
    Receiver,
    http_address,
    http_receiver,
    mail_address,
    mail_receiver,
)
from tests.service.machine import Bench

Serve = Callable[[], AbstractContextManager[Receiver]]

LATE = "the service did not answer in time; look at the network"
BROKE = "the service broke off before it had answered; perhaps it is busy"
STRANGE = "what answered there is no such service; look at the address"

# Fault, how long until the next try [s], the reason.
HTTP = [
    ("500", 30, "the service has trouble of its own (HTTP 500)"),
    ("429", 120, "the service wants fewer messages for now (HTTP 429)"),
    ("401", 600, "the service refused it (HTTP 401); look at the address and its password"),
    ("404", 600, "the service did not take it (HTTP 404); look at the address"),
    ("302", 600, "the service did not take it (HTTP 302); look at the address"),
    ("silent", 30, LATE),
    ("closed", 30, BROKE),
    ("half", 30, STRANGE),
    ("garbage", 30, STRANGE),
    ("drip", 30, "the service did not finish its answer; the message may have arrived"),
]
MAIL = [
    ("421", 30, "the mail server has no time for it now (SMTP 421)"),
    ("450", 30, "the mail server has no time for it now (SMTP 450)"),
    (
        "550",
        600,
        "the mail server does not take mail for this receiver (SMTP 550); look at the address",
    ),
    (
        "535",
        600,
        (
            "the mail server refused the login (SMTP 535); look at the user and the password "
            "of the address"
        ),
    ),
    ("552", 600, "the mail server did not take it (SMTP 552); look at the address"),
    ("dropped after DATA", 30, BROKE),
    ("silent", 30, LATE),
    ("garbage", 30, STRANGE),
]
EVERY = [
    *(pytest.param(http_receiver, http_address, *case, id=f"http-{case[0]}") for case in HTTP),
    *(pytest.param(mail_receiver, mail_address, *case, id=f"mail-{case[0]}") for case in MAIL),
]
every_fault = pytest.mark.parametrize(("serve", "address", "fault", "wait_s", "reason"), EVERY)


@dataclass
class Post:
    """A dry tent, and somebody to tell of it."""

    bench: Bench
    receiver: Receiver
    push: Push

    def deliver(self) -> None:
        """Look once at what is due, as a delivery that has just been started would."""
        parts = DeliveryParts(
            self.bench.books, self.bench.clock, {"phone": self.push}, UTC, self.bench.wake
        )
        delivery = Delivery(parts)
        delivery.deliver_due(threading.Event())
        delivery._posts.settle(DEADLINE_S)

    def rows(self, state: OutState = OutState.WAITING) -> list[OutRow]:
        return self.bench.outbox(state)


@pytest.fixture
def dry(tmp_path: Path) -> Iterator[Bench]:
    made = Bench(tmp_path)
    made.minutes_of("humidity", 76.0, 5)
    yield made
    made.close()


@every_fault
def test_it_is_tried_again_and_arrives_once(
    dry: Bench,
    caplog: pytest.LogCaptureFixture,
    serve: Serve,
    address: Callable[..., str],
    fault: str,
    wait_s: int,
    reason: str,
) -> None:
    with serve() as receiver:
        # Waited for shortly only where no answer comes, or none that ends.
        wait_for_s = 0.5 if fault == "silent" else DEADLINE_S
        patience_s = 1.5 if fault == "drip" else ALL_S
        push = Push("phone", address(receiver.port, wait_for_s), None, patience_s=patience_s)
        post = Post(dry, receiver, push)
        receiver.fault = fault
        post.deliver()
        tries = receiver.tries
        (row,) = post.rows()
        assert (row.tries, row.error) == (1, reason)
        assert row.next_try - dry.clock.now() == timedelta(seconds=wait_s)
        # Not before its time.
        dry.clock.turn(seconds=wait_s - 1)
        post.deliver()
        assert (receiver.tries, receiver.taken) == (tries, [])
        receiver.fault = ""
        dry.clock.turn(seconds=1)
        if fault == "drip":
            _let_it_end(post.push)
        else:
            # As after a restart; one mail server is asked only every few seconds by one sender.
            post.push = Push("phone", address(receiver.port), None)
        post.deliver()
        dry.clock.turn(minutes=60)
        post.deliver()
        assert receiver.taken == ["Tent: mist now"]
        assert [row.error for row in post.rows(OutState.SENT)] == [""]
    # The test runner listens to the library's own log, which nothing else does.
    ours = [r.getMessage() for r in caplog.records if not r.name.startswith("apprise")]
    assert ours
    assert SECRET not in " ".join(ours)


def _let_it_end(push: Push) -> None:
    left = push._patience._left
    assert left is not None
    assert left.done.wait(DEADLINE_S)


def test_what_arrived_after_all_is_not_sent_again(dry: Bench) -> None:
    """A service that took it, and was so slow to say so that it was given up."""
    with http_receiver() as receiver:
        address = http_address(receiver.port)
        post = Post(dry, receiver, Push("phone", address, None, patience_s=0.3))
        receiver.fault = "slow yes"
        post.deliver()
        dry.clock.turn(seconds=30)
        post.deliver()
        (row,) = post.rows()
        assert row.error == ("the service has still not finished its answer to the message before")
        receiver.fault = ""
        _let_it_end(post.push)
        dry.clock.turn(minutes=2)
        post.deliver()
        assert len(post.rows(OutState.SENT)) == 1
        assert (receiver.taken, receiver.tries) == (["Tent: mist now"], 1)


@pytest.mark.parametrize(
    ("serve", "address", "fault"),
    [
        pytest.param(http_receiver, http_address, "500", id="http"),
        pytest.param(mail_receiver, mail_address, "450", id="mail"),
    ],
)
def test_what_is_no_longer_true_does_not_arrive(
    dry: Bench, serve: Serve, address: Callable[[int], str], fault: str
) -> None:
    with serve() as receiver:
        post = Post(dry, receiver, Push("phone", address(receiver.port), None))
        receiver.fault = fault
        post.deliver()
        dry.logbook.act("tent", Deed.MISTED, None, "", "page")
        receiver.fault = ""
        dry.clock.turn(minutes=2)
        post.deliver()
        assert (receiver.taken, len(post.rows(OutState.DROPPED))) == ([], 1)


def test_a_day_without_the_service_costs_one_delay(dry: Bench) -> None:
    """It is tried about once an hour, and within the hour after it is back it has arrived."""
    with http_receiver() as receiver:
        post = Post(dry, receiver, Push("phone", http_address(receiver.port), None))
        receiver.fault = "500"
        for _ in range(6 * 24):
            post.deliver()
            dry.clock.turn(minutes=10)
        assert (len(post.rows()), receiver.taken) == (1, [])
        assert 24 <= receiver.tries <= 40
        receiver.fault = ""
        for _ in range(6):
            post.deliver()
            dry.clock.turn(minutes=10)
        assert receiver.taken == ["Tent: mist now"]
        assert len(post.rows(OutState.SENT)) == 1


@pytest.mark.parametrize("address", [http_address, mail_address])
def test_nobody_listens(dry: Bench, address: Callable[[int], str]) -> None:
    post = Post(dry, Receiver(), Push("phone", address(free_port()), None))
    post.deliver()
    (row,) = post.rows()
    assert row.error.startswith("nothing answers at the address (connection refused)")


@pytest.mark.parametrize(
    ("serve", "address"),
    [
        pytest.param(http_receiver, http_address, id="http"),
        pytest.param(mail_receiver, mail_address, id="mail"),
    ],
)
def test_a_picture_that_is_not_taken_never_costs_the_message(
    dry: Bench, serve: Serve, address: Callable[[int], str]
) -> None:
    with serve() as receiver:
        push = Push("phone", address(receiver.port), None)
        parts = DeliveryParts(
            dry.books, dry.clock, {"phone": push}, UTC, dry.wake, picture=lambda *_: b"\x89PNG"
        )
        receiver.fault = "no picture"
        Delivery(parts).deliver_due(threading.Event())
        # A mail server is asked no more than once a second; one that is slow is left to itself.
        for _ in range(50):
            if receiver.taken:
                break
            receiver.over.wait(0.1)
        assert (receiver.taken, receiver.pictures) == (["Tent: mist now"], [])


def test_one_address_that_hangs_holds_up_nobody(dry: Bench) -> None:
    """Ten rows to a service that never answers, and a grave one to another address."""
    with http_receiver() as receiver:
        receiver.fault = "silent"
        slow = Push("slow", http_address(receiver.port, 9.0), None)
        other = Phone("phone")
        with dry.sql.write() as book:
            (row,) = book.outbox.in_state(OutState.WAITING)
            book.outbox.add(replace(row, address="slow") for _ in range(10))
        parts = DeliveryParts(dry.books, dry.clock, {"slow": slow, "phone": other}, UTC, dry.wake)
        delivery = Delivery(parts)
        delivery.deliver_due(threading.Event())
        wait_until(lambda: bool(other.sent), "the other address is told")
        assert [title for title, _ in other.sent] == ["Tent: mist now"]
        with dry.sql.write() as book:
            grave = replace(row, title="Tent: vent now", priority=Priority.HIGH)
            book.outbox.add([grave, replace(grave, address="slow")])
        delivery.deliver_due(threading.Event())
        wait_until(lambda: len(other.sent) > 1, "the other address is told")
        assert [title for title, _ in other.sent] == ["Tent: mist now", "Tent: vent now"]
        # The one that hangs was asked once, and is asked nothing more meanwhile.
        assert receiver.tries == 1
        receiver.over.set()
        delivery._posts.settle(DEADLINE_S)
