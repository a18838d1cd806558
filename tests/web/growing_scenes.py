"""Invented growers' houses for the pages about what grows, on real databases."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from chamberwatch.core.growing.batch import Container, EntryKind, Start
from chamberwatch.photo.darkroom import Darkroom
from chamberwatch.service.board import Board
from chamberwatch.service.growing.growing import Growing
from chamberwatch.service.growing.photos import Photos
from chamberwatch.service.growing.places import Place
from chamberwatch.service.growing.told import Telling
from chamberwatch.settings import load, shipped_species
from chamberwatch.storage.book import SqlBooks, open_books
from chamberwatch.storage.photo_files import PhotoFolder
from chamberwatch.web.desk import Desk
from chamberwatch.wiring.growing import grow
from tests.web.desk_fakes import Played

THURSDAY = datetime(2026, 1, 22, 17, 30, tzinfo=UTC)
K = EntryKind

PLAIN = """
[site]
timezone = "Europe/Lisbon"
[[chamber]]
name = "tent"
volume_l = 900
stage = "fruiting"
shelves = ["top", "middle", "bottom"]
shelf_holds = 2
living_space = true
[[chamber]]
name = "cupboard"
volume_l = 400
stage = "colonisation"
shelves = ["upper", "lower"]
shelf_holds = 4
"""

TWELVE = """
[site]
timezone = "Europe/Lisbon"
[[chamber]]
name = "tent"
volume_l = 1600
stage = "fruiting"
shelves = [{}]
shelf_holds = 2
""".format(", ".join(f'"shelf-{n}"' for n in range(1, 13)))

LONG = "second-shelf-from-above-on-the-left"
NAMED_AT_LENGTH = f"""
[site]
timezone = "Europe/Lisbon"
[[chamber]]
name = "tent"
title = "The big tent with the blue cover in the spare room upstairs"
volume_l = 900
stage = "fruiting"
shelves = ["{LONG}", "b"]
"""


class GrowingPlayed(Played):
    """A desk whose growing record is real, on a database of its own."""

    def __init__(self, folder: Path, settings: str = PLAIN) -> None:
        super().__init__()
        path = folder / "chamberwatch.toml"
        path.write_text(settings, encoding="utf-8")
        self.clock.wall = THURSDAY
        read = load(path, {})
        self.sql: SqlBooks = open_books(f"sqlite:///{folder / 'cw.db'}", self.clock.now())
        self.grown: Growing = grow(read, shipped_species(), self.sql, self.clock, Board(0.0))
        self.desk: Desk = replace(
            self.desk,
            books=self.sql,
            growing=self.grown,
            photos=Photos(
                self.sql,
                self.grown.record,
                PhotoFolder(folder / "photos"),
                Darkroom(),
                self.clock,
            ),
            zone=ZoneInfo("Europe/Lisbon"),
        )

    def start(
        self,
        species: str = "grey-oyster",
        days_ago: float = 0.0,
        at: Sequence[str] = ("tent", "top"),
        container: Container = Container.BAG,
        **more: object,
    ) -> int:
        """Start a batch so many days ago."""
        start = replace(Start(species, container), **more)  # type: ignore[arg-type]
        place = Place(*at) if at else None
        return self.grown.record.start(start, place, self.ago(days_ago), "", "page").id

    def tell(self, batch: int, kind: EntryKind, days_ago: float = 0.0, **more: object) -> None:
        """Tell what happened so many days ago."""
        telling = replace(Telling(kind, self.ago(days_ago)), **more)  # type: ignore[arg-type]
        self.grown.record.tell(batch, telling, "page")

    def ago(self, days: float) -> datetime:
        """Return a time so many days ago."""
        return self.clock.now() - timedelta(days=days)


@contextmanager
def played(scene: str, folder: Path) -> Iterator[GrowingPlayed]:
    """Return one of the scenes; its database is closed at the end."""
    made = SCENES[scene](folder)
    try:
        yield made
    finally:
        made.sql.close()


def empty(folder: Path) -> GrowingPlayed:
    """Return the first day."""
    return GrowingPlayed(folder)


def one(folder: Path) -> GrowingPlayed:
    """Return one bag that was opened three days ago."""
    made = GrowingPlayed(folder)
    number = made.start(
        days_ago=19,
        at=("cupboard", "upper"),
        substrate="wheat straw",
        spawn="grain spawn of a friend",
        wet_g=2270.0,
        moisture_pct=62.0,
    )
    made.tell(number, K.WHITE, 4)
    made.tell(number, K.MOVED, 3.1, chamber="tent", shelf="top")
    made.tell(number, K.OPENED, 3, note="two cuts, a hand wide")
    return made


def usual(folder: Path) -> GrowingPlayed:
    """Return a house in the middle of a winter: every container, every look, a line, a mistake."""
    made = GrowingPlayed(folder)
    first = made.start(
        days_ago=75, substrate="wheat straw", wet_g=4500.0, moisture_pct=66.0, count=3
    )
    for kind, ago, more in (
        (K.WHITE, 58, {}),
        (K.OPENED, 57, {}),
        (K.PINNED, 53, {}),
        (K.HARVESTED, 48, {"weight_g": 640.0}),
        (K.HARVESTED, 47, {"weight_g": 210.0}),
        (K.PINNED, 37, {}),
        (K.HARVESTED, 34, {"weight_g": 390.0}),
        (K.HARVESTED, 20, {"weight_g": 180.0, "note": "small ones"}),
    ):
        made.tell(first, kind, ago, **more)
    wrong = made.grown.record.entries(first)[-1].id
    made.grown.record.correct(
        wrong, Telling(K.HARVESTED, weight_g=160.0, note="weighed again, without the dish"), "page"
    )
    fruiting = made.start(days_ago=27, at=("tent", "top"), count=2, parent=first, dry_g=900.0)
    for kind, ago in ((K.OPENED, 9), (K.PINNED, 4)):
        made.tell(fruiting, kind, ago)
    pins = made.start("king-oyster", 30, ("tent", "middle"), Container.JAR, count=6)
    made.tell(pins, K.OPENED, 6)
    lion = made.start("lions-mane", 38, ("tent", "middle"), Container.BUCKET)
    made.tell(lion, K.PINNED, 10)
    made.tell(lion, K.HARVESTED, 4, weight_g=420.0)
    made.start(days_ago=14, at=("cupboard", "upper"), count=4, parent=fruiting)
    white = made.start(days_ago=19, at=("cupboard", "upper"), parent=first)
    made.tell(white, K.WHITE, 1)
    made.start("shiitake", 52, ("cupboard", "lower"), Container.BAG)
    made.start("wine-cap", 20, (), Container.TRAY)
    logs = made.start("shiitake", 300, (), Container.LOG, count=5)
    made.tell(logs, K.RAINED, 20)
    reishi = made.start("reishi", 60, ("tent", "bottom"), Container.JAR, count=2)
    made.tell(reishi, K.OPENED, 12)
    lost = made.start(days_ago=20, at=("cupboard", "lower"), parent=first)
    made.tell(lost, K.CONTAMINATED, 8, note="green at the seam")
    over = made.start(days_ago=110, at=("tent", "bottom"), substrate="Wheat straw", dry_g=800.0)
    made.tell(over, K.OPENED, 92)
    made.tell(over, K.HARVESTED, 84, weight_g=430.0)
    made.tell(over, K.HARVESTED, 70, weight_g=205.0)
    made.tell(over, K.SPENT, 60)
    old = made.start("king-oyster", 120, ("tent", "bottom"), substrate="oak sawdust")
    made.tell(old, K.OPENED, 95)
    made.tell(old, K.HARVESTED, 84, weight_g=250.0)
    made.tell(old, K.SPENT, 62)
    return made


def crowded(folder: Path) -> GrowingPlayed:
    """Return twelve shelves full of batches."""
    made = GrowingPlayed(folder, TWELVE)
    for n in range(24):
        shelf = f"shelf-{n // 2 + 1}"
        number = made.start("grey-oyster", 40 - n, ("tent", shelf), count=1 + n % 3)
        if n < 12:
            made.tell(number, K.OPENED, 20 - n)
        if n < 6:
            made.tell(number, K.PINNED, 12 - n)
        if n < 2:
            made.tell(number, K.HARVESTED, 5, weight_g=500.0 + n)
    return made


def long_names(folder: Path) -> GrowingPlayed:
    """Return names as long as anybody gives."""
    made = GrowingPlayed(folder, NAMED_AT_LENGTH)
    words = "straw of the neighbour's second field, cut by hand, and a little coffee"
    for shelf in (LONG, LONG, "b"):
        made.start(days_ago=8, at=("tent", shelf), substrate=words, spawn=words, strain=words)
    made.tell(1, K.NOTED, 1, note="aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa " * 6)
    return made


SCENES: dict[str, Callable[[Path], GrowingPlayed]] = {
    "empty": empty,
    "one": one,
    "usual": usual,
    "crowded": crowded,
    "long-names": long_names,
}
