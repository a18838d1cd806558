"""What gives in a plan, and what would help, in words."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from chamberwatch.core.sentence import within

_FINEST_KG: Final = 0.01


class Cause(StrEnum):
    """Why no more comes in a week."""

    OPEN = "open"
    AIR = "air"
    SHELF = "shelf"
    STORE = "store"
    NOWHERE = "nowhere"
    LUMP = "lump"


class Help(StrEnum):
    """What could be changed, the cheapest first."""

    CLEAR_EARLY = "clear early"
    OPEN_MORE = "open more"
    SAME_AIR = "same air"
    SHELF = "shelf"
    WISH = "wish"


@dataclass(frozen=True, slots=True)
class Change:
    """Something that could be changed.

    Attributes:
        kind: what.
        where: the chamber, as it is called; empty where it is about none.
        now: open ones that are allowed there now.
        species: common names of those it is about.
        kg: how much more would come a week, or with a smaller wish how much comes. [kg]
    """

    kind: Help
    where: str = ""
    now: int = 0
    species: tuple[str, ...] = ()
    kg: float = 0.0


def kilos(kg: float) -> str:
    """Write a weight no finer than a crop can be foretold."""
    if round(kg, 2) < _FINEST_KG:
        return f"less than {_FINEST_KG:g} kg"
    return f"{round(kg, 2):g} kg" if kg < 1.0 else f"{kg:.1f} kg"


def why_words(cause: Cause, species: str, missing_kg: float, where: str, shelf: str) -> str:
    """Say why too little comes in a week.

    Args:
        cause: what stood in the way of one more batch.
        species: common name.
        missing_kg: to the least that is wanted. [kg]
        where: the chamber where there was no room.
        shelf: the one there that is free again first; empty: not known.
    """
    first = f"; shelf “{shelf}” is free again first" if shelf else ""
    reason = {
        Cause.OPEN: f"as many batches as may be open in “{where}” are open by then",
        Cause.AIR: f"what stands open in “{where}” by then can't share its air",
        Cause.SHELF: f"the shelves of “{where}” are taken by then{first}",
        Cause.STORE: f"there is no place left to colonise in “{where}” before{first}",
        Cause.NOWHERE: "no chamber is held at what it wants, or none takes open batches",
        Cause.LUMP: "one more batch would bring more than is wanted in the weeks around",
    }[cause]
    return f"{species}: {kilos(missing_kg)} too little; {reason}."


def help_words(change: Change) -> str:
    """Say what a change would bring."""
    more = f"{_about(change.kg)} more a week"
    names = together(change.species)
    return {
        Help.CLEAR_EARLY: f"Clear batches out after their first flush, and start more: {more}.",
        Help.OPEN_MORE: (
            f"Let {change.now + 1} batches be open in “{change.where}” instead of {change.now}, "
            f"if its air is led outdoors: {more}."
        ),
        Help.SAME_AIR: (f"Choose species that fruit in the same air in place of {names}: {more}."),
        Help.SHELF: f"One more shelf in “{change.where}”: {more}.",
        Help.WISH: (
            f"Wish for less: {_about(change.kg)} of {names} a week is what fits."
            if change.kg
            else f"Wish for less: nothing of {names} fits."
        ),
    }[change.kind]


def _about(kg: float) -> str:
    words = kilos(kg)
    return words if words.startswith("less") else f"about {words}"


def together(names: Sequence[str]) -> str:
    """Write common names within a sentence."""
    lower = [within(name) for name in names]
    return " or ".join((", ".join(lower[:-1]), lower[-1])) if len(lower) > 1 else "".join(lower)
