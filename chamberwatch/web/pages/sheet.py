"""What the page shows of one chamber, beside the drawing: what to do, and the air in words."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from chamberwatch.core.sentence import begun
from chamberwatch.core.watch.action import ANSWERS, Deed
from chamberwatch.core.watch.judgement import Judgement, Standing
from chamberwatch.core.watch.reminder import ASKING, TASK_CALLS, Reminder, State
from chamberwatch.service.views import ChamberNow, ReminderNow
from chamberwatch.web.desk import Desk
from chamberwatch.web.pages import words
from chamberwatch.web.pages.ahead import ahead_lines
from chamberwatch.web.pages.air_words import Derived, derived, reading_spread
from chamberwatch.web.pages.batch_deeds import BatchDeed, deeds
from chamberwatch.web.pages.buttons import LATER, Button, leads_back, once_field
from chamberwatch.web.pages.counsel_words import WhatIf, what_if
from chamberwatch.web.pages.done_words import by_itself, lines
from chamberwatch.web.pages.grows import EMPTY, Grows, grows, stage_words
from chamberwatch.web.pages.holding import Holding, holding
from chamberwatch.web.pages.minding import Minded, cautions
from chamberwatch.web.pages.out import Serving, out_words, serving
from chamberwatch.web.pages.scene import Scene, doubt_words, heard_words, is_old, scene
from chamberwatch.web.pages.was_it import Question, answered_yes, questions

ROUND_TO: Final = 5 * 60

TOMORROW: Final = timedelta(hours=20)
"""What grows can wait for so long; who puts it off at night is asked by day."""

# What is asked for can be seen; what has gone by unseen too.
SEEABLE: Final = frozenset({State.UNACKNOWLEDGED, State.RETURNED})
LOUD: Final = SEEABLE

ONE_TAP: Final = (Deed.MISTED, Deed.VENTED, Deed.REFILLED)


@dataclass(frozen=True, slots=True)
class Asked:
    """One reminder as it is shown."""

    id: int
    title: str
    body: str
    priority: str
    state: str
    loud: bool
    over: bool
    buttons: tuple[Button, ...]
    deed: BatchDeed | None = None
    serving: Serving | None = None


@dataclass(frozen=True, slots=True)
class Told:
    """A row of the table that says the drawing in words; `spread` is the ± of its value."""

    where: str
    what: str
    value: str
    standing: str
    band: str
    out: bool
    old: bool
    spread: str = ""


@dataclass(frozen=True, slots=True)
class Sheet:
    """One chamber on the page."""

    name: str
    title: str
    room: bool
    stage: str
    as_of: str
    scene: Scene
    asked: tuple[Asked, ...]
    due: tuple[Asked, ...]
    cautions: tuple[Minded, ...]
    calm: str
    summary: str
    derived: tuple[Derived, ...]
    old: str
    told: tuple[Told, ...]
    sources: tuple[str, ...]
    deeds: tuple[Button, ...]
    done: tuple[str, ...]
    questions: tuple[Question, ...]
    grows: Grows | None
    devices: tuple[str, ...]
    hold: Holding | None
    ahead: tuple[str, ...]
    what_if: tuple[WhatIf, ...]


def rounded_up(moment: datetime) -> datetime:
    """Return the next full five minutes, so that a button names a time one can keep in mind."""
    over = moment.timestamp() % ROUND_TO
    return moment + timedelta(seconds=(ROUND_TO - over) % ROUND_TO)


def sheet(desk: Desk, shown: ChamberNow, around: ChamberNow | None, whole: bool) -> Sheet:
    """Put together what the page shows of a chamber.

    Args:
        desk: for the clock, the zone and the reminders that are over.
        shown: the chamber.
        around: the room it stands in; its reminders are shown here too.
        whole: the page shows all chambers, and answers lead back to it.
    """
    now, chamber = desk.clock.now(), shown.chamber
    of_growing = [each for each in shown.reminders if each.reminder.call in TASK_CALLS]
    of_air = tuple(each for each in shown.reminders if each not in of_growing)
    shown = replace(shown, reminders=of_air)
    shows = (*of_air, *(around.reminders if around else ()))
    asked = tuple(_asked(each, desk, whole=whole) for each in shows)
    loud = sum(each.loud and not each.over for each in asked)
    calm = "" if any(each.loud for each in asked) else _calm(desk, shown, now)
    back = leads_back(chamber.name, whole=whole)
    return Sheet(
        name=chamber.name,
        title=chamber.title,
        room=chamber.stage is None,
        stage=stage_words(chamber),
        as_of=words.moment(shown.time, now, desk.zone) if shown.time else "",
        scene=scene(shown, around, now),
        asked=asked,
        due=_due(desk, of_growing, chamber.name, whole=whole),
        cautions=cautions(desk, chamber.name, whole=whole) if chamber.stage else (),
        calm=calm,
        summary=f"{chamber.title}: {loud} to do: {asked[0].title}" if loud else "",
        derived=derived(shown),
        old=words.span(now - shown.time) if shown.stale and shown.time else "",
        told=_told(shown, now),
        sources=tuple(sorted({j.band.source for j in shown.judgements if j.band.source})),
        deeds=tuple(_deed(chamber.name, deed, back, "did", main=False) for deed in ONE_TAP),
        done=lines(
            shown.actions,
            answered_yes(desk, chamber.name) if chamber.stage else (),
            now,
            desk.zone,
            shown.effects,
        ),
        questions=questions(desk, chamber.name, whole=whole) if chamber.stage else (),
        grows=grows(chamber, desk.growing.record.batches() if desk.growing else {}, now),
        devices=by_itself(shown.devices),
        hold=holding(desk, shown),
        ahead=ahead_lines(desk, shown),
        what_if=() if loud or shown.stale else what_if(shown.counsel),
    )


def _due(
    desk: Desk, shows: Sequence[ReminderNow], chamber: str, *, whole: bool
) -> tuple[Asked, ...]:
    forms = deeds(desk, chamber, whole=whole) if shows else {}
    return tuple(
        replace(_asked(each, desk, whole=whole), deed=forms.get(each.reminder.subject))
        for each in shows
    )


def _deed(chamber: str, deed: Deed, back: tuple[str, str], prefix: str, *, main: bool) -> Button:
    return Button(
        id=f"{prefix}-{chamber}-{deed.value}",
        label=deed.value.capitalize(),
        says=f"{deed.value} now, in {chamber}",
        target="/did",
        fields=(("chamber", chamber), ("kind", deed.value), back, once_field()),
        main=main,
    )


def _asked(shown: ReminderNow, desk: Desk, *, whole: bool) -> Asked:
    reminder, now = shown.reminder, desk.clock.now()
    return Asked(
        id=reminder.id,
        title=shown.title,
        body=shown.body,
        priority=reminder.priority.word,
        state=_state_words(reminder, now, desk.zone),
        loud=reminder.state in LOUD,
        over=not reminder.active,
        buttons=tuple(_answers(reminder, now, desk.zone, whole=whole)),
        serving=serving(reminder, shown.title, whole=whole) if desk.serving is not None else None,
    )


_STATE_WORDS: Final[dict[State, str]] = {
    State.SHELVED: "put off",
    State.ACKNOWLEDGED: "seen, goes on",
    State.RETURNED: "over by itself; nobody has seen it yet",
}


def _state_words(reminder: Reminder, now: datetime, zone: ZoneInfo) -> str:
    if reminder.state is State.SHELVED and reminder.shelved_until:
        return f"not before {words.moment(reminder.shelved_until, now, zone)}"
    if reminder.state is State.OUT_OF_SERVICE:
        return out_words(reminder, now, zone)
    if reminder.state in _STATE_WORDS:
        return _STATE_WORDS[reminder.state]
    return f"since {words.moment(reminder.since, now, zone)}" if reminder.since else ""


def _answers(reminder: Reminder, now: datetime, zone: ZoneInfo, *, whole: bool) -> list[Button]:
    back, which = leads_back(reminder.chamber, whole=whole), ("number", str(reminder.id))
    buttons = []
    if reminder.active and reminder.state in ASKING:
        buttons += [
            _deed(reminder.chamber, deed, back, f"r{reminder.id}", main=True)
            for deed, calls in ANSWERS.items()
            if reminder.call in calls
        ]
    title = f"{reminder.call}, {reminder.chamber}"
    if reminder.state in SEEABLE:
        fields = (which, ("episode", str(reminder.episode)), back, once_field())
        buttons.append(
            Button(f"r{reminder.id}-seen", "Seen", f"seen: {title}", "/seen", fields, main=False)
        )
    if reminder.state in ASKING:
        until = rounded_up(now + (TOMORROW if reminder.call in TASK_CALLS else LATER))
        label = f"Not before {words.moment(until, now, zone)}"
        fields = (which, ("until", until.isoformat()), back, once_field())
        buttons.append(
            Button(
                f"r{reminder.id}-later", label, f"{label}: {title}", "/later", fields, main=False
            )
        )
    return buttons


def _calm(desk: Desk, shown: ChamberNow, now: datetime) -> str:
    """Say why there is nothing to do, without claiming more than is known."""
    if not shown.sensors:
        return "No sensor is set up here. Name one in the settings file under this chamber."
    heard = {each.sensor.name: each for each in shown.sensors}
    if all(each.heard_ago is None for each in shown.sensors):
        return (
            "Nothing heard yet. Once the first message of a sensor arrives, its values appear in "
            "the drawing. If none comes, look at its power and at the topic it sends to."
        )
    fresh = [
        judgement
        for judgement in shown.judgements
        if not is_old(judgement.reading, heard[judgement.reading.sensor], now)
    ]
    if shown.stale or len(fresh) < len(shown.judgements):
        return (
            "Nothing is asked, but not all values are fresh: look at the sensors that are silent."
        )
    return _calm_when_fresh(desk, shown, fresh, now)


def _calm_when_fresh(
    desk: Desk, shown: ChamberNow, fresh: Sequence[Judgement], now: datetime
) -> str:
    if not fresh:
        following = shown.chamber.following
        why = "Nothing here has a band, so nothing is judged."
        return f"Nothing to do. {EMPTY if following and not following.grown else why}"
    out = [judgement for judgement in fresh if judgement.standing is not Standing.WITHIN]
    if out or shown.reminders:
        what = " and ".join(sorted({words.NAMES[each.reading.quantity] for each in out}))
        lately = f" {begun(what)} is outside the band; " if what else " "
        tail = "you will be told if it stays so." if what else "What is known stands below."
        return f"Nothing new to do.{lately}{tail}"
    since = _calm_since(desk, shown.chamber.name)
    when = f" since {words.moment(since, now, desk.zone)}" if since else ""
    return f"Nothing to do. All inside the band{when}."


def _calm_since(desk: Desk, chamber: str) -> datetime | None:
    over = desk.history.reminders(frozenset({State.NORMAL}))
    moved = [
        each.reminder.moved
        for each in over
        if each.reminder.chamber == chamber and each.reminder.moved is not None
    ]
    return max(moved, default=None)


def _told(shown: ChamberNow, now: datetime) -> tuple[Told, ...]:
    judged = {(j.reading.sensor, j.reading.quantity): j for j in shown.judgements}
    rows = []
    for heard in shown.sensors:
        where = f"{heard.sensor.where()} ({heard.sensor.name})"
        if not heard.readings:
            rows.append(Told(where, "", "", heard_words(heard), "", out=False, old=True))
        doubt = doubt_words(heard)
        if doubt:
            rows.append(Told(where, "", "", f"? {doubt}", "", out=False, old=False))
        for quantity, reading in heard.readings.items():
            old = is_old(reading, heard, now)
            judgement = judged.get((reading.sensor, quantity))
            out = judgement is not None and judgement.standing is not Standing.WITHIN
            standing = words.standing(judgement) if judgement else "no band"
            rows.append(
                Told(
                    where=where,
                    what=words.NAMES[quantity],
                    value=words.amount(
                        quantity, reading.value, words.finer_for(judgement) if judgement else 0
                    ),
                    standing=f"{words.span(now - reading.time)} old" if old else standing,
                    band=words.band_words(judgement) if judgement else "",
                    out=out and not old,
                    old=old,
                    spread="" if old else reading_spread(heard.sensor, quantity, reading.value),
                )
            )
    return tuple(rows)
