"""What the pages say of limits that are yet to be reached."""

from collections.abc import Iterable

from chamberwatch.core import ahead_words
from chamberwatch.core.air.figure import Origin
from chamberwatch.core.watch.foretold import Foreseen
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.rule import Side
from chamberwatch.service.views import ChamberNow
from chamberwatch.web.desk import Desk


def ahead_lines(desk: Desk, shown: ChamberNow) -> tuple[str, ...]:
    """Return a line for each limit ahead, and one for how good forecasts were of each quantity."""
    chamber = shown.chamber
    if desk.foreseeing is None or chamber.stage is None:
        return ()
    known, now = desk.foreseeing.ahead(chamber.name), desk.clock.now()
    return (
        *(ahead_words.coming(each, now, desk.zone) for each in known.coming),
        *_beside_a_guess(shown, known.coming),
        *(ahead_words.how_good(quantity, record) for quantity, record in known.records.items()),
    )


def _beside_a_guess(shown: ChamberNow, coming: Iterable[Foreseen]) -> tuple[str, ...]:
    """Say which to believe where the same page reckons otherwise from a leak nobody measured."""
    told = shown.counsel
    if told is None or told.hold is None or told.hold.limit is None:
        return ()
    if told.situation.known.leak_per_h.origin is not Origin.ASSUMED:
        return ()
    dries = any(
        (each.foretold.quantity, each.foretold.side) == (Quantity.HUMIDITY, Side.LOW)
        for each in coming
    )
    return (ahead_words.RATHER_THAN_A_GUESS,) if dries else ()
