"""What is said after something was told: what it is now, what comes next, a band that changed."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Self

from chamberwatch.cli.growing.printing import date_of, head, indented, pairs, show
from chamberwatch.cli.growing.wording import batch_words
from chamberwatch.core.growing.band_words import band_range, disagreement_words
from chamberwatch.core.growing.batch import Batch
from chamberwatch.core.growing.due_words import due_title, window_words
from chamberwatch.core.growing.spores import Caution, Hazard, read_id
from chamberwatch.core.sentence import begun
from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.core.watch.reading import UNITS, Quantity

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

    from rich.console import RenderableType

    from chamberwatch.cli.growing.opening import Bench

_MORE: Final = "`chamberwatch cautions` says why, and what to do."


@dataclass(frozen=True, slots=True)
class Before:
    """How it was before something was told.

    Attributes:
        bench: where it is told.
        chambers: with their bands, by name.
        minded: what cautions stood about, and of how many batches.
    """

    bench: "Bench"
    chambers: Mapping[str, Chamber]
    minded: Mapping[tuple[Hazard, str], int]

    @classmethod
    def look(cls, bench: "Bench") -> Self:
        """Remember how it is."""
        stood = (read_id(caution.id) for caution in cautions(bench))
        minded = {(hazard, of): count for hazard, of, count in filter(None, stood)}
        return cls(bench, dict(bench.house.chambers), minded)

    def answer(self, *batches: Batch, first: str = "") -> None:
        """Say what has become of it.

        Args:
            batches: that were told of.
            first: what is said before that.
        """
        lines = [line for batch in batches for line in self._of(batch)]
        show(*filter(None, [first]), *lines, *self._around(batches))

    def begun(self, batch: Batch) -> None:
        """Say what was begun, with all that lies ahead of it."""
        now, zone = self.bench.now, self.bench.zone
        dues = [shown.due for shown in self.bench.growing.duties.dues(batch.id)]
        rows = [(due_title(due), window_words(due.window, now, zone)) for due in dues]
        show(batch_words(batch, self.bench.growing.table))
        if rows:
            show("Most likely:", pairs(rows, max(len(what) for what, _ in rows)))
        around = tuple(self._around([batch]))
        if around:
            show(*around)

    def _of(self, batch: Batch) -> Iterator[str]:
        yield batch_words(batch, self.bench.growing.table)
        for due in self.bench.growing.duties.dues(batch.id)[:1]:
            yield f"Next: {bare(due.words, batch.id)}"

    def _around(self, batches: Sequence[Batch]) -> "Iterator[RenderableType]":
        yield from self._bands()
        yield from self._cautions(batches)

    def _bands(self) -> Iterator[str]:
        for name, chamber in self.bench.house.chambers.items():
            if chamber.judged_by() != self.chambers[name].judged_by():
                yield band_words(chamber)

    def _cautions(self, batches: Sequence[Batch]) -> "Iterator[RenderableType]":
        """Yield what is to be minded since, whole; what stood there before, in a line.

        A number that has fallen is no news.
        """
        growing = self.bench.growing
        near = growing.cautions.around(batches, growing.record.batches(), self.bench.house)
        for caution in cautions(self.bench):
            hazard, of, count = read_id(caution.id) or (None, "", 0)
            if hazard is not None and count > self.minded.get((hazard, of), 0):
                yield ""
                yield from caution_lines(caution, self.bench.zone)
            elif caution in near:
                yield f"{caution.title}. {_MORE}"


def bare(words: str, batch: int) -> str:
    """Take the batch off words that stand below its name."""
    return words.removeprefix(f"Batch {batch}: ")


def cautions(bench: "Bench") -> list[Caution]:
    """Return all cautions that stand, those about what stands in no chamber as well."""
    growing = bench.growing
    return list(growing.cautions.everywhere(growing.record.batches(), bench.house))


def caution_lines(caution: Caution, zone: "ZoneInfo") -> "Iterator[RenderableType]":
    """Yield a caution: what it means, who says so, and how to say that one has seen it."""
    yield head(caution.title)
    yield indented(caution.body)
    yield pairs(
        (
            ("since", date_of(caution.since, zone)),
            ("from", "\n".join(caution.sources)),
            ("seen it", f"chamberwatch cautions --seen {caution.id} --by NAME"),
        ),
        label=8,
    )


def band_words(chamber: Chamber) -> str:
    """Say what the band of a chamber is now, in short, and whom it does not suit."""
    bands = chamber.judged_by()
    if not bands:
        return f"Nothing grows in “{chamber.title}” now, so its air is not judged."
    said = ", ".join(band_range(each, band, UNITS[each]) for each, band in bands.items())
    odds = chamber.following.disagreements if chamber.following else {}
    against = (
        disagreement_words(name, limits, UNITS[Quantity(name)]) for name, limits in odds.items()
    )
    return " ".join(
        (
            f"The band of “{chamber.title}” is now: {said}.",
            *(f"{begun(words)}." for words in against),
        )
    )
