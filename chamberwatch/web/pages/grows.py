"""What grows in a chamber, and how its band follows from that, as the page says it."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Final
from zoneinfo import ZoneInfo

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.band_words import disagreement_words, limit_words
from chamberwatch.core.growing.batch import Batch
from chamberwatch.core.growing.wants import Following, Grown
from chamberwatch.core.sentence import begun, within
from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.web.language import _, marked
from chamberwatch.web.pages.growing.batch_state import stage_name, state_for
from chamberwatch.web.words import SHOWN

EMPTY: Final = marked(
    "Nothing that was recorded stands here now, so its air is not "
    "judged. Record what does stand here, and its band follows."
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


def grows(
    chamber: Chamber, batches: Mapping[int, Batch], now: datetime, zone: ZoneInfo
) -> Grows | None:
    """Return what is shown of what grows in a chamber; None where nothing was ever recorded.

    Args:
        chamber: which.
        batches: as they are recorded; one that is missing is named all the same.
        now: the time.
        zone: of the site.
    """
    following = chamber.following
    if following is None:
        return None
    limits = following.limits.items()
    return Grows(
        batches=tuple(
            _batch(each, batches.get(each.batch), now, zone) for each in following.grown
        ),
        band=tuple(_sentence(limit_words(name, each, _unit(name))) for name, each in limits),
        disagreements=tuple(
            _sentence(disagreement_words(name, each, _unit(name)))
            for name, each in following.disagreements.items()
        ),
        empty="" if following.grown else _(EMPTY),
    )


def stage_words(chamber: Chamber) -> str:
    """Say what a chamber is doing: the stages of what stands in it, else what it is stated to do.

    Open batches are named before sealed ones; a chamber that was emptied is empty.
    """
    if chamber.stage is None:
        return _("room")
    if chamber.following is None:
        return stage_name(chamber.stage)
    return _(" and ").join(_stages(chamber.following)) or _("empty")


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
    return list(dict.fromkeys(stage_name(each.stage) for each in following.grown))


def _batch(grown: Grown, batch: Batch | None, now: datetime, zone: ZoneInfo) -> str:
    kept = _("sealed") if grown.sealed else _("open")
    name = grown.species.title
    state = stage_name(grown.stage) if batch is None else state_for(batch, now, zone)
    parts = [within(name), state, kept]
    if batch is not None and batch.shelf is not None:
        parts.append(_("shelf %(shelf)s", shelf=batch.shelf))
    return _("Batch %(batch)s: %(parts)s", batch=grown.batch, parts=", ".join(parts))


def _unit(quantity: str) -> str:
    return SHOWN[Quantity(quantity)][0]


def _sentence(words: str) -> str:
    return f"{begun(words)}."
