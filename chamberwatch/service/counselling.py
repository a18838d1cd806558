"""From what hangs on the board and what is known of a chamber to amounts and answers."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta, tzinfo
from typing import Final

from chamberwatch.core import amount_words
from chamberwatch.core.air.figure import Figure, Origin
from chamberwatch.core.air.knowledge import Knowledge
from chamberwatch.core.air.psychrometrics import AirState, air_state
from chamberwatch.core.errors import RefusedError
from chamberwatch.core.watch.chamber import Chamber, House
from chamberwatch.core.watch.counsel import MistAdvice, VentAdvice, mist_advice, vent_advice
from chamberwatch.core.watch.device import Supply, supply, working_in
from chamberwatch.core.watch.ledger import standing_now_g
from chamberwatch.core.watch.outlook import HoldAnswer, hold_answer
from chamberwatch.core.watch.reading import Place, Quantity, Reading
from chamberwatch.core.watch.reminder import Call, Evidence
from chamberwatch.core.watch.situation import FURTHEST, OUTDOOR_PPM, Situation, next_visit
from chamberwatch.service.advised import Advised
from chamberwatch.service.board import TREND_OVER, Board, Series
from chamberwatch.service.knowing import ROOM_PCT, Knowing
from chamberwatch.service.speaking import PAIR, air_of, doubted_in, in_order
from chamberwatch.service.views import CounselNow

OLD_AFTER: Final = timedelta(minutes=20)
"""Advice from readings older than this would be about other air."""

SAID_ONCE_FOR: Final[Mapping[Call, timedelta]] = {
    Call.MIST: timedelta(hours=3),
    Call.VENT: timedelta(hours=24),
    Call.DRY_OFF: timedelta(hours=20),
}
"""What can't be put right by hand is said once, and again when it can be, or after so long: a
misting helps for a while all the same, venting into a room as stale as the chamber doesn't. Nor
does it dry air for longer than the front is open while the walls are wet; they dry by themselves,
and caps take days to blotch."""

HAS_CHANGED: Final = timedelta(minutes=15)
"""So often it is looked at whether something has changed meanwhile."""

AFTER_VENT: Final = timedelta(minutes=20)
"""Time to vent and then to mist, as one message said."""


HELD_AT_ALL: Final = timedelta(minutes=2)
"""A shorter one was a misting into an opened chamber, and says nothing of the next."""

NOBODY: Final[Mapping[Quantity, str]] = {}


@dataclass(frozen=True, slots=True)
class Told:
    """What is said to a person, and the amounts in it by what they answer."""

    words: str
    amounts: Mapping[Call, Advised]


NOTHING_TOLD: Final = Told("", {})


@dataclass(frozen=True, slots=True)
class Counselling:
    """Knows what to do, how much, and what will happen. Safe from any thread."""

    house: House
    board: Board
    knowing: Knowing
    zone: tzinfo

    def situation(
        self,
        name: str,
        now: datetime,
        until: datetime | None = None,
        spoken: Mapping[Quantity, str] = NOBODY,
    ) -> Situation | None:
        """Return a chamber ready to be reckoned with.

        None where its volume isn't known, nothing is judged, or the air isn't known by now.

        Args:
            name: of the chamber.
            now: the time.
            until: up to when devices are looked at; without it, for half an hour.
            spoken: which sensor speaks for a quantity, where that is not the usual one.
        """
        chamber = self.house.chambers[name]
        known = self.knowing.of(name)
        newest = self._heard_lately(name, now)
        air = self._air(name, newest, spoken.get(Quantity.HUMIDITY))
        if known is None or air is None:
            return None
        room, measured = self._room(chamber, newest, air)
        co2 = chamber.band(Quantity.CO2, Place.AIR)
        situation = Situation(
            chamber=chamber,
            known=known,
            air=air,
            room=room,
            room_measured=measured,
            co2_ppm=_value(self._newest(name, Quantity.CO2, newest, spoken.get(Quantity.CO2))),
            inlet_ppm=self._inlet(chamber, newest),
            standing_g=self.knowing.standing_g(name),
            supply=self._supply(name, known, now, until or now),
            humidity=_bounds(chamber),
            co2_limit_ppm=co2.high if co2 is not None else None,
            now=now,
        )
        return replace(situation, standing_g=self._standing_g(situation))

    def _supply(self, name: str, known: Knowledge, now: datetime, until: datetime) -> Supply:
        end = max(until, now + timedelta(minutes=30))
        devices = working_in(self.house.devices, name)
        return supply(devices, known.volume_m3, now, end, self.zone)

    def _standing_g(self, situation: Situation) -> float:
        """Return the water that stands, held to what the air does this moment. [g]."""
        name, now = situation.chamber.name, situation.now
        trend = self._trend(name)
        touched = self.board.touched().get(name)
        undisturbed = touched is None or now - touched >= TREND_OVER + timedelta(minutes=2)
        if trend is None or situation.humidity is None or not undisturbed:
            return situation.standing_g
        return standing_now_g(
            situation.standing_g,
            situation.balance(),
            situation.known,
            (situation.air.humidity_pct, trend),
            situation.humidity[0],
        )

    def _heard_lately(self, chamber: str, now: datetime) -> Mapping[Series, Reading]:
        """Return what says something of the air of a chamber and of its room by now."""
        around = self.board.newest_among(self.house.around(chamber))
        return {key: r for key, r in around.items() if now - r.time <= OLD_AFTER}

    def _trend(self, chamber: str) -> float | None:
        """Return the change of the humidity in an hour; a sensor in doubt has no say. [%/h]."""
        doubted = doubted_in(self.board.doubts(), *PAIR)
        ordered = in_order(self.house, chamber, doubted, *PAIR)
        trends = self.board.trends(sensor.name for sensor in ordered)
        for sensor in ordered:
            trend = trends.get((sensor.name, Quantity.HUMIDITY))
            if trend is not None and sensor.name not in doubted:
                return trend
        return None

    def _air(
        self, chamber: str, newest: Mapping[Series, Reading], spoken: str | None = None
    ) -> AirState | None:
        """Return the air of a chamber, from a sensor in doubt only where no other serves.

        The sensor that speaks comes first; one that knows humidity alone borrows the temperature.
        """
        doubted = doubted_in(self.board.doubts(), *PAIR)
        speaking = in_order(self.house, chamber, doubted, *PAIR)
        ranked = sorted(speaking, key=lambda s: s.name != spoken)
        said = (air_of(newest, sensor, self.house.pressure_pa) for sensor in ranked)
        air = next((air for air in said if air is not None), None)
        humid = newest.get((spoken or "", Quantity.HUMIDITY))
        borrows = humid is not None and all(s.name != spoken for s in speaking)
        if air is None or humid is None or not borrows:
            return air
        return air_state(air.temperature_c, humid.value, air.pressure_pa)

    def _newest(
        self,
        chamber: str,
        quantity: Quantity,
        newest: Mapping[Series, Reading],
        spoken: str | None = None,
    ) -> Reading | None:
        """Return a reading of a quantity, of a sensor in doubt only where no other serves."""
        doubted = doubted_in(self.board.doubts(), quantity)
        speaking = in_order(self.house, chamber, doubted, quantity)
        ranked = sorted(speaking, key=lambda s: s.name != spoken)
        said = (newest.get((sensor.name, quantity)) for sensor in ranked)
        return next((reading for reading in said if reading is not None), None)

    def _room(
        self, chamber: Chamber, newest: Mapping[Series, Reading], inside: AirState
    ) -> tuple[AirState, bool]:
        """Return the air around a chamber, and whether a sensor says so."""
        around = self._air(chamber.surrounding, newest) if chamber.surrounding else None
        if around is not None:
            return around, True
        return air_state(inside.temperature_c, ROOM_PCT, inside.pressure_pa), False

    def _inlet(self, chamber: Chamber, newest: Mapping[Series, Reading]) -> Figure:
        if chamber.surrounding is None:
            return OUTDOOR_PPM
        reading = self._newest(chamber.surrounding, Quantity.CO2, newest)
        if reading is None:
            return OUTDOOR_PPM
        off = self.house.sensors[reading.sensor].accuracy.co2_at_ppm(reading.value)
        return Figure(
            reading.value, max(reading.value - off, 0.0), reading.value + off, Origin.MEASURED, 1
        )

    def inlet_ppm(self, chamber: Chamber, now: datetime) -> float:
        """Return the CO2 of the air that comes into a chamber, measured or assumed. [ppm]."""
        return self._inlet(chamber, self._heard_lately(chamber.name, now)).value

    def now(self, name: str, now: datetime) -> CounselNow | None:
        """Return all that can be reckoned of a chamber; None where nothing can.

        Raises:
            UnknownNameError: no such chamber.
        """
        visit = self.next_visit(name, now)
        situation = self.situation(name, now, visit)
        if situation is None:
            return None
        hold = hold_answer(situation, visit)
        mist, vent = (
            mist_advice(situation, visit),
            vent_advice(situation, visit, _deadband_ppm(situation.chamber)),
        )
        return CounselNow(
            situation=situation,
            mist=mist,
            vent=vent,
            hold=hold,
            last_held=self.knowing.last_held(name),
            mist_words=self._mist_words(situation, mist) if mist else "",
            vent_words=amount_words.vent(vent, situation.inlet_ppm, now, self.zone)
            if vent
            else "",
            hold_words=amount_words.hold(hold, now, self.zone) if hold else "",
        )

    # -------------------------------------------------------------- advice

    def told(
        self,
        name: str,
        call: Call,
        now: datetime,
        spoken: Mapping[Quantity, str] = NOBODY,
        *,
        then_mist: bool = False,
    ) -> Told:
        """Say what to do and how much, and which amounts that were.

        Args:
            name: of the chamber.
            call: what is asked for; amounts are known for misting and venting.
            now: the time.
            spoken: which sensor speaks for a quantity; it is its air that is put right.
            then_mist: the air is dry as well.
        """
        visit = self.next_visit(name, now)
        situation = self.situation(name, now, visit, spoken)
        if situation is None:
            return NOTHING_TOLD
        if call is Call.VENT:
            return self._told_to_vent(situation, visit, then_mist=then_mist)
        mist = mist_advice(situation, visit) if call is Call.MIST else None
        if mist is None:
            return NOTHING_TOLD
        return Told(self._mist_words(situation, mist), {Call.MIST: _advised(mist, now)})

    def _told_to_vent(self, situation: Situation, visit: datetime, *, then_mist: bool) -> Told:
        now = situation.now
        vent = vent_advice(situation, visit, _deadband_ppm(situation.chamber))
        if vent is None:
            return NOTHING_TOLD
        said = self._vent_words(situation, vent)
        minutes = float(vent.minutes) if vent.reachable and vent.minutes else None
        amounts = {Call.VENT: Advised(now, vent_minutes=minutes, reachable=vent.by_hand)}
        aired = vent.reachable and vent.minutes > 0
        mist = vent.mist if aired else None
        if then_mist and mist is None and not aired:
            # Dry as well, and nothing of that changes before it is misted.
            mist = mist_advice(situation, visit)
            said += f" It is dry as well. {self._mist_words(situation, mist)}" if mist else ""
        if mist is not None:
            amounts[Call.MIST] = replace(_advised(mist, now), after_vent=True)
        return Told(said, amounts)

    def _vent_words(self, situation: Situation, vent: VentAdvice) -> str:
        return amount_words.vent(vent, situation.inlet_ppm, situation.now, self.zone)

    def _mist_words(self, situation: Situation, mist: MistAdvice) -> str:
        held = self.knowing.last_held(situation.chamber.name)
        said = [amount_words.mist(mist, situation.now, self.zone)]
        if held is not None and held >= HELD_AT_ALL:
            said.append(amount_words.last_held(held))
        if situation.known.wet_area_m2.origin is Origin.ASSUMED:
            said.append(amount_words.FIRST_GUESS)
        return " ".join(said)

    def quiet_until(self, name: str, call: Call, now: datetime) -> datetime | None:
        """Return until when saying it again would only nag; None: it may be said now.

        A person was told a short while ago that this can't be put right by hand, or to mist after
        venting.
        """
        advised = self.board.advised(name, call)
        if advised is None:
            return None
        waits = advised.at + (AFTER_VENT if advised.after_vent else timedelta(0))
        if now < waits:
            return waits
        until = advised.at + SAID_ONCE_FOR.get(call, timedelta(0))
        if advised.reachable or now >= until or self._by_hand(name, call, now):
            return None
        return min(until, now + HAS_CHANGED)

    def _by_hand(self, name: str, call: Call, now: datetime) -> bool:
        """Tell whether what a call asks for can be put right by hand at this moment."""
        visit = self.next_visit(name, now)
        situation = self.situation(name, now, visit)
        if situation is None:
            return False
        if call is Call.DRY_OFF:
            return False
        if call is Call.VENT:
            vent = vent_advice(situation, visit, _deadband_ppm(situation.chamber))
            return vent is not None and vent.by_hand
        mist = mist_advice(situation, visit)
        return mist is not None and mist.by_hand

    def hold(self, name: str, until: datetime, now: datetime) -> HoldAnswer:
        """Answer “will it hold until then?”.

        Raises:
            UnknownNameError: no such chamber.
            RefusedError: it can't be reckoned; the text says what is missing.
        """
        return self.held(name, until, now)[1]

    def held(self, name: str, until: datetime, now: datetime) -> tuple[Situation, HoldAnswer]:
        """Answer “will it hold until then?”, beside the situation that the answer is from.

        Raises:
            UnknownNameError: no such chamber.
            RefusedError: it can't be reckoned; the text says what is missing.
        """
        chamber = self.house.chamber(name)
        if not timedelta(0) < until - now <= FURTHEST:
            raise RefusedError("Ask about a time from now on, at most two days ahead.")
        situation = self.situation(name, now, until)
        answer = hold_answer(situation, until) if situation is not None else None
        if situation is None or answer is None:
            raise RefusedError(self.missing(chamber))
        return situation, answer

    def next_visit(self, name: str, now: datetime) -> datetime:
        """Return when the grower comes by next.

        Raises:
            UnknownNameError: no such chamber.
        """
        return next_visit(self.house.chamber(name), now, self.zone)

    def missing(self, chamber: Chamber) -> str:
        """Say why nothing can be reckoned, and what to do about it."""
        if chamber.band(Quantity.HUMIDITY, Place.AIR) is None:
            return (
                f"{chamber.title} has no band for humidity, so there is nothing to hold: sealed "
                "bags keep their own."
            )
        if chamber.volume_l is None:
            return (
                f"State volume_l of the chamber “{chamber.name}” in the settings: amounts are "
                "reckoned from it."
            )
        return (
            f"Nothing was heard from {chamber.title} in the last "
            f"{OLD_AFTER // timedelta(minutes=1)} minutes that gives both temperature and "
            "humidity; look at its sensor."
        )


def speakers(evidence: Iterable[Evidence]) -> dict[Quantity, str]:
    """Return which sensor speaks for each quantity that asks for something."""
    return {e.quantity: e.sensor for e in evidence if e.quantity is not None}


def _bounds(chamber: Chamber) -> tuple[float, float] | None:
    """Return the low and high limit of the humidity, None where it isn't held on both sides."""
    band = chamber.band(Quantity.HUMIDITY, Place.AIR)
    if band is None or band.low is None or band.high is None:
        return None
    return band.low, band.high


def _deadband_ppm(chamber: Chamber) -> float:
    """Return how far below its limit the CO2 must be to count as back. [ppm]."""
    patience = chamber.patience_for(Quantity.CO2)
    return patience.deadband if patience is not None else 0.0


def _advised(mist: MistAdvice, now: datetime) -> Advised:
    return Advised(now, mist.into_air_g, mist.standing_g, reachable=mist.by_hand)


def _value(reading: Reading | None) -> float | None:
    return reading.value if reading is not None else None
