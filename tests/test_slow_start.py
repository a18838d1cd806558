"""A start that brings the database up to date asks for time while that lasts, and no longer."""

import threading

import pytest

from chamberwatch.wiring import slow_start as module
from chamberwatch.wiring.slow_start import slow_start
from tests.brokers import wait_until


@pytest.fixture
def told(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    states = list[str]()
    monkeypatch.setattr(module, "tell_systemd", states.append)
    return states


def test_it_is_asked_for_again_and_again_until_the_steps_are_taken(told: list[str]) -> None:
    with slow_start(0.005) as before_step:
        assert told == []
        before_step("one")
        before_step("another")
        # As sd_notify(3) has it: in microseconds.
        wait_until(lambda: told.count("EXTEND_TIMEOUT_USEC=180000000") > 3, "it asks again")
    asked = len(told)
    assert not threading.Event().wait(0.05)
    assert len(told) == asked


def test_a_start_without_a_step_asks_for_nothing(told: list[str]) -> None:
    with slow_start(0.005):
        pass
    assert told == []


def test_a_step_that_hangs_is_not_given_time_for_ever(told: list[str]) -> None:
    with slow_start(0.005, 0.02) as before_step:
        before_step("one")
        wait_until(lambda: len(told) == 4, "it has asked for the last time")
        assert not threading.Event().wait(0.05)
    assert len(told) == 4


def test_a_step_that_fails_ends_the_asking(told: list[str]) -> None:
    def failing() -> None:
        with slow_start(0.005) as before_step:
            before_step("one")
            raise OSError("The disk is gone.")

    with pytest.raises(OSError, match="gone"):
        failing()
    asked = len(told)
    assert not threading.Event().wait(0.05)
    assert len(told) == asked
