"""A daemon whose clock runs faster than life; `tests.bench.alone` starts it.

python -m tests.bench.paced PACE SETTINGS
"""

import sys
from pathlib import Path

from chamberwatch.cli.plainly import log_plainly
from chamberwatch.clock import PacedClock
from chamberwatch.daemon import Daemon, heed_signals, listen
from chamberwatch.settings import load
from chamberwatch.wiring.common import Occasion
from chamberwatch.wiring.machine import build


def main() -> None:
    """Run until a signal comes."""
    pace, config = float(sys.argv[1]), Path(sys.argv[2])
    log_plainly()
    heed_signals()
    settings, daemon = load(config, {}), Daemon()
    clock = PacedClock(PacedClock.wall(), pace)
    with listen("127.0.0.1", settings.web.port) as listener:
        machine = build(settings, clock, Occasion(sys.stdout, "http://localhost", daemon.vitals))
        with daemon.running(machine):
            daemon.serve(listener, clock.go)


if __name__ == "__main__":
    main()
