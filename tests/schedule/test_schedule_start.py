"""A clock that is set right in the first seconds after the start."""

from datetime import timedelta

import pytest

from chamberwatch.clock import WallClock
from chamberwatch.schedule.jobs import Jobs
from tests.fakes import HandClock


def _nothing() -> None:
    """Do nothing."""


@pytest.mark.parametrize(
    ("jump", "jumped"),
    [
        pytest.param(timedelta(days=900), True, id="on, from a clock without a battery"),
        pytest.param(timedelta(hours=-2), True, id="back"),
        pytest.param(timedelta(seconds=3), False, id="hardly"),
    ],
)
def test_a_jump_before_the_guards_first_look_is_seen(jump: timedelta, jumped: bool) -> None:
    clock = HandClock()
    jobs = Jobs("UTC", clock)
    jobs.daily("tidy", 4, 10, _nothing)
    jobs.start()
    try:
        # As a clock that was ahead had planned it.
        jobs._scheduler.get_job("tidy").modify(
            next_run_time=WallClock().now() + timedelta(days=900)
        )
        clock.turn(seconds=4)
        clock.wall += jump
        assert jobs.look(clock.now(), clock.monotonic()) is jumped
        due = jobs.next_run("tidy")
        assert due is not None
        assert (due - WallClock().now() <= timedelta(days=1)) is jumped
    finally:
        jobs.stop()
