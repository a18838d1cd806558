"""Species and wishes to plan with, round figures unless a source is named."""

from datetime import UTC, date, datetime, timedelta

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.due import Window
from chamberwatch.core.growing.rotation.plan import Awaited, FlushAt, Timing, UnderWay, Wanted
from chamberwatch.core.growing.species import Species, SpeciesTable, Stated, View, Wants

Pair = tuple[float | None, float | None]

# A Monday.
TODAY = date(2026, 11, 23)


def said(pair: Pair | None) -> Stated | None:
    return None if pair is None else Stated((View(*pair),))


def wants(stage: Stage, days: Pair | None, warm: Pair | None, stale: Pair | None = None) -> Wants:
    return Wants(stage, said(warm), co2_ppm=said(stale), days=said(days))


def species(
    title: str,
    warm: Pair | None,
    stale: Pair | None = (None, 1000.0),
    efficiency: Pair | None = (100.0, 100.0),
    sealed: Pair = (18.0, 27.0),
) -> Species:
    """Return one that colonises in 14 days, bears after 8 and again 10 days later."""
    stages = (
        wants(Stage.COLONISATION, (14.0, 14.0), sealed),
        wants(Stage.PINNING, (4.0, 4.0), None),
        wants(Stage.FRUITING, (4.0, 4.0), warm, stale),
    )
    return Species(
        title.lower().replace(" ", "-"),
        title,
        "",
        {each.stage: each for each in stages},
        flushes=said((2.0, 2.0)),
        days_between=said((10.0, 10.0)),
        efficiency_pct=said(efficiency),
    )


COOL = species("Grey oyster", (10.0, 21.0))
SHY = species("Shiitake", (10.0, 21.0))
WARM = species("Golden oyster", (21.5, 29.0))
STALE = species("Enoki", (10.0, 16.0), (2000.0, 4000.0))
ANY = Species("any", "Any", "", {})
TABLE = SpeciesTable({each.name: each for each in (COOL, SHY, WARM, STALE)}, {})


def quick(
    colonise: tuple[float, float] = (7.0, 7.0),
    stay: tuple[float, float] = (9.0, 9.0),
    flushes: tuple[tuple[float, float, float], ...] = ((4.0, 8.0, 1.0),),
) -> Timing:
    return Timing(colonise, stay, tuple(FlushAt(*flush) for flush in flushes))


def wish(kind: Species, low: float, high: float | None = None, dry_g: float = 500.0) -> Wanted:
    return Wanted(kind.name, (low, low if high is None else high), dry_g)


def at(day: float) -> datetime:
    """Return a time so many days from the first of today."""
    return datetime(TODAY.year, TODAY.month, TODAY.day, tzinfo=UTC) + timedelta(days=day)


def under_way(
    batch: int,
    kind: Species = COOL,
    place: tuple[str, str] | None = ("tent", "top"),
    opens: tuple[float, float] | None = None,
    leaves: float = 20.0,
    crops: tuple[tuple[float, float, float], ...] = (),
) -> UnderWay:
    """Return a batch that is open, or sealed with a day on which it can be opened."""
    return UnderWay(
        batch,
        kind.name,
        place[0] if place else None,
        place[1] if place else None,
        opens is None,
        Window(at(opens[0]), at(opens[1])) if opens else None,
        Window(at(leaves), at(leaves)),
        tuple(Awaited(at(low), at(high), kg, kg) for low, high, kg in crops),
    )
