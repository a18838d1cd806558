"""A tent of which much is known: amounts, forecasts, devices, and finds in its record."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

from chamberwatch.core import amount_words
from chamberwatch.core.air.condensation import Margin
from chamberwatch.core.air.figure import Figure, Origin
from chamberwatch.core.air.knowledge import assumed
from chamberwatch.core.air.psychrometrics import air_state
from chamberwatch.core.air.uncertainty import spread
from chamberwatch.core.errors import UnknownNameError
from chamberwatch.core.watch.action import Action, Deed
from chamberwatch.core.watch.counsel import mist_advice, vent_advice
from chamberwatch.core.watch.device import Device, Supply, Timetable
from chamberwatch.core.watch.device import Kind as DeviceKind
from chamberwatch.core.watch.found import Found, Kind
from chamberwatch.core.watch.outlook import as_it_is, hold_answer, once_misted
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.reminder import Call
from chamberwatch.core.watch.situation import OUTDOOR_PPM, Situation, next_visit
from chamberwatch.service.books import Span
from chamberwatch.service.lookback import AirChanges, Mistings, Shown
from chamberwatch.service.views import ChamberNow, CounselNow, HoldNow
from tests.make import NOON, TENT, at
from tests.web.desk_fakes import (
    MISTED,
    MOIST,
    TOP,
    ZONE,
    Played,
    calm_tent,
    chamber_now,
    dry_tent,
    sensor_now,
)

FAN = Device(
    "duct",
    "tent",
    DeviceKind.FAN,
    Timetable(on=timedelta(minutes=5), every=timedelta(minutes=30)),
    flow_m3_per_h=20.0,
)

BY_ADVICE = replace(MISTED, amount=2.0, standing_g=25.0, advised=True)
VENTED = Action(5, "tent", Deed.VENTED, at(-140), "", at(-140), "page", amount=4.0)


@dataclass
class FakeLookback:
    """Keeps what was found in a dict, and what was answered in a list."""

    found: dict[int, Found] = field(default_factory=dict)
    answers: list[tuple[str, Kind, int, bool]] = field(default_factory=list)

    def mistings(self, chamber: str, span: Span, limit: int) -> Mistings:
        return Mistings(self._of(Kind.MISTING, chamber, span)[:limit], None)

    def air_changes(self, chamber: str, span: Span, limit: int) -> AirChanges:
        found = self._of(Kind.VENTING, chamber, span)[:limit]
        return AirChanges((), found, Figure.assumed(1.0, 0.5, 3.0))

    def questions(self, chamber: str, span: Span, limit: int) -> Sequence[Shown]:
        shown = [each for kind in Kind for each in self._of(kind, chamber, span) if each.question]
        return sorted(shown, key=lambda each: each.found.start, reverse=True)[:limit]

    def confirmed(self, chamber: str, span: Span, limit: int) -> Sequence[Found]:
        shown = [each.found for kind in Kind for each in self._of(kind, chamber, span)]
        said_yes = [each for each in shown if each.confirmed and each.action is None]
        return sorted(said_yes, key=lambda each: each.start, reverse=True)[:limit]

    def answer(self, chamber: str, kind: Kind, number: int, *, was_it: bool) -> Shown:
        if number not in self.found:
            raise UnknownNameError(f"There is no {kind.value} {number} in “{chamber}”.")
        self.answers.append((chamber, kind, number, was_it))
        self.found[number] = replace(self.found[number], confirmed=was_it)
        return Shown(self.found[number])

    def _of(self, kind: Kind, chamber: str, span: Span) -> Sequence[Shown]:
        found = [
            each
            for each in self.found.values()
            if (each.kind, each.chamber) == (kind, chamber) and span.start <= each.start < span.end
        ]
        found.sort(key=lambda each: each.start, reverse=True)
        return [Shown(each, _question(each)) for each in found]


def _question(found: Found) -> str:
    if found.action is not None or found.confirmed is not None:
        return ""
    return f"Looks like a {found.kind} at {found.start.astimezone(ZONE):%H:%M} \N{EN DASH} was it?"


def looks_like(number: int, minutes: float, kind: Kind = Kind.MISTING) -> Found:
    """Return something nobody noted, so many minutes after noon."""
    return Found(number, "tent", kind, at(minutes), at(minutes + 5))


def situation(humidity_pct: float = 88.0, co2_ppm: float | None = 840.0) -> Situation:
    """Return the tent as it is reckoned with: its leakage measured, its wet surface assumed."""
    known = replace(
        assumed(0.5),
        leak_per_h=Figure(1.24, 0.97, 1.58, Origin.MEASURED, 4),
        source_g_per_h=Figure(0.61, 0.55, 0.68, Origin.MEASURED, 3),
    )
    return Situation(
        chamber=replace(TENT, visits=TENT.visits),
        known=known,
        air=air_state(18.2, humidity_pct, 101_325.0),
        room=air_state(20.6, 41.0, 101_325.0),
        room_measured=True,
        co2_ppm=co2_ppm,
        inlet_ppm=OUTDOOR_PPM,
        standing_g=12.0,
        supply=Supply(),
        humidity=(80.0, 95.0),
        co2_limit_ppm=1000.0,
        now=NOON,
    )


def counsel(of: Situation) -> CounselNow:
    """Return what is reckoned from a situation, with the words of the service."""
    visit = next_visit(of.chamber, of.now, ZONE)
    mist, vent = mist_advice(of, visit), vent_advice(of, visit, 75.0)
    hold = hold_answer(of, visit)
    assert mist is not None
    assert hold is not None
    return CounselNow(
        situation=of,
        mist=mist,
        vent=vent,
        hold=hold,
        last_held=None,
        mist_words=amount_words.mist(mist, of.now, ZONE),
        vent_words=amount_words.vent(vent, of.inlet_ppm, of.now, ZONE) if vent else "",
        hold_words=amount_words.hold(hold, of.now, ZONE),
    )


def held_till(of: Situation, until: datetime) -> HoldNow:
    """Return the answer about another time."""
    answer = hold_answer(of, until)
    assert answer is not None
    return HoldNow(
        answer,
        amount_words.hold(answer, of.now, ZONE),
        as_it_is(of, until),
        once_misted(of, until, answer.mist) if answer.mist is not None else (),
    )


def known_tent(margin: Margin | None = None, co2_ppm: float = 840.0) -> Played:
    """Return a calm tent of which all is known."""
    played = calm_tent()
    _fill(played, margin, situation(co2_ppm=co2_ppm))
    return played


def dry_known_tent() -> Played:
    """Return the same, too dry, with a reminder that has amounts and a find to be asked about."""
    played = dry_tent()
    _fill(played, Margin(18.9, 4.99, 0.42, Origin.ASSUMED, wet=False), situation(76.0))
    told = played.history.rooms["tent"]
    (asked,) = played.history.all_reminders
    words = told.counsel.mist_words if told.counsel else ""
    body = f"Humidity 76 % and falling, band 80 to 95 %. {words}"
    played.history.remember(replace(asked, body=body, amounts=frozenset({Call.MIST})))
    lookback = FakeLookback()
    for each in (looks_like(1, -320), looks_like(2, -200, Kind.VENTING)):
        lookback.found[each.id] = each
    played.desk = replace(played.desk, lookback=lookback)
    return played


def _fill(played: Played, margin: Margin | None, of: Situation) -> None:
    values = {**MOIST, Quantity.HUMIDITY: of.air.humidity_pct}
    heard = sensor_now(TOP, played.clock, values)
    shown: ChamberNow = chamber_now(TENT, [heard], of.air, actions=[BY_ADVICE, VENTED])
    played.put(
        replace(
            shown,
            spread=spread(of.air, TOP.accuracy, of.co2_ppm),
            margin=margin or Margin(18.9, 2.79, 0.42, Origin.ASSUMED, wet=False),
            counsel=counsel(of),
            devices=(FAN,),
        )
    )
    played.history.held = held_till(of, next_visit(of.chamber, of.now, ZONE))
