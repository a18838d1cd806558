"""A daemon whose clock runs faster than life, as a process of its own.

    python -m tests.faults.paced SETTINGS START PACE WENT_S

It is joined together as `chamberwatch run` joins it; only the clock is another. That of the test
runs beside it: both went off at WENT_S of the machine's monotonic clock.
"""

import os
import sys
from datetime import datetime
from pathlib import Path

from chamberwatch.cli.plainly import log_plainly
from chamberwatch.clock import PacedClock
from chamberwatch.daemon import Daemon, heed_signals, listen
from chamberwatch.settings import SettingsFile, load
from chamberwatch.wiring.common import Occasion
from chamberwatch.wiring.renewing import Read, Renewing


def paced(start: datetime, pace: float, went_s: float) -> PacedClock:
    """Return a clock that went off then.

    Args:
        start: what it showed at that moment.
        pace: how many times faster than life it runs.
        went_s: that moment on the machine's monotonic clock, which all processes share. [s]
    """
    clock = PacedClock(start, pace)
    clock._went_s = went_s
    return clock


def main(file: Path, clock: PacedClock) -> None:
    """Run until told to end."""
    log_plainly()
    heed_signals()
    daemon = Daemon()
    settings = load(file, os.environ)
    with listen(settings.web.host, settings.web.port) as listener:
        occasion = Occasion(sys.stdout, "", daemon.vitals, clock.now(), daemon.ailing)
        renewing = Renewing(
            SettingsFile(file, os.environ),
            lambda: Read(load(file, os.environ)),
            clock,
            occasion,
            daemon.renew,
        )
        daemon.renewing = renewing
        machine = renewing.first(Read(settings))
        with daemon.running(machine):
            daemon.serve(listener, lambda: None)


if __name__ == "__main__":
    _, given, start, pace, went_s = sys.argv
    main(Path(given), paced(datetime.fromisoformat(start), float(pace), float(went_s)))
