"""One day in lines: what was true, what was read, what was said, what was done."""

from collections.abc import Iterator

from chamberwatch.core.watch.reading import Quantity
from tests.bench.winter.episodes import (
    DAY_MIN,
    episodes,
    harms,
)
from tests.bench.winter.scoring import (
    is_false,
)
from tests.bench.winter.season import Season

EVERY_MIN = 30
FAULTS = ("", " sensor silent", " sensor wet")


def told_day(season: Season, day: int) -> Iterator[str]:
    """Yield the lines of a day."""
    begin = day * DAY_MIN
    end = min(begin + DAY_MIN, season.truth.minutes())
    lines = [(minute, 0, _air(season, minute)) for minute in range(begin, end, EVERY_MIN)]
    for message, words in zip(season.messages, season.words, strict=True):
        mark = {True: " (FALSE)", False: "", None: ""}[is_false(message, season.truth)]
        grave = "!!" if message.grave else ">>"
        air = _air(season, message.minute)
        lines.append((message.minute, 1, f"{air}\n      {grave} {message.kind}: {words}{mark}"))
    lines += [(did.minute, 2, f"   .. {did.words}") for did in season.did]
    for episode in episodes(season.truth):
        lasted = f"{episode.end - episode.start} min"
        lines.append((episode.start, 3, f"   -- begins: {episode.call} for {lasted}"))
    for harm in harms(season.truth):
        seen = "observable" if harm.observable else "under a sensor at fault"
        lines.append(
            (harm.start, 4, f"   ## harm, {seen}: {harm.call}, {harm.end - harm.start} min")
        )
    for minute, _, words in sorted(lines):
        if begin <= minute < end:
            yield f"{minute % DAY_MIN // 60:02d}:{minute % 60:02d} {words}"


def _air(season: Season, minute: int) -> str:
    truth, heard = season.truth, season.readings
    said = []
    for quantity, digits, unit in (
        (Quantity.HUMIDITY, 1, "%"),
        (Quantity.CO2, 0, "ppm"),
        (Quantity.TEMPERATURE, 1, "°C"),
    ):
        value = heard[quantity][minute]
        read = "-" if value is None else f"{value:.{digits}f}"
        said.append(f"{truth.air[quantity][minute]:.{digits}f} (read {read}) {unit}")
    return ", ".join(said) + FAULTS[truth.fault[minute]]
