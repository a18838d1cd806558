"""A plan of starts in words: how many a week, what they fill, what gives, what would help."""

from datetime import date
from typing import Final

from chamberwatch.core.growing.rotation.plan import Plan, Slots
from chamberwatch.core.growing.rotation.takes import whole_slots
from chamberwatch.core.growing.species import SpeciesTable

_RAREST_RATE: Final = 0.019
"""One a year: who starts fewer needs no plan for it."""
_WHOLE: Final = 9.95

MET: Final = "The least that is wanted comes in every week that the plan can still change."


def plan_words(plan: Plan, table: SpeciesTable) -> tuple[str, ...]:
    """Return sentences about a plan, the gist first.

    Args:
        plan: of starts.
        table: names the species.
    """
    rates = [
        _rate(table.known(name).title, per_week, plan.slots[name])
        for name, per_week in plan.starts_per_week.items()
    ]
    gives = [_short(plan, name) for name in dict.fromkeys(each.species for each in plan.gives)]
    stuck = [
        f"Batch {number} finds no room to be opened in time. Clear out or move another first."
        for number in plan.stuck
    ]
    said = (*rates, *([MET] if plan.meets else gives), *stuck)
    return (*said, *(words for words in plan.helps if not any(words in line for line in said)))


def _short(plan: Plan, species: str) -> str:
    """Say how often too little of a species comes, and why in the worst week."""
    short = [each for each in plan.gives if each.species == species]
    worst = max(short, key=lambda each: each.missing_kg)
    return (
        f"Less than wanted comes in {len(short)} of {len(plan.weeks)} weeks, the least in that of "
        f"{_day(worst.week)}. {worst.why}"
    )


def _rate(title: str, per_week: tuple[float, float], slots: Slots) -> str:
    return (
        f"{title}: start {_how_often(*per_week)}. They fill {_places(slots.store)} "
        f"sealed and {_places(slots.fruiting)} open."
    )


def _how_often(low: float, high: float) -> str:
    """Write how many starts a week; below one a week, every how many weeks."""
    least, most = _rounded(low), _rounded(high)
    if high >= 1.0 or most == "1":
        return f"{_span(least, most)} {'batch' if least == most == '1' else 'batches'} a week"
    often = f"{1.0 / high:.0f}"
    if low < _RAREST_RATE:
        return f"one every {often} weeks or more"
    weeks = _span(often, f"{1.0 / low:.0f}")
    return "one every week" if weeks == "1" else f"one every {weeks} weeks"


def _rounded(rate: float) -> str:
    """Write how many starts a week for a person: two figures."""
    return f"{rate:.0f}" if rate >= _WHOLE else f"{rate:.2g}"


def _places(ends: tuple[float, float]) -> str:
    low, high = (whole_slots(end) for end in ends)
    return f"{_span(str(low), str(high))} {'place' if high == 1 else 'places'}"


def _span(low: str, high: str) -> str:
    return low if low == high else f"{low} to {high}"


def _day(day: date) -> str:
    return f"{day:%-d %B}"
