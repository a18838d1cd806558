"""`backup` and `restore`: a copy of everything, and the way back."""

import os
import shutil
import sys
from collections.abc import Iterator
from datetime import tzinfo
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated
from zoneinfo import ZoneInfo

import typer

from chamberwatch.cli.beside import DEFAULT_CONFIG, ConfigOption, beside
from chamberwatch.cli.terminal import going_through, stoppable
from chamberwatch.core.errors import RefusedError
from chamberwatch.core.health import size

if TYPE_CHECKING:
    from threading import Event

    from chamberwatch.service.backup_ports import Made, Progress, Rotated
    from chamberwatch.settings import Settings
    from chamberwatch.storage.restoring import Restored, Seen

NOWHERE = (
    "There is nowhere to put a backup. Name a folder, best on a disk of its own: folder under "
    "[backup] in {config}, or --to FOLDER."
)
CLOSED = (
    "{path} can't be read by this account. Run it as the one that may: where chamberwatch was "
    "installed, sudo chamberwatch restore ..."
)


def backup(
    config: ConfigOption = DEFAULT_CONFIG,
    to: Annotated[
        Path | None,
        typer.Option(
            help="Another folder than that of the settings; there every backup stays.",
        ),
    ] = None,
    new_place: Annotated[
        bool,
        typer.Option("--new-place", help="Begin the folder: mark it as a place for backups."),
    ] = False,
) -> None:
    """Copy everything, beside a daemon that may be running, and look the copy through."""
    from chamberwatch.settings import load
    from chamberwatch.storage.engine import path_of
    from chamberwatch.wiring.upkeep import backup_folder

    settings = load(config, os.environ)
    database = path_of(settings.database.url)
    if new_place:
        folder = _folder(settings, to, config)
        backup_folder(settings, folder).begin()
        print(_where(folder, database))
    with stoppable() as stopping, going_through() as shown:
        made, went = _made(config, to, stopping, shown)
    print(f"{made.file}, {size(made.size)}: {made.readings} readings, looked through.")
    if made.photos:
        lost = f", {made.lost_photos} of them without a sound file" if made.lost_photos else ""
        print(f"{made.photos} photos{lost}.")
    if went.gone:
        print(f"Gone, since newer ones stand in for them: {', '.join(went.gone)}.")
    if went.trouble:
        print(went.trouble, file=sys.stderr)


def _made(
    config: Path, to: Path | None, stopping: "Event", shown: "Progress"
) -> tuple["Made", "Rotated"]:
    from chamberwatch.settings import copies
    from chamberwatch.storage.book import OlderError
    from chamberwatch.wiring.upkeep import backing_up

    try:
        with beside(config) as on:
            job = backing_up(on.settings, on.books, on.clock, partial(copies, config), _whole(to))
            if job is None:
                raise RefusedError(NOWHERE.format(config=config))
            return job.make(stopping, shown)
    except OlderError:
        return _made_as_it_is(config, to, stopping, shown)


def _made_as_it_is(
    config: Path, to: Path | None, stopping: "Event", shown: "Progress"
) -> tuple["Made", "Rotated"]:
    """Copy a database of an older version, before the next start brings it up to date."""
    from chamberwatch.clock import WallClock
    from chamberwatch.service.backing_up import copy_as_it_is
    from chamberwatch.service.backup_ports import Rotated
    from chamberwatch.settings import copies, load
    from chamberwatch.wiring.upkeep import backup_folder

    settings = load(config, os.environ)
    place = backup_folder(settings, _folder(settings, to, config))
    made = copy_as_it_is(place, WallClock(), copies(config), stopping, shown)
    print("The database is of an older version. It was copied as it is; older backups stay.")
    return made, Rotated()


def restore(
    file: Annotated[
        Path, typer.Argument(help="The backup: a file that ends in .db; the folder lists them.")
    ],
    config: ConfigOption = DEFAULT_CONFIG,
    replace: Annotated[
        bool,
        typer.Option("--replace", help="Also where there is a database; it is kept aside."),
    ] = False,
    another_house: Annotated[
        bool,
        typer.Option(
            "--another-house",
            help="Also where the backup is of another house; what comes of it counts as this one.",
        ),
    ] = False,
) -> None:
    """Put a backup in the place of the database, while chamberwatch is stopped."""
    from chamberwatch.clock import WallClock
    from chamberwatch.service.backup_ports import Pace
    from chamberwatch.settings import load
    from chamberwatch.storage.alone import alone_with
    from chamberwatch.storage.engine import path_of
    from chamberwatch.storage.restoring import look_into
    from chamberwatch.storage.restoring import restore as put_in_place

    settings, clock = load(config, os.environ), WallClock()
    database, zone = path_of(settings.database.url), ZoneInfo(settings.site.timezone)
    if not database.parent.is_dir():
        raise RefusedError(f"The folder {database.parent} for the database is not there. Make it.")
    if _is_folder(file):
        print("\n".join(_listed(file, database, zone)))
        return
    if file.exists() and database.exists() and file.samefile(database):
        raise RefusedError(f"{file} is the database itself; there is nothing to be put in place.")
    with stoppable() as stopping, alone_with(database), going_through() as shown:
        pace = Pace(stopping, clock)
        seen = look_into(file.absolute(), pace)
        other = _of_another_house(seen, database)
        if other and not another_house:
            raise RefusedError(other)
        if not replace and database.exists() and database.stat().st_size:
            raise RefusedError(_in_the_way(database, file, seen))
        done = put_in_place(seen, database, clock.now(), pace, shown)
    _tell(done, database)


def _is_folder(path: Path) -> bool:
    try:
        return path.is_dir()
    except PermissionError as error:
        raise RefusedError(CLOSED.format(path=path)) from error


def _listed(folder: Path, database: Path, zone: tzinfo) -> Iterator[str]:
    """Yield a line for each backup that a folder holds, the newest first."""
    from chamberwatch.storage.backup_folder import BackupFolder, house_in

    try:
        found = BackupFolder(folder, database).all()
    except PermissionError as error:
        raise RefusedError(CLOSED.format(path=folder)) from error
    if not found:
        raise RefusedError(f"{folder} is a folder, and there is no backup in it. Name a file.")
    ours = house_in(database)
    for at, path in found:
        whose, large = _whose(house_in(path), ours), size(path.stat().st_size)
        yield f"{path}  of {at.astimezone(zone):%Y-%m-%d %H:%M}, {large}{whose}"
    yield "Name one of them: chamberwatch restore FILE"


def _whose(house: str | None, ours: str | None) -> str:
    if house is None:
        return ", does not say of which house"
    return ", of another house" if ours is not None and house != ours else ""


def _of_another_house(seen: "Seen", database: Path) -> str:
    """Say that a backup is of another house than the database that is there; empty: it is not."""
    from chamberwatch.storage.backup_folder import house_in

    ours, theirs = house_in(database), house_in(seen.file)
    if ours is None or theirs is None or ours == theirs:
        return ""
    return (
        f"{seen.file.name} is a backup of another house than the database {database}. Nothing was "
        "changed. “chamberwatch restore FOLDER” says which ones are of this house. If you mean "
        "it, add --another-house."
    )


def _in_the_way(database: Path, file: Path, seen: "Seen") -> str:
    large = size(database.stat().st_size)
    newest = f"{seen.newest:%Y-%m-%d %H:%M} UTC" if seen.newest else "none"
    return (
        f"There is a database already: {database}, {large}. Nothing was changed. The backup "
        f"{file.name} is sound: {seen.rows.get('readings', 0)} readings, the newest of {newest}. "
        "To put it in place and keep what is there aside, add --replace."
    )


def _tell(done: "Restored", database: Path) -> None:
    seen = done.seen
    newest = f", the newest of {seen.newest:%Y-%m-%d %H:%M} UTC" if seen.newest else ""
    print(f"{database} is {seen.file.name} now: {seen.rows['readings']} readings{newest}.")
    if done.steps:
        print(f"It was brought up to date: {', '.join(done.steps)}.")
    if done.photos:
        lost = f"; of {done.lost_photos} there is no file" if done.lost_photos else ""
        print(f"{done.photos} photos{lost}.")
    if done.aside is not None:
        print(f"What was there is {done.aside} now. Delete it once you don't need it.")
    beside = seen.file.with_suffix(".toml")
    if beside.exists():
        print(
            f"The settings of that time lie in {beside}, without addresses. If yours are lost, "
            "copy them, and fill the addresses in."
        )
    print("Start chamberwatch again: sudo systemctl start chamberwatch")


def _folder(settings: "Settings", to: Path | None, config: Path) -> Path:
    folder = settings.backup.folder
    if to is None and folder is None:
        raise RefusedError(NOWHERE.format(config=config))
    return _whole(to) or Path(str(folder))


def _whole(to: Path | None) -> Path | None:
    return None if to is None else to.absolute()


def _where(folder: Path, database: Path) -> str:
    """Say on what a folder lies: a backup beside the database helps little."""
    free = size(shutil.disk_usage(folder).free)
    if folder.stat().st_dev == database.parent.stat().st_dev:
        return (
            f"{folder} is a place for backups now, with {free} free. It lies on the same disk as "
            "the database: when that dies, both are gone. A stick or another disk is better."
        )
    return f"{folder} is a place for backups now, on a disk of its own with {free} free."
