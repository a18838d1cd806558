"""How everything is: asked of the daemon itself, or looked up beside it."""

import platform
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import datetime
from functools import partial
from zoneinfo import ZoneInfo

from chamberwatch import __version__
from chamberwatch.clock import WallClock
from chamberwatch.core import health as lines
from chamberwatch.core.errors import StorageError
from chamberwatch.core.health import Line
from chamberwatch.core.self_check import BROKER, DATABASE, Database, SelfCheck
from chamberwatch.service.board import Board
from chamberwatch.service.doubting import last_kept
from chamberwatch.service.history import History, Vitals
from chamberwatch.service.ports import Clock
from chamberwatch.service.upkeep import thinning_stand
from chamberwatch.service.wellness import Report, Told, Wellness, without_book
from chamberwatch.settings import Settings
from chamberwatch.storage.book import SqlBooks
from chamberwatch.storage.looking import look_at
from chamberwatch.storage.place import place_of
from chamberwatch.storage.probing import versions as of_storage
from chamberwatch.wiring.self_watch import checkup_alone
from chamberwatch.wiring.upkeep import amiss_with_backups, backups_at, wear


def versions() -> Mapping[str, str]:
    """Return the versions of what runs here, by name."""
    try:
        system = platform.freedesktop_os_release()["PRETTY_NAME"]
    except (OSError, KeyError):
        system = platform.system()
    return {
        "chamberwatch": __version__,
        "Python": platform.python_version(),
        **of_storage(),
        "system": f"{system} ({platform.machine()})",
    }


def told_by(settings: Settings) -> Told:
    """Return what the settings and the machine say."""
    zone = ZoneInfo(settings.site.timezone)
    return Told(
        settings.database.keep_raw,
        len(settings.notify),
        zone,
        versions(),
        on_server=settings.database.on_server,
        backup_amiss=amiss_with_backups(settings),
    )


def wellness(settings: Settings, books: SqlBooks, clock: Clock, history: History) -> Wellness:
    """Return what says how everything is, of the daemon itself.

    Raises:
        StorageError: the database can't be read.
    """
    look = wear(settings, books, clock).now
    return Wellness(history, look, partial(thinning_stand, books), told_by(settings), clock)


def report_beside(settings: Settings) -> Report:
    """Look everything over beside a daemon, or without one; nothing is made or changed.

    Raises:
        StorageError: it can't be told whether a daemon runs.
    """
    told = told_by(settings)
    running = place_of(settings.database.address).taken()
    checkup = checkup_alone(settings)
    checks, found = checkup.look(), checkup.known()
    if found is not None and found.there and not found.trouble and not found.steps_missing:
        try:
            return _report(settings, told, checks, running=running)
        except StorageError as error:
            checks = tuple(_instead(each, error) for each in checks)
    return without_book(checks, told, _missing(found), running=running)


def _missing(found: Database | None) -> Callable[[str], Line]:
    """Return what gives the line of what the database would tell."""
    if found is None or found.trouble or found.damage:
        return lines.unread
    if not found.there:
        return lines.nothing_kept
    return lines.behind if found.steps_missing else lines.unread


def _instead(check: SelfCheck, error: StorageError) -> SelfCheck:
    """Return a look; that at the database says what was met there since."""
    return SelfCheck(DATABASE, False, str(error)) if check.name == DATABASE else check


def _report(
    settings: Settings, told: Told, checks: tuple[SelfCheck, ...], *, running: bool
) -> Report:
    clock = WallClock()
    with look_at(settings.database.address) as books:
        history = _history(settings, books, clock, checks)
        thinning = partial(thinning_stand, books)
        look = wear(settings, books, clock).now
        return Wellness(history, look, thinning, told, clock, runs=running).report()


def _history(
    settings: Settings, books: SqlBooks, clock: WallClock, checks: tuple[SelfCheck, ...]
) -> History:
    """Return what answers from the book alone, as the daemon would from its board."""
    # What the daemon heard last is on the disk only after its next commit.
    wait, told = settings.database.commit_every, settings.house()
    sensors = {
        name: replace(each, unheard_after=each.unheard_after + wait)
        for name, each in told.sensors.items()
    }
    house, board, now = replace(told, sensors=sensors), Board(clock.monotonic()), clock.now()
    with books.read() as book:
        newest = book.readings.newest()
        board.remember(newest, ())
        board.doubt(last_kept(book, house), ())
    last = max((reading.time for reading in newest.values()), default=None)
    return History(
        books,
        clock,
        house,
        board,
        ZoneInfo(settings.site.timezone),
        lambda: _vitals(checks, last, now),
        now,
        __version__,
        checks=lambda: checks,
        backup_at=backups_at(settings),
    )


def _vitals(checks: tuple[SelfCheck, ...], last: datetime | None, now: datetime) -> Vitals:
    """Return what can be told of the daemon's parts from beside it."""
    broker = next(each for each in checks if each.name == BROKER)
    ago = now - last if last is not None else None
    return Vitals(broker.well, ago, () if broker.well else (broker.words,))
