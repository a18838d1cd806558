"""What was typed: times, weights, names, places."""

from collections.abc import Iterable
from datetime import UTC, datetime
from enum import StrEnum
from typing import TYPE_CHECKING, Final, TypeVar
from zoneinfo import ZoneInfo

from chamberwatch.core.errors import RefusedError, UnknownNameError

if TYPE_CHECKING:
    from chamberwatch.core.growing.band import Stage
    from chamberwatch.core.growing.batch import Container
    from chamberwatch.core.growing.species import SpeciesTable
    from chamberwatch.core.watch.chamber import House
    from chamberwatch.service.growing.places import Place

NOTHING: Final = "none"
"""Typed in place of a figure, it takes the figure away."""

Named = TypeVar("Named", bound=StrEnum)

# Below that, names of other mushrooms pass for misspelt ones.
_ALIKE: Final = 0.75

_DAY_CHARS: Final = len("2026-11-20")


def moment(text: str, now: datetime, zone: ZoneInfo) -> datetime | None:
    """Return when something happened, None where nothing was typed.

    Args:
        text: a day, which stands for its noon, today for now until then; or a time, local where
            no zone is given.
        now: the time.
        zone: of the site.

    Raises:
        RefusedError: it can't be read.
    """
    from chamberwatch.service.growing.told import on_day

    if not text:
        return None
    try:
        said = datetime.fromisoformat(text.strip())
    except ValueError:
        raise RefusedError(
            f"--at {text} can't be read; write a day such as 2026-11-20, or a time such as "
            "“2026-11-20 18:30”."
        ) from None
    try:
        if len(text.strip()) > _DAY_CHARS:
            return (said if said.tzinfo else said.replace(tzinfo=zone)).astimezone(UTC)
        return on_day(said.date(), now, zone)
    except OverflowError:
        raise RefusedError(f"--at {text} is no time that we can mean; look at the year.") from None


def weight(text: str) -> float | None:
    """Return a weight, None where nothing was typed. [g].

    Raises:
        RefusedError: it can't be read.
    """
    from chamberwatch.core.growing.weights import grams

    return grams(text) if text else None


def species_name(text: str, table: "SpeciesTable") -> str:
    """Return the name of a species; its common name, in small letters or not, will do.

    Raises:
        UnknownNameError: there is none; the text names the nearest.
    """
    import difflib

    known = {_plain(name): name for name in table.species}
    known |= {_plain(one.title): name for name, one in table.species.items()}
    asked = _plain(text)
    if asked in known:
        return known[asked]
    # A part of several names is none of them by guess.
    part = asked and [name for plain, name in known.items() if asked in plain]
    close = part or [known[c] for c in difflib.get_close_matches(asked, known, n=1, cutoff=_ALIKE)]
    cure = (
        f"Did you mean {' or '.join(dict.fromkeys(close))}?"
        if close
        else f"Known: {', '.join(table.species)}. Add your own to species.toml."
    )
    raise UnknownNameError(f"There is no species “{text}”. {cure}")


def _plain(name: str) -> str:
    return "-".join(name.casefold().replace("\u2019", "").replace("'", "").split())


def container(text: str) -> "Container":
    """Return what a batch grows in.

    Raises:
        UnknownNameError: there is no such.
    """
    from chamberwatch.core.growing.batch import Container

    known = {each.name.lower(): each for each in Container} | {
        each.value: each for each in Container
    }
    return _one_of(text, known, "container", (each.name.lower() for each in Container))


def stage(text: str) -> "Stage":
    """Return a stage.

    Raises:
        UnknownNameError: there is no such.
    """
    from chamberwatch.core.growing.band import Stage
    from chamberwatch.core.growing.batch import LIVING

    known = {each.value: each for each in Stage}
    known |= {_plain(each.value): each for each in Stage}
    return _one_of(text, known, "stage", (_plain(each.value) for each in LIVING))


def _one_of(text: str, known: dict[str, Named], what: str, names: Iterable[str]) -> Named:
    found = known.get(text.strip().casefold())
    if found is None:
        raise UnknownNameError(f"There is no {what} “{text}”. Take one of: {', '.join(names)}.")
    return found


def place(chamber: str, shelf: str, outside: bool) -> "Place | None":
    """Return where a batch goes, None where nothing was typed.

    Raises:
        RefusedError: it can't be in a chamber and outside, or on a shelf of nothing.
    """
    from chamberwatch.service.growing.places import Place

    if outside:
        if chamber or shelf:
            raise RefusedError("It can't be on a shelf and outside; leave --outside out, or --in.")
        return Place(None)
    if shelf and not chamber:
        raise RefusedError(f"Shelf “{shelf}” is in no chamber; name it too: --in CHAMBER.")
    return Place(chamber, shelf or None) if chamber else None


def first_place(house: "House", on_logs: bool) -> "Place":
    """Return where a batch is started of which nothing was said: in the only chamber, a log out.

    Raises:
        RefusedError: there are more chambers than one, or none.
    """
    from chamberwatch.service.growing.places import Place

    growing = [chamber.name for chamber in house.chambers.values() if chamber.stage is not None]
    if on_logs:
        return Place(None)
    if len(growing) == 1:
        return Place(growing[0])
    ways = " or ".join([*(f"--in {name}" for name in growing), "--outside"])
    raise RefusedError(f"Say where it stands: {ways}.")


def percent(text: str) -> float | None:
    """Return a share, None where nothing was typed. [%].

    Raises:
        RefusedError: it is no number.
    """
    if not text:
        return None
    try:
        return float(text.strip().removesuffix("%").replace(",", "."))
    except ValueError:
        raise RefusedError(f"--moisture {text} is no number; write one such as 65.") from None


def number(option: str, text: str) -> int | None:
    """Return the number of a batch, None where nothing was typed.

    Raises:
        RefusedError: it is no number.
    """
    if not text:
        return None
    if not (text.isascii() and text.isdigit()):
        raise RefusedError(
            f"{option} {text} is no number of a batch; `batch list --all` has them."
        )
    return int(text)
