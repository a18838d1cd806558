"""`rotation`: what to start when, so that a harvest keeps coming."""

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Annotated, Final

import typer

from chamberwatch.cli.beside import DEFAULT_CONFIG, ConfigOption
from chamberwatch.cli.growing import completing
from chamberwatch.cli.growing.printing import head, indented, pairs, show, table
from chamberwatch.cli.growing.typed import species_name
from chamberwatch.cli.growing.wording import short_place
from chamberwatch.core.errors import RefusedError
from chamberwatch.core.growing.rotation.plan import LEAST_KG, MOST_KG, MOST_WEEKS, WEEKS, Wanted

if TYPE_CHECKING:
    from rich.console import RenderableType

    from chamberwatch.core.growing.rotation.plan import Plan, PlannedStart
    from chamberwatch.core.growing.species import SpeciesTable
    from chamberwatch.service.growing.rotating import PlanNow

_BAR: Final = 36
_CERTAIN, _LIKELY = "█", "░"


def rotation(
    weeks: Annotated[
        int, typer.Option("--weeks", min=1, max=MOST_WEEKS, help="How far ahead.")
    ] = WEEKS,
    want: Annotated[
        list[str] | None,
        typer.Option(
            "--want",
            metavar="SPECIES=KG",
            help="What if: fresh kg a week, such as grey-oyster=0.4-0.6; once for each species. "
            "Without it, what the settings want.",
            autocompletion=completing.species_names,
        ),
    ] = None,
    dry: Annotated[
        list[str] | None,
        typer.Option(
            "--dry",
            metavar="SPECIES=WEIGHT",
            help="Dry substrate in one batch of it, such as grey-oyster=350g; without it, as in "
            "the settings.",
            autocompletion=completing.species_names,
        ),
    ] = None,
    config: ConfigOption = DEFAULT_CONFIG,
) -> None:
    """Plan the starts of the next weeks; that of the settings is kept to for its week."""
    from rich.console import Console

    from chamberwatch.cli.growing.opening import opened

    with opened(config) as bench:
        asked = _asked(want or (), dry or (), bench.growing.table, bench.wanted)
        # On a small machine it takes some seconds; what is taken further stays clean.
        with Console(stderr=True).status("Looking for a plan ..."):
            planned = bench.growing.rotating.plan(asked, weeks)
        before = planned.made < bench.now.astimezone(bench.zone).date()
        show(*_parts(planned, bench.growing.table, before))


# ---------------------------------------------------------------------- what was typed


def _asked(
    want: Sequence[str], dry: Sequence[str], table: "SpeciesTable", settled: Sequence[Wanted]
) -> tuple[Wanted, ...] | None:
    """Return the wish that was typed, None where the one of the settings counts."""
    if not want and not dry:
        return None
    kilograms = dict(_kilograms(text, table) for text in want)
    if len(kilograms) < len(want):
        raise RefusedError("--want names the same species twice; make them one.")
    grams = dict(_grams(text, table) for text in dry)
    before = {each.species: each for each in settled}
    wishes = kilograms or {name: each.kg_per_week for name, each in before.items()}
    for name in grams:
        if name not in wishes:
            raise RefusedError(f"--dry {name}: nothing is wanted of it; say --want {name}=KG.")
    found = []
    for name, kg in wishes.items():
        dry_g = grams.get(name) or (before[name].batch_dry_g if name in before else None)
        if dry_g is None:
            raise RefusedError(
                f"Say how much dry substrate is in one batch of {name}: --dry {name}=350g."
            )
        found.append(Wanted(name, kg, dry_g))
    return tuple(found)


def _kilograms(text: str, table: "SpeciesTable") -> tuple[str, tuple[float, float]]:
    name, _, range_ = text.partition("=")
    low, told, high = range_.lower().removesuffix("kg").strip().partition("-")
    try:
        ends = float(low), float(high if told else low)
    except ValueError:
        raise RefusedError(
            f"--want {text} can't be read; write SPECIES=LOW-HIGH in kg a week, such as "
            "grey-oyster=0.4-0.6."
        ) from None
    if not LEAST_KG <= ends[0] <= ends[1] <= MOST_KG:
        raise RefusedError(
            f"--want {text}: give the lower figure first, {LEAST_KG:g} to {MOST_KG:g} kg."
        )
    return species_name(name, table), ends


def _grams(text: str, table: "SpeciesTable") -> tuple[str, float]:
    from chamberwatch.core.growing.weights import grams

    name, _, weight = text.partition("=")
    weight_g = grams(weight)
    if not weight_g:
        raise RefusedError(f"--dry {text}: give more than nothing.")
    return species_name(name, table), weight_g


# ---------------------------------------------------------------------- what is shown


def _parts(
    planned: "PlanNow", species: "SpeciesTable", before: bool
) -> "Iterator[RenderableType]":
    plan = planned.plan
    yield head(f"Planned on {planned.made:%A %-d %B}")
    if before:
        yield indented("Starts made since are left out; what is expected is as it was that day.")
    yield head("\nWanted")
    yield pairs(_wishes(planned), max(len(each.species) for each in planned.asked))
    yield head("\nWhat comes of it")
    for sentence in planned.words:
        yield indented(sentence)
    yield head("\nStarts")
    yield _starts(plan)
    yield head("\nExpected, fresh")
    yield _weeks(plan)
    if plan.gives:
        yield head("\nWhat gives")
        yield _gives(plan)


def _wishes(planned: "PlanNow") -> Iterator[tuple[str, str]]:
    from chamberwatch.core.growing.weights import weight_words

    for each in planned.asked:
        dry = weight_words(each.batch_dry_g)
        kg = _range(each.kg_per_week, 2)
        yield each.species, f"{kg} kg a week, from batches of {dry} dry substrate"


def _starts(plan: "Plan") -> "RenderableType":
    if not plan.starts:
        return indented("None in these weeks.")
    heads = ("  on", "species", "colonises", "open on", "fruits", "free on", "kg")
    return table(heads, (_start(each) for each in plan.starts), wraps=(2, 4))


def _start(start: "PlannedStart") -> Sequence[str]:
    low = sum(each.kg_low for each in start.harvests)
    high = sum(each.kg_high for each in start.harvests)
    return (
        f"  {start.on:%Y-%m-%d}",
        start.species,
        short_place(*start.colonise_at) if start.colonise_at else "where free",
        f"{start.opens_on:%-d %b}",
        short_place(*start.fruit_at),
        f"{start.leaves_on:%-d %b}",
        _range((low, high), 2),
    )


def _weeks(plan: "Plan") -> "RenderableType":
    most = max((week.kg_high for week in plan.weeks), default=0.0)
    rows = (
        (
            f"  {week.monday:%Y-%m-%d}",
            _range((week.kg_low, week.kg_high), 2),
            _bar(week.kg_low, week.kg_high, most),
        )
        for week in plan.weeks
    )
    return table(("  week of", "kg", f"{_CERTAIN} at least  {_LIKELY} at most"), rows)


def _bar(low: float, high: float, most: float) -> str:
    if not most:
        return ""
    sure, all_ = (round(value / most * _BAR) for value in (low, high))
    return _CERTAIN * sure + _LIKELY * (all_ - sure)


def _gives(plan: "Plan") -> "RenderableType":
    rows, before = [], ""
    for each in plan.gives:
        # How much is lacking stands beside it, and one reason often holds for weeks.
        why = each.why.partition("; ")[2] or each.why
        said = "the same" if why == before else why
        rows.append((f"  {each.week:%Y-%m-%d}", each.species, f"{each.missing_kg:.2f} kg", said))
        before = why
    return table(("  week of", "species", "lacks", "why"), rows, wraps=(3,))


def _range(ends: tuple[float, float], digits: int) -> str:
    low, high = (f"{end:.{digits}f}" for end in ends)
    return low if low == high else f"{low}-{high}"
