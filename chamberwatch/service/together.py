"""What has waited, said together: what of it is still true, and in the words of this moment."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Final

from chamberwatch.core import summary_words, wording
from chamberwatch.core.watch.reminder import TASK_CALLS, Call, Priority, Reminder, State
from chamberwatch.core.wording import Message
from chamberwatch.service.board import Board
from chamberwatch.service.books import Book, OutKind, OutRow, OutState
from chamberwatch.service.phrasing import Phrasing
from chamberwatch.service.rows import to_send
from chamberwatch.service.telling import EXPIRES_AFTER

SUMMARY_EXPIRES: Final = timedelta(hours=6)

LIVE: Final = frozenset(State) - {State.NORMAL}

WITHIN: Final = "said within another message"
UNTRUE: Final = "no longer true"

Worded = tuple[OutRow, Message]


def holds(row: OutRow, reminder: Reminder | None) -> bool:
    """Tell whether a message still says something that a person should hear, however late."""
    if row.kind is OutKind.REMINDER:
        return (
            reminder is not None
            and reminder.active
            and reminder.episode == row.episode
            and reminder.state is State.UNACKNOWLEDGED
        )
    if row.kind is OutKind.RETURNED:
        return reminder is not None and not reminder.active and reminder.episode == row.episode
    return True


def unfold(book: Book, summary: OutRow) -> None:
    """Let what was said within a summary wait by itself again: it did not go out."""
    for row in book.outbox.in_state(OutState.FOLDED):
        if row.address == summary.address and row.sent == summary.created:
            book.outbox.save(replace(row, state=OutState.WAITING, error="", sent=None))


@dataclass(frozen=True, slots=True)
class Together:
    """Makes one message of several to one address, within one transaction."""

    book: Book
    board: Board
    phrasing: Phrasing
    address: str
    now: datetime

    def say(
        self,
        waited: Sequence[OutRow],
        over: Sequence[str],
        night: Sequence[str],
        ailing: Sequence[str] = (),
    ) -> None:
        """Say in one message what has waited and is still true, what is over, and the night.

        What ails the watcher itself comes last.

        One thing alone stays a message of its own, with its links; the rest stands below it.
        """
        true = self.still_true(waited)
        told = self._worded([row for row in true if row.kind is not OutKind.RETURNED])
        back = [row for row in true if row.kind is OutKind.RETURNED]
        over = over or [row.title for row in back]
        beside = [*night, *summary_words.itself(ailing)]
        if len(told) == 1:
            self.within(back)
            self._alone(*told[0], summary_words.beside(over, beside))
        elif not told and not beside and len(over) == len(back) == 1:
            self._alone(back[0], Message(back[0].title, back[0].body), ())
        elif told or over or beside:
            self.within([*back, *(row for row, _ in told)])
            still = self._still({row.reminder for row, _ in told})
            words = summary_words.summary([w for _, w in told], over, beside, still)
            self._one_for_all(told, words)

    def _still(self, besides: Collection[int]) -> list[str]:
        """Return the titles of what was told before and isn't over; what stands aside is known."""
        live = [
            r
            for r in self.book.reminders.all(LIVE - {State.OUT_OF_SERVICE})
            if r.active and r.call not in TASK_CALLS
        ]
        words = self._words_of(live)
        titles = [words[r.id].title for r in live if r.id in words and r.id not in besides]
        return list(dict.fromkeys(titles))

    def within(self, rows: Iterable[OutRow]) -> None:
        """End messages that another one says as well."""
        for row in rows:
            folded = replace(row, state=OutState.FOLDED, error=WITHIN, sent=self.now)
            self.book.outbox.save(folded)

    def _one_for_all(self, told: Sequence[Worded], words: Message) -> None:
        priority = max((row.priority for row, _ in told), default=Priority.LOW)
        until = self.now + SUMMARY_EXPIRES
        row = to_send(
            self.address, words, OutKind.SUMMARY, self.now, expires=until, priority=priority
        )
        self.book.outbox.add([row])

    def _alone(self, row: OutRow, words: Message, beside: Iterable[str]) -> None:
        fresh = replace(
            row,
            title=words.title,
            body="\n".join([words.body, *beside]),
            # As if it were new: it has waited long enough.
            created=self.now,
            next_try=self.now,
            # What speaks of a moment to come is of no use after it.
            expires=row.expires if row.kind is OutKind.EARLY else self.now + EXPIRES_AFTER,
        )
        self.book.outbox.save(fresh)

    def still_true(self, rows: Sequence[OutRow]) -> list[OutRow]:
        """Return what is still to be said, once for each cause; the rest is ended."""
        true: dict[tuple[OutKind, int], OutRow] = {}
        said = self._said_since(min((row.created for row in rows), default=self.now))
        for row in rows:
            told = said.get((row.reminder, row.episode)) if row.reminder else None
            key = (row.kind, row.reminder or -row.id)
            if not holds(row, self.reminder(row)):
                self.book.outbox.save(replace(row, state=OutState.DROPPED, error=UNTRUE))
            elif row.kind is OutKind.REMINDER and told is not None and told > row.created:
                self.within([row])
            else:
                self.within([true[key]] if key in true else [])
                true[key] = row
        return list(true.values())

    def _said_since(self, since: datetime) -> dict[tuple[int, int], datetime]:
        """Return when each episode was last told to this address."""
        return {
            (row.reminder, row.episode): row.sent
            for row in self.book.outbox.sent_since(since)
            if row.address == self.address and row.sent is not None
            if row.kind is OutKind.REMINDER
        }

    def _worded(self, rows: Sequence[OutRow]) -> list[Worded]:
        """Return each message in the words of this moment, once, the gravest first."""
        asked = [(row, self.reminder(row)) for row in rows if row.kind is OutKind.REMINDER]
        now_words = self._words_of(reminder for _, reminder in asked)
        priorities = {row.id: r.priority for row, r in asked if r is not None}
        said: dict[Message, OutRow] = {}
        for row in rows:
            words = now_words.get(row.reminder, Message(row.title, row.body))
            before = said.get(words)
            grave = replace(row, priority=priorities.get(row.id, row.priority))
            if before is None:
                said[words] = grave
            else:
                # Dry and stale air is one thing to do, whichever of them spoke first.
                said[words] = replace(before, priority=max(before.priority, grave.priority))
                self.within([row])
        pairs = [(row, words) for words, row in said.items()]
        return sorted(pairs, key=lambda pair: (-pair[0].priority, pair[0].created, pair[0].id))

    def _words_of(self, reminders: Iterable[Reminder | None]) -> dict[int, Message]:
        """Return the words of reminders about the air and its sensors, by their id."""
        chambers = {r.chamber for r in reminders if r is not None and r.call not in TASK_CALLS}
        live = self.book.reminders.all(LIVE) if chambers else ()
        newest = self.board.newest()
        words: dict[int, Message] = {}
        for chamber in chambers:
            here = [r for r in live if r.chamber == chamber and r.call not in TASK_CALLS]
            shown = self.phrasing.gravest_first(here, newest)
            vent = next((s for s in shown if s.reminder.call is Call.VENT), None)
            for each in shown:
                # What only leads to the venting is said as the venting.
                leads = vent is not None and each.body.startswith(wording.MIST_AFTER)
                said = vent if leads and vent is not None else each
                words[each.reminder.id] = Message(said.title, said.body)
        return words

    def reminder(self, row: OutRow) -> Reminder | None:
        """Return what a message tells of."""
        return self.book.reminders.get(row.reminder) if row.reminder else None
