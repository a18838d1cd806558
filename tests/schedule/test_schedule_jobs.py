"""Jobs at a time of day, and the guard that sees the clock jump."""

import threading
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from unittest.mock import Mock
from zoneinfo import ZoneInfo

import pytest

from chamberwatch.clock import WallClock
from chamberwatch.schedule import jobs as room
from chamberwatch.schedule.jobs import JUMP_S, Jobs
from tests.fakes import HandClock
from tests.make import NOON

LISBON = "Europe/Lisbon"


def _nothing() -> None:
    """Do nothing."""


def _due(zone: str, hour: int, minute: int, after: datetime) -> datetime:
    """Return when a daily job is due after a moment, in UTC."""
    jobs = Jobs(zone, HandClock())
    jobs.daily("tidy", hour, minute, _nothing)
    # A schedule that has not begun keeps its jobs aside; the trigger is what was asked for.
    ((job, *_),) = jobs._scheduler._pending_jobs
    found: datetime = job.trigger.get_next_fire_time(None, after)
    return found.astimezone(UTC)


@pytest.mark.parametrize(
    ("zone", "at", "after", "due"),
    [
        pytest.param(LISBON, (4, 10), "2026-01-20 12:00", "2026-01-21 04:10", id="winter"),
        pytest.param(LISBON, (4, 10), "2026-07-20 12:00", "2026-07-21 03:10", id="summer"),
        pytest.param(LISBON, (4, 10), "2026-03-28 12:00", "2026-03-29 03:10", id="clock forward"),
        pytest.param(LISBON, (4, 10), "2026-10-24 12:00", "2026-10-25 04:10", id="clock back"),
        pytest.param(LISBON, (13, 0), "2026-01-20 12:00", "2026-01-20 13:00", id="the same day"),
        pytest.param(LISBON, (12, 0), "2026-01-20 12:00", "2026-01-20 12:00", id="this minute"),
        pytest.param("UTC", (4, 10), "2026-07-20 12:00", "2026-07-21 04:10", id="UTC"),
        pytest.param("Asia/Kolkata", (4, 10), "2026-01-20 12:00", "2026-01-20 22:40", id="halves"),
    ],
)
def test_due_at_the_time_of_day_of_the_site(
    zone: str, at: tuple[int, int], after: str, due: str
) -> None:
    moment, expected = (datetime.fromisoformat(t).replace(tzinfo=UTC) for t in (after, due))
    assert _due(zone, *at, moment) == expected


def test_every_hour_at_a_minute_of_it() -> None:
    jobs = Jobs(LISBON, HandClock())
    jobs.hourly("look", 50, _nothing)
    ((job, *_),) = jobs._scheduler._pending_jobs
    moment = datetime(2026, 3, 29, 0, 0, tzinfo=UTC)  # the clock goes forward in an hour
    found = []
    for _ in range(3):
        moment = job.trigger.get_next_fire_time(None, moment).astimezone(UTC)
        found.append((moment.hour, moment.minute))
        moment += timedelta(seconds=1)
    assert found == [(0, 50), (1, 50), (2, 50)]


def test_once_a_day_all_year_whatever_the_clock_does() -> None:
    moment = datetime(2026, 1, 1, 12, tzinfo=UTC)
    days = []
    while moment.year == 2026:
        moment = _due(LISBON, 4, 10, moment + timedelta(seconds=1))
        local = moment.astimezone(ZoneInfo(LISBON))
        assert (local.hour, local.minute) == (4, 10)
        days.append(local.date())
    assert len(days) == len(set(days)) == 365


# ------------------------------------------------------------------ the guard


@pytest.mark.parametrize(
    ("wall_s", "monotonic_s", "jumped"),
    [
        pytest.param(5, 5, False, id="no jump"),
        pytest.param(3600, 3600, False, id="a long pause of both"),
        pytest.param(5 + JUMP_S, 5, False, id="as much as may be"),
        pytest.param(5 - JUMP_S, 5, False, id="as much back"),
        pytest.param(6 + JUMP_S, 5, True, id="forward"),
        pytest.param(4 - JUMP_S, 5, True, id="back"),
        pytest.param(-7200, 5, True, id="hours back"),
        pytest.param(86_400 * 365, 5, True, id="a year forward"),
    ],
)
def test_a_jump_is_the_wall_clock_against_the_other(
    wall_s: float, monotonic_s: float, jumped: bool
) -> None:
    jobs = Jobs("UTC", HandClock())
    assert not jobs.look(NOON, 1000.0)
    assert jobs.look(NOON + timedelta(seconds=wall_s), 1000.0 + monotonic_s) is jumped


def test_a_jump_is_told_once() -> None:
    jobs = Jobs("UTC", HandClock())
    told = [jobs.look(NOON + timedelta(hours=h), 1000.0) for h in (0, 2, 2, 0, 0)]
    assert told == [False, True, False, True, False]


def test_slow_drift_is_no_jump() -> None:
    jobs = Jobs("UTC", HandClock())
    assert not any(
        jobs.look(NOON + timedelta(seconds=5 * n * 1.001), 5.0 * n) for n in range(2000)
    )


def test_a_jump_finds_every_next_time_anew() -> None:
    jobs = Jobs(LISBON, HandClock())
    jobs.daily("tidy", 4, 10, _nothing)
    jobs.daily("summary", 7, 0, _nothing)
    jobs.start()
    try:
        right = jobs.next_run("tidy"), jobs.next_run("summary")
        # As a clock that was set back leaves them: due long after their time.
        for job in jobs._scheduler.get_jobs():
            job.modify(next_run_time=job.next_run_time + timedelta(days=30))
        jobs.look(NOON, 1000.0)
        assert (jobs.next_run("tidy"), jobs.next_run("summary")) != right
        assert jobs.look(NOON - timedelta(days=30), 1005.0)
        for name, was in zip(("tidy", "summary"), right, strict=True):
            found = jobs.next_run(name)
            assert found is not None
            assert was is not None
            # A day more only where midnight, so to say, passed between the two looks.
            assert found - was <= timedelta(days=1)
    finally:
        jobs.stop()


# ------------------------------------------------------------------ its life


def _threads() -> set[str]:
    return {thread.name for thread in threading.enumerate()}


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the guard look often."""
    monkeypatch.setattr(room, "LOOK_EVERY_S", 0.005)


def test_it_leaves_no_thread_behind() -> None:
    before = set(threading.enumerate())
    jobs = Jobs("UTC", WallClock())
    jobs.daily("tidy", 4, 10, _nothing)
    jobs.start()
    assert "clock guard" in _threads()
    jobs.stop()
    # Others may have ended meanwhile.
    assert set(threading.enumerate()) <= before


@pytest.mark.usefixtures("quick")
def test_the_guard_looks_by_itself() -> None:
    clock = HandClock()
    jobs = Jobs("UTC", clock)
    seen: list[bool] = []
    told, first = threading.Event(), threading.Event()
    look: Callable[[datetime, float], bool] = jobs.look

    def watched(now: datetime, monotonic_s: float) -> bool:
        seen.append(look(now, monotonic_s))
        first.set()
        if seen[-1]:
            told.set()
        return seen[-1]

    jobs.look = watched  # type: ignore[method-assign]
    jobs.start()
    try:
        assert first.wait(10)
        clock.wall += timedelta(hours=3)
        assert told.wait(10)
    finally:
        jobs.stop()
    assert seen.count(True) == 1


def test_a_job_runs_when_it_is_due() -> None:
    ran = threading.Event()
    jobs = Jobs("UTC", WallClock())
    jobs.daily("tidy", 4, 10, ran.set)
    jobs.start()
    try:
        due_now = WallClock().now()
        jobs._scheduler.get_job("tidy").modify(next_run_time=due_now)
        assert ran.wait(10)
        after = jobs.next_run("tidy")
        assert after is not None
        assert after > due_now
    finally:
        jobs.stop()


def test_stopping_waits_for_a_job_under_way() -> None:
    begun, may_end, ended = threading.Event(), threading.Event(), threading.Event()

    def slow() -> None:
        begun.set()
        may_end.wait(10)
        ended.set()

    jobs = Jobs("UTC", WallClock())
    jobs.daily("slow", 4, 10, slow)
    jobs.start()
    jobs._scheduler.get_job("slow").modify(next_run_time=WallClock().now())
    assert begun.wait(10)
    stopper = threading.Thread(target=jobs.stop)
    stopper.start()
    assert stopper.is_alive()
    may_end.set()
    stopper.join(10)
    assert ended.is_set()
    assert not stopper.is_alive()


def test_a_long_job_hears_that_it_is_to_end() -> None:
    begun, heard = threading.Event(), threading.Event()
    jobs = Jobs("UTC", WallClock())

    def long() -> None:
        begun.set()
        if jobs.stopping.wait(10):
            heard.set()

    jobs.daily("long", 4, 10, long)
    jobs.start()
    jobs._scheduler.get_job("long").modify(next_run_time=WallClock().now())
    assert begun.wait(10)
    assert not heard.is_set()
    jobs.stop()
    assert heard.is_set()


def test_a_job_of_the_same_name_takes_its_place() -> None:
    first, second = Mock(), threading.Event()
    jobs = Jobs("UTC", WallClock())
    jobs.daily("tidy", 4, 10, first)
    jobs.start()
    try:
        jobs.daily("tidy", 5, 0, second.set)
        assert len(jobs._scheduler.get_jobs()) == 1
        jobs._scheduler.get_job("tidy").modify(next_run_time=WallClock().now())
        assert second.wait(10)
    finally:
        jobs.stop()
    first.assert_not_called()


def test_next_run() -> None:
    jobs = Jobs("UTC", WallClock())
    jobs.daily("tidy", 4, 10, _nothing)
    assert jobs.next_run("no such job") is None
    # Not begun: nothing is due.
    assert jobs.next_run("tidy") is None
    jobs.start()
    try:
        due = jobs.next_run("tidy")
        assert due is not None
        assert (due.hour, due.minute) == (4, 10)
        assert timedelta(0) < due - WallClock().now() <= timedelta(days=1)
    finally:
        jobs.stop()
