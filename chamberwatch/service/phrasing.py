"""The reminders of a chamber in the words of this moment, in the order to see to them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import tzinfo
from typing import Final

from chamberwatch.core import cause_words, over_words, wording
from chamberwatch.core.day_words import together
from chamberwatch.core.watch.advice import evidence_of, judged
from chamberwatch.core.watch.chamber import Chamber, House
from chamberwatch.core.watch.doubt import Doubted
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.core.watch.reminder import TASK_CALLS, Call, Evidence, Reminder
from chamberwatch.core.watch.wetness import SUBJECT as SURFACES
from chamberwatch.core.wording import Message
from chamberwatch.service.board import Board, Series
from chamberwatch.service.condensing import coldest
from chamberwatch.service.counselling import (
    NOTHING_TOLD,
    OLD_AFTER,
    Counselling,
    Told,
    speakers,
)
from chamberwatch.service.growing.duties import Duties, TaskNow
from chamberwatch.service.ports import Clock
from chamberwatch.service.refilling import words_of
from chamberwatch.service.responding import Responding
from chamberwatch.service.views import ReminderNow

DONE: Final = ("Done, or no longer due", "Nothing is left to do here; it closes by itself.")
"""What is said of a task that was put off and has been done since."""

VENT_THEN_MIST: Final = frozenset({Call.VENT, Call.MIST})


@dataclass(frozen=True, slots=True)
class _Asked:
    """What the live reminders of a chamber ask for together.

    Attributes:
        both: to vent and to mist.
        spoken: which sensor speaks for each quantity.
        tasks: what can be done of what grows, by its key.
    """

    both: bool
    spoken: Mapping[Quantity, str]
    tasks: Mapping[str, TaskNow]


@dataclass(frozen=True, slots=True)
class Phrasing:
    """Words reminders with what was heard last; changes nothing.

    Attributes:
        house: what the grower declared.
        board: what was last heard.
        clock: tells the time.
        zone: for times of day.
        counsel: reckons amounts; None: the words carry none.
        duties: what can be done of what grows; None: nothing is recorded.
        responding: knows which deeds had no effect; None: nobody judges them.
    """

    house: House
    board: Board
    clock: Clock
    zone: tzinfo
    counsel: Counselling | None = None
    duties: Duties | None = None
    responding: Responding | None = None

    def gravest_first(
        self, reminders: Sequence[Reminder], newest: Mapping[Series, Reading]
    ) -> tuple[ReminderNow, ...]:
        """Return the reminders of one chamber with their words, in the order to see to them.

        What closes by itself comes late and what is over last; dry and stale air is vented before
        it is misted.
        """
        trends = self.board.trends({r.evidence.sensor for r in reminders if r.evidence})
        live = [r for r in reminders if r.active and r.evidence]
        spoken = speakers(
            r.evidence for r in live if r.evidence and r.call in (Call.MIST, Call.VENT)
        )
        pressing = [
            r
            for r in live
            if r.evidence and not wording.inside(self._fresh(r.evidence, newest, trends))
        ]
        both = {r.call for r in pressing} >= VENT_THEN_MIST
        # However much graver the dryness is: fresh air would carry the mist off.
        graver = max((r.priority for r in pressing if r.call in VENT_THEN_MIST), default=None)

        def rank(r: Reminder) -> tuple[bool, bool, int, bool, int]:
            first = both and r.active and r.call is Call.VENT
            grave = graver if first and graver else r.priority
            closing = r in live and r not in pressing
            return not r.active, closing, -grave, not first, r.id

        of_tasks = any(r.call in TASK_CALLS for r in reminders)
        tasks = self.duties.tasks() if self.duties is not None and of_tasks else ()
        asked = _Asked(both, spoken, {shown.task.key: shown for shown in tasks})
        ordered = sorted(reminders, key=rank)
        return tuple(self._worded(r, newest, trends, asked) for r in ordered)

    def closing(self, reminder: Reminder) -> bool:
        """Tell whether a reminder only waits to be sure that its value is back inside its band."""
        evidence = reminder.evidence
        if evidence is None or not reminder.active:
            return False
        return wording.inside(self._fresh(evidence, self.board.newest(), {}))

    def _worded(
        self,
        reminder: Reminder,
        newest: Mapping[Series, Reading],
        trends: Mapping[Series, float],
        asked: _Asked,
    ) -> ReminderNow:
        if reminder.call in TASK_CALLS:
            return ReminderNow(reminder, *_of_growing(reminder, asked.tasks))
        if reminder.call is Call.CHECK_ALL:
            words = self._of_everything(reminder)
            return ReminderNow(reminder, words.title, words.body)
        amounts: frozenset[Call] = frozenset()
        chamber = self.house.chambers.get(reminder.chamber)
        if chamber is None or reminder.evidence is None:
            return ReminderNow(reminder, f"{reminder.chamber}: {reminder.call}", "")
        if reminder.call is Call.CHECK_SENSOR:
            words = self._of_sensor(chamber, reminder, reminder.evidence)
        elif reminder.call is Call.DRY_OFF and reminder.subject == SURFACES:
            words = self._of_surfaces(chamber, reminder.evidence, active=reminder.active)
        elif reminder.call is Call.AIR_ROOM:
            fresh = self._fresh(reminder.evidence, newest, trends)
            room = cause_words.room if reminder.active else cause_words.room_over
            words = room(self.house, chamber, fresh)
        elif reminder.call is Call.REFILL:
            words = words_of(chamber, reminder.evidence, active=reminder.active)
        else:
            fresh = self._fresh(reminder.evidence, newest, trends)
            words, amounts = self._of_air(chamber, reminder, (reminder.evidence, fresh), asked)
        return ReminderNow(reminder, words.title, words.body, self.closing(reminder), amounts)

    def _of_air(
        self,
        chamber: Chamber,
        reminder: Reminder,
        said: tuple[Evidence, Evidence],
        asked: _Asked,
    ) -> tuple[wording.Message, frozenset[Call]]:
        """Write a reminder about the air; tell of which deeds it says how much.

        Args:
            chamber: which.
            reminder: which.
            said: the reading that spoke for it, and the newest one of that sensor.
            asked: what the live reminders ask for together.
        """
        was, fresh = said
        if not reminder.active:
            since = was.since or reminder.since
            when = wording.clock_words(since, self.clock.now(), self.zone) if since else ""
            return over_words.over(self.house, chamber, reminder.call, said, when), frozenset()
        then_mist = asked.both and reminder.call is Call.VENT
        vain = self._in_vain(chamber, reminder.call, fresh)
        if vain is not None and not asked.both:
            return vain, frozenset()
        told = NOTHING_TOLD
        if asked.both and reminder.call is Call.MIST:
            words = wording.mist_after(chamber)
        else:
            told = self._amounts(reminder, fresh, asked.spoken, then_mist=then_mist)
            words = wording.message(
                self.house,
                chamber,
                reminder.call,
                fresh,
                reminder.priority,
                then_mist=then_mist,
                amounts=told.words,
            )
            words = replace(words, body=f"{vain.body} {words.body}") if vain else words
        words = wording.with_doubt(words, fresh, self.board.doubts())
        return words, frozenset(told.amounts)

    def _in_vain(self, chamber: Chamber, call: Call, fresh: Evidence) -> Message | None:
        """Return what is said where what was done had no effect."""
        if self.responding is None or wording.inside(fresh):
            return None
        return self.responding.no_effect_words(chamber, call, fresh, self.clock.now())

    def _amounts(
        self,
        reminder: Reminder,
        fresh: Evidence,
        spoken: Mapping[Quantity, str],
        *,
        then_mist: bool,
    ) -> Told:
        if self.counsel is None or wording.inside(fresh):
            return NOTHING_TOLD
        now = self.clock.now()
        return self.counsel.told(reminder.chamber, reminder.call, now, spoken, then_mist=then_mist)

    def _of_sensor(
        self, chamber: Chamber, reminder: Reminder, evidence: Evidence
    ) -> wording.Message:
        sensor, now = reminder.subject, self.clock.now()
        if not reminder.active and evidence.quantity is None:
            return over_words.heard_again(chamber, sensor, evidence.since, now, self.zone)
        doubt = self.board.doubts().get(sensor)
        if doubt is not None and doubt.kind is not Doubted.SILENT:
            return wording.doubt(chamber, doubt)
        if evidence.quantity is not None:
            return wording.believed(chamber, evidence, now, self.zone)
        return wording.silence(chamber, sensor, evidence.since, now, self.zone)

    def _of_everything(self, reminder: Reminder) -> wording.Message:
        since = reminder.evidence.since if reminder.evidence is not None else None
        said = cause_words.everything_silent if reminder.active else cause_words.everything_heard
        return said(since, self.clock.now(), self.zone)

    def _of_surfaces(
        self, chamber: Chamber, evidence: Evidence, *, active: bool
    ) -> wording.Message:
        now = self.clock.now()
        if not active:
            return wording.dried(chamber, evidence.since, now, self.zone)
        margin = coldest(self.house, self.board, chamber.name, now, OLD_AFTER)
        return wording.wet_surfaces(chamber, evidence.since, margin, now, self.zone)

    def _fresh(
        self,
        evidence: Evidence,
        newest: Mapping[Series, Reading],
        trends: Mapping[Series, float],
    ) -> Evidence:
        """Return the evidence with the value of this moment."""
        sensor = self.house.sensors.get(evidence.sensor)
        if sensor is None or evidence.quantity is None:
            return evidence
        reading = newest.get((evidence.sensor, evidence.quantity))
        judgement = judged(self.house, sensor, reading) if reading is not None else None
        return evidence if judgement is None else evidence_of(judgement, trends)


def _of_growing(reminder: Reminder, tasks: Mapping[str, TaskNow]) -> tuple[str, str]:
    """Return title and body of a task, or of today's list of all of them."""
    asked = list(tasks.values()) if reminder.call is Call.TODAY else []
    if reminder.subject in tasks:
        asked = [tasks[reminder.subject]]
    if not asked:
        return DONE
    said = together([Message(shown.title, shown.body) for shown in asked])
    return said.title, said.body
