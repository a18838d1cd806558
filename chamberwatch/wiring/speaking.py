"""When to speak: the hours of each address, joined with what decides by them."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from chamberwatch.core.watch.chamber import House
from chamberwatch.core.watch.hours import AT_ONCE, Manner
from chamberwatch.service.board import Board
from chamberwatch.service.books import Books
from chamberwatch.service.counselling import Counselling
from chamberwatch.service.growing.duties import Duties
from chamberwatch.service.mornings import Mornings
from chamberwatch.service.nights import Nights
from chamberwatch.service.phrasing import Phrasing
from chamberwatch.service.ports import Clock
from chamberwatch.service.returning import Returning
from chamberwatch.service.waiting import Waiting
from chamberwatch.settings import Settings
from chamberwatch.settings.cross import TERMINAL
from chamberwatch.wiring.upkeep import ailing


@dataclass(frozen=True, slots=True)
class Speaking:
    """What decides when to speak: for the delivery, and for the rounds."""

    waiting: Waiting
    nights: Nights
    returning: Returning


def manners(settings: Settings) -> dict[str, Manner]:
    """Return how each address wants to be spoken to; the terminal is told everything at once."""
    zone = ZoneInfo(settings.site.timezone)
    return {TERMINAL: AT_ONCE} | {n.name: n.manner(zone) for n in settings.notify}


def speaking(
    books: Books,
    clock: Clock,
    board: Board,
    counsel: Counselling,
    duties: Duties,
    settings: Settings,
) -> Speaking:
    """Join the parts."""
    by = manners(settings)
    house: House = counsel.house
    zone = counsel.zone
    nights = Nights(house, board, counsel, by, zone)
    phrasing = Phrasing(house, board, clock, zone, counsel, duties)
    mornings = Mornings(house, board, zone, ailing(settings))
    waiting = Waiting(books, board, by, nights, mornings, phrasing, zone)
    return Speaking(waiting, nights, Returning(house, board))
