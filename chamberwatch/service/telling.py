"""Moving reminders and putting messages in the outbox, inside somebody's transaction."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta, tzinfo
from typing import Final

from chamberwatch.core import wording
from chamberwatch.core.air.condensation import Margin
from chamberwatch.core.watch.advice import (
    AIR_CALLS,
    Need,
    events,
    in_grace,
    seen_to,
    untold,
    usual_grace,
)
from chamberwatch.core.watch.chamber import House
from chamberwatch.core.watch.doubt import GRAVITY, Doubt, Doubted
from chamberwatch.core.watch.reminder import (
    Call,
    Event,
    Evidence,
    Move,
    Priority,
    Reminder,
    State,
    advance,
)
from chamberwatch.core.watch.wetness import SUBJECT as SURFACES
from chamberwatch.service.board import Advised, Board
from chamberwatch.service.books import Book, OutRow, OutState
from chamberwatch.service.counselling import NOTHING_TOLD, Counselling, speakers
from chamberwatch.service.responding import NoEffect, nothing_judged

# A message that could not be delivered for this long says nothing new any more.
EXPIRES_AFTER: Final = timedelta(hours=12)

PAIR: Final = frozenset({Call.VENT, Call.MIST})
"""Dry and stale air at once is one cause for one message: vent, then mist."""

CAUSES: Final[Mapping[Event, str]] = {
    Event.RAISED: "outside the band for longer than the delay",
    Event.WORSENED: "beyond a harm limit",
    Event.RETURNED: "back inside the band",
    Event.SEEN: "nobody had been told",
}

REBANDED: Final = "inside the band that follows what grows here now"


LOOK_AGAIN: Final = timedelta(minutes=5)


@dataclass(frozen=True, slots=True)
class Spoken:
    """How many messages were written, and the amounts they name: for the board, once kept."""

    messages: int
    amounts: Mapping[Call, Advised]


@dataclass(frozen=True, slots=True)
class Teller:
    """Turns needs into moves and messages.

    Attributes:
        house: what the grower declared.
        board: what was last heard.
        addresses: names of those who are told.
        zone: for times of day in messages.
        counsel: reckons amounts; None: messages carry none.
        graces: how long after a deed a chamber isn't asked for the same again.
        no_effect: what is said instead where a deed had no effect.
    """

    house: House
    board: Board
    addresses: tuple[str, ...]
    zone: tzinfo
    counsel: Counselling | None = None
    graces: Callable[[str, Call], timedelta] = usual_grace
    no_effect: NoEffect = nothing_judged

    def settle(self, book: Book, chamber: str, found: Mapping[Call, Need], time: datetime) -> bool:
        """Bring the reminders about a chamber's air up to date; return whether any moved."""
        moved = False
        for call in AIR_CALLS:
            moved |= self._settle_one(book, chamber, call, found.get(call), time)
        return moved

    def _settle_one(
        self, book: Book, chamber: str, call: Call, need: Need | None, time: datetime
    ) -> bool:
        reminder = book.reminders.of(chamber, call, "")
        moves: list[Move] = []
        for event in events(reminder, need):
            reminder, move = advance(reminder, event, time, self._cause(event, reminder, time))
            moves.append(move)
        if not moves:
            self._ease(book, reminder, need)
            return False
        if need is not None:
            reminder = replace(reminder, priority=need.priority, evidence=need.evidence)
        book.reminders.save(reminder, moves)
        return True

    def _cause(self, event: Event, reminder: Reminder, time: datetime) -> str:
        if event is Event.RETURNED and self.board.settling(reminder.chamber, time) is not None:
            return REBANDED
        spoke = reminder.evidence.sensor if reminder.evidence else ""
        if event is Event.RETURNED and spoke in self.board.doubts():
            return f"{spoke} is in doubt, and another sensor says otherwise"
        return CAUSES[event]

    def _ease(self, book: Book, reminder: Reminder, need: Need | None) -> None:
        """Lower the priority once harm is over, so that a second harm is news again.

        A sensor that has come into doubt leaves the word to the one that still says so.
        """
        if need is None:
            return
        eased = replace(reminder, priority=min(reminder.priority, need.priority))
        spoke = reminder.evidence.sensor if reminder.evidence else ""
        if spoke != need.evidence.sensor and spoke in self.board.doubts():
            eased = replace(eased, evidence=need.evidence)
        if eased != reminder:
            book.reminders.save(eased, ())

    def tell(self, book: Book, chamber: str, found: Mapping[Call, Need], now: datetime) -> Spoken:
        """Put what a person has yet to hear about the air in the outbox.

        Dry and stale air is one message: vent, then mist. What was answered a moment ago, what a
        device sees to, and what can't be put right by hand and was said waits.
        """
        waiting = untold([book.reminders.of(chamber, call, "") for call in AIR_CALLS])
        deeds = self.board.deeds(chamber)
        # What is inside its band again and only waits to be sure of it is no news.
        pressing = {c: need for c, need in found.items() if not wording.inside(need.evidence)}
        quiet = {r.call: self._quiet_until(r, pressing, deeds, now) for r in waiting}
        ready = [r for r in waiting if quiet[r.call] is None]
        carrier = self._carrier(ready, pressing, deeds, now)
        messages, amounts = 0, dict[Call, Advised]()
        for reminder in ready:
            book.reminders.save(replace(reminder, told=now), ())
            if carrier is not None and reminder.call in PAIR and reminder is not carrier:
                continue
            then_mist = carrier is not None and reminder is carrier
            call = Call.VENT if then_mist else reminder.call
            amounts |= self._speak(book, reminder, (found, call), now, then_mist=then_mist)
            messages += 1
        later = [until for until in quiet.values() if until is not None]
        if later:
            self.board.owe(chamber, min(later))
        else:
            self.board.paid(chamber)
        return Spoken(messages, amounts)

    def _quiet_until(
        self,
        reminder: Reminder,
        found: Mapping[Call, Need],
        deeds: Mapping[Call, datetime],
        now: datetime,
    ) -> datetime | None:
        """Return when to look again at what is not said yet; None: it may be said now."""
        grave = reminder.priority is Priority.HIGH
        settled = None if grave else self.board.settling(reminder.chamber, now)
        grace = self.graces(reminder.chamber, reminder.call)
        if settled is not None or in_grace(reminder.call, deeds, now, grace):
            return settled or deeds[reminder.call] + grace
        if reminder.call not in found:
            return now
        if seen_to(self.house.devices, reminder, now, self.zone):
            return now + LOOK_AGAIN
        if self.counsel is None or grave:
            return None
        return self.counsel.quiet_until(reminder.chamber, reminder.call, now)

    def _carrier(
        self,
        ready: Sequence[Reminder],
        found: Mapping[Call, Need],
        deeds: Mapping[Call, datetime],
        now: datetime,
    ) -> Reminder | None:
        """Return the reminder that speaks for dry and stale air together, if both hold.

        The graver of the two that are new; venting comes first where they are alike. Air that
        was vented a moment ago is not asked to be vented again because it is dry.
        """
        fresh = [r for r in ready if r.call in PAIR]
        if not found.keys() >= PAIR or not fresh:
            return None
        if in_grace(Call.VENT, deeds, now, self.graces(fresh[0].chamber, Call.VENT)):
            return None
        return max(fresh, key=lambda r: (r.priority, r.call is Call.VENT))

    def _speak(
        self,
        book: Book,
        reminder: Reminder,
        asked: tuple[Mapping[Call, Need], Call],
        now: datetime,
        *,
        then_mist: bool,
    ) -> Mapping[Call, Advised]:
        """Write the message of a reminder; return the amounts that it names."""
        found, call = asked
        chamber = self.house.chambers[reminder.chamber]
        vain = self.no_effect(book, chamber, call, found[call].evidence, now)
        if vain is not None and not then_mist:
            book.outbox.add(self.rows(reminder, vain, reminder.priority, now))
            return {}
        need, spoken = found[call], speakers(n.evidence for c, n in found.items() if c in PAIR)
        told = (
            self.counsel.told(reminder.chamber, call, now, spoken, then_mist=then_mist)
            if self.counsel
            else NOTHING_TOLD
        )
        words = wording.message(
            self.house,
            chamber,
            need.call,
            need.evidence,
            reminder.priority,
            then_mist=then_mist,
            amounts=told.words,
        )
        words = wording.with_doubt(words, need.evidence, self.board.doubts())
        words = replace(words, body=f"{vain.body} {words.body}") if vain is not None else words
        book.outbox.add(self.rows(reminder, words, reminder.priority, now))
        return told.amounts

    def rows(
        self, reminder: Reminder, words: wording.Message, priority: Priority, now: datetime
    ) -> Sequence[OutRow]:
        """Return the message of a reminder as a row for each address."""
        return [
            OutRow(
                id=0,
                reminder=reminder.id,
                episode=reminder.episode,
                address=address,
                title=words.title,
                body=words.body,
                priority=priority,
                state=OutState.WAITING,
                created=now,
                next_try=now,
                expires=now + EXPIRES_AFTER,
            )
            for address in self.addresses
        ]

    def silent(self, book: Book, sensor: str, last: datetime | None, now: datetime) -> bool:
        """Raise *check the sensor*, told at once; return whether it is news."""
        declared = self.house.sensors[sensor]
        reminder = book.reminders.of(declared.chamber, Call.CHECK_SENSOR, sensor)
        moves: list[Move] = []
        if not reminder.active:
            evidence = Evidence(sensor, None, None, None, None, None, last)
            reminder, move = advance(reminder, Event.RAISED, now, "nothing heard for too long")
            reminder = replace(reminder, priority=Priority.MEDIUM, evidence=evidence)
            moves.append(move)
        elif reminder.evidence is not None and reminder.evidence.quantity is not None:
            # It was in doubt for what it said; now it says nothing, which is graver.
            evidence = Evidence(sensor, None, None, None, None, None, last)
            reminder, move = advance(reminder, Event.WORSENED, now, "nothing heard for too long")
            reminder = replace(reminder, priority=Priority.MEDIUM, evidence=evidence)
            moves.append(move)
        if untold([reminder]):
            chamber = self.house.chambers[declared.chamber]
            words = wording.silence(chamber, sensor, last, now, self.zone)
            book.outbox.add(self.rows(reminder, words, reminder.priority, now))
            reminder = replace(reminder, told=now)
        elif not moves:
            return False
        book.reminders.save(reminder, moves)
        return True

    def doubted(self, book: Book, before: Doubt | None, doubt: Doubt, now: datetime) -> bool:
        """Raise *check the sensor* for what it says; return whether anything moved.

        A doubt that takes the place of a graver one was told before it or is no news beside it.
        """
        declared = self.house.sensors[doubt.sensor]
        reminder = book.reminders.of(declared.chamber, Call.CHECK_SENSOR, doubt.sensor)
        moves: list[Move] = []
        milder = before is not None and GRAVITY.index(before.kind) < GRAVITY.index(doubt.kind)
        if not (reminder.active and milder):
            event = Event.WORSENED if reminder.active else Event.RAISED
            reminder, move = advance(reminder, event, now, f"in doubt: {doubt.kind}")
            moves.append(move)
        low = doubt.kind is Doubted.LOW_BATTERY
        reminder = replace(
            reminder,
            priority=Priority.LOW if low else Priority.MEDIUM,
            evidence=self._of_doubt(doubt),
        )
        if untold([reminder]):
            words = wording.doubt(self.house.chambers[declared.chamber], doubt)
            book.outbox.add(self.rows(reminder, words, reminder.priority, now))
            reminder = replace(reminder, told=now)
        book.reminders.save(reminder, moves)
        return True

    def _of_doubt(self, doubt: Doubt) -> Evidence:
        quantity = doubt.shown_by
        reading = self.board.newest_of((doubt.sensor, quantity)) if quantity else None
        value = reading.value if reading is not None else None
        return Evidence(doubt.sensor, quantity, value, None, None, None, doubt.since)

    def believed(self, book: Book, doubt: Doubt, now: datetime) -> bool:
        """Return *check the sensor* to normal, whatever the doubt was."""
        silent = doubt.kind is Doubted.SILENT
        return self.speaks_again(
            book, doubt.sensor, now, "heard again" if silent else "good readings again"
        )

    def speaks_again(
        self, book: Book, sensor: str, now: datetime, cause: str = "heard again"
    ) -> bool:
        """Return *check the sensor* to normal; return whether it was active.

        A sensor that is no longer declared is looked for in the book alone.
        """
        active = [
            reminder
            for reminder in book.reminders.all()
            if reminder.call is Call.CHECK_SENSOR and reminder.subject == sensor
            if reminder.active
        ]
        for reminder in active:
            returned, move = advance(reminder, Event.RETURNED, now, cause)
            book.reminders.save(returned, [move])
        return bool(active)

    def wet_surfaces(
        self, book: Book, chamber: str, since: datetime, margin: Margin | None, now: datetime
    ) -> bool:
        """Raise *let it dry off* for wet surfaces, told when nothing else speaks of them.

        Returns whether anything moved or was told.
        """
        reminder = book.reminders.of(chamber, Call.DRY_OFF, SURFACES)
        moves: list[Move] = []
        if not reminder.active:
            evidence = Evidence("", None, None, None, None, None, since)
            reminder, move = advance(reminder, Event.RAISED, now, "surfaces wet for too long")
            reminder = replace(reminder, priority=Priority.LOW, evidence=evidence)
            moves.append(move)
        tell = bool(untold([reminder])) and not self._hushed(book, chamber, now)
        if tell:
            declared = self.house.chambers[chamber]
            words = wording.wet_surfaces(declared, since, margin, now, self.zone)
            book.outbox.add(self.rows(reminder, words, reminder.priority, now))
            reminder = replace(reminder, told=now)
        if tell or moves:
            book.reminders.save(reminder, moves)
        return tell or bool(moves)

    def _hushed(self, book: Book, chamber: str, now: datetime) -> bool:
        """Tell whether wet surfaces are better not spoken of yet.

        Dry air between wet walls is what a fresh misting looks like; who was told to let the air
        dry off knows already; and who has just vented is not asked to.
        """
        humid = book.reminders.of(chamber, Call.DRY_OFF, "")
        return (
            book.reminders.of(chamber, Call.MIST, "").active
            or (humid.active and humid.told is not None)
            or in_grace(
                Call.DRY_OFF,
                self.board.deeds(chamber),
                now,
                self.graces(chamber, Call.DRY_OFF),
            )
        )

    def dry_surfaces(self, book: Book, chamber: str, now: datetime) -> bool:
        """Return *let it dry off* for wet surfaces to normal; return whether it was active."""
        reminder = book.reminders.of(chamber, Call.DRY_OFF, SURFACES)
        moves: list[Move] = []
        for event in events(reminder, None):
            reminder, move = advance(reminder, event, now, "surfaces no longer known to be wet")
            moves.append(move)
        if moves:
            book.reminders.save(reminder, moves)
        return bool(moves)

    def end_shelves(self, book: Book, now: datetime) -> bool:
        """Put back what was shelved and whose time has come; return whether any was."""
        ended = [
            r
            for r in book.reminders.all(frozenset({State.SHELVED}))
            if r.shelved_until is not None and r.shelved_until <= now
        ]
        for shelved in ended:
            reminder, move = advance(shelved, Event.SHELF_ENDED, now, "its time was up")
            book.reminders.save(reminder, [move])
            if reminder.call is Call.CHECK_SENSOR:
                if not reminder.active or reminder.subject not in self.house.sensors:
                    continue
                doubt = self.board.doubts().get(reminder.subject)
                if doubt is not None and doubt.kind is not Doubted.SILENT:
                    self.doubted(book, doubt, doubt, now)
                    continue
                last = reminder.evidence.since if reminder.evidence else None
                self.silent(book, reminder.subject, last, now)
            elif reminder.active:
                self.board.owe(reminder.chamber)
        return bool(ended)
