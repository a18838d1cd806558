"""Jobs at a time of day, with a guard against clock jumps.

A scheduler that waits for a time of day sleeps through a clock that is set back by hours. The
guard compares wall and monotonic time every few seconds and lets every job find its next time
anew once they have moved against each other.
"""

import threading
from collections.abc import Callable
from datetime import datetime
from typing import Final

from apscheduler.schedulers.background import BackgroundScheduler
from apscheduler.triggers.cron import CronTrigger

from chamberwatch.service.ports import Clock

JUMP_S: Final = 30.0
LOOK_EVERY_S: Final = 5.0


class Jobs:
    """Runs jobs at times of day."""

    def __init__(self, timezone: str, clock: Clock) -> None:
        """Make an empty schedule in the site's zone."""
        self._zone = timezone
        self._clock = clock
        self._offset_s: float | None = None
        self._scheduler = BackgroundScheduler(
            timezone=timezone,
            job_defaults={"coalesce": True, "max_instances": 1, "misfire_grace_time": None},
        )
        self.stopping = threading.Event()
        """Set when it is to end: a long job looks at it and ends in between."""
        self._guard = threading.Thread(target=self._look_often, name="clock guard", daemon=True)

    def daily(self, name: str, hour: int, minute: int, job: Callable[[], None]) -> None:
        """Run a job every day at a time of day of the site."""
        trigger = CronTrigger(hour=hour, minute=minute, timezone=self._zone)
        self._scheduler.add_job(job, trigger, id=name, replace_existing=True)

    def hourly(self, name: str, minute: int, job: Callable[[], None]) -> None:
        """Run a job every hour at a minute of it."""
        trigger = CronTrigger(minute=minute, timezone=self._zone)
        self._scheduler.add_job(job, trigger, id=name, replace_existing=True)

    def next_run(self, name: str) -> datetime | None:
        """Return when a job is due next."""
        job = self._scheduler.get_job(name)
        found: datetime | None = getattr(job, "next_run_time", None)
        return found

    def start(self) -> None:
        """Begin."""
        # A machine without a battery clock is often set right in its first seconds: what the
        # jobs were planned by is noted now, not at the guard's first look.
        self.look(self._clock.now(), self._clock.monotonic())
        self._scheduler.start()
        self._guard.start()

    def stop(self) -> None:
        """End; a job under way is waited for, and a long one told by `stopping`."""
        self.stopping.set()
        self._guard.join()
        self._scheduler.shutdown(wait=True)

    def _look_often(self) -> None:
        while not self.stopping.wait(LOOK_EVERY_S):
            self.look(self._clock.now(), self._clock.monotonic())

    def look(self, now: datetime, monotonic_s: float) -> bool:
        """Reschedule every job if the wall clock has jumped since the last look; say whether."""
        offset_s = now.timestamp() - monotonic_s
        before, self._offset_s = self._offset_s, offset_s
        if before is None or abs(offset_s - before) <= JUMP_S:
            return False
        for job in self._scheduler.get_jobs():
            job.reschedule(job.trigger)
        return True
