"""A look back at an invented record."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import timedelta

from chamberwatch.core.air.figure import Figure, Origin
from chamberwatch.core.errors import UnknownNameError
from chamberwatch.core.watch.found import Exchange, Found, Kind
from chamberwatch.service.books import Span
from chamberwatch.service.lookback import AirChanges, Mistings, Shown
from tests.make import at

MISTED = Shown(
    Found(
        3,
        "tent",
        Kind.MISTING,
        at(-95),
        at(-94),
        action=4,
        humidity_before_pct=77.04,
        humidity_after_pct=91.26,
        vapour_gain_g_per_m3=2.456,
        co2_before_ppm=812.4,
        co2_after_ppm=810.0,
        held=timedelta(minutes=11, seconds=20),
        amount=12.0,
    )
)
UNTOLD = Shown(
    Found(5, "tent", Kind.MISTING, at(-20), at(-19), humidity_before_pct=79.0),
    question="Looks like a misting at 12:40 \N{EN DASH} was it?",
    still_holding=True,
)
VENTED = Shown(
    Found(6, "tent", Kind.VENTING, at(-30), at(-26.5), co2_before_ppm=1234.5, amount=4.0),
    question="Looks like a venting at 12:30 \N{EN DASH} was it?",
)
CALM = Exchange(
    2,
    "tent",
    at(-300),
    at(-120),
    vented=False,
    per_h=0.8123,
    low=0.5,
    high=1.25,
    r2=0.98765,
    end_ppm=1400.4,
    inlet_ppm=520.2,
    inlet_measured=True,
    source_g_per_h=0.40449,
)
REFUSED = Exchange(
    7, "tent", at(-40), at(-31), vented=True, refusal="CO2 hardly changed: vent first"
)
TYPICAL = Figure(11.333, 9.0, 13.25, Origin.MEASURED, 5)
BEST = Figure(0.8123, 0.6, 1.1, Origin.MEASURED, 4)


@dataclass
class FakeLookback:
    """Answers with what it was given, for the chamber `tent` alone."""

    mistings_shown: list[Shown] = field(default_factory=lambda: [UNTOLD, MISTED])
    asked: list[tuple[Span, int]] = field(default_factory=list)
    typical: Figure | None = TYPICAL
    said_yes: list[Found] = field(default_factory=list)

    def _know(self, chamber: str) -> None:
        if chamber != "tent":
            raise UnknownNameError(f"There is no chamber “{chamber}”.")

    def mistings(self, chamber: str, span: Span, limit: int) -> Mistings:
        self._know(chamber)
        self.asked.append((span, limit))
        return Mistings(self.mistings_shown[:limit], self.typical)

    def air_changes(self, chamber: str, span: Span, limit: int) -> AirChanges:
        self._know(chamber)
        self.asked.append((span, limit))
        return AirChanges([REFUSED, CALM], [VENTED], BEST)

    def questions(self, chamber: str, span: Span, limit: int) -> Sequence[Shown]:
        self._know(chamber)
        self.asked.append((span, limit))
        return [s for s in (*self.mistings_shown, VENTED) if s.question][:limit]

    def confirmed(self, chamber: str, span: Span, limit: int) -> Sequence[Found]:
        self._know(chamber)
        return [f for f in self.said_yes if span.start <= f.start < span.end][:limit]

    def answer(self, chamber: str, kind: Kind, number: int, *, was_it: bool) -> Shown:
        self._know(chamber)
        for shown in (*self.mistings_shown, VENTED):
            if shown.found.id == number and shown.found.kind is kind:
                answered = replace(shown.found, confirmed=was_it)
                if was_it:
                    self.said_yes = [answered, *self.said_yes]
                return Shown(answered)
        raise UnknownNameError(f"There is no {kind.value} {number} in “{chamber}”.")
