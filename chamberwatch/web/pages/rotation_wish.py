"""The wish of a rotation, as it is typed, read, and kept in the settings."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from chamberwatch.core.errors import RefusedError
from chamberwatch.core.growing.rotation.plan import LEAST_KG, MOST_KG, Wanted
from chamberwatch.core.growing.weights import KILOGRAM, OUNCE_G
from chamberwatch.core.shown_in import WeightUnit
from chamberwatch.settings.editing import Edit, Put, TakeOut
from chamberwatch.web.figures import Figures
from chamberwatch.web.language import _
from chamberwatch.web.pages.growing.typed import plain_weight, weight
from chamberwatch.web.pages.typed_numbers import number_typed

MOST_SPECIES: Final = 6
SMALLEST_G, LARGEST_G = 10.0, 100_000.0
PER_UNIT_KG: Final = {"kg": 1.0, "oz": OUNCE_G / KILOGRAM}


@dataclass(frozen=True, slots=True)
class WishRow:
    """One species of the form: name, weight a week from and to, dry substrate of one batch."""

    species: str = ""
    low: str = ""
    high: str = ""
    dry: str = ""


def rows(*columns: list[str] | None) -> tuple[WishRow, ...]:
    """Return the rows of the form as they were typed; those without a species are left out."""
    whole = [column or [] for column in columns]
    length = len(whole[0])
    filled = [[*column, *[""] * length][:length] for column in whole]
    typed = (WishRow(*(text.strip() for text in each)) for each in zip(*filled, strict=True))
    return tuple(each for each in typed if each.species)


def unit_of(figures: Figures) -> str:
    """Return the unit in which crops of a week are asked for: kg, or that of the household."""
    return "kg" if figures.shown_in.weight is WeightUnit.GRAM else figures.shown_in.weight.value


def row(wanted: Wanted, figures: Figures) -> WishRow:
    """Write what is wanted of one species as it is typed, in the liked units."""
    low, high = (_week_words(kg, figures) for kg in wanted.kg_per_week)
    dry = figures.said(plain_weight(wanted.batch_dry_g, figures.shown_in))
    return WishRow(wanted.species, low, high, dry)


def _week_words(kg: float, figures: Figures) -> str:
    if figures.shown_in.weight is WeightUnit.GRAM:
        return figures.said(f"{kg:g}")
    return figures.said(f"{figures.shown_in.weight_of(kg * KILOGRAM):.1f}".removesuffix(".0"))


def wish(
    typed: Sequence[WishRow], figures: Figures, before: Sequence[Wanted] = ()
) -> tuple[Wanted, ...]:
    """Return what is wished for.

    Args:
        typed: the rows of the form.
        figures: how they were shown; a bare number is in the unit that was.
        before: what is wished for now. A figure that stands as it was shown is what it was, to
            the last gram.

    Raises:
        RefusedError: a figure that can't be read, or more than can be planned for.
    """
    if len(typed) > MOST_SPECIES:
        raise RefusedError(
            _("At most %(most)s species can be planned together.", most=MOST_SPECIES)
        )
    known = {each.species: each for each in before}
    return tuple(_wanted(row, figures, known.get(row.species)) for row in typed)


def _wanted(typed: WishRow, figures: Figures, before: Wanted | None) -> Wanted:
    was = None if before is None else row(before, figures)
    low = _kg(typed.low or typed.high, typed.species, figures)
    high = _kg(typed.high or typed.low, typed.species, figures)
    dry_g = weight(typed.dry, figures.shown_in.weight)
    if before is not None and was is not None:
        low = before.kg_per_week[0] if typed.low == was.low else low
        high = before.kg_per_week[1] if typed.high == was.high else high
        dry_g = before.batch_dry_g if typed.dry == was.dry else dry_g
    if low > high:
        raise RefusedError(
            _(
                "%(species)s: from %(low)s is above to %(high)s. Swap them.",
                species=typed.species,
                low=typed.low,
                high=typed.high,
            )
        )
    if not SMALLEST_G <= dry_g <= LARGEST_G:
        raise RefusedError(
            _(
                "%(species)s: give %(least)s g to %(most)s kg of dry substrate in one batch.",
                species=typed.species,
                least=f"{SMALLEST_G:g}",
                most=f"{LARGEST_G / KILOGRAM:g}",
            )
        )
    return Wanted(typed.species, (low, high), dry_g)


def _kg(text: str, species: str, figures: Figures) -> float:
    unit = unit_of(figures)
    value = number_typed(text.removesuffix(unit))
    kg = 0.0 if value is None else round(value * PER_UNIT_KG[unit], 4)
    if not LEAST_KG <= kg <= MOST_KG:
        least, most = (_week_words(limit, figures) for limit in (LEAST_KG, MOST_KG))
        raise RefusedError(
            _(
                "%(species)s: write how many %(unit)s a week, from %(least)s to %(most)s.",
                species=species,
                unit=unit,
                least=least,
                most=most,
            )
        )
    return kg


def snippet(asked: Sequence[Wanted]) -> str:
    """Write a wish as it stands in the settings file."""
    return "\n\n".join(
        "[[rotation]]\n"
        f'species = "{each.species}"\n'
        f"kg_per_week = [{each.kg_per_week[0]:g}, {each.kg_per_week[1]:g}]\n"
        f"batch_dry_g = {each.batch_dry_g:g}"
        for each in asked
    )


def kept(asked: Sequence[Wanted], now: Mapping[str, Any]) -> Iterator[Edit]:
    """Yield the changes of the settings that let them wish for this, and for nothing else.

    Args:
        asked: the wish.
        now: what stands in the settings file.
    """
    wanted = {each.species for each in asked}
    for each in now.get("rotation", ()):
        if each.get("species") not in wanted:
            yield TakeOut("rotation", each.get("species", ""))
    for each in asked:
        low, high = each.kg_per_week
        yield Put(
            "rotation",
            each.species,
            {"kg_per_week": [low, high], "batch_dry_g": each.batch_dry_g},
        )
