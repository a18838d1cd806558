"""The log of a command that goes on for long."""

import logging
import os
import sys


def log_plainly(level: int = logging.INFO) -> None:
    """Log to standard error; under systemd without times, since the journal has its own."""
    stamped = "%(message)s" if os.environ.get("JOURNAL_STREAM") else "%(asctime)s %(message)s"
    logging.basicConfig(level=level, format=stamped, datefmt="%H:%M:%S", stream=sys.stderr)
    # Their news is ours only when something is wrong.
    for name in ("apscheduler", "apprise", "paho", "uvicorn"):
        logging.getLogger(name).setLevel(logging.WARNING)
