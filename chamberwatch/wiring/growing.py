"""The parts that know of growing, joined: for the daemon, and for commands beside it.

Apart from the rest, so that a command need not load the web server and the broker's client.
"""

from zoneinfo import ZoneInfo

from chamberwatch.core.growing.species import SpeciesTable
from chamberwatch.service.board import Board
from chamberwatch.service.books import Books
from chamberwatch.service.growing.cautions import Cautions
from chamberwatch.service.growing.duties import Duties
from chamberwatch.service.growing.growing import Growing
from chamberwatch.service.growing.looking import Looking
from chamberwatch.service.growing.record import GrowingRecord, RecordParts
from chamberwatch.service.growing.rotating import Rotating, RotatingParts
from chamberwatch.service.growing.standing import Standing
from chamberwatch.service.ports import Clock
from chamberwatch.settings import Settings


def grow(
    settings: Settings, table: SpeciesTable, books: Books, clock: Clock, board: Board
) -> Growing:
    """Join the parts that know of growing; bands follow what the book holds from the start on."""
    standing = Standing(settings.house(), table, board)
    house, zone = standing.house, ZoneInfo(settings.site.timezone)

    def changed() -> None:
        newest, batches = record.state()
        standing.renew(batches, clock.now(), newest)

    record = GrowingRecord(RecordParts(books, clock, house, table, changed))
    standing.renew(record.batches(), None)
    wanted = tuple(each.wanted() for each in settings.rotation)
    rotating = Rotating(RotatingParts(record, table, house, books, clock, zone), wanted)
    return Growing(
        table=table,
        record=record,
        standing=standing,
        duties=Duties(record, rotating, table, clock, zone),
        rotating=rotating,
        looking=Looking(books, house, table, record.batches, clock, zone),
        cautions=Cautions(books, clock, table),
    )
