"""How a batch is drawn: its container, and on it what can be seen of its stage."""

from dataclasses import dataclass
from typing import Final

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import Batch, Container
from chamberwatch.web.language import ngettext

FORMS: Final = {
    Container.BAG: "bag",
    Container.JAR: "jar",
    Container.BUCKET: "bucket",
    Container.TRAY: "tray",
    Container.LOG: "log",
}

CROPS: Final = {
    Stage.PINNING: "pins",
    Stage.FRUITING: "caps",
    Stage.ANTLER: "antlers",
    Stage.CONK: "conks",
    Stage.RESTING: "stubs",
}

FATES: Final = {Stage.CONTAMINATED: "lost", Stage.SPENT: "spent"}


@dataclass(frozen=True, slots=True)
class Figure:
    """A drawing of one batch.

    Attributes:
        container: bag, jar, bucket, tray or log.
        crop: pins, caps, antlers, conks or stubs; empty: nothing to be seen.
        white: the white has run through it; else it is on its way.
        sealed: it is still closed.
        fate: lost or spent; empty: it lives.
    """

    container: str
    crop: str
    white: bool
    sealed: bool
    fate: str = ""


def figure(batch: Batch) -> Figure:
    """Return how a batch is drawn today."""
    past = batch.stage is not Stage.COLONISATION or not batch.sealed
    return Figure(
        container=FORMS[batch.start.container],
        crop=CROPS.get(batch.stage, ""),
        white=past or batch.white_at is not None,
        sealed=batch.sealed,
        fate=FATES.get(batch.stage, ""),
    )


def containers(container: Container, count: int) -> str:
    """Say how many of what, such as “4 bags”."""
    match container:
        case Container.BAG:
            return ngettext("%(num)s bag", "%(num)s bags", count)
        case Container.JAR:
            return ngettext("%(num)s jar", "%(num)s jars", count)
        case Container.BUCKET:
            return ngettext("%(num)s bucket", "%(num)s buckets", count)
        case Container.TRAY:
            return ngettext("%(num)s tray", "%(num)s trays", count)
        case Container.LOG:
            return ngettext("%(num)s log", "%(num)s logs", count)
