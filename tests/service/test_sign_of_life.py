"""A sign of life is given only where there is life, and its failing is said once."""

import threading
from datetime import timedelta

import pytest

from chamberwatch.service.ports import Outcome
from chamberwatch.service.sign_of_life import SignOfLife
from tests.fakes import HandClock

GONE = Outcome(ok=False, reason="nothing listens there; look whether it is at work")


class Life:
    """A daemon that may ail, and a service that may be away."""

    def __init__(self) -> None:
        self.clock = HandClock()
        self.ailing = ""
        self.outcome = Outcome(ok=True)
        self.calls: list[float] = []
        self.ends_after = 3
        self.stopping = threading.Event()
        self.sign = SignOfLife(self.call, timedelta(minutes=5), lambda: self.ailing, self.clock)

    def call(self) -> Outcome:
        self.calls.append(self.clock.elapsed_s)
        if len(self.calls) >= self.ends_after:
            self.stopping.set()
        return self.outcome


@pytest.fixture
def life() -> Life:
    return Life()


def test_it_calls_every_so_often(life: Life) -> None:
    began_s = life.clock.elapsed_s
    life.sign.run(life.stopping)
    assert [at_s - began_s for at_s in life.calls] == [10.0, 310.0, 610.0]
    assert life.sign.trouble() is None


def test_it_holds_back_while_a_part_ails(life: Life, caplog: pytest.LogCaptureFixture) -> None:
    life.ailing = "The thread “rounds” does not answer."
    life.sign.give()
    life.sign.give()
    assert life.calls == []
    words = f"The sign of life is held back: {life.ailing}"
    assert life.sign.trouble() == words
    assert caplog.messages == [words]


def test_a_failure_is_logged_once_per_change(life: Life, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level("INFO")
    life.ends_after = 99
    for outcome in (Outcome(ok=True), GONE, GONE, Outcome(ok=True), Outcome(ok=True), GONE):
        life.outcome = outcome
        life.sign.give()
    lost = f"The sign of life does not arrive: {GONE.reason}."
    assert caplog.messages == [lost, "The sign of life arrives again.", lost]
    assert life.sign.trouble() == lost
    assert len(life.calls) == 6
