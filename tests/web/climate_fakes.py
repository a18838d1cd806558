"""A week of air, made up: dry at night, stale on Tuesday."""

from dataclasses import dataclass, field
from datetime import timedelta
from zoneinfo import ZoneInfo

from chamberwatch.core import climate_words
from chamberwatch.core.errors import RefusedError, UnknownNameError
from chamberwatch.core.review.climate import Climate, Freshness, Holding, HourOfDay, Share, Spell
from chamberwatch.core.review.week import Week
from chamberwatch.core.watch.judgement import Standing
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.service.climate import ClimateWeek

BERLIN = ZoneInfo("Europe/Berlin")
WEEK = Week(2026, 4)
MONDAY = WEEK.start(BERLIN)
MIN = timedelta(minutes=1)
RH, T, CO2 = Quantity.HUMIDITY, Quantity.TEMPERATURE, Quantity.CO2


def _day(low_at: int, base: float, *, above: bool = False) -> tuple[HourOfDay, ...]:
    def hour(number: int) -> HourOfDay:
        far = min(abs(number - low_at), 24 - abs(number - low_at))
        out = max(0, 40 - 12 * far)
        return HourOfDay(
            number, base + far, 60, 60 - out, 0 if above else out, out if above else 0
        )

    return tuple(hour(number) for number in range(24))


def lived() -> Climate:
    """Return the figures."""
    heard = timedelta(days=6, hours=22)
    return Climate(
        "tent",
        MONDAY,
        MONDAY + timedelta(days=7),
        (
            Share(RH, heard, 10_000, 8_100, 1_700, 200, 66.2, 84.9, 97.0),
            Share(T, heard, 10_000, 10_000, 0, 0, 16.1, 18.2, 20.9),
            Share(CO2, heard, 10_000, 9_100, 0, 900, 520.0, 780.0, 1640.0),
        ),
        (
            Spell(
                RH,
                Standing.BELOW,
                MONDAY + 1600 * MIN,
                MONDAY + 1790 * MIN,
                66.2,
                80.0,
                harm=True,
                excess=420.0,
            ),
            Spell(
                CO2,
                Standing.ABOVE,
                MONDAY + 2900 * MIN,
                MONDAY + 2945 * MIN,
                1640.0,
                1000.0,
                harm=False,
                excess=200.0,
            ),
        ),
        {RH: _day(4, 76.0), T: _day(5, 16.0), CO2: _day(21, 700.0, above=True)},
        Holding(31, 6, (9 * MIN, 24 * MIN, 24 * MIN, 71 * MIN)),
        Freshness(18, 0.8, 0.6, 1.1, 9),
    )


def told(climate: Climate, *, over: bool = True) -> ClimateWeek:
    """Return a week in words."""
    return ClimateWeek(
        week=WEEK,
        title="Tent",
        over=over,
        climate=climate,
        shares=tuple(
            (
                climate_words.NAMES[s.quantity],
                climate_words.in_band(s),
                climate_words.span_words(s),
            )
            for s in climate.shares
        ),
        spells=tuple(climate_words.spell(s, BERLIN) for s in climate.spells),
        holding=climate_words.holding(climate.holding),
        freshness=climate_words.freshness(climate.freshness),
        changes=climate_words.changes(climate, timedelta(days=7)),
    )


@dataclass
class FakeClimates:
    """Answers with a week, whichever is asked for."""

    found: ClimateWeek = field(default_factory=lambda: told(lived()))
    asked: list[tuple[str, str]] = field(default_factory=list)

    def week(self, chamber: str, name: str = "") -> ClimateWeek:
        self.asked.append((chamber, name))
        if chamber != "tent":
            raise UnknownNameError(f"There is no chamber “{chamber}”.")
        if name > WEEK.name:
            raise RefusedError(f"{name} has not begun.")
        return self.found
