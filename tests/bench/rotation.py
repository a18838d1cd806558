"""How long a plan takes: 12 weeks, 8 shelves in 2 chambers, 4 species, batches under way."""

import timeit
from datetime import UTC, date, datetime, timedelta

from chamberwatch.core.growing.due import Window
from chamberwatch.core.growing.rotation.plan import Awaited, Plan, Space, UnderWay, Wanted
from chamberwatch.core.growing.rotation.search import plan
from chamberwatch.core.growing.species import SpeciesTable
from chamberwatch.settings import shipped_species
from tests.bench.told import Told

LIMIT_S = 2.0
SUMS = 1_000_000

TODAY = date(2026, 11, 25)
WISHES = (
    Wanted("grey-oyster", (0.4, 0.6), 350.0),
    Wanted("shiitake", (0.1, 0.2), 350.0),
    Wanted("king-oyster", (0.2, 0.3), 500.0),
    Wanted("golden-oyster", (0.2, 0.3), 500.0),
)
SPACES = (
    Space("tent", ("a", "b", "c", "d"), holds=2),
    Space("cupboard", ("e", "f", "g", "h"), holds=2, open_at_most=3),
)


def at(day: int) -> datetime:
    """Return a time so many days from today."""
    return datetime(TODAY.year, TODAY.month, TODAY.day, tzinfo=UTC) + timedelta(days=day)


def under_way() -> tuple[UnderWay, ...]:
    """Return an open batch and two sealed ones."""
    return (
        UnderWay(
            1,
            "grey-oyster",
            "tent",
            "a",
            True,
            None,
            Window(at(20), at(30)),
            (Awaited(at(3), at(8), 0.1, 0.15),),
        ),
        UnderWay(
            2, "grey-oyster", "tent", "b", False, Window(at(3), at(10)), Window(at(30), at(50))
        ),
        UnderWay(
            3, "shiitake", "cupboard", "e", False, Window(at(20), at(40)), Window(at(60), at(90))
        ),
    )


def made(table: SpeciesTable) -> Plan:
    """Return the plan."""
    return plan(WISHES, SPACES, under_way(), table, TODAY)


def rotation(told: Told) -> None:
    """A plan with what gives and what would help, against a plain loop of sums."""
    species = shipped_species()
    found = made(species)
    took = min(timeit.repeat(lambda: made(species), number=1, repeat=3))
    limit = min(timeit.repeat(lambda: sum(n * 0.5 for n in range(SUMS)), number=1, repeat=3))
    told.add(
        "a plan of 12 weeks",
        f"{took:.2f} s",
        limit=f"{limit * 1e3:.0f} ms",
        ratio=took / limit,
        aim=f"< {LIMIT_S:g} s",
        met=took < LIMIT_S,
        how=f"4 species, 8 shelves, 2 chambers, 3 under way, {len(found.starts)} starts; "
        "limit: a million sums",
    )
