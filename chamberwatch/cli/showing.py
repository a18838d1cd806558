"""`demo`: a simulated tent on real messages, watched by the same daemon as `run`."""

import logging
import sys
import tempfile
import threading
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from importlib import resources
from pathlib import Path
from typing import Final

from pydantic import SecretStr
from rich.console import Console as Screen
from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeRemainingColumn

from chamberwatch.cli.plainly import log_plainly
from chamberwatch.clock import PacedClock
from chamberwatch.core.errors import RefusedError
from chamberwatch.core.watch.action import Action, Deed
from chamberwatch.daemon import Daemon, heed_signals, listen
from chamberwatch.mqtt.trial import TrialBroker
from chamberwatch.settings import NotifySettings, Settings, SettingsFile, duration, load
from chamberwatch.sim.publisher import Publisher
from chamberwatch.sim.show import TentShow
from chamberwatch.sim.winter import tell_winter
from chamberwatch.storage.book import SqlBooks, open_books
from chamberwatch.wiring.common import Occasion
from chamberwatch.wiring.machine import Machine
from chamberwatch.wiring.renewing import Read, Renewing

HISTORY: Final = timedelta(days=7)
EVERY: Final = timedelta(minutes=1)
ONE_MISTING_G: Final = 14.0
ONE_VENT_MIN: Final = 4.0
DRAINED_S: Final = 60.0
LOOK_S: Final = 0.05

CAUTION: Final = (
    "A reminder, never a safety device: mind spores, CO2 in small rooms, clean mist water and "
    "electricity near water. Local codes and licensed practice come first."
)


@dataclass(frozen=True, slots=True)
class Wishes:
    """What the command line asked for."""

    pace: float
    for_: str
    to: str
    port: int
    seed: int


def run_demo(wishes: Wishes) -> None:
    """Show the whole job.

    Raises:
        ChamberwatchError: it can't start; the text says what to do.
    """
    log_plainly(logging.WARNING)
    logging.getLogger("chamberwatch.service.delivery").setLevel(logging.INFO)
    ends_after_s = duration(wishes.for_).total_seconds() if wishes.for_ else None
    screen = Screen(highlight=False)
    heed_signals()
    daemon = Daemon()
    with ExitStack() as stack:
        listener = stack.enter_context(listen("127.0.0.1", wishes.port))
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="chamberwatch-")))
        broker = stack.enter_context(TrialBroker())
        page = f"http://127.0.0.1:{listener.getsockname()[1]}"
        clock = PacedClock(_whole_minute(), wishes.pace)
        start = clock.now()
        config = _own_file(folder)
        renewing = Renewing(
            SettingsFile(config, {}),
            lambda: Read(_settings(config, broker.port, page, wishes.to)),
            clock,
            Occasion(sys.stdout, page, daemon.vitals, silent_until=start),
            daemon.renew,
        )
        machine = renewing.first(Read(_settings(config, broker.port, page, wishes.to)))
        daemon.renewing = renewing
        _tell_winter(machine, start)
        stack.enter_context(daemon.running(machine))
        publisher = stack.enter_context(_publishing(broker.port))
        show = TentShow(seed=wishes.seed, start=start - HISTORY)
        _tell_history(screen, machine, publisher, show, clock)
        # The machine is made anew when settings change; the tent looks into books of its own.
        books = open_books(machine.settings.database.url, start)
        stack.callback(books.close)
        stack.enter_context(_living(books, publisher, show, clock))
        if ends_after_s is not None:
            stack.enter_context(_ending(daemon, ends_after_s))
        daemon.serve(listener, lambda: _welcome(screen, page, wishes))
    screen.print("The demo has ended; nothing of it is left on the disk.")


def _tell_winter(machine: Machine, now: datetime) -> None:
    """Record the winter so far; what was lost in it was bagged long ago, which was seen to."""
    growing = machine.growing
    tell_winter(growing.record, now)
    batches, house = growing.record.batches(), growing.standing.house
    for caution in growing.cautions.standing("tent", batches, house):
        growing.cautions.acknowledge(caution.id, "the grower", "demo", batches, house)


def _whole_minute() -> datetime:
    return PacedClock.wall().replace(second=0, microsecond=0)


def _own_file(folder: Path) -> Path:
    """Copy the shipped settings to where they may be changed."""
    shipped = resources.files("chamberwatch") / "data" / "demo.toml"
    config = folder / "chamberwatch.toml"
    config.write_bytes(shipped.read_bytes())
    return config


def _settings(config: Path, broker_port: int, page: str, to: str) -> Settings:
    """Return the demo's settings: those of the file, with what only this run knows."""
    settings = load(config, {})
    notify = (NotifySettings(name="phone", to=SecretStr(to)),) if to else ()
    notify = (*notify, *settings.notify)
    return settings.model_copy(
        update={
            "database": settings.database.model_copy(
                update={"url": f"sqlite:///{config.with_name('demo.db')}"}
            ),
            "mqtt": settings.mqtt.model_copy(update={"host": "127.0.0.1", "port": broker_port}),
            "notify": notify,
            "web": settings.web.model_copy(update={"address": None if to else page}),
        }
    )


@contextmanager
def _publishing(port: int) -> Iterator[Publisher]:
    publisher = Publisher("127.0.0.1", port, client_id="simulated-sensors")
    publisher.connect()
    try:
        yield publisher
    finally:
        publisher.close()


def _tell_history(
    screen: Screen, machine: Machine, publisher: Publisher, show: TentShow, clock: PacedClock
) -> None:
    """Publish a week of the tent's life, start the clock, and wait until all is stored.

    Raises:
        RefusedError: it does not go on.
    """
    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        TaskProgressColumn(),
        TimeRemainingColumn(),
    )
    minutes, expected = int(HISTORY / EVERY), 0
    with Progress(*columns, console=screen) as progress:
        task = progress.add_task("A week of the tent's history", total=minutes)
        for _ in range(minutes):
            for report in show.advance_to(show.time + EVERY):
                publisher.publish(report)
                expected += report.values
            progress.advance(task)
        publisher.drain(DRAINED_S)
    # With the clock standing nothing is due, so the last few messages wait for it to go.
    _wait_for(machine, expected - 8 * machine.settings.mqtt.window)
    clock.go()
    _wait_for(machine, expected)


def _wait_for(machine: Machine, readings: int) -> None:
    """Wait until so many are stored, however slowly it goes on."""
    waiting, there, looks = threading.Event(), -1, 0
    while looks < DRAINED_S / LOOK_S:
        with machine.books.read() as book:
            count = book.readings.count()
        if count >= readings:
            return
        there, looks = count, 0 if count > there else looks + 1
        waiting.wait(LOOK_S)
    raise RefusedError(
        "For a minute nothing more of the history was taken in; try again on a calmer day."
    )


@contextmanager
def _living(
    books: SqlBooks, publisher: Publisher, show: TentShow, clock: PacedClock
) -> Iterator[None]:
    """Let the tent live on, a report a minute, and heed what is done on the page."""
    stopping = threading.Event()

    def live() -> None:
        seen = _last_deed(books)
        while not clock.wait(stopping, EVERY.total_seconds()):
            seen = _heed(books, show, seen)
            for report in show.advance_to(clock.now()):
                publisher.publish(report)

    show.forget_from(show.time)
    thread = threading.Thread(target=live, name="simulated tent")
    thread.start()
    try:
        yield
    finally:
        stopping.set()
        thread.join(10)


def _last_deed(books: SqlBooks) -> int:
    with books.read() as book:
        return max((a.id for a in book.actions.recent(None, 1)), default=0)


def _heed(books: SqlBooks, show: TentShow, seen: int) -> int:
    """Let the simulated tent feel what a person did on the page since the last look."""
    with books.read() as book:
        fresh = [a for a in book.actions.recent("tent", 20) if a.id > seen]
    for action in fresh:
        _do(show, action)
    return max([seen, *(a.id for a in fresh)])


def _do(show: TentShow, action: Action) -> None:
    """Do to the tent what a person did, with the amounts where they are known."""
    if action.deed is Deed.VENTED:
        show.vent(ONE_VENT_MIN if action.amount is None else action.amount)
    elif action.deed is Deed.MISTED:
        if action.amount is None and action.standing_g is None:
            show.mist(ONE_MISTING_G)
        else:
            show.spray(action.amount or 0.0, action.standing_g or 0.0)


@contextmanager
def _ending(daemon: Daemon, after_s: float) -> Iterator[None]:
    timer = threading.Timer(after_s, daemon.stop)
    timer.start()
    try:
        yield
    finally:
        timer.cancel()


def _welcome(screen: Screen, page: str, wishes: Wishes) -> None:
    ends = f"Ends by itself after {wishes.for_}." if wishes.for_ else "Ctrl-C ends it."
    screen.print(
        f"\nThe page is at [bold]{page}[/bold] and the tent lives {wishes.pace:g} times "
        f"faster than life. {ends}"
    )
    screen.print(f"[dim]{CAUTION}[/dim]\n")
