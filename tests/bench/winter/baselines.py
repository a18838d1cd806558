"""The same limits on the very same readings, without what an engine adds.

Both are passive: the grower of these readings listened to the engine and not to them.
"""

from collections.abc import Sequence

from chamberwatch.core.watch.advice import CALLS
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.rule import Level, Rule
from tests.bench.winter.episodes import (
    RULES,
    Message,
)


def raw(readings: dict[Quantity, Sequence[float | None]]) -> list[Message]:
    """Return a message at each crossing of a limit, outwards."""
    return _all(readings, deadband=False)


def deadband(readings: dict[Quantity, Sequence[float | None]]) -> list[Message]:
    """Return a message at each crossing; the next one only after it was inside by the deadband."""
    return _all(readings, deadband=True)


def _all(readings: dict[Quantity, Sequence[float | None]], *, deadband: bool) -> list[Message]:
    found = [
        Message(minute, CALLS[quantity, rule.side], grave=rule.level is Level.HARM)
        for quantity, values in readings.items()
        for rule in RULES[quantity]
        for minute in _crossed(values, rule, deadband=deadband)
    ]
    return sorted(found, key=lambda m: m.minute)


def _crossed(values: Sequence[float | None], rule: Rule, *, deadband: bool) -> list[int]:
    found, outside = [], False
    for minute, value in enumerate(values):
        if value is None:
            continue
        if not outside and rule.outside(value):
            found.append(minute)
            outside = True
        elif outside and (rule.back(value) if deadband else not rule.outside(value)):
            outside = False
    return found
