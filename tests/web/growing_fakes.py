"""A growing record of real parts, on a real database, before the web room."""

from collections.abc import Sequence
from dataclasses import replace
from typing import cast

from chamberwatch.core.growing.species import SpeciesTable
from chamberwatch.core.growing.task import PlannedStart
from chamberwatch.core.watch.chamber import House
from chamberwatch.service.board import Board
from chamberwatch.service.books import Books
from chamberwatch.service.growing.cautions import Cautions
from chamberwatch.service.growing.duties import Duties
from chamberwatch.service.growing.growing import Growing
from chamberwatch.service.growing.looking import Looking
from chamberwatch.service.growing.record import GrowingRecord, RecordParts
from chamberwatch.service.growing.rotating import Rotating
from chamberwatch.service.growing.standing import Standing
from chamberwatch.settings.species import shipped_species
from tests.fakes import HandClock
from tests.make import house
from tests.web.desk_fakes import ZONE


class NothingPlanned:
    """No start is planned."""

    def starts(self) -> Sequence[PlannedStart]:
        return ()


def where_people_live() -> House:
    """Return the invented grower's house: the tent stands in the living room and is small."""
    plain = house()
    tent = replace(plain.chambers["tent"], living_space=True, shelf_holds=2)
    return replace(plain, chambers={**plain.chambers, "tent": tent})


def growing(
    books: Books,
    clock: HandClock,
    declared: House | None = None,
    table: SpeciesTable | None = None,
) -> Growing:
    """Join the parts of the growing record; nobody asks for a rotation here."""
    table = table or shipped_species()
    standing = Standing(declared or where_people_live(), table, Board(clock.monotonic()))

    def changed() -> None:
        standing.renew(record.batches(), clock.now())

    record = GrowingRecord(RecordParts(books, clock, standing.house, table, changed))
    standing.renew(record.batches(), None)
    return Growing(
        table=table,
        record=record,
        standing=standing,
        duties=Duties(record, NothingPlanned(), table, clock, ZONE),
        rotating=cast(Rotating, None),
        looking=Looking(books, standing.house, table, record.batches, clock, ZONE),
        cautions=Cautions(books, clock, table),
    )
