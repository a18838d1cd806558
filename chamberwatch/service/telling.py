"""Moving reminders about the air and putting messages in the outbox, in somebody's transaction."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta, tzinfo
from typing import Final

from chamberwatch.core import cause_words, wording
from chamberwatch.core.watch.advice import (
    Need,
    air_calls,
    events,
    in_grace,
    seen_to,
    untold,
    usual_grace,
)
from chamberwatch.core.watch.chamber import Chamber, House
from chamberwatch.core.watch.joint import Joint, joined, related
from chamberwatch.core.watch.opened import Opening, opening
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.realarm import realarm_due
from chamberwatch.core.watch.reminder import (
    ASKING,
    UNTOLD,
    Call,
    Cause,
    Event,
    Evidence,
    Move,
    Priority,
    Reminder,
    advance,
)
from chamberwatch.service.advised import Advised
from chamberwatch.service.board import Board
from chamberwatch.service.books import Book, OutKind, OutRow
from chamberwatch.service.counselling import NOTHING_TOLD, Counselling, Told, speakers
from chamberwatch.service.responding import NoEffect, nothing_judged
from chamberwatch.service.rows import to_send

# A message that could not be delivered for this long says nothing new any more.
EXPIRES_AFTER: Final = timedelta(hours=12)

PAIR: Final = frozenset({Call.VENT, Call.MIST})
"""Their amounts are reckoned for the air of the sensors that speak for both."""

CAUSES: Final[Mapping[Event, str]] = {
    Event.RAISED: "outside the band for longer than the delay",
    Event.WORSENED: "beyond a harm limit",
    Event.RETURNED: "back inside the band",
    Event.SEEN: UNTOLD,
}

REBANDED: Final = "inside the band that follows what grows here now"

NOTHING_COMING: Final[Mapping[Call, timedelta]] = {}

TOGETHER: Final = timedelta(minutes=2, seconds=30)
"""What shares a cause and will ask in so little time is waited for, so that one message says both;
what does harm does not wait."""

LOOK_AGAIN: Final = timedelta(minutes=5)


@dataclass(frozen=True, slots=True)
class Spoken:
    """How many messages were written, and the amounts they name: for the board, once kept."""

    messages: int
    amounts: Mapping[Call, Advised]


@dataclass(frozen=True, slots=True)
class _Asked:
    """What a chamber asks for at this moment.

    Attributes:
        chamber: which.
        found: what each call asks for, and the reading that says so.
        deeds: when each call was last answered.
        now: the time.
        coming: what it is about to ask for, and in how long.
        graces: how long after a deed a call is not asked for again.
    """

    chamber: Chamber
    found: Mapping[Call, Need]
    deeds: Mapping[Call, datetime]
    now: datetime
    coming: Mapping[Call, timedelta]
    graces: Callable[[str, Call], timedelta]

    def grace_ends(self, call: Call) -> datetime | None:
        """Return until when a call that was answered is not asked for again, None if it may be."""
        grace = self.graces(self.chamber.name, call)
        return self.deeds[call] + grace if in_grace(call, self.deeds, self.now, grace) else None

    def joined_by(self, call: Call) -> datetime | None:
        """Return when something that shares its cause will ask, where that is soon."""
        left = [self.coming[other] for other in related(call) if other in self.coming]
        soon = min(left, default=None)
        return self.now + soon if soon is not None and soon <= TOGETHER else None

    def pressing(self) -> Mapping[Call, Need]:
        """Return what is outside its band still; what only waits to be sure is no news."""
        return {c: n for c, n in self.found.items() if not wording.inside(n.evidence)}


@dataclass(frozen=True, slots=True)
class Teller:
    """Turns needs into moves and messages.

    Attributes:
        house: what the grower declared.
        board: what was last heard.
        addresses: names of those who are told.
        zone: for times of day in messages.
        counsel: reckons amounts; None: messages carry none.
        graces: how long after a deed a call is not asked for again, in a chamber.
        no_effect: what is said where a deed has changed nothing.
    """

    house: House
    board: Board
    addresses: tuple[str, ...]
    zone: tzinfo
    counsel: Counselling | None = None
    graces: Callable[[str, Call], timedelta] = usual_grace
    no_effect: NoEffect = nothing_judged

    # -------------------------------------------------------------- moves

    def settle(self, book: Book, chamber: str, found: Mapping[Call, Need], time: datetime) -> bool:
        """Bring the reminders about a chamber's air up to date; return whether any moved."""
        moved = False
        for call in air_calls(self.house.chambers[chamber]):
            moved |= self._settle_one(book, chamber, call, found.get(call), time)
        return moved

    def _settle_one(
        self, book: Book, chamber: str, call: Call, need: Need | None, time: datetime
    ) -> bool:
        reminder = book.reminders.of(chamber, call, "")
        moves: list[Move] = []
        for event in events(reminder, need):
            cause = self._cause(event, reminder, need, time)
            reminder, move = advance(reminder, event, time, cause)
            moves.append(move)
        if not moves:
            self._ease(book, reminder, need)
            return False
        if need is not None:
            reminder = replace(reminder, priority=need.priority)
        book.reminders.save(reminder, moves)
        return True

    def _cause(self, event: Event, reminder: Reminder, need: Need | None, time: datetime) -> Cause:
        if event is not Event.RETURNED:
            return Cause(CAUSES[event], need.evidence if need is not None else None)
        was = reminder.evidence
        spoke = was.sensor if was is not None else ""
        shown = self._newest(was) if was is not None else None
        if self.board.settling(reminder.chamber, time) is not None:
            return Cause(REBANDED, shown)
        if spoke in self.board.doubts():
            return Cause(f"{spoke} is in doubt, and another sensor says otherwise", shown)
        return Cause(CAUSES[event], shown)

    def _newest(self, was: Evidence) -> Evidence | None:
        """Return the newest reading of the series that spoke, None where there is none."""
        reading = self.board.newest_of((was.sensor, was.quantity)) if was.quantity else None
        if reading is None:
            return None
        return replace(was, value=reading.value, trend_per_h=None, since=reading.time)

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

    def realarm(self, book: Book, now: datetime) -> bool:
        """Let what is harmful and goes on be told again; return whether anything was."""
        moved = False
        for reminder in book.reminders.all(ASKING):
            chamber = self.house.chambers.get(reminder.chamber)
            quantity = reminder.evidence.quantity if reminder.evidence is not None else None
            patience = chamber.patience_for(quantity) if chamber and quantity else None
            first = patience.realarm if patience is not None else None
            if not realarm_due(reminder, first, now):
                continue
            again, move = advance(reminder, Event.REALARMED, now, "it goes on, and does harm")
            book.reminders.save(again, [move])
            self.board.owe(reminder.chamber)
            moved = True
        return moved

    # -------------------------------------------------------------- messages

    def tell(
        self,
        book: Book,
        chamber: str,
        found: Mapping[Call, Need],
        now: datetime,
        coming: Mapping[Call, timedelta] = NOTHING_COMING,
    ) -> Spoken:
        """Put what a person has yet to hear about the air in the outbox.

        Findings that share a cause are one message. What was answered a moment ago, what a
        device sees to, and what can't be put right by hand and was said waits.

        Args:
            book: to write in.
            chamber: which.
            found: what its air asks for.
            now: the time.
            coming: what it is about to ask for, and in how long.
        """
        declared = self.house.chambers[chamber]
        deeds = self.board.deeds(chamber)
        asked = _Asked(declared, found, deeds, now, coming, self.graces)
        pressing = asked.pressing()
        waiting = untold([book.reminders.of(chamber, call, "") for call in air_calls(declared)])
        quiet = {r.call: self._quiet_until(r, asked, pressing) for r in waiting}
        ready = {r.call: r for r in waiting if quiet[r.call] is None}
        messages, amounts = 0, dict[Call, Advised]()
        for together in self._joined(asked, pressing):
            fresh = [ready[call] for call in together.calls if call in ready]
            for reminder in fresh:
                book.reminders.save(replace(reminder, told=now), ())
            if fresh:
                # The graver of those that are new; what is done first where they are alike.
                carrier = max(fresh, key=lambda r: (r.priority, r.call is together.lead))
                amounts |= self._speak(book, carrier, together, asked)
                messages += 1
        later = [until for until in quiet.values() if until is not None]
        if later:
            self.board.owe(chamber, min(later))
        else:
            self.board.paid(chamber)
        return Spoken(messages, amounts)

    def _joined(self, asked: _Asked, pressing: Mapping[Call, Need]) -> tuple[Joint, ...]:
        # A block that heats itself has a cause of its own.
        alone = {c for c, need in pressing.items() if wording.of_core(self.house, need.evidence)}
        barred = {call for call in pressing if asked.grace_ends(call) is not None}
        return (*joined(pressing.keys() - alone, barred), *joined(alone))

    def _quiet_until(
        self, reminder: Reminder, asked: _Asked, pressing: Mapping[Call, Need]
    ) -> datetime | None:
        """Return when to look again at what is not said yet; None: it may be said now."""
        now, call = asked.now, reminder.call
        graced = asked.grace_ends(call)
        if graced is not None or call not in pressing:
            return graced or now
        if reminder.priority is Priority.HIGH:
            return None
        waits = [
            self.board.settling(reminder.chamber, now),
            now + LOOK_AGAIN if seen_to(self.house.devices, reminder, now, self.zone) else None,
            asked.joined_by(call),
            self._said_once(reminder, now),
        ]
        return next((until for until in waits if until is not None), None)

    def _said_once(self, reminder: Reminder, now: datetime) -> datetime | None:
        """Return until when it would only nag, since it was said that it can't be put right."""
        said = self.board.advised(reminder.chamber, reminder.call)
        if self.counsel is None or said is None:
            return None
        # What was told in this episode and is to be told again was put off by a person.
        again = reminder.since is not None and said.at >= reminder.since
        if again and not said.after_vent:
            return None
        return self.counsel.quiet_until(reminder.chamber, reminder.call, now)

    def _speak(
        self, book: Book, carrier: Reminder, together: Joint, asked: _Asked
    ) -> Mapping[Call, Advised]:
        """Write the message of what is told together; return the amounts that it names."""
        now, lead = asked.now, together.lead
        vain = self.no_effect(book, asked.chamber, lead, asked.found[lead].evidence, now)
        if vain is not None and not together.followers:
            # What was done changed nothing: look why, before the same is asked for again.
            words, told = vain, NOTHING_TOLD
        else:
            words, told = self._said(carrier, together, asked)
        if vain is not None and together.followers:
            words = replace(words, body=f"{vain.body} {words.body}")
        if carrier.repeats and vain is None:
            words = cause_words.again(words, carrier.since, now, self.zone)
        book.outbox.add(self.rows(carrier, words, carrier.priority, now))
        if Call.DRY_OFF in together.calls:
            return {**told.amounts, Call.DRY_OFF: Advised(now, reachable=False)}
        return told.amounts

    def _said(
        self, carrier: Reminder, together: Joint, asked: _Asked
    ) -> tuple[wording.Message, Told]:
        """Return what is said of what is told together, and the amounts in it."""
        now, chamber, need = asked.now, asked.chamber, asked.found[together.lead]
        then_mist = together.lead is Call.VENT and Call.MIST in together.followers
        spoken = speakers(n.evidence for c, n in asked.found.items() if c in PAIR)
        told = NOTHING_TOLD
        if self.counsel is not None:
            asks = together.lead
            told = self.counsel.told(chamber.name, asks, now, spoken, then_mist=then_mist)
        words = self._worded(carrier, need, then_mist=then_mist, amounts=told.words)
        words = cause_words.joint(words, together, chamber.title)
        open_ = self._opening(asked) if together.lead is Call.MIST else None
        if open_ is not None:
            words, told = cause_words.opened(words, chamber, open_, now), NOTHING_TOLD
        return wording.with_doubt(words, need.evidence, self.board.doubts()), told

    def _worded(
        self, carrier: Reminder, need: Need, *, then_mist: bool, amounts: str
    ) -> wording.Message:
        chamber = self.house.chambers[carrier.chamber]
        if need.call is Call.AIR_ROOM:
            return cause_words.room(self.house, chamber, need.evidence)
        return wording.message(
            self.house,
            chamber,
            need.call,
            need.evidence,
            carrier.priority,
            then_mist=then_mist,
            amounts=amounts,
        )

    def _opening(self, asked: _Asked) -> Opening | None:
        """Return what shows that a chamber stands open, where nobody says he vents it."""
        need, chamber = asked.found[Call.MIST], asked.chamber
        if asked.grace_ends(Call.VENT) is not None or self.counsel is None:
            return None
        humid = self.board.lately((need.evidence.sensor, Quantity.HUMIDITY))
        inlet = self.counsel.inlet_ppm(chamber, asked.now)
        stale = (
            self.board.lately((sensor.name, Quantity.CO2))
            for sensor in self.house.sensors_in(chamber.name)
        )
        seen = (opening(humid, co2, inlet) for co2 in stale)
        return next((each for each in seen if each is not None), None)

    def rows(
        self, reminder: Reminder, words: wording.Message, priority: Priority, now: datetime
    ) -> Sequence[OutRow]:
        """Return the message of a reminder as a row for each address."""
        return [
            to_send(
                address,
                words,
                OutKind.REMINDER,
                now,
                expires=now + EXPIRES_AFTER,
                priority=priority,
                reminder=reminder,
            )
            for address in self.addresses
        ]
