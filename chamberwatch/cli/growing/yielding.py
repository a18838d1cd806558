"""`yield`: what came of the batches."""

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Annotated, Final

import typer

from chamberwatch.cli.beside import DEFAULT_CONFIG, ConfigOption
from chamberwatch.cli.growing.printing import NONE, date_of, show, table
from chamberwatch.core.errors import UnknownNameError
from chamberwatch.core.growing.crop_rows import By, Row, Spread
from chamberwatch.core.growing.weights import weight_words

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

    from chamberwatch.core.growing.crop import Crop

BATCH: Final = "batch"
_BY: Final[Mapping[str, By]] = {
    "species": By.SPECIES,
    "substrate": By.SUBSTRATE,
    "lineage": By.LINE,
    "shelf": By.SHELF,
}
_NAMES: Final = (*_BY, BATCH)
_KEY_OF_LINE: Final = "from batch {}"


def _offered(incomplete: str) -> list[str]:
    return [name for name in _NAMES if name.startswith(incomplete)]


def yields(
    by: Annotated[
        str,
        typer.Option("--by", help=f"{', '.join(_NAMES[:-1])} or batch.", autocompletion=_offered),
    ] = "species",
    config: ConfigOption = DEFAULT_CONFIG,
) -> None:
    """Show what came of the batches: fresh weight, biological efficiency, and that per day."""
    from chamberwatch.cli.growing.opening import opened
    from chamberwatch.service.growing.crops import crop_tables

    if by not in _NAMES:
        raise UnknownNameError(f"There is no “{by}” to go by. Take one of: {', '.join(_NAMES)}.")
    with opened(config) as bench:
        record = bench.growing.record
        tables = crop_tables(record.batches(), record.all_entries(), bench.growing.table)
        if by == BATCH:
            _by_batch(tables.crops, bench.zone, tables.reckoned_on)
        else:
            _together(tables.rows[_BY[by]], by, tables.reckoned_on)


# ---------------------------------------------------------------------- each by itself


_CROP_HEADS: Final = (
    "\nno", "\nspecies", "\nfresh", "dry\nsubstrate", "yield\n%", "\nflushes", "last\npicked",
    "\ndays", "%\na day",
)  # fmt: skip


def _by_batch(crops: "Sequence[Crop]", zone: "ZoneInfo", reckoned_on: str) -> None:
    from chamberwatch.cli.growing.listing import FIRST

    if not crops:
        show(FIRST)
        return
    show(
        table(_CROP_HEADS, (_crop_row(crop, zone) for crop in crops), wraps=(5,)),
        f"\nYield: {reckoned_on}. Days: from the spawn to the last picking.",
        *_marks(crops),
    )


def _crop_row(crop: "Crop", zone: "ZoneInfo") -> Sequence[str]:
    mark = "!" if crop.lost else "" if crop.finished else "*"
    return (
        f"{crop.batch}{mark}",
        crop.species,
        weight_words(crop.fresh_g) if crop.fresh_g else NONE,
        weight_words(crop.dry_g) if crop.dry_g is not None else NONE,
        _figure(crop.efficiency_pct if crop.finished or crop.flushes else None),
        " + ".join(f"{picked.fresh_g:.0f}" for picked in crop.flushes) or NONE,
        date_of(crop.last_picked, zone) if crop.last_picked else NONE,
        f"{crop.days:.0f}" if crop.days is not None else NONE,
        f"{crop.per_day_pct:.2f}" if crop.per_day_pct is not None else NONE,
    )


def _marks(crops: "Sequence[Crop]") -> Iterator[str]:
    if any(not crop.finished for crop in crops):
        yield "* still under way."
    if any(crop.lost for crop in crops):
        yield "! lost to contamination."
    lacking = [str(crop.batch) for crop in crops if crop.missing]
    if lacking:
        crop = next(crop for crop in crops if crop.missing)
        yield f"Dry substrate isn't known of {', '.join(lacking)}. {crop.missing}"


# ---------------------------------------------------------------------- put together


def _together(rows: Sequence[Row], by: str, reckoned_on: str) -> None:
    if not rows:
        show("No batch has ended yet; --by batch shows those under way.")
        return
    heads = (
        f"\n{by}", "\nended", "\nlost", "\nfresh", "dry\nsubstrate", "yield %\n(range)",
        "% a day\n(range)", "all in\nall %",
    )  # fmt: skip
    show(
        table(heads, (_row(row) for row in rows), wraps=(0,)),
        f"\nYield: {reckoned_on}; the mean of the batches, ± its standard error from three on. "
        "All in all: all fresh weight on all dry substrate.",
    )


def _row(row: Row) -> Sequence[str]:
    species = f" ({', '.join(row.species)})" if row.by is By.LINE else ""
    key = _KEY_OF_LINE.format(row.key) if row.by is By.LINE else row.key
    return (
        f"{key}{species}",
        str(row.count),
        str(row.lost) if row.lost else NONE,
        weight_words(row.fresh_g) if row.fresh_g else NONE,
        weight_words(row.dry_g) if row.dry_g else NONE,
        _spread(row.efficiency_pct, 0),
        _spread(row.per_day_pct, 2),
        _figure(row.together_pct),
    )


def _spread(spread: Spread | None, digits: int) -> str:
    """Write a mean with its error, and below it from where to where it goes."""
    if spread is None:
        return NONE
    mean = f"{spread.mean:.{digits}f}"
    if spread.standard_error is not None:
        mean += f" ± {spread.standard_error:.{digits}f}"
    if spread.count == 1:
        return mean
    return f"{mean}\n({spread.least:.{digits}f}-{spread.most:.{digits}f})"


def _figure(value: float | None) -> str:
    return NONE if value is None else f"{value:.0f}"
