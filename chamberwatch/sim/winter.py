"""An invented grower's winter: nine batches of four species, as they would have been recorded."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Final

from chamberwatch.core.growing.batch import Container, EntryKind, Start
from chamberwatch.service.growing.places import Place
from chamberwatch.service.growing.record import GrowingRecord
from chamberwatch.service.growing.told import Telling

VIA: Final = "demo"

_K = EntryKind
_BAG: Final = Container.BAG


@dataclass(frozen=True, slots=True)
class Told:
    """One thing that was told of a batch, so many days before now; a weight with a harvest."""

    days_ago: float
    kind: EntryKind
    weight_g: float | None = None
    shelf: str | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Chapter:
    """One batch: what was started, how many days ago, on which shelf, and what came of it."""

    start: Start
    days_ago: float
    shelf: str
    told: Sequence[Told] = field(default=())


# Weights, days and yields lie within what the species table states; the numbers of the batches
# follow their order, so that a parent can be named.


def _block(species: str, spawn: str) -> Start:
    return Start(
        species, _BAG, 1, "oak sawdust with bran", spawn=spawn, wet_g=2270.0, moisture_pct=62.0
    )


def _straw(spawn: str, parent: int | None = None) -> Start:
    return Start(
        "grey-oyster",
        _BAG,
        1,
        "wheat straw",
        spawn=spawn,
        wet_g=1400.0,
        moisture_pct=68.0,
        parent=parent,
    )


WINTER: Final = (
    Chapter(
        _block("shiitake", "sawdust spawn"),
        150,
        "bottom",
        (
            Told(94, _K.WHITE),
            Told(92, _K.OPENED, note="browned all over"),
            Told(86, _K.PINNED),
            Told(79, _K.HARVESTED, 265),
            Told(65, _K.SOAKED),
            Told(60, _K.PINNED),
            Told(53, _K.HARVESTED, 230),
            Told(38, _K.SOAKED),
            Told(32, _K.PINNED),
            Told(26, _K.HARVESTED, 120),
            Told(12, _K.SPENT),
        ),
    ),
    Chapter(
        _straw("a kit"),
        118,
        "upper",
        (
            Told(102, _K.WHITE),
            Told(101, _K.OPENED),
            Told(97, _K.PINNED),
            Told(91, _K.HARVESTED, 215),
            Told(82, _K.PINNED),
            Told(77, _K.HARVESTED, 120),
            Told(68, _K.PINNED),
            Told(63, _K.HARVESTED, 60, note="small caps; the air was stale that week"),
            Told(58, _K.SPENT),
        ),
    ),
    Chapter(
        _straw("straw of batch 2", 2),
        104,
        "lower",
        (Told(93, _K.CONTAMINATED, note="green at the top, where the straw was wet"),),
    ),
    Chapter(_block("shiitake", "sawdust spawn"), 46, "bottom", ()),
    Chapter(
        _block("king-oyster", "grain spawn"),
        36,
        "lower",
        (
            Told(21, _K.WHITE),
            Told(20, _K.OPENED),
            Told(16, _K.PINNED),
            Told(10.5, _K.HARVESTED, 180),
            Told(9.5, _K.HARVESTED, 95),
            Told(9, _K.MOVED, shelf="top"),
        ),
    ),
    Chapter(
        _straw("straw of batch 2", 2),
        29,
        "upper",
        (Told(13, _K.WHITE), Told(11, _K.OPENED), Told(5, _K.PINNED)),
    ),
    Chapter(
        _straw("straw of batch 2", 2),
        19,
        "upper",
        (Told(1.5, _K.WHITE),),
    ),
    Chapter(_block("lions-mane", "grain spawn"), 8, "lower", ()),
    Chapter(_straw("grain spawn"), 5, "lower", ()),
)


def tell_winter(record: GrowingRecord, now: datetime) -> None:
    """Record it, as if it had been told day by day.

    Raises:
        RefusedError: it can't have happened in this tent; the demo's settings were changed.
    """
    for chapter in WINTER:
        at = now - timedelta(days=chapter.days_ago)
        batch = record.start(chapter.start, Place("tent", chapter.shelf), at, "", VIA)
        for told in chapter.told:
            record.tell(batch.id, _telling(told, now), VIA)


def _telling(told: Told, now: datetime) -> Telling:
    return Telling(
        told.kind,
        now - timedelta(days=told.days_ago),
        told.note,
        chamber="tent" if told.shelf is not None else None,
        shelf=told.shelf,
        weight_g=told.weight_g,
    )
