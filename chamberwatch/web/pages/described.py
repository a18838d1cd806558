"""What the drawing shows, in words, for those who don't see it."""

from collections.abc import Iterable, Iterator

from chamberwatch.service.views import ChamberNow, SensorNow
from chamberwatch.web import words
from chamberwatch.web.language import _, ngettext
from chamberwatch.web.pages.hung import (
    Beside,
    Judged,
    course_words,
    doubt_words,
    heard_words,
    in_order,
    is_old,
    judged_of,
)
from chamberwatch.web.pages.walls import walls


def describe(shown: ChamberNow, beside: Beside, stands: Iterable[str] = ()) -> str:
    """Say in words what the drawing shows.

    Args:
        shown: the chamber.
        beside: what is drawn beside its values.
        stands: a phrase for each batch: where it stands and what it is.
    """
    judged = judged_of(shown)
    said = [part for heard in shown.sensors for part in _values(heard, judged, beside)]
    said += [
        _("sensor %(sensor)s %(stands)s", sensor=heard.sensor.name, stands=heard_words(heard))
        for heard in shown.sensors
        if heard.silent or heard.heard_ago is None
    ]
    said += [
        _("sensor %(sensor)s %(stands)s", sensor=heard.sensor.name, stands=doubt_words(heard))
        for heard in shown.sensors
        if doubt_words(heard)
    ]
    wet = walls(shown.margin, 0.0, 0.0)
    parts = [
        f"{'; '.join(said) or _('No sensor was heard yet')}.",
        f"{'; '.join(stands)}.",
        f"{wet.word}." if wet else ".",
    ]
    sentences = " ".join(part[0].upper() + part[1:] for part in parts if part != ".")
    shelves = len(shown.chamber.shelves)
    has = ngettext(" with %(num)s shelf", " with %(num)s shelves", shelves) if shelves else ""
    begin = f"{shown.chamber.title}{has}."
    return f"{begin} {sentences}".replace(words.GAP, " ")


def _values(heard: SensorNow, judged: Judged, beside: Beside) -> Iterator[str]:
    for quantity, reading in in_order(heard):
        judgement = judged.get((reading.sensor, quantity))
        if judgement is None:
            continue
        value = beside.figures.amount(quantity, reading.value, words.finer_for(judgement))
        if is_old(reading, heard, beside.now):
            stands = _("%(age)s old", age=words.span(beside.now - reading.time))
        else:
            stands = beside.figures.said(words.standing(judgement))
        goes = course_words(heard, reading, beside)
        tail = f", {goes}" if goes else ""
        yield _(
            "%(quantity)s at %(where)s %(value)s, %(stands)s%(tail)s",
            quantity=words.named(quantity),
            where=judgement.where,
            value=value,
            stands=stands,
            tail=tail,
        )
