"""How far a job is, shown where somebody looks and nowhere else."""

import os
import pty
import subprocess
import sys
import threading

from tests.brokers import DEADLINE_S
from tests.faults.processes import environment

JOB = """
from chamberwatch.cli.terminal import going, going_through, may_ask
with going_through() as told:
    told("first", 0.25)
    told("second", 1.0)
with going("third") as share:
    share(0.5)
print("done", may_ask())
"""


def plainly() -> dict[str, str]:
    """Return the environment without what makes the library take a pipe for a terminal."""
    wilful = ("FORCE_COLOR", "TTY_COMPATIBLE", "TTY_INTERACTIVE", "NO_COLOR", "COLUMNS")
    return {name: value for name, value in environment().items() if name not in wilful}


def ran_at_a_terminal() -> tuple[str, str]:
    """Return what a person sees beside what is printed, and what is printed."""
    ours, theirs = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-c", JOB],
        stdin=theirs,
        stdout=subprocess.PIPE,
        stderr=theirs,
        text=True,
        env={**plainly(), "TERM": "xterm"},
    )
    os.close(theirs)
    shown = bytearray()
    late = threading.Timer(DEADLINE_S, process.kill)
    late.start()
    try:
        while piece := os.read(ours, 4096):
            shown += piece
    except OSError:  # the other side has closed it
        pass
    printed, _ = process.communicate()
    late.cancel()
    os.close(ours)
    return shown.decode(), printed


def test_at_a_terminal_it_stands_beside_what_is_printed() -> None:
    shown, printed = ran_at_a_terminal()
    for each in ("first", "25%", "second", "100%", "third", "50%"):
        assert each in shown
    # What is printed goes elsewhere, so nobody can be asked there.
    assert printed == "done False\n"


def test_where_nobody_looks_nothing_is_shown() -> None:
    ran = subprocess.run(
        [sys.executable, "-c", JOB], capture_output=True, text=True, check=True, env=plainly()
    )
    assert (ran.stdout, ran.stderr) == ("done False\n", "")
