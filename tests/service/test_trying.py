"""Test messages, and the addresses as they stand."""

import threading
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, timedelta

import pytest

from chamberwatch.core.errors import RefusedError, StorageError, UnknownNameError
from chamberwatch.core.post_words import TRIAL
from chamberwatch.core.watch.hours import WAKING, Manner
from chamberwatch.core.watch.reminder import Priority
from chamberwatch.service.books import OutKind, OutState
from chamberwatch.service.ports import Messenger, Outcome
from chamberwatch.service.trying import Trying
from chamberwatch.service.views import AddressNow, Tried
from tests.fakes import Phone, PlainLinks
from tests.service.machine import Bench

DOWN = Outcome(ok=False, reason="no answer")


def trying(bench: Bench, *more: Phone, picture: bytes | None = None) -> Trying:
    messengers: dict[str, Messenger] = {phone.name: phone for phone in (bench.phone, *more)}
    made = (lambda *_: picture) if picture else None
    return Trying(bench.books, bench.clock, messengers, UTC, bench.wake, made)


def test_it_goes_at_once_and_is_kept_as_a_trial(bench: Bench) -> None:
    assert trying(bench).send("phone") == Tried("phone", True, "", False)
    ((title, body),) = bench.phone.sent
    assert (title, "web.address is not set" in body) == (TRIAL, True)
    (row,) = bench.outbox(OutState.SENT)
    assert (row.kind, row.reminder, row.tries, row.sent) == (
        OutKind.TRIAL,
        0,
        1,
        bench.clock.now(),
    )


def test_it_carries_what_a_reminder_would(bench: Bench) -> None:
    bench.phone.links, bench.phone.pictures = PlainLinks(), True
    assert trying(bench, picture=b"png").send("phone").picture
    assert bench.phone.got == [b"png"]
    assert "web.address" not in bench.phone.sent[0][1]
    assert "The picture shows" in bench.phone.sent[0][1]


def test_a_failure_is_told_and_not_tried_again(bench: Bench) -> None:
    bench.phone.outcome = DOWN
    assert trying(bench).send("phone") == Tried("phone", False, "no answer", False)
    (row,) = bench.outbox(OutState.FAILED)
    assert row.error == "no answer"
    bench.clock.turn(minutes=60)
    bench.delivery().deliver_due(threading.Event())
    assert len(bench.phone.sent) == 1


def test_every_address_as_it_stands(bench: Bench) -> None:
    other = Phone("other", links=PlainLinks(), pictures=True)
    bench.minutes_of("humidity", 76.0, 5)
    bench.phone.outcome = DOWN
    bench.delivery().deliver_due(threading.Event())
    failed = bench.clock.now()
    bench.clock.turn(minutes=2)
    first, second = trying(bench, other, picture=b"png").all()
    assert first == AddressNow(
        "phone", False, False, None, failed, "no answer", failing_since=failed, waiting=1
    )
    assert second == AddressNow("other", True, True, None, None, "", None, 0)


def test_who_is_away_and_what_goes_to_whom(bench: Bench) -> None:
    back = bench.clock.now() + timedelta(days=2)
    gone = replace(WAKING, away=((bench.clock.now() - timedelta(days=1), back),))
    manners = {"phone": Manner(gone, least=Priority.HIGH)}
    (shown,) = replace(trying(bench), manners=manners).all()
    assert (shown.away_until, shown.least) == (back, Priority.HIGH)
    bench.clock.turn(minutes=60 * 24 * 2)
    (shown,) = replace(trying(bench), manners=manners).all()
    assert shown.away_until is None


def test_one_that_arrives_brings_the_others_forward(bench: Bench) -> None:
    bench.minutes_of("humidity", 76.0, 5)
    bench.phone.outcome = DOWN
    for _ in range(5):
        bench.delivery().deliver_due(threading.Event())
        bench.clock.turn(minutes=10)
    bench.delivery().deliver_due(threading.Event())
    bench.phone.outcome = Outcome(ok=True)
    bench.wake.clear()
    bench.clock.turn(seconds=5)
    assert trying(bench).send("phone").ok
    assert bench.wake.is_set()
    bench.delivery().deliver_due(threading.Event())
    assert [title for title, _ in bench.phone.sent][-2:] == [TRIAL, "Tent: mist now"]
    assert trying(bench).all()[0].waiting == 0


def test_a_trial_that_fails_holds_nothing_back(bench: Bench) -> None:
    bench.phone.outcome = DOWN
    for _ in range(5):
        trying(bench).send("phone")
    bench.phone.outcome = Outcome(ok=True)
    bench.minutes_of("humidity", 76.0, 5)
    bench.delivery().deliver_due(threading.Event())
    assert bench.phone.sent[-1][0] == "Tent: mist now"


def test_no_such_address(bench: Bench) -> None:
    with pytest.raises(UnknownNameError, match=r"no address “fridge”\. Known: phone\."):
        trying(bench).send("fridge")


def _meanwhile(bench: Bench, do: Callable[[], object]) -> None:
    send = bench.phone.send

    def busy(title: str, body: str, picture: bytes | None = None) -> Outcome:
        do()
        return send(title, body, picture)

    bench.phone.send = busy  # type: ignore[method-assign]


def test_one_at_a_time(bench: Bench) -> None:
    found = trying(bench)
    refused: list[str] = []

    def again() -> None:
        with pytest.raises(RefusedError) as caught:
            found.send("phone")
        refused.append(str(caught.value))

    _meanwhile(bench, again)
    assert found.send("phone").ok
    assert refused == ["A test message to phone is on its way already; wait a minute for it."]
    assert len(bench.phone.sent) == 1


def test_a_disk_that_fills_meanwhile_hides_no_answer(
    bench: Bench, caplog: pytest.LogCaptureFixture
) -> None:
    def fill() -> None:
        bench.books.full = True

    _meanwhile(bench, fill)
    assert trying(bench).send("phone").ok
    assert "can't be kept" in caplog.text
    with pytest.raises(StorageError):
        trying(bench).send("phone")


def test_one_that_was_under_way_at_a_crash_is_no_trouble(bench: Bench) -> None:
    trying(bench).send("phone")
    (row,) = bench.outbox(OutState.SENT)
    with bench.sql.write() as book:
        book.outbox.save(replace(row, state=OutState.SENDING))
    bench.delivery()
    assert len(bench.outbox(OutState.UNCERTAIN)) == 1
    bench.clock.turn(minutes=1)
    assert trying(bench).all()[0].went == bench.clock.now() - timedelta(minutes=1)
