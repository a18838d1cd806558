"""`run` and `check`."""

import logging
import os
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from chamberwatch.cli import BAD_SETTINGS
from chamberwatch.clock import WallClock
from chamberwatch.core.errors import Fault, SettingsError
from chamberwatch.core.watch.chamber import House
from chamberwatch.core.watch.device import in_words
from chamberwatch.daemon import Daemon, heed_signals, listen
from chamberwatch.notify.push import Push
from chamberwatch.settings import Settings, load
from chamberwatch.settings import check as faults_of
from chamberwatch.wiring import Occasion, build

log = logging.getLogger("chamberwatch")


def log_plainly(level: int = logging.INFO) -> None:
    """Log to standard error; under systemd without times, since the journal has its own."""
    stamped = "%(message)s" if os.environ.get("JOURNAL_STREAM") else "%(asctime)s %(message)s"
    logging.basicConfig(level=level, format=stamped, datefmt="%H:%M:%S", stream=sys.stderr)
    # Their news is ours only when something is wrong.
    for name in ("apscheduler", "apprise", "paho", "uvicorn"):
        logging.getLogger(name).setLevel(logging.WARNING)


def run_daemon(config: Path) -> None:
    """Run until a signal comes.

    Raises:
        ChamberwatchError: it can't start, or a part of it died.
    """
    log_plainly()
    settings = load(config, os.environ)
    log.info("Settings read from %s.", config)
    heed_signals()
    daemon = Daemon()
    listener = listen(settings.web.host, settings.web.port)
    host, port = listener.getsockname()[:2]
    page = f"http://{f'[{host}]' if ':' in host else host}:{port}"
    with listener:
        machine = build(settings, WallClock(), Occasion(sys.stdout, page, daemon.vitals))
        with daemon.running(machine):
            daemon.serve(listener, lambda: log.info("The page is at %s", page))


def _addresses(settings: Settings, config: Path) -> Iterator[Fault]:
    """Yield a fault for each address that the notification library can't make anything of."""
    for notify in settings.notify:
        try:
            Push(notify.name, notify.to.get_secret_value(), None)
        except SettingsError as error:
            for fault in error.faults:
                yield replace(fault, file=str(config))


def check_settings(config: Path) -> int:
    """Print every fault, or that there is none; return the exit code."""
    faults = list(faults_of(config, os.environ))
    if not faults:
        faults += _addresses(load(config, os.environ), config)
    for fault in faults:
        print(fault, file=sys.stderr)
    if faults:
        count = "1 fault" if len(faults) == 1 else f"{len(faults)} faults"
        print(f"{count} in {config}.", file=sys.stderr)
        return BAD_SETTINGS
    settings = load(config, os.environ)
    print(
        f"{config} is fine: {len(settings.chamber)} chambers, {len(settings.sensor)} sensors, "
        f"{len(settings.device)} devices, {len(settings.notify)} addresses."
    )
    for line in _worth_knowing(settings.house()):
        print(line)
    return 0


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
