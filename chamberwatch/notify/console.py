"""Messages on the terminal, or in the journal."""

import textwrap
import threading
from typing import TextIO

from chamberwatch.core.sentence import plain
from chamberwatch.service.ports import Links, Outcome

WIDTH = 78


class Console:
    """Prints messages; the address that is always there."""

    name = "terminal"
    pictures = False

    def __init__(self, stream: TextIO, links: Links | None) -> None:
        """Print to `stream`."""
        self.links = links
        self._stream = stream
        self._lock = threading.Lock()

    def send(self, title: str, body: str, picture: bytes | None = None) -> Outcome:
        """Print a message; a stream that is gone is no reason to stop."""
        del picture  # a terminal shows none
        lines = [f"* {plain(title)}"]
        for line in plain(body).splitlines():
            # A link is never broken: it must stay one thing to click.
            whole = "://" in line or not line
            lines += (
                [f"  {line}".rstrip()]
                if whole
                else textwrap.wrap(line, WIDTH, initial_indent="  ", subsequent_indent="  ")
            )
        try:
            with self._lock:
                print("\n".join(lines), "", sep="\n", file=self._stream, flush=True)
        except (OSError, ValueError) as error:
            return Outcome(ok=False, reason=f"the terminal can't be written: {error}")
        return Outcome(ok=True)
