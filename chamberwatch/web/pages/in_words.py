"""The drawing as a table: each value with its ±, where it stands, and its band."""

from dataclasses import dataclass

from chamberwatch.core.watch.judgement import Judgement, Standing
from chamberwatch.core.watch.reading import Reading
from chamberwatch.service.views import ChamberNow, SensorNow
from chamberwatch.web import words
from chamberwatch.web.language import _
from chamberwatch.web.pages.air_words import reading_spread
from chamberwatch.web.pages.hung import (
    Beside,
    course_words,
    doubt_words,
    heard_words,
    is_old,
    judged_of,
)
from chamberwatch.web.trade_words import where


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


def in_words(shown: ChamberNow, beside: Beside) -> tuple[Told, ...]:
    """Return a row for each value, and one for each sensor that is not to be believed or heard."""
    judged = judged_of(shown)
    rows = []
    for heard in shown.sensors:
        hangs = f"{where(heard.sensor)} ({heard.sensor.name})"
        if not heard.readings:
            rows.append(Told(hangs, "", "", heard_words(heard), "", out=False, old=True))
        doubt = doubt_words(heard)
        if doubt:
            rows.append(Told(hangs, "", "", f"? {doubt}", "", out=False, old=False))
        rows += [
            _row(hangs, heard, reading, judged.get((reading.sensor, quantity)), beside)
            for quantity, reading in heard.readings.items()
        ]
    return tuple(rows)


def _row(
    hangs: str, heard: SensorNow, reading: Reading, judgement: Judgement | None, beside: Beside
) -> Told:
    quantity, figures = reading.quantity, beside.figures
    old = is_old(reading, heard, beside.now)
    out = judgement is not None and judgement.standing is not Standing.WITHIN
    finer = words.finer_for(judgement) if judgement else 0
    goes = course_words(heard, reading, beside)
    standing = words.standing(judgement) if judgement else _("no band")
    spread = reading_spread(heard.sensor, quantity, reading.value, figures)
    return Told(
        where=hangs,
        what=words.named(quantity),
        value=figures.amount(quantity, reading.value, finer),
        standing=_("%(age)s old", age=words.span(beside.now - reading.time))
        if old
        else f"{standing}, {goes}"
        if goes
        else standing,
        band=words.band_words(judgement) if judgement else "",
        out=out and not old,
        old=old,
        spread="" if old else spread,
    )
