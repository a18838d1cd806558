"""Checking a sensor, guided: what is needed, how long to wait, and what it comes to."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Annotated, Final
from urllib.parse import quote

from fastapi import APIRouter, Form, Query, Request, Response
from fastapi.responses import RedirectResponse

from chamberwatch.core.air.calibration import NAMES as SALT_NAMES
from chamberwatch.core.air.calibration import Salt, salts_at
from chamberwatch.core.errors import RefusedError
from chamberwatch.core.watch.calibrated import Calibration
from chamberwatch.core.watch.checked import ByHand, Finding, found, quantity_of, signed
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.settled import MOVES, Rest, Settled
from chamberwatch.service.calibrating import SensorCalibrations, Told
from chamberwatch.service.guided import Begun
from chamberwatch.web import words
from chamberwatch.web.desk import Desk, calibrating_of, desk_of, guided_of
from chamberwatch.web.figures import Figures, figures_of
from chamberwatch.web.language import _, marked
from chamberwatch.web.once import first_time
from chamberwatch.web.pages.buttons import mark
from chamberwatch.web.pages.check_forms import (
    HAND,
    KINDS,
    TWO,
    CheckIn,
    Kind,
    check_of,
    salt_reading,
)
from chamberwatch.web.pages.said import VIA
from chamberwatch.web.rendering import NOT_VALID, page

router = APIRouter(include_in_schema=False)

USUAL_C: Final = 20.0

SAID: Final[Mapping[str, str]] = {
    "recorded": marked(
        "Recorded. Readings from now on are corrected; what was done stands below."
    ),
    "begun": marked("Begun. Leave it to itself, and come back when the time is over."),
    "first": marked("The first salt is kept. Now the second: clean the jar, and wait again."),
    "ended": marked("The check was stopped; nothing was changed."),
    "withdrawn": marked("Withdrawn. From now on it counts as it is sent."),
    "twice": marked("That was sent before; nothing was done twice."),
}


@dataclass(frozen=True, slots=True)
class Now:
    """What a sensor sends in one quantity.

    Attributes:
        name: of the quantity.
        raw: as sent.
        counts: as it counts; empty where that is the same.
        age: how long ago.
        old: longer than the sensor may be silent: it says nothing of now.
        rest: whether it has come to rest, in words; empty where nobody can tell.
        drifts: it has not.
    """

    name: str
    raw: str
    counts: str
    age: str
    old: bool
    rest: str
    drifts: bool


@dataclass(frozen=True, slots=True)
class Past:
    """A check that was recorded."""

    when: str
    words: str
    who: str
    how: str


@dataclass(frozen=True, slots=True)
class Waiting:
    """How long a check has been under way; `early`: not long enough."""

    since: str
    words: str
    early: bool


@dataclass(frozen=True, slots=True)
class Said:
    """What is said on top of the form, and what stands in it."""

    wrong: str = ""
    finding: Finding | None = None
    change: str = ""
    typed: Mapping[str, str] = field(default_factory=dict)


def _titles(desk: Desk) -> Mapping[str, str]:
    return {chamber.name: chamber.title for chamber in desk.history.chambers()}


@router.get("/set-up/check")
def sensors(request: Request) -> Response:
    """Let a sensor be chosen."""
    desk, figures, calibrating = desk_of(request), figures_of(request), calibrating_of(request)
    names = [heard.sensor.name for c in desk.history.chambers()
             for heard in desk.history.now(c.name).sensors]  # fmt: skip
    titles = _titles(desk)
    rows = []
    for name in names:
        known = calibrating.of(name)
        newest = known.calibrations[0] if known.calibrations else None
        last = _day(newest.at, figures) if newest else _("never checked here")
        place = titles.get(known.sensor.chamber, known.sensor.chamber)
        rows.append((name, place, last, bool(guided_of(request).begun(name))))
    return page("checks.html", title=_("Check a sensor"), rows=rows)


@router.get("/set-up/check/{sensor}")
def check(
    request: Request,
    sensor: str,
    said: Annotated[str, Query(max_length=20)] = "",
) -> Response:
    """Show a sensor, the check under way, and those that were recorded."""
    return _shown(request, sensor, Said(), _(SAID.get(said, "")))


@router.post("/set-up/check/{sensor}")
def checked(request: Request, sensor: str, told: Annotated[CheckIn, Form()]) -> Response:
    """Begin a check, go on with it, look what it comes to, record it, or stop."""
    try:
        return _done(request, sensor, told)
    except RefusedError as exc:
        return _shown(request, sensor, Said(wrong=str(exc), typed=told.model_dump()))


def _done(request: Request, sensor: str, told: CheckIn) -> Response:
    desk, guided, figures = desk_of(request), guided_of(request), figures_of(request)
    if told.do == "preview":
        return _previewed(request, sensor, told)
    doing: Mapping[str, tuple[str, Callable[[], object]]] = {
        "begin": ("begun", lambda: guided.begin(sensor, _kind(told.kind).name)),
        "end": ("ended", lambda: guided.end(sensor)),
        "first": ("first", lambda: guided.begin(sensor, TWO, salt_reading(told, figures))),
        "record": ("recorded", lambda: _record(request, sensor, told)),
        "withdraw": ("withdrawn", lambda: _withdraw(request, sensor, told)),
    }
    if told.do not in doing:
        raise RefusedError(_("That can't be done here. Use one of the buttons."))
    said, do = doing[told.do]
    fresh = first_time(desk, told.once, lambda: _nothing(do()))
    place = f"/set-up/check/{quote(sensor, safe='')}"
    return RedirectResponse(f"{place}?said={said if fresh else 'twice'}", status_code=303)


def _nothing(result: object) -> None:
    del result


def _kind(name: str) -> Kind:
    kind = KINDS.get(name)
    if kind is None:
        raise RefusedError(_("Choose how it is to be checked."))
    return kind


def _finding(request: Request, sensor: str, told: CheckIn) -> tuple[SensorCalibrations, Finding]:
    known = calibrating_of(request).of(sensor)
    begun = guided_of(request).begun(sensor)
    return known, found(check_of(told.kind, told, begun, figures_of(request)), known.co2_factor)


def _previewed(request: Request, sensor: str, told: CheckIn) -> Response:
    """Show what a check comes to, before anything is kept."""
    known, finding = _finding(request, sensor, told)
    change = _change(known, finding, figures_of(request))
    said = Said(finding=finding, change=change, typed=told.model_dump())
    return _shown(request, sensor, said)


def _record(request: Request, sensor: str, told: CheckIn) -> None:
    figures, begun = figures_of(request), guided_of(request).begun(sensor)
    done = check_of(told.kind, told, begun, figures)
    calibrating_of(request).record(Told(sensor, done, told.who, None, VIA))
    guided_of(request).end(sensor)


def _withdraw(request: Request, sensor: str, told: CheckIn) -> None:
    quantity = quantity_of(check_of(HAND, told, None, figures_of(request)))
    calibrating_of(request).record(Told(sensor, ByHand(quantity), told.who, None, VIA))


# ------------------------------------------------------------------ the page


def _shown(request: Request, sensor: str, said: Said, done: str = "") -> Response:
    desk, figures = desk_of(request), figures_of(request)
    known, guided = calibrating_of(request).of(sensor), guided_of(request)
    begun, rest = guided.begun(sensor), guided.rest(sensor)
    kind = KINDS.get(begun.kind) if begun else None
    now = desk.clock.now()
    return page(
        "check.html",
        NOT_VALID if said.wrong else 200,
        title=_("Check sensor %(sensor)s", sensor=sensor),
        sensor=sensor,
        chamber=_titles(desk).get(known.sensor.chamber, known.sensor.chamber),
        address=f"/set-up/check/{quote(sensor, safe='')}",
        said=done,
        wrong=figures.said(said.wrong),
        kinds=[each.said() for each in KINDS.values() if _fits(each, known)],
        kind=kind.said() if kind else None,
        begun=begun,
        waiting=_waiting(begun, kind, desk) if begun and kind else None,
        nows=tuple(_nows(known, rest, now, figures)),
        drifting=_drifting(kind, rest),
        salts=_salts(known, figures),
        finding=figures.said(said.finding.words) if said.finding else "",
        change=said.change,
        typed=_typed(known, said.typed, figures),
        in_force=[
            (quantity.value, words.named(quantity))
            for quantity, c in known.in_force.items()
            if not c.neutral
        ],
        past=[_past(each, desk, figures) for each in known.calibrations],
        quantities=[(q.value, words.named(q)) for q in _BY_HAND],
        temperature_unit=figures.shown_in.temperature.value,
        once=mark(),
        zone=figures.zone.key,
    )


_FINER: Final = {Quantity.HUMIDITY: 1}
"""A check tells tenths of a percent, which a page elsewhere leaves out."""

_BY_HAND: Final = (Quantity.HUMIDITY, Quantity.TEMPERATURE, Quantity.CO2, Quantity.PRESSURE)


def _fits(kind: Kind, known: SensorCalibrations) -> bool:
    """Tell whether a sensor reports what a kind of check corrects; not known: it may."""
    if kind.quantity is None:
        return True
    reports = known.sensor.quantities
    return not reports or kind.quantity in reports or kind.quantity in known.newest


def _waiting(begun: Begun, kind: Kind, desk: Desk) -> Waiting:
    now = desk.clock.now()
    ago, left = now - begun.at, begun.at + kind.wait - now
    since = words.moment(begun.at, now, desk.zone)
    if left <= timedelta(0):
        enough = _("%(ago)s ago; that is long enough.", ago=words.span(ago))
        return Waiting(since, enough, early=False)
    until = words.moment(begun.at + kind.wait, now, desk.zone)
    back = _("%(ago)s ago; come back at %(until)s.", ago=words.span(ago), until=until)
    return Waiting(since, back, early=True)


def _nows(
    known: SensorCalibrations,
    rest: Mapping[Quantity, Settled],
    now: datetime,
    figures: Figures,
) -> Iterator[Now]:
    for quantity in MOVES:
        reading = known.newest.get(quantity)
        if reading is None:
            continue
        raw = reading.value if reading.raw is None else reading.raw
        ago = now - reading.time
        sent, counts = (
            figures.amount(quantity, v, _FINER.get(quantity, 0)) for v in (raw, reading.value)
        )
        stands = rest[quantity]
        yield Now(
            words.named(quantity),
            sent,
            counts if counts != sent else "",
            words.span(ago),
            ago > known.sensor.unheard_after,
            _rest_words(quantity, stands, figures),
            stands.rest is Rest.DRIFTS,
        )


def _rest_words(quantity: Quantity, stands: Settled, figures: Figures) -> str:
    if stands.change is None:
        return _("too little was heard in the last half hour to tell whether it is at rest")
    by = figures.said(signed(quantity, stands.change)).replace("-", words.MINUS)
    if stands.rest is Rest.DRIFTS:
        return _("it still drifts: %(by)s in half an hour", by=by)
    return _("at rest: %(by)s in half an hour", by=by)


def _drifting(kind: Kind | None, rest: Mapping[Quantity, Settled]) -> bool:
    """Tell whether the quantity of the check under way has not come to rest."""
    stands = rest.get(kind.quantity) if kind is not None and kind.quantity is not None else None
    return stands is not None and stands.rest is Rest.DRIFTS


def _salts(known: SensorCalibrations, figures: Figures) -> tuple[tuple[str, str, str], ...]:
    """Return each salt with its name and what it holds the air at, at the sensor's temperature."""
    reading = known.newest.get(Quantity.TEMPERATURE)
    try:
        points = salts_at(reading.value if reading else USUAL_C)
    except RefusedError:
        points = salts_at(USUAL_C)
    return tuple(
        (
            salt.value,
            SALT_NAMES[salt],
            figures.said(f"{point.humidity_pct:.1f} % ± {point.plus_minus_pct:.1f}"),
        )
        for salt, point in points.items()
    )


def _typed(
    known: SensorCalibrations, typed: Mapping[str, str], figures: Figures
) -> Mapping[str, str]:
    """Return what stands in the form: what was typed, else what the sensor sends."""
    empty = dict.fromkeys((*CheckIn.model_fields, *_OFFERED), "")
    if typed:
        return {**empty, **typed}
    sent = {q: r.value if r.raw is None else r.raw for q, r in known.newest.items()}
    temperature = sent.get(Quantity.TEMPERATURE)
    shown = "" if temperature is None else f"{figures.shown_in.temperature_of(temperature):.1f}"
    humidity, co2 = sent.get(Quantity.HUMIDITY), sent.get(Quantity.CO2)
    offered = {
        "salt": Salt.NACL.value,
        "temperature": figures.said(shown),
        "read_one": "" if humidity is None else figures.said(f"{humidity:.1f}"),
        "read_air": "" if co2 is None else f"{co2:.0f}",
        "read_thermometer": figures.said(shown),
    }
    return {**empty, **offered}


_OFFERED: Final = ("read_one", "read_air", "read_thermometer")


def _change(known: SensorCalibrations, finding: Finding, figures: Figures) -> str:
    """Say what the newest reading counts as now, and with this correction."""
    reading = known.newest.get(finding.quantity)
    if reading is None:
        return ""
    quantity = finding.quantity
    raw = reading.value if reading.raw is None else reading.raw
    factor = known.co2_factor if quantity is Quantity.CO2 else 1.0
    after = finding.slope * factor * raw + finding.offset
    finer = _FINER.get(quantity, 0)
    sent, now, then = (figures.amount(quantity, v, finer) for v in (raw, reading.value, after))
    return _(
        "Its newest reading, %(sent)s as sent, counts as %(now)s now, and as %(then)s with this.",
        sent=sent,
        now=now,
        then=then,
    )


def _past(calibration: Calibration, desk: Desk, figures: Figures) -> Past:
    quantity = calibration.quantity
    if calibration.neutral:
        what = _("%(quantity)s counts as sent", quantity=words.named(quantity))
    else:
        named, by = words.named(quantity), signed(quantity, calibration.offset)
        slope = f"{calibration.slope:.3f}"
        what = (
            f"{named} {by}"
            if calibration.slope == 1.0
            else _("%(quantity)s times %(slope)s, %(by)s", quantity=named, slope=slope, by=by)
        )
    return Past(
        when=_day(calibration.at, figures),
        words=figures.said(what),
        who=calibration.who,
        how=figures.said(calibration.how),
    )


def _day(when: datetime, figures: Figures) -> str:
    return f"{when.astimezone(figures.zone):%Y-%m-%d %H:%M}"
