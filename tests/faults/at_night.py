"""The daemon, but a time service vouches for the clock, and SIGUSR1 makes it night.

A test can't wait for three in the morning, and its machine has no time service.
"""

import signal
import sys

import chamberwatch.wiring.machine  # noqa: F401 - below it is given other jobs
from chamberwatch import clock
from chamberwatch.cli import main
from chamberwatch.schedule.jobs import Jobs


class NightJobs(Jobs):
    """Jobs whose night begins with a signal."""

    def start(self) -> None:
        super().start()
        signal.signal(signal.SIGUSR1, lambda *_: self._begin())

    def _begin(self) -> None:
        job = self._scheduler.get_job("upkeep")
        job.modify(next_run_time=clock.WallClock().now())


if __name__ == "__main__":
    clock.kernel_synchronised = lambda: True
    vars(sys.modules["chamberwatch.wiring.machine"])["Jobs"] = NightJobs
    main()
