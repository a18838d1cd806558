"""What stands on a shelf: each batch drawn by what it grows in and what it is doing.

The container is one form, the crop on it another: a sealed bag that is run through by white, a
cut one with pins, with caps, or resting. Number, species and days stand beneath in words, like the
label at a shelf's edge.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final, TypeAlias
from zoneinfo import ZoneInfo

from chamberwatch.core.growing.batch import Batch
from chamberwatch.core.sentence import within
from chamberwatch.web.language import _, ngettext
from chamberwatch.web.pages.growing.batch_state import state_days, state_for, state_words
from chamberwatch.web.pages.growing.figure import Figure, figure
from chamberwatch.web.trade_words import container_name
from chamberwatch.web.words import shortened

Today: TypeAlias = tuple[datetime, ZoneInfo]
"""The time, and the zone whose midnights count."""

MOST: Final = 4
"""So many have room side by side on a shelf of the drawing."""
FEWEST: Final = 2
"""One alone does not take the whole shelf."""

PER_CHARACTER: Final = 6.3
LABEL_MARGIN: Final = 7.0


@dataclass(frozen=True, slots=True)
class Stood:
    """A batch as it is drawn.

    Attributes:
        number: of the batch.
        x: middle of its place on the shelf.
        width: of its place.
        figure: its container, and what is seen of its stage.
        count: how many there are, where it is more than one.
        name: number and species, as long as there is room.
        doing: its stage and for how long, as long as there is room.
        says: all of it in words.
    """

    number: int
    x: float
    width: float
    figure: Figure
    count: str
    name: str
    doing: str
    says: str

    @property
    def label(self) -> str:
        """Return what can be read there and then all of it: who speaks to the page says either."""
        shown = " ".join(each for each in (self.count, self.name, self.doing) if each)
        return f"{shown}: {self.says}"


@dataclass(frozen=True, slots=True)
class More:
    """Batches that had no room: how many, where that is said, and all of them in words."""

    x: float
    width: float
    count: int
    says: str


@dataclass(frozen=True, slots=True)
class Standing:
    """What stands on one shelf."""

    stood: tuple[Stood, ...] = ()
    more: More | None = None

    @property
    def says(self) -> tuple[str, ...]:
        """Return it in words, a phrase for each."""
        shown = tuple(each.says for each in self.stood)
        return (*shown, self.more.says) if self.more else shown


def standing(
    batches: Sequence[Batch],
    titles: Mapping[str, str],
    today: Today,
    ends: tuple[float, float],
) -> Standing:
    """Lay out batches on a shelf, in the order of their numbers.

    Args:
        batches: that stand there.
        titles: common names of the species, by their short ones.
        today: the time, and the zone of the site.
        ends: left and right end of the shelf.
    """
    ordered = sorted(batches, key=lambda each: each.id)
    shown, left_over = _with_room(ordered)
    places = len(shown) + (1 if left_over else 0)
    left, right = ends
    width = (right - left) / max(places, FEWEST)
    made = tuple(
        _stood(each, titles.get(each.start.species, each.start.species), today, place)
        for each, place in zip(shown, _places(left, width, len(shown)), strict=True)
    )
    return Standing(made, _more(left_over, titles, today, (left + width * (places - 0.5), width)))


def _with_room(batches: Sequence[Batch]) -> tuple[Sequence[Batch], Sequence[Batch]]:
    if len(batches) <= MOST:
        return batches, ()
    return batches[: MOST - 1], batches[MOST - 1 :]


def _places(left: float, width: float, count: int) -> Iterable[tuple[float, float]]:
    return [(round(left + width * (at + 0.5), 1), round(width, 1)) for at in range(count)]


def _more(
    left_over: Sequence[Batch],
    titles: Mapping[str, str],
    today: Today,
    place: tuple[float, float],
) -> More | None:
    if not left_over:
        return None
    said = "; ".join(
        _says(each, titles.get(each.start.species, each.start.species), today)
        for each in left_over
    )
    return More(round(place[0], 1), round(place[1], 1), len(left_over), said)


def _stood(batch: Batch, title: str, today: Today, place: tuple[float, float]) -> Stood:
    x, width = place
    most = int((width - LABEL_MARGIN) / PER_CHARACTER)
    return Stood(
        number=batch.id,
        x=x,
        width=width,
        figure=figure(batch),
        count=f"\N{MULTIPLICATION SIGN}{batch.count}" if batch.count > 1 else "",
        name=shortened(f"{batch.id} {within(title)}", most),
        doing=_doing_within(batch, today, most),
        says=_says(batch, title, today),
    )


def _doing_within(batch: Batch, today: Today, most: int) -> str:
    """Return the longest way to say it that has room."""
    word, days = state_words(batch), state_days(batch, *today)
    so_long = ngettext("%(num)s day", "%(num)s days", days)
    ways = [f"{word}, {so_long}", f"{word}, {days} d"] if days else []
    return next((way for way in ways if len(way) <= most), shortened(word, most))


def _says(batch: Batch, title: str, today: Today) -> str:
    return _(
        "batch %(batch)s, %(title)s, %(what)s, %(doing)s",
        batch=batch.id,
        title=within(title),
        what=container_name(batch.start.container, batch.count, sealed=batch.sealed),
        doing=state_for(batch, *today),
    )
