"""What the pages say of limits that are yet to be reached."""

from chamberwatch.core import ahead_words
from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.web.desk import Desk


def ahead_lines(desk: Desk, chamber: Chamber) -> tuple[str, ...]:
    """Return a line for each limit ahead, and one for how good forecasts were of each quantity."""
    if desk.foreseeing is None or chamber.stage is None:
        return ()
    known, now = desk.foreseeing.ahead(chamber.name), desk.clock.now()
    return (
        *(ahead_words.coming(each, now, desk.zone) for each in known.coming),
        *(ahead_words.how_good(quantity, record) for quantity, record in known.records.items()),
    )
