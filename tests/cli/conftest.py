"""Signals as they were, whatever a command installed."""

import logging
import signal
from collections.abc import Iterator

import pytest


@pytest.fixture(autouse=True)
def _untouched_process() -> Iterator[None]:
    kept = {s: signal.getsignal(s) for s in (signal.SIGTERM, signal.SIGINT)}
    root = logging.getLogger()
    handlers, level = list(root.handlers), root.level
    loud = {n: logging.getLogger(n).level for n in ("chamberwatch.service.delivery", "apprise")}
    yield
    for number, handler in kept.items():
        signal.signal(number, handler)
    root.handlers[:], root.level = handlers, level
    for name, was in loud.items():
        logging.getLogger(name).setLevel(was)
