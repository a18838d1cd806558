"""A growing record with starts planned by hand, and a visitor of its desk."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import cast

from fastapi.testclient import TestClient

from chamberwatch.core.growing.batch import Batch, Container, EntryKind, Start
from chamberwatch.core.growing.rotation.plan import Wanted
from chamberwatch.core.growing.species import Mark, Species, SpeciesTable, Stated, View
from chamberwatch.core.growing.task import PlannedStart
from chamberwatch.service.books import Books
from chamberwatch.service.growing.duties import Duties
from chamberwatch.service.growing.growing import Growing
from chamberwatch.service.growing.places import Place
from chamberwatch.service.growing.rotating import Rotating, RotatingParts
from chamberwatch.service.growing.told import Telling
from chamberwatch.storage.book import open_books
from chamberwatch.web.app import create_app
from tests.core.growing.timed import ENOKI, OYSTER, SHIITAKE
from tests.fakes import HandClock
from tests.make import at
from tests.web.desk_fakes import ZONE, Played
from tests.web.growing_fakes import growing

A_DAY_MIN = 24 * 60.0


@dataclass(frozen=True)
class Asked:
    """A planned start, as far as tasks and calendar look at it."""

    species: str
    on: date
    turn: int = 1
    colonise_at: tuple[str, str] | None = None


class PlannedByHand:
    """Plans what it was given."""

    def __init__(self) -> None:
        self.planned: list[PlannedStart] = []

    def starts(self) -> Sequence[PlannedStart]:
        return tuple(self.planned)


@dataclass
class Grower:
    """Tells the record what happened, in days from noon of the 20th of January."""

    growing: Growing
    books: Books
    clock: HandClock
    visitor: TestClient
    plan: PlannedByHand

    def start(self, day: float, shelf: str = "top") -> Batch:
        started = Start("grey-oyster", Container.BAG, dry_g=350.0)
        place = Place("tent", shelf)
        return self.growing.record.start(started, place, at(day * A_DAY_MIN), "", "api")

    def tell(self, batch: int, kind: EntryKind, day: float, weight_g: float | None = None) -> None:
        telling = Telling(kind, at(day * A_DAY_MIN), weight_g=weight_g)
        self.growing.record.tell(batch, telling, "api")

    def later(self, days: float) -> None:
        self.clock.turn(minutes=days * A_DAY_MIN)


def sure(species: Species) -> Species:
    """Return a species that brings as much as its dry substrate weighs, so sums are easy."""
    return replace(species, efficiency_pct=Stated((View(100.0, 100.0, "S00", Mark.READ),)))


WISH = Wanted("grey-oyster", (0.4, 0.6), 500.0)
SURE_TABLE = SpeciesTable({s.name: s for s in (sure(OYSTER), sure(SHIITAKE), ENOKI)}, {})


@contextmanager
def wishing(folder: Path, played: Played, *wanted: Wanted) -> Iterator[Grower]:
    """Give a grower whose settings want this, with the real plan."""
    with grower(folder, played, SURE_TABLE) as made:
        plain = made.growing
        parts = RotatingParts(
            plain.record, plain.table, plain.standing.house, made.books, made.clock, ZONE
        )
        rotating = Rotating(parts, wanted)
        duties = replace(plain.duties, planned=rotating)
        joined = replace(plain, duties=duties, rotating=rotating)
        desk = replace(played.desk, growing=joined)
        with TestClient(create_app(desk), base_url="http://localhost") as visitor:
            yield replace(made, growing=joined, visitor=visitor)


@contextmanager
def grower(folder: Path, played: Played, table: SpeciesTable | None = None) -> Iterator[Grower]:
    """Give a grower with an empty record in a real database."""
    books = open_books(f"sqlite:///{folder / 'cw.db'}", at(0))
    plan = PlannedByHand()
    plain = growing(books, played.clock, table=table)
    duties = Duties(plain.record, plan, plain.table, played.clock, ZONE)
    joined = replace(plain, duties=duties, rotating=cast(Rotating, plan))
    desk = replace(played.desk, books=books, growing=joined)
    with TestClient(create_app(desk), base_url="http://localhost") as visitor:
        yield Grower(joined, books, played.clock, visitor, plan)
    books.close()
