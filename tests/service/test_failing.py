"""What did not arrive, as the page says it."""

import threading
from dataclasses import replace
from datetime import UTC

from chamberwatch.service import failing
from chamberwatch.service.books import OutKind, OutState
from chamberwatch.service.ports import Outcome
from tests.service.machine import Bench
from tests.service.test_history import history

DOWN = Outcome(ok=False, reason="the service has trouble of its own (HTTP 500)")


def troubles(bench: Bench) -> list[str]:
    with bench.sql.read() as book:
        return failing.troubles(book, bench.clock.now(), UTC)


def failed(bench: Bench, minutes: float = 5) -> None:
    bench.minutes_of("humidity", 76.0, 5)
    bench.phone.outcome = DOWN
    bench.delivery().deliver_due(threading.Event())
    bench.clock.turn(minutes=minutes)


def test_nothing_failed(bench: Bench) -> None:
    assert troubles(bench) == []
    bench.minutes_of("humidity", 76.0, 5)
    assert troubles(bench) == []


def test_what_waits_says_since_when_and_why(bench: Bench) -> None:
    failed(bench, 0)
    assert troubles(bench) == [
        (
            "A message to phone has not gone out yet: tried since 12:05; "
            f"{DOWN.reason}. It is tried again at 12:05."
        )
    ]
    bench.clock.turn(minutes=40)
    bench.delivery().deliver_due(threading.Event())
    (row,) = bench.outbox()
    with bench.sql.write() as book:
        book.outbox.add([replace(row, title="two", tries=0, error="")])
    (said,) = troubles(bench)
    assert said.startswith("2 messages to phone have not gone out yet: tried since 12:05; ")
    health = history(bench).health()
    assert (health.well, health.troubles, health.outbox_waiting) == (False, (said,), 2)


def test_what_is_due_right_now(bench: Bench) -> None:
    failed(bench)
    assert troubles(bench)[0].endswith("(HTTP 500). It is tried again now.")


def test_what_was_given_up_is_said_for_a_day(bench: Bench) -> None:
    failed(bench)
    (row,) = bench.outbox()
    titles = [f"number {n}" for n in range(4)]
    with bench.sql.write() as book:
        book.outbox.save(replace(row, state=OutState.DROPPED))
        book.outbox.add(replace(row, title=t, state=OutState.FAILED) for t in titles)
        book.outbox.add([replace(row, state=OutState.FAILED, kind=OutKind.TRIAL)])
    assert troubles(bench) == [
        (
            "Given up, since they say nothing new any more, were to phone: “number 3”, "
            f"“number 2”, “number 1” and 1 more. The last reason: {DOWN.reason}."
        )
    ]
    bench.clock.turn(minutes=24 * 60)
    assert troubles(bench) == []


def test_what_may_have_arrived(bench: Bench) -> None:
    bench.minutes_of("humidity", 76.0, 5)
    (row,) = bench.outbox()
    with bench.sql.write() as book:
        book.outbox.save(replace(row, state=OutState.SENDING))
    bench.delivery()
    assert troubles(bench) == [
        (
            "May have arrived at phone or not, since chamberwatch was stopped while sending: "
            "“Tent: mist now”."
        )
    ]


def test_a_row_of_an_older_version_has_its_own_reason(bench: Bench) -> None:
    failed(bench)
    with bench.sql.write() as book:
        book.kept.keep_text("reach of phone", "{}")
    assert "tried since 12:04; the service has trouble" in troubles(bench)[0]
