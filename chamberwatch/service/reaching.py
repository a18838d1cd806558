"""How well each address can be reached, and when it is worth another try.

An address that failed waits with everything that is on its way to it: ten messages to a phone that
is switched off are one try, not ten. Only one of high priority that was never tried is tried at
once. As soon as one arrives, the others follow.
"""

import json
from collections.abc import Callable, Container, Iterable, Mapping
from dataclasses import asdict, dataclass, replace
from datetime import datetime, timedelta
from typing import Any, Final

from chamberwatch.core.watch.reminder import Priority
from chamberwatch.service.books import Book, OutRow, OutState
from chamberwatch.service.ports import Outcome, Trouble

LONGEST_WAIT: Final = timedelta(hours=1)
FIRST_WAITS: Final[Mapping[Trouble, timedelta]] = {
    Trouble.PASSING: timedelta(seconds=30),
    Trouble.CROWDED: timedelta(minutes=2),
    Trouble.LASTING: timedelta(minutes=10),
}
WAITING_AT_MOST: Final = 1000
RANK_LASTS: Final = 4
"""After so many tries a message counts as one of the next lower priority."""


def wait_after(tries: int, trouble: Trouble = Trouble.PASSING) -> timedelta:
    """Return how long to wait after so many failed tries: doubled each time, up to 1 h.

    The first wait is 30 s, 2 min where the service asked for fewer messages, and 10 min where
    nothing will change until a person changes it.
    """
    # 2 ** 7 * 30 s is past the hour; the cap keeps the number small for ever.
    doubled: timedelta = FIRST_WAITS[trouble] * 2 ** min(tries - 1, 7)
    return min(doubled, LONGEST_WAIT)


@dataclass(frozen=True, slots=True)
class Reach:
    """What is known of the way to one address.

    Attributes:
        went: when a message last went out.
        failed: when one last did not.
        reason: why it did not, in words without a secret.
        failures: tries that failed since the last that went out.
        since: when the first of those failed.
        again: nothing is sent before, what was never tried and is of high priority apart.
    """

    went: datetime | None = None
    failed: datetime | None = None
    reason: str = ""
    failures: int = 0
    since: datetime | None = None
    again: datetime | None = None

    def after(self, outcome: Outcome, row: OutRow, now: datetime) -> "Reach":
        """Return what is known after one more try."""
        if outcome.ok:
            return self.arrived(now)
        failures = self.failures + 1
        # What is urgent keeps to its own pace; the others wait for as long as the address is down.
        tries = row.tries if row.priority is Priority.HIGH else max(row.tries, failures)
        again = now + wait_after(tries, outcome.trouble)
        return replace(self.missed(outcome, now), failures=failures, again=again)

    def arrived(self, now: datetime) -> "Reach":
        """Return what is known after a message that went out."""
        return Reach(went=now, failed=self.failed, reason=self.reason)

    def missed(self, outcome: Outcome, now: datetime) -> "Reach":
        """Return what is known after one that did not, without a word on the next try."""
        return replace(self, failed=now, reason=outcome.reason, since=self.since or now)

    def down(self, now: datetime) -> bool:
        """Tell whether the address was just found unreachable, and is left alone for a while."""
        # Longer than ever meant: the clock was set back since.
        return self.again is not None and now < self.again <= now + LONGEST_WAIT

    def held(self, row: OutRow, now: datetime) -> bool:
        """Tell whether a row that is due waits, since the address was just found unreachable."""
        return self.down(now) and not (row.priority is Priority.HIGH and not row.tries)


_TIMES: Final = ("went", "failed", "since", "again")


def reach_of(book: Book, address: str) -> Reach:
    """Return what is known of the way to an address; nothing where that can't be read."""
    kept = book.kept.text(_name(address))
    if kept is None:
        return Reach()
    try:
        values: dict[str, Any] = json.loads(kept)
        times = {key: _time(values[key]) for key in _TIMES}
        return Reach(reason=str(values["reason"]), failures=int(values["failures"]), **times)
    except (ValueError, KeyError, TypeError):
        return Reach()


def keep_reach(book: Book, address: str, reach: Reach) -> None:
    """Keep what is known of the way to an address."""
    book.kept.keep_text(_name(address), json.dumps(asdict(reach), default=datetime.isoformat))


def _name(address: str) -> str:
    return f"reach of {address}"


def _time(text: str | None) -> datetime | None:
    return None if text is None else datetime.fromisoformat(text)


def waiting(book: Book, address: str) -> list[OutRow]:
    """Return what is on its way to an address."""
    rows = book.outbox.in_state(OutState.WAITING, WAITING_AT_MOST)
    return [row for row in rows if row.address == address]


def soonest(book: Book, busy: Container[str]) -> datetime | None:
    """Return when something is due at an address that is not busy; the end of those wakes us."""
    rows = book.outbox.in_state(OutState.WAITING, WAITING_AT_MOST)
    return min((row.next_try for row in rows if row.address not in busy), default=None)


def release(book: Book, address: str, again: datetime | None, now: datetime) -> None:
    """Bring forward what only waited because the address could not be reached."""
    if again is None:
        return
    for row in waiting(book, address):
        # What waits for a time of its own, a window perhaps, goes on waiting for it.
        if now < row.next_try and (row.next_try == again or (row.error and row.next_try < again)):
            book.outbox.save(replace(row, next_try=now))


def hold_back(book: Book, address: str, reach: Reach, now: datetime) -> None:
    """Let what is due wait with the address."""
    for row in waiting(book, address):
        if row.next_try <= now and reach.held(row, now) and reach.again is not None:
            book.outbox.save(replace(row, next_try=reach.again))


def first_of(rows: Iterable[OutRow], held: Callable[[OutRow], bool]) -> OutRow | None:
    """Return what to send first: high before low, untried before tried, old before new.

    A message that its service will never take must not stand before all others for ever, so its
    rank falls with its tries.
    """
    ready = [row for row in rows if not held(row)]
    return min(ready, key=lambda r: (-_rank(r), r.tries, r.created, r.id), default=None)


def _rank(row: OutRow) -> int:
    return max(int(Priority.LOW), row.priority - row.tries // RANK_LASTS)
