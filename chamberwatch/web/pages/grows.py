"""What grows in a chamber, and how its band follows from that, as the page says it."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.band_words import disagreement_words, limit_words
from chamberwatch.core.growing.batch import Batch
from chamberwatch.core.growing.wants import Following, Grown
from chamberwatch.core.sentence import begun, within
from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.web.pages.words import SHOWN

EMPTY: Final = (
    "Nothing that was recorded stands here now, so its air is not judged. Record what does stand "
    "here, and its band follows."
)


@dataclass(frozen=True, slots=True)
class Grows:
    """What stands in a chamber.

    Attributes:
        batches: a line for each.
        band: a sentence for each limit: whose wish it is and who says so.
        disagreements: whom the band does not suit, and what to do.
        empty: said instead where nothing stands there any more.
    """

    batches: tuple[str, ...]
    band: tuple[str, ...]
    disagreements: tuple[str, ...]
    empty: str


def grows(chamber: Chamber, batches: Mapping[int, Batch], now: datetime) -> Grows | None:
    """Return what is shown of what grows in a chamber; None where nothing was ever recorded.

    Args:
        chamber: which.
        batches: as they are recorded; one that is missing is named all the same.
        now: the time.
    """
    following = chamber.following
    if following is None:
        return None
    limits = following.limits.items()
    return Grows(
        batches=tuple(_batch(each, batches.get(each.batch), now) for each in following.grown),
        band=tuple(_sentence(limit_words(name, each, _unit(name))) for name, each in limits),
        disagreements=tuple(
            _sentence(disagreement_words(name, each, _unit(name)))
            for name, each in following.disagreements.items()
        ),
        empty="" if following.grown else EMPTY,
    )


def stage_words(chamber: Chamber) -> str:
    """Say what a chamber is doing: the stages of what stands in it, else what it is stated to do.

    Open batches are named before sealed ones; a chamber that was emptied is empty.
    """
    if chamber.stage is None:
        return "room"
    if chamber.following is None:
        return chamber.stage.value
    return " and ".join(_stages(chamber.following)) or "empty"


def drawn_as(chamber: Chamber) -> str:
    """Return what the small mark in the drawing shows: a crop, sealed bags, or nothing."""
    if chamber.stage is None:
        return "room"
    if chamber.following is None:
        return chamber.stage.value
    if not chamber.following.grown:
        return "empty"
    sealed = all(each.sealed for each in chamber.following.grown)
    return (Stage.COLONISATION if sealed else Stage.FRUITING).value


def _stages(following: Following) -> list[str]:
    return list(dict.fromkeys(each.stage.value for each in following.grown))


def _batch(grown: Grown, batch: Batch | None, now: datetime) -> str:
    kept = "sealed" if grown.sealed else "open"
    name = grown.species.title
    parts = [within(name), f"{grown.stage.value}{_since(batch, now)}", kept]
    if batch is not None and batch.shelf is not None:
        parts.append(f"shelf {batch.shelf}")
    return f"Batch {grown.batch}: {', '.join(parts)}"


def _since(batch: Batch | None, now: datetime) -> str:
    """Say how long it has been in its stage; today it is new."""
    days = (now - batch.since).days if batch is not None else 0
    return f" for {days} day{'' if days == 1 else 's'}" if days > 0 else ""


def _unit(quantity: str) -> str:
    return SHOWN[Quantity(quantity)][0]


def _sentence(words: str) -> str:
    return f"{begun(words)}."
