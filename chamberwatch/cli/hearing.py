"""`listen`: what is heard on the broker, and whose it is, in the terminal."""

import os
import sys
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from chamberwatch.cli.beside import DEFAULT_CONFIG, ConfigOption
from chamberwatch.cli.terminal import may_ask
from chamberwatch.core.errors import BrokerError, RefusedError

if TYPE_CHECKING:
    from rich.table import Table

    from chamberwatch.core.watch.guess import Guessed
    from chamberwatch.core.watch.reading import Quantity
    from chamberwatch.service.claiming import Claiming, Unclaimed, WhoseNow, Wish
    from chamberwatch.settings import Settings

LOOK_S: Final = 0.5
PATIENCE_S: Final = 60.0
HOW: Final = (
    "A daemon that runs takes it over when it reads its settings again: systemctl reload "
    "chamberwatch, or “Read the settings again” under Set-up."
)


@dataclass(frozen=True, slots=True)
class Asked:
    """What was said of a sensor on the command line; empty: ask, or propose."""

    topic: str
    chamber: str
    place: str
    name: str
    accuracy: str
    units: Mapping[str, str]
    sure: bool


def listen(  # noqa: PLR0913, PLR0917 - one argument for each option
    for_: Annotated[
        str, typer.Option("--for", help="End after this long, such as 30s; else on Ctrl+C.")
    ] = "",
    unclaimed: Annotated[
        bool,
        typer.Option("--without-sensor", help="Leave out what the sensors of the settings say."),
    ] = False,
    claim: Annotated[
        str, typer.Option("--take", help="Make a sensor of this topic, once something comes.")
    ] = "",
    chamber: Annotated[str, typer.Option(help="With --take: the chamber it hangs in.")] = "",
    place: Annotated[
        str, typer.Option(help="With --take: air, core, surface, or the name of a shelf.")
    ] = "",
    name: Annotated[str, typer.Option(help="With --take: what you call it.")] = "",
    accuracy: Annotated[
        str, typer.Option(help="With --take: basic, digital or probe.")
    ] = "digital",
    unit: Annotated[
        list[str] | None,
        typer.Option(
            help="With --take: a unit that can't be told from the figure, such as "
            "temperature=°F; again for each."
        ),
    ] = None,
    yes: Annotated[bool, typer.Option("--yes", help="With --take: don't ask back.")] = False,
    config: ConfigOption = DEFAULT_CONFIG,
) -> None:
    """Listen to everything on the broker; nothing of it is kept.

    Ends with 0, with 1 where nothing could be heard or written, with 2 where the settings are at
    fault. It disturbs no daemon that runs.
    """
    from chamberwatch.settings import duration

    lasts_s = duration(for_).total_seconds() if for_ else None
    with _open(config) as (settings, claiming):
        if not claim:
            _list(claiming, lasts_s, unclaimed=unclaimed)
            return
        asked = Asked(claim, chamber, place, name, accuracy, _units(unit or []), yes)
        found = _waited_for(claiming, claim, lasts_s or PATIENCE_S)
        _claim(claiming, found, asked, settings)
    print(f"It stands in {config}. {HOW}")


@contextmanager
def _open(config: Path) -> Iterator[tuple["Settings", "Claiming"]]:
    from chamberwatch.settings import SettingsFile, load
    from chamberwatch.wiring.claiming import claiming_with, open_ear

    settings = load(config, os.environ)
    ear = open_ear(settings)
    try:
        yield settings, claiming_with(settings, SettingsFile(config, os.environ), ear)
    finally:
        ear.stop()


# ------------------------------------------------------------------ listing


def _list(claiming: "Claiming", lasts_s: float | None, *, unclaimed: bool) -> None:
    try:
        if sys.stdout.isatty():
            now = _list_live(claiming, lasts_s, unclaimed=unclaimed)
        else:
            now = _list_plainly(claiming, lasts_s, unclaimed=unclaimed)
    except KeyboardInterrupt:
        return
    if now.heard.since is None:
        raise BrokerError(now.heard.trouble or "The broker has not answered; try again.")


def _looks(claiming: "Claiming", lasts_s: float | None) -> Iterator["WhoseNow"]:
    """Yield what is heard, again and again until the time is over."""
    from chamberwatch.clock import WallClock

    clock, never = WallClock(), threading.Event()
    end_s = None if lasts_s is None else clock.monotonic() + lasts_s
    while True:
        yield claiming.now()
        left_s = LOOK_S if end_s is None else min(LOOK_S, end_s - clock.monotonic())
        if left_s <= 0.0:
            return
        clock.wait(never, left_s)


def _rows(now: "WhoseNow", *, unclaimed: bool) -> dict[str, str]:
    """Return a sentence for each topic."""
    from chamberwatch.core.watch.guess import sends

    told = {each.heard.topic: sends(each.guess) for each in now.unclaimed}
    if unclaimed:
        return told
    of = {h.topic: f"is the sensor {name}" for name, h in now.of_sensors.items()}
    return {
        h.topic: told.get(h.topic) or of.get(h.topic, "is a sensor's") for h in now.heard.heard
    }


def _list_plainly(claiming: "Claiming", lasts_s: float | None, *, unclaimed: bool) -> "WhoseNow":
    """Print a line for each topic when it is first heard, and what is wrong when it is news."""
    known: set[str] = set()
    trouble = None
    for now in _looks(claiming, lasts_s):
        for topic, told in _rows(now, unclaimed=unclaimed).items():
            if topic not in known:
                known.add(topic)
                print(f"{_printable(topic)} {told}", flush=True)
        if now.heard.trouble not in (None, trouble):
            print(now.heard.trouble, file=sys.stderr)
        trouble = now.heard.trouble
    return now


def _list_live(claiming: "Claiming", lasts_s: float | None, *, unclaimed: bool) -> "WhoseNow":
    from rich.live import Live

    with Live(auto_refresh=False) as screen:
        for now in _looks(claiming, lasts_s):
            screen.update(_table(now, unclaimed=unclaimed), refresh=True)
    return now


def _table(now: "WhoseNow", *, unclaimed: bool) -> "Table":
    from rich.markup import escape
    from rich.table import Table

    heard = {each.topic: each for each in now.heard.heard}
    table = Table(box=None, caption=escape(now.heard.trouble or "Ctrl+C ends it."))
    for column in ("topic", "", "messages", "last"):
        table.add_column(column, justify="left")
    for topic, told in _rows(now, unclaimed=unclaimed).items():
        ago_s = (now.heard.now - heard[topic].last).total_seconds()
        last = "kept by the broker" if heard[topic].old else f"{ago_s:.0f} s ago"
        table.add_row(escape(_printable(topic)), escape(told), str(heard[topic].count), last)
    return table


def _printable(topic: str) -> str:
    """Return a topic so that it can't do anything to a terminal."""
    return "".join(c if c.isprintable() else "·" for c in topic)


# ------------------------------------------------------------------ claiming


def _units(given: list[str]) -> dict[str, str]:
    """Read quantity=unit.

    Raises:
        RefusedError: one is not of that form.
    """
    from chamberwatch.core.watch.reading import Quantity

    found = {}
    for each in given:
        quantity, sign, unit = each.partition("=")
        if not sign or quantity.strip() not in set(Quantity):
            raise RefusedError(f"--unit {each}: write quantity=unit, such as temperature=°F.")
        found[quantity.strip()] = unit.strip()
    return found


def _waited_for(claiming: "Claiming", topic: str, patience_s: float) -> "Unclaimed":
    """Return the first message that can be used on a topic.

    Raises:
        RefusedError: none came, or the topic is claimed.
        BrokerError: nothing can be heard.
    """
    if (owner := claiming.claimed_by(topic)) is not None:
        raise RefusedError(f"The sensor “{owner}” reads {topic} already.")
    found = None
    for now in _looks(claiming, patience_s):
        found = next((u for u in now.unclaimed if u.heard.topic == topic), None)
        if found is not None and not found.guess.why:
            return found
    if now.heard.since is None:
        raise BrokerError(now.heard.trouble or "The broker has not answered; try again.")
    if found is not None:
        raise RefusedError(f"What comes on {topic} can't be used: {found.guess.why}")
    raise RefusedError(
        f"Nothing came on {topic} within {patience_s:g} s. Wake the sensor, or wait longer "
        "with --for."
    )


def _claim(claiming: "Claiming", found: "Unclaimed", asked: Asked, settings: "Settings") -> None:
    """Write a sensor into the settings.

    Raises:
        ChamberwatchError: it can't be one, or can't be written.
    """
    from chamberwatch.core.watch.guess import sends

    print(f"{_printable(asked.topic)} {sends(found.guess)}")
    if found.heard.old:
        print("The broker had kept it; how old it is, nobody knows.")
    wish = _wish(claiming, found, asked, settings)
    would = claiming.would_read(wish, found.heard.payload, found.heard.last)
    read = ", ".join(f"{s.quantity.value} {s.value:g} {_kept_in(s.quantity)}" for s in would.said)
    print(f"It would read: {read or 'nothing'}")
    for reason in would.reasons:
        print(reason)
    print(f"As {wish.name}, in {wish.chamber}, {wish.place}.")
    if may_ask() and not asked.sure and not typer.confirm("Write it into the settings?"):
        raise RefusedError("Nothing was written.")
    claiming.claim(wish)


def _kept_in(quantity: "Quantity") -> str:
    from chamberwatch.core.watch.reading import UNITS

    return UNITS[quantity]


def _wish(claiming: "Claiming", found: "Unclaimed", asked: Asked, settings: "Settings") -> "Wish":
    from chamberwatch.core.watch.guess import hangs_in, named_after
    from chamberwatch.service.claiming import Wish

    house = settings.house()
    proposed = hangs_in(asked.topic, house.chambers.values())
    chamber = asked.chamber or _told("chamber", proposed[0] if proposed else "")
    place = asked.place or (proposed[1] if proposed and not asked.chamber else "air")
    name = asked.name or _told("name", named_after(asked.topic, claiming.topics()))
    reads = {}
    for each in found.guess.numbers:
        chosen = _chosen(each, asked.units)
        if chosen is not None and chosen[0] not in reads:
            reads[chosen[0]] = (each.leaf.at, chosen[1])
    if not reads:
        raise RefusedError(_say_which(found))
    return Wish(
        name,
        asked.topic,
        found.guess.payload,
        chamber,
        place,
        reads,
        found.guess.time_at,
        asked.accuracy,
    )


def _told(what: str, proposed: str) -> str:
    """Ask for something, or take what is proposed where nobody can be asked.

    Raises:
        RefusedError: nobody can be asked and nothing is proposed.
    """
    if may_ask():
        return str(typer.prompt(f"Its {what}", default=proposed or None))
    if not proposed:
        raise RefusedError(f"Say its {what}: --{what}.")
    return proposed


def _chosen(each: "Guessed", units: Mapping[str, str]) -> tuple["Quantity", str] | None:
    """Return what a number is taken as, None where it is left out."""
    if each.likely is not None:
        quantity = each.likely.quantity
        return quantity, units.get(quantity.value, each.likely.unit)
    for choice in each.choices:
        if units.get(choice.quantity.value) == choice.unit:
            return choice.quantity, choice.unit
    return None


def _say_which(found: "Unclaimed") -> str:
    ways = [f"--unit {c.quantity.value}={c.unit}" for e in found.guess.numbers for c in e.choices]
    why = next((each.why for each in found.guess.numbers if each.choices), "")
    return f"{why} Add one of: {', '.join(dict.fromkeys(ways))}."
