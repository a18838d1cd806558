"""What the page shows of one chamber, beside the drawing: what to do, and the air in words."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from chamberwatch.core.sentence import begun
from chamberwatch.core.watch.action import ANSWERS, Deed
from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.core.watch.reminder import ASKING, TASK_CALLS, Reminder, State
from chamberwatch.service.views import ChamberNow, ReminderNow
from chamberwatch.web import words
from chamberwatch.web.desk import Desk
from chamberwatch.web.figures import Figures
from chamberwatch.web.language import _, marked
from chamberwatch.web.pages.ahead import ahead_lines
from chamberwatch.web.pages.air_words import Derived, derived
from chamberwatch.web.pages.batch_deeds import BatchDeed, deeds
from chamberwatch.web.pages.buttons import LATER, Button, leads_back, once_field
from chamberwatch.web.pages.calm import calm_words
from chamberwatch.web.pages.counsel_words import WhatIf, what_if
from chamberwatch.web.pages.done_words import by_itself, lines
from chamberwatch.web.pages.grows import Grows, grows, stage_words
from chamberwatch.web.pages.holding import Holding, holding
from chamberwatch.web.pages.hung import Beside
from chamberwatch.web.pages.in_words import Told, in_words
from chamberwatch.web.pages.minding import Minded, cautions
from chamberwatch.web.pages.out import Serving, out_words, serving
from chamberwatch.web.pages.scene import Scene, scene
from chamberwatch.web.pages.was_it import Question, answered_yes, questions
from chamberwatch.web.trade_words import deed_name, priority_name

ROUND_TO: Final = 5 * 60

TOMORROW: Final = timedelta(hours=20)
"""What grows can wait for so long; who puts it off at night is asked by day."""

# What is asked for can be seen; what has gone by unseen too.
SEEABLE: Final = frozenset({State.UNACKNOWLEDGED, State.RETURNED})

ONE_TAP: Final = (Deed.MISTED, Deed.VENTED, Deed.REFILLED)


@dataclass(frozen=True, slots=True)
class Asked:
    """One reminder as it is shown.

    `back`: it waits only to be sure that its value is back. `grade` is its priority for the form
    in which it is drawn, `priority` the same in words.
    """

    id: int
    title: str
    body: str
    grade: str
    priority: str
    state: str
    loud: bool
    over: bool
    buttons: tuple[Button, ...]
    deed: BatchDeed | None = None
    serving: Serving | None = None
    back: bool = False

    @property
    def asks(self) -> bool:
        """Tell whether something is to be done."""
        return self.loud and not self.over and not self.back

    @property
    def returning(self) -> bool:
        """Tell whether it is back inside its band and nobody has seen it yet."""
        return self.loud and not self.over and self.back


@dataclass(frozen=True, slots=True)
class Begin:
    """What has to be told first, before the page can show more: where, and in which words."""

    label: str
    address: str


@dataclass(frozen=True, slots=True)
class Sheet:
    """One chamber on the page.

    `first` is what has to be told before more can be shown; `brief` is all of it in one line.
    """

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
    first: Begin | None
    brief: str


def rounded_up(moment: datetime) -> datetime:
    """Return the next full five minutes, so that a button names a time one can keep in mind."""
    over = moment.timestamp() % ROUND_TO
    return moment + timedelta(seconds=(ROUND_TO - over) % ROUND_TO)


def sheet(
    desk: Desk, figures: Figures, shown: ChamberNow, around: ChamberNow | None, whole: bool
) -> Sheet:
    """Put together what the page shows of a chamber.

    Args:
        desk: for the clock, the zone and the reminders that are over.
        figures: how values are written.
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
    asking = [each for each in asked if each.asks]
    lead = asking or any(each.returning for each in asked)
    calm = "" if lead else calm_words(desk, shown, now)
    beside = _beside(desk, figures, chamber, now)
    back = leads_back(chamber.name, whole=whole)
    return Sheet(
        name=chamber.name,
        title=chamber.title,
        room=chamber.stage is None,
        stage=stage_words(chamber),
        as_of=words.moment(shown.time, now, desk.zone) if shown.time else "",
        scene=scene(shown, around, beside),
        asked=asked,
        due=_due(desk, of_growing, chamber.name, whole=whole),
        cautions=cautions(desk, chamber.name, whole=whole) if chamber.stage else (),
        calm=calm,
        summary=_(
            "%(chamber)s: %(loud)s to do: %(asked)s",
            chamber=chamber.title,
            loud=len(asking),
            asked=asking[0].title,
        )
        if asking
        else "",
        derived=derived(shown, figures),
        old=words.span(now - shown.time) if shown.stale and shown.time else "",
        told=in_words(shown, beside),
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
        grows=grows(
            chamber, desk.growing.record.batches() if desk.growing else {}, now, desk.zone
        ),
        devices=by_itself(shown.devices),
        hold=holding(desk, shown),
        ahead=ahead_lines(desk, shown),
        what_if=() if asking or shown.stale else what_if(shown.counsel),
        first=_first(shown, beside, told=desk.growing is not None),
        brief=_brief(chamber.title, asked, calm),
    )


def _beside(desk: Desk, figures: Figures, chamber: Chamber, now: datetime) -> Beside:
    strips = desk.strips.of(chamber.name) if desk.strips is not None else {}
    if desk.growing is None:
        return Beside(figures, now, strips)
    here = tuple(
        batch
        for batch in desk.growing.record.batches().values()
        if batch.chamber == chamber.name and batch.ended is None
    )
    kinds = {batch.start.species for batch in here}
    titles = {name: desk.growing.table.known(name).title for name in kinds}
    return Beside(figures, now, strips, here, titles)


def _first(shown: ChamberNow, beside: Beside, *, told: bool) -> Begin | None:
    """Return what is told first of a chamber: its sensors, then what grows in it."""
    if not shown.sensors:
        return Begin(_("Say which sensor hangs here"), "/set-up/sensors")
    if all(heard.heard_ago is None for heard in shown.sensors):
        return Begin(_("See what is heard"), "/set-up/sensors")
    if told and shown.chamber.stage is not None and not beside.batches:
        return Begin(_("Tell what grows here"), "/growing/start")
    return None


def _brief(title: str, asked: Sequence[Asked], calm: str) -> str:
    """Say in one line what is asked of a chamber, or that nothing is."""
    loud = [each.title for each in asked if each.asks]
    back = [each.title for each in asked if each.returning]
    more = _(" and %(loud)s more", loud=len(loud) - 1) if len(loud) > 1 else ""
    if loud:
        return f"{loud[0]}{more}"
    if back:
        return back[0]
    said = calm.split(". ")[0].split(": ")[0].rstrip(".")
    return f"{title}: {said[0].lower()}{said[1:]}"


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
        label=begun(deed_name(deed)),
        says=_("%(deed)s now, in %(chamber)s", deed=deed_name(deed), chamber=chamber),
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
        grade=reminder.priority.word,
        priority=priority_name(reminder.priority),
        state=_state_words(reminder, now, desk.zone),
        loud=reminder.state in SEEABLE,
        over=not reminder.active,
        buttons=tuple(_answers(shown, now, desk.zone, whole=whole)),
        serving=serving(reminder, shown.title, whole=whole) if desk.serving is not None else None,
        back=shown.closing,
    )


_STATE_WORDS: Final[dict[State, str]] = {
    State.SHELVED: marked("put off"),
    State.ACKNOWLEDGED: marked("seen, goes on"),
    State.RETURNED: marked("over by itself; nobody has seen it yet"),
}


def _state_words(reminder: Reminder, now: datetime, zone: ZoneInfo) -> str:
    if reminder.state is State.SHELVED and reminder.shelved_until:
        return _(
            "not before %(when)s",
            when=words.moment(reminder.shelved_until, now, zone),
        )
    if reminder.state is State.OUT_OF_SERVICE:
        return out_words(reminder, now, zone)
    if reminder.state in _STATE_WORDS:
        return _(_STATE_WORDS[reminder.state])
    return (
        _("since %(since)s", since=words.moment(reminder.since, now, zone))
        if reminder.since
        else ""
    )


def _answers(shown: ReminderNow, now: datetime, zone: ZoneInfo, *, whole: bool) -> list[Button]:
    reminder = shown.reminder
    back, which = leads_back(reminder.chamber, whole=whole), ("number", str(reminder.id))
    buttons = []
    if reminder.active and reminder.state in ASKING:
        buttons += [
            _deed(reminder.chamber, deed, back, f"r{reminder.id}", main=not shown.closing)
            for deed, calls in ANSWERS.items()
            if reminder.call in calls
        ]
    title = shown.title
    if reminder.state in SEEABLE:
        fields = (which, ("episode", str(reminder.episode)), back, once_field())
        seen = Button(
            f"r{reminder.id}-seen",
            _("Seen"),
            _("seen: %(title)s", title=title),
            "/seen",
            fields,
            main=False,
        )
        buttons.insert(0 if shown.closing else len(buttons), seen)
    if reminder.state in ASKING:
        until = rounded_up(now + (TOMORROW if reminder.call in TASK_CALLS else LATER))
        label = _("Not before %(until)s", until=words.moment(until, now, zone))
        fields = (which, ("until", until.isoformat()), back, once_field())
        buttons.append(
            Button(
                f"r{reminder.id}-later", label, f"{label}: {title}", "/later", fields, main=False
            )
        )
    return buttons
