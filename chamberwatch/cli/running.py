"""`run` and `check`."""

import logging
import os
import socket
import sys
import threading
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from functools import partial
from ipaddress import ip_address
from pathlib import Path
from typing import Final

from chamberwatch.cli import BAD_SETTINGS
from chamberwatch.cli.guarding import open_through_a_proxy, unguarded
from chamberwatch.cli.plainly import log_plainly
from chamberwatch.clock import WallClock
from chamberwatch.core.errors import Fault, SettingsError
from chamberwatch.core.health import NONE_SET
from chamberwatch.core.self_check import cut_off_words
from chamberwatch.core.watch.chamber import Chamber, House
from chamberwatch.core.watch.device import in_words
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.daemon import Daemon, heed_hangup, heed_signals, listen
from chamberwatch.notify.picture import Painter
from chamberwatch.notify.push import Push
from chamberwatch.settings import (
    Settings,
    SettingsFile,
    copies,
    load,
    load_species,
    rotation_faults,
    species_faults,
)
from chamberwatch.settings import check as faults_of
from chamberwatch.settings.first import begin
from chamberwatch.storage.book import SqlBooks
from chamberwatch.storage.cut_off import KEPT_AS, CutOff
from chamberwatch.storage.place import place_of
from chamberwatch.wiring.common import Occasion
from chamberwatch.wiring.renewing import Read, Renewing
from chamberwatch.wiring.self_watch import checkup_alone
from chamberwatch.wiring.upkeep import amiss_with_backups
from chamberwatch.wiring.wired import worth_knowing as wires_worth_knowing

log = logging.getLogger("chamberwatch")

STOPPED: Final = "Stopped; everything taken in is kept."


def run_daemon(config: Path) -> None:
    """Run until a signal comes.

    Raises:
        ChamberwatchError: it can't start, or a part of it died.
    """
    log_plainly()
    if begin(config):
        log.info("There was no settings file; %s was made. Go on under Set-up.", config)
    read = _read(config)
    log.info("Settings read from %s.", config)
    heed_signals()
    daemon = Daemon()
    place = place_of(read.settings.database.address)
    place.prepare()
    place.await_it(threading.Event().wait)
    # The lock before the port: the other daemon has the port too, and that is the lesser trouble.
    with place.alone(daemon.give_up), _listening(read.settings, config) as listener:
        cut_off = place.cut_off()
        page = _page(*listener.getsockname()[:2])
        occasion = Occasion(
            sys.stdout,
            page,
            daemon.vitals,
            ailing=daemon.ailing,
            beside=partial(copies, config),
        )
        renewing = Renewing(
            SettingsFile(config, os.environ, lambda new: _misfits(new, config)),
            lambda: _read(config),
            WallClock(),
            occasion,
            daemon.renew,
        )
        daemon.renewing = renewing
        machine = renewing.first(read)
        if cut_off:
            _tell_of_what_went(machine.books, cut_off)
        heed_hangup(daemon.renew)
        with _ended_well(), daemon.running(machine):
            daemon.serve(listener, lambda: log.info("The page is at %s", page))


def _tell_of_what_went(books: SqlBooks, commits: int) -> None:
    log.warning("In the database %s", cut_off_words(commits))
    with books.write() as book:
        book.kept.keep_text(KEPT_AS, CutOff(WallClock().now(), commits).kept())


def _listening(settings: Settings, config: Path) -> socket.socket:
    """Open the port of the pages, to the network only where a passcode guards them.

    Raises:
        SettingsError: none is set.
        RefusedError: the port can't be had.
    """
    if faults := unguarded(settings, config):
        raise SettingsError(faults)
    return listen(settings.web.host, settings.web.port)


def _page(host: str, port: int) -> str:
    """Return the address of the pages as this machine can open it."""
    if ip_address(host).is_unspecified:
        host = "localhost"
    return f"http://{f'[{host}]' if ':' in host else host}:{port}"


def _read(config: Path) -> Read:
    """Return the settings and the species, which must fit each other.

    Raises:
        SettingsError: with every fault.
    """
    settings, table = load(config, os.environ), load_species(config)
    if faults := rotation_faults(settings, table, config):
        raise SettingsError(faults)
    return Read(settings, table)


def _misfits(settings: Settings, config: Path) -> Iterator[Fault]:
    """Yield what is wrong with settings that are sound in themselves.

    Raises:
        StorageError: the database can't be read.
        SettingsError: the species can't be used.
    """
    yield from _addresses(settings, config)
    yield from rotation_faults(settings, load_species(config), config)
    yield from unguarded(settings, config)


@contextmanager
def _ended_well() -> Iterator[None]:
    """Say, once all is put away, that nothing is lost; a part that died says something else."""
    try:
        yield
    except SystemExit:
        log.info(STOPPED)
        raise
    log.info(STOPPED)


def _addresses(settings: Settings, config: Path) -> Iterator[Fault]:
    """Yield a fault for each address that the notification library can't make anything of."""
    for notify in settings.notify:
        try:
            Push(notify.name, notify.to.get_secret_value(), None)
        except SettingsError as error:
            for fault in error.faults:
                yield replace(fault, file=str(config))


def _faults(config: Path) -> list[Fault]:
    """Return every fault; what needs sound settings is looked at only where they are."""
    faults = list(faults_of(config, os.environ))
    if not faults:
        faults += _addresses(load(config, os.environ), config)
    faults += species_faults(config)
    if not faults:
        settings = load(config, os.environ)
        faults += rotation_faults(settings, load_species(config), config)
        faults += unguarded(settings, config)
    return faults


def check_settings(config: Path) -> int:
    """Print every fault, or that there is none; return the exit code."""
    faults = _faults(config)
    for fault in faults:
        print(fault, file=sys.stderr)
    for file, number in Counter(fault.file for fault in faults).items():
        print(f"{_count(number, 'fault')} in {file}.", file=sys.stderr)
    if faults:
        return BAD_SETTINGS
    settings = load(config, os.environ)
    counts = (
        _count(len(settings.chamber), "chamber"),
        _count(len(settings.sensor), "sensor"),
        _count(len(settings.device), "device"),
        _count(len(settings.notify), "address", "addresses"),
    )
    print(f"{config} is fine: {', '.join(counts)}.")
    if own_species := load_species(config).own:
        names = ", ".join(sorted(own_species))
        print(f"species.toml is fine: {len(own_species)} species of your own ({names}).")
    house = settings.house()
    worth_a_look = (
        *open_through_a_proxy(settings, config),
        *_worth_knowing(house),
        *_no_pictures(settings),
        *wires_worth_knowing(settings),
        *_about_backups(settings),
        *_looked_over(settings),
    )
    for line in worth_a_look:
        print(line)
    return 0


def _no_pictures(settings: Settings) -> Iterator[str]:
    """Yield why messages come without a picture of the air where they could carry one."""
    pushes = [
        (n, Push(n.name, n.to.get_secret_value(), None, pictures=n.pictures))
        for n in settings.notify
    ]
    if any(push.pictures for _, push in pushes) and (missing := Painter().missing):
        yield missing
    for notify, push in pushes:
        if notify.pictures and not push.takes_pictures:
            yield f"{notify.name} gets messages without pictures: its service takes none."


def _about_backups(settings: Settings) -> Iterator[str]:
    """Yield how it stands with backups: no fault of the file."""
    folder = settings.backup.folder
    if settings.database.on_server:
        if folder is not None:
            yield (
                "The folder under [backup] is not used: the database lies on a server, which is "
                "copied there (pg_dump)."
            )
    elif folder is None:
        yield NONE_SET
    elif trouble := amiss_with_backups(settings)(""):
        yield trouble
    else:
        yield (
            f"A backup is to go to {folder} each night at {settings.backup.at:%H:%M}; "
            "chamberwatch health tells of the last one."
        )


def _looked_over(settings: Settings) -> Iterator[str]:
    """Yield how it is with clock, disk, broker and database: no faults of the file."""
    for look in checkup_alone(settings).look():
        yield f"{look.name}: {'' if look.well else 'NOT WELL. '}{look.words}"


def _count(number: int, one: str, more: str = "") -> str:
    return f"{number} {one if number == 1 else more or f'{one}s'}"


def _worth_knowing(house: House) -> Iterator[str]:
    """Yield what is no fault: the devices as they were understood, and what more would help."""
    for device in house.devices:
        chamber = house.chamber(device.chamber)
        yield f"{device.name} in {chamber.title}: {in_words(device)}."
    for chamber in house.chambers.values():
        if chamber.stage is not None and chamber.volume_l is None:
            yield (
                f"{chamber.title} has no volume_l, so no amounts can be told: grams of water, "
                f"minutes of venting. Add it to [[chamber]] {chamber.name}: length x width x "
                f"height in cm, divided by 1000."
            )
        if chamber.stage is not None and not _room_measured(house, chamber):
            yield _unmeasured(house, chamber)


def _unmeasured(house: House, chamber: Chamber) -> str:
    """Say what is missing to know the air of a chamber's room."""
    assumed = "45 % and the chamber's own temperature are assumed"
    if chamber.surrounding is None:
        return (
            f"{chamber.title} names no room: {assumed}. Add surrounding, and in that room a "
            "sensor of temperature and humidity."
        )
    return (
        "No sensor measures both temperature and humidity in "
        f"{house.chamber(chamber.surrounding).title}, the room of {chamber.title}: {assumed}. "
        f"Add a sensor in {chamber.surrounding} that reads both."
    )


def _room_measured(house: House, chamber: Chamber) -> bool:
    """Tell whether a sensor in the chamber's room reports temperature and humidity."""
    if chamber.surrounding is None:
        return False
    both = {Quantity.TEMPERATURE, Quantity.HUMIDITY}
    return any(both <= set(sensor.quantities) for sensor in house.sensors_in(chamber.surrounding))
