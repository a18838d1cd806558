"""From what hangs on the board and what is known of a chamber to amounts and answers."""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta, tzinfo
from typing import Final

from chamberwatch.core import amount_words
from chamberwatch.core.air.figure import Figure, Origin
from chamberwatch.core.air.psychrometrics import AirState, air_state
from chamberwatch.core.errors import RefusedError
from chamberwatch.core.watch.chamber import Chamber, House
from chamberwatch.core.watch.counsel import MistAdvice, VentAdvice, mist_advice, vent_advice
from chamberwatch.core.watch.device import supply
from chamberwatch.core.watch.ledger import standing_now_g
from chamberwatch.core.watch.outlook import HoldAnswer, hold_answer
from chamberwatch.core.watch.reading import Place, Quantity, Reading
from chamberwatch.core.watch.reminder import Call
from chamberwatch.core.watch.rule import PATIENCE
from chamberwatch.core.watch.situation import FURTHEST, OUTDOOR_PPM, Situation, next_visit
from chamberwatch.service.board import TREND_OVER, Advised, Board, Series
from chamberwatch.service.knowing import ROOM_PCT, Knowing
from chamberwatch.service.speaking import PAIR, air_of, doubted_in, in_order
from chamberwatch.service.views import CounselNow

OLD_AFTER: Final = timedelta(minutes=20)
"""Advice from readings older than this would be about other air."""

SAID_ONCE_FOR: Final = timedelta(hours=3)
"""What can't be reached is said once, and again only after so long."""

AFTER_VENT: Final = timedelta(minutes=20)
"""Time to vent and then to mist, as one message said."""


@dataclass(frozen=True, slots=True)
class Counselling:
    """Knows what to do, how much, and what will happen. Safe from any thread."""

    house: House
    board: Board
    knowing: Knowing
    zone: tzinfo

    def situation(
        self, name: str, now: datetime, until: datetime | None = None
    ) -> Situation | None:
        """Return a chamber ready to be reckoned with.

        None where its volume isn't known, nothing is judged, or the air isn't known by now.
        """
        chamber = self.house.chambers[name]
        known = self.knowing.of(name)
        newest = {k: r for k, r in self.board.newest().items() if now - r.time <= OLD_AFTER}
        air = self._air(name, newest)
        if known is None or air is None:
            return None
        room, measured = self._room(chamber, newest, air)
        visit = until or next_visit(chamber, now, self.zone)
        humidity = chamber.band(Quantity.HUMIDITY, Place.AIR)
        co2 = chamber.band(Quantity.CO2, Place.AIR)
        bounded = humidity is not None and humidity.low is not None and humidity.high is not None
        situation = Situation(
            chamber=chamber,
            known=known,
            air=air,
            room=room,
            room_measured=measured,
            co2_ppm=_value(self._newest(name, Quantity.CO2, newest)),
            inlet_ppm=self._inlet(chamber, newest),
            standing_g=self.knowing.standing_g(name),
            supply=supply(
                [d for d in self.house.devices if d.chamber == name],
                known.volume_m3,
                now,
                max(visit, now + timedelta(minutes=30)),
                self.zone,
            ),
            humidity=(humidity.low or 0.0, humidity.high or 100.0)
            if humidity is not None and bounded
            else None,
            co2_limit_ppm=co2.high if co2 is not None else None,
            now=now,
        )
        return replace(situation, standing_g=self._standing_g(situation))

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

    def _trend(self, chamber: str) -> float | None:
        """Return the change of the humidity in an hour; a sensor in doubt has no say. [%/h]."""
        trends, doubted = self.board.trends(), doubted_in(self.board.doubts(), *PAIR)
        for sensor in in_order(self.house, chamber, doubted, *PAIR):
            trend = trends.get((sensor.name, Quantity.HUMIDITY))
            if trend is not None and sensor.name not in doubted:
                return trend
        return None

    def _air(self, chamber: str, newest: dict[Series, Reading]) -> AirState | None:
        """Return the air of a chamber, from a sensor in doubt only where no other serves."""
        doubted = doubted_in(self.board.doubts(), *PAIR)
        speaking = in_order(self.house, chamber, doubted, *PAIR)
        said = (air_of(newest, sensor, self.house.pressure_pa) for sensor in speaking)
        return next((air for air in said if air is not None), None)

    def _newest(
        self, chamber: str, quantity: Quantity, newest: dict[Series, Reading]
    ) -> Reading | None:
        """Return a reading of a quantity, of a sensor in doubt only where no other serves."""
        doubted = doubted_in(self.board.doubts(), quantity)
        speaking = in_order(self.house, chamber, doubted, quantity)
        said = (newest.get((sensor.name, quantity)) for sensor in speaking)
        return next((reading for reading in said if reading is not None), None)

    def _room(
        self, chamber: Chamber, newest: dict[Series, Reading], inside: AirState
    ) -> tuple[AirState, bool]:
        """Return the air around a chamber, and whether a sensor says so."""
        around = self._air(chamber.surrounding, newest) if chamber.surrounding else None
        if around is not None:
            return around, True
        return air_state(inside.temperature_c, ROOM_PCT, inside.pressure_pa), False

    def _inlet(self, chamber: Chamber, newest: dict[Series, Reading]) -> Figure:
        if chamber.surrounding is None:
            return OUTDOOR_PPM
        reading = self._newest(chamber.surrounding, Quantity.CO2, newest)
        if reading is None:
            return OUTDOOR_PPM
        off = self.house.sensors[reading.sensor].accuracy.co2_at_ppm(reading.value)
        return Figure(
            reading.value, max(reading.value - off, 0.0), reading.value + off, Origin.MEASURED, 1
        )

    def now(self, name: str, now: datetime) -> CounselNow | None:
        """Return all that can be reckoned of a chamber; None where nothing can.

        Raises:
            UnknownNameError: no such chamber.
        """
        visit = next_visit(self.house.chamber(name), now, self.zone)
        situation = self.situation(name, now, visit)
        if situation is None:
            return None
        hold = hold_answer(situation, visit)
        return CounselNow(
            situation=situation,
            mist=mist_advice(situation, visit),
            vent=vent_advice(situation, visit, PATIENCE[Quantity.CO2].deadband),
            hold=hold,
            last_held=self.knowing.last_held(name),
            mist_words=self._mist_words(name, now),
            vent_words=self._vent_words(name, now, then_mist=False),
            hold_words=amount_words.hold(hold, now, self.zone) if hold else "",
        )

    # -------------------------------------------------------------- advice

    def mist(self, name: str, now: datetime) -> MistAdvice | None:
        """Return how much to mist."""
        visit = next_visit(self.house.chamber(name), now, self.zone)
        situation = self.situation(name, now, visit)
        return mist_advice(situation, visit) if situation else None

    def vent(self, name: str, now: datetime) -> VentAdvice | None:
        """Return how long to vent."""
        visit = next_visit(self.house.chamber(name), now, self.zone)
        situation = self.situation(name, now, visit)
        deadband = PATIENCE[Quantity.CO2].deadband
        return vent_advice(situation, visit, deadband) if situation else None

    def words(self, name: str, call: Call, now: datetime, *, then_mist: bool = False) -> str:
        """Say what to do and how much; empty where that can't be reckoned.

        Args:
            name: of the chamber.
            call: what is asked for; amounts are known for misting and venting.
            now: the time.
            then_mist: the air is dry as well.
        """
        if call is Call.VENT:
            return self._vent_words(name, now, then_mist=then_mist)
        return self._mist_words(name, now) if call is Call.MIST else ""

    def _vent_words(self, name: str, now: datetime, *, then_mist: bool) -> str:
        advice, situation = self.vent(name, now), self.situation(name, now)
        if advice is None or situation is None:
            return ""
        said = amount_words.vent(advice, situation.inlet_ppm, now, self.zone)
        if then_mist and not advice.reachable:
            said = f"{said} It is dry as well. {self._mist_words(name, now)}"
        return said

    def _mist_words(self, name: str, now: datetime) -> str:
        mist = self.mist(name, now)
        if mist is None:
            return ""
        known = self.knowing.of(name)
        guess = known is not None and known.wet_area_m2.origin is Origin.ASSUMED
        held = self.knowing.last_held(name)
        said = [amount_words.mist(mist, now, self.zone)]
        if held is not None:
            said.append(amount_words.last_held(held))
        if guess:
            said.append(amount_words.FIRST_GUESS)
        return " ".join(said)

    def told(self, name: str, call: Call, now: datetime, *, then_mist: bool = False) -> str:
        """Say the same to a person, and note which amounts they were told."""
        said = self.words(name, call, now, then_mist=then_mist)
        vent = self.vent(name, now) if said and call is Call.VENT else None
        mist = vent.mist if vent is not None else None
        if said and call is Call.MIST:
            mist = self.mist(name, now)
        if vent is not None:
            minutes = float(vent.minutes) if vent.reachable else None
            self.board.advise(
                name, Call.VENT, Advised(now, vent_minutes=minutes, reachable=vent.reachable)
            )
        if mist is not None:
            self.board.advise(
                name,
                Call.MIST,
                Advised(
                    now,
                    mist.into_air_g,
                    mist.standing_g,
                    reachable=mist.by_hand,
                    after_vent=vent is not None,
                ),
            )
        return said

    def said_already(self, name: str, call: Call, now: datetime) -> bool:
        """Tell whether a person was told a short while ago, and saying it again would only nag.

        Either that it can't be put right by hand, or to mist after venting.
        """
        advised = self.board.advised(name, call)
        if advised is None:
            return False
        quiet_for = timedelta(0) if advised.reachable else SAID_ONCE_FOR
        if advised.after_vent:
            quiet_for = max(quiet_for, AFTER_VENT)
        return now - advised.at < quiet_for

    def hold(self, name: str, until: datetime, now: datetime) -> HoldAnswer:
        """Answer “will it hold until then?”.

        Raises:
            UnknownNameError: no such chamber.
            RefusedError: it can't be reckoned; the text says what is missing.
        """
        chamber = self.house.chamber(name)
        if not timedelta(0) < until - now <= FURTHEST:
            raise RefusedError("Ask about a time from now on, at most two days ahead.")
        situation = self.situation(name, now, until)
        answer = hold_answer(situation, until) if situation is not None else None
        if answer is None:
            raise RefusedError(self.missing(chamber))
        return answer

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


def _value(reading: Reading | None) -> float | None:
    return reading.value if reading is not None else None
