"""The plan that is kept to, written down: it outlives a restart, and processes share it."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import date
from typing import Any, Final

from chamberwatch.core.growing.rotation.plan import (
    Awaited,
    Gives,
    Plan,
    PlannedMove,
    PlannedStart,
    Slots,
    Space,
    Wanted,
    WeekExpectation,
)
from chamberwatch.core.growing.rotation.promise import Promise
from chamberwatch.service.books import Book

NAME: Final = "rotation.promise"

Told = Mapping[str, Any]
"""A thing as JSON writes it; what does not fit is found when it is made into one of ours."""


def keep(book: Book, promise: Promise) -> None:
    """Keep a promise in place of the former."""
    book.kept.keep_text(NAME, json.dumps(asdict(promise), default=date.isoformat))


def kept(book: Book) -> Promise | None:
    """Return the promise that is kept; None: there is none, or it was written in another shape."""
    text = book.kept.text(NAME)
    if text is None:
        return None
    try:
        return _promise(json.loads(text))
    except (AttributeError, KeyError, TypeError, ValueError):
        # A plan costs seconds, so what an older version wrote needs no reader of its own.
        return None


def _promise(told: Told) -> Promise:
    return Promise(
        made=date.fromisoformat(told["made"]),
        wanted=tuple(
            Wanted(**{**w, "kg_per_week": _pair(w["kg_per_week"])}) for w in told["wanted"]
        ),
        spaces=tuple(_space(space) for space in told["spaces"]),
        plan=_plan(told["plan"]),
        begun=dict(told["begun"]),
        lost=int(told["lost"]),
    )


def _space(told: Told) -> Space:
    held = told["temperature_c"]
    shelves = tuple(told["shelves"])
    return Space(**{**told, "shelves": shelves, "temperature_c": _pair(held) if held else None})


def _plan(told: Told) -> Plan:
    return Plan(
        starts=tuple(_start(start) for start in told["starts"]),
        weeks=tuple(_week(week) for week in told["weeks"]),
        gives=tuple(
            Gives(**{**each, "week": date.fromisoformat(each["week"])}) for each in told["gives"]
        ),
        starts_per_week=_pairs(told["starts_per_week"]),
        slots={
            name: Slots(_pair(slots["store"]), _pair(slots["fruiting"]))
            for name, slots in told["slots"].items()
        },
        meets=bool(told["meets"]),
        helps=tuple(told["helps"]),
        stuck=tuple(told["stuck"]),
        moves=tuple(_move(move) for move in told["moves"]),
    )


def _start(told: Told) -> PlannedStart:
    days = {name: date.fromisoformat(told[name]) for name in ("on", "opens_on", "leaves_on")}
    colonise_at, fruit_at = told["colonise_at"], told["fruit_at"]
    return PlannedStart(
        **{
            **told,
            **days,
            "colonise_at": (colonise_at[0], colonise_at[1]) if colonise_at else None,
            "fruit_at": (fruit_at[0], fruit_at[1]),
            "harvests": tuple(
                Awaited(date.fromisoformat(low), date.fromisoformat(high), least, most)
                for low, high, least, most in told["harvests"]
            ),
        }
    )


def _move(told: Told) -> PlannedMove:
    chamber, shelf = told["fruit_at"]
    days = {name: date.fromisoformat(told[name]) for name in ("opens_on", "leaves_on")}
    return PlannedMove(**{**told, **days, "fruit_at": (chamber, shelf)})


def _week(told: Told) -> WeekExpectation:
    monday, kinds = date.fromisoformat(told["monday"]), _pairs(told["by_species"])
    return WeekExpectation(**{**told, "monday": monday, "by_species": kinds})


def _pairs(told: Mapping[str, Sequence[float]]) -> dict[str, tuple[float, float]]:
    return {name: _pair(ends) for name, ends in told.items()}


def _pair(told: Sequence[float]) -> tuple[float, float]:
    low, high = told
    return float(low), float(high)
