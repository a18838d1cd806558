"""What is done at night, joined: for the daemon, and for commands beside it.

Apart from the rest, so that a command need not load the web server and the broker's client.
"""

from collections.abc import Callable, Mapping
from datetime import time
from functools import partial
from pathlib import Path
from zoneinfo import ZoneInfo

from chamberwatch.service.backing_up import BackingUp
from chamberwatch.service.patiently import Patiently
from chamberwatch.service.ports import Clock
from chamberwatch.service.thinning import Thinning
from chamberwatch.service.upkeep import Upkeep
from chamberwatch.service.wear import Wear
from chamberwatch.service.wellness import Ailing, all_well
from chamberwatch.settings import Settings
from chamberwatch.storage.backup_folder import BackupFolder
from chamberwatch.storage.book import SqlBooks
from chamberwatch.storage.engine import path_of
from chamberwatch.storage.place import place_of
from chamberwatch.storage.probing import look_at_disk

Beside = Callable[[], Mapping[str, str]]
"""Gives the texts that are kept with a backup, by the ends of their names."""


def backup_folder(settings: Settings, folder: Path) -> BackupFolder:
    """Return a folder for backups of the database of the settings.

    Raises:
        StorageError: it isn't the address of a database of ours.
    """
    return BackupFolder(folder, path_of(settings.database.url))


def backing_up(
    settings: Settings, books: SqlBooks, clock: Clock, beside: Beside, folder: Path | None = None
) -> BackingUp | None:
    """Return what makes backups; None: nowhere to put one, or on a server.

    Args:
        settings: the grower's.
        books: keep what is known of the last one.
        clock: the time.
        beside: texts to keep with each.
        folder: another than that of the settings: there every backup stays.
    """
    if settings.database.on_server:
        return None
    told = settings.backup.folder
    where = folder or (Path(told) if told else None)
    if where is None:
        return None
    stay = settings.backup.stay() if told and where == Path(told) else None
    zone = ZoneInfo(settings.site.timezone)
    return BackingUp(books, clock, backup_folder(settings, where), stay, zone, beside)


def backups_at(settings: Settings) -> time | None:
    """Return when a backup is made each night; None: none is."""
    made = settings.backup.folder and not settings.database.on_server
    return settings.backup.at if made else None


def amiss_with_backups(settings: Settings) -> Callable[[str], str]:
    """Return what tells, given the last, why there is none or could be none, with the cure."""
    if backups_at(settings) is None:
        return all_well
    folder = Path(str(settings.backup.folder))
    late = (
        f"The folder {folder} for backups does not answer. Look at the stick, or at the network "
        "it lies on."
    )
    place = backup_folder(settings, folder)
    return Patiently(lambda last: place.trouble() or place.missed(last), late)


def ailing(settings: Settings) -> Ailing:
    """Return what tells a phone how the watcher itself ails."""
    disk = partial(look_at_disk, settings.database.nearby)
    return Ailing(disk, backups_at(settings), ZoneInfo(settings.site.timezone))


def upkeep(settings: Settings, books: SqlBooks, clock: Clock, beside: Beside) -> Upkeep:
    """Return the work of a night."""
    return Upkeep(
        books,
        clock,
        Thinning(books, clock, settings.database.keep_raw),
        backing_up(settings, books, clock, beside),
    )


def wear(settings: Settings, books: SqlBooks, clock: Clock) -> Wear:
    """Return what tells how the card wears, counted from now on.

    Raises:
        StorageError: the database can't be read.
    """
    look = place_of(settings.database.address).card
    return Wear(books, clock, look, settings.database.commit_every, settings.database.keep_raw)
