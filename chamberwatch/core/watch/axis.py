"""The axis of a drawing: from which value to which it shows, and the round numbers beside it.

Values have whatever unit the drawing has; all of one call have the same.
"""

import math
from collections.abc import Collection
from typing import Final

MARGIN: Final = 0.08
"""So much of what is seen is shown beyond it, at either end."""
MANY: Final = 4
"""More numbers than this on an axis are noise."""
_DUST: Final = 1e-9
_STEPS: Final = (0.1, 0.2, 0.25, 0.5, 1.0, 2.0, 2.5, 5.0)


def around(
    seen: Collection[float],
    least_spread: float,
    floor: float | None = None,
    ceiling: float | None = None,
) -> tuple[float, float]:
    """Return the least and the most that an axis shows.

    Args:
        seen: all that it must show; one at least.
        least_spread: at least so much is shown, so that next to nothing does not look like much.
        floor: nothing less can be; still shown where a sensor says less.
        ceiling: nothing more can be; still shown where a sensor honestly says 101 %.
    """
    least, most = min(seen), max(seen)
    margin = MARGIN * (most - least) + max(0.0, least_spread - (most - least)) / 2
    low, high = least - margin, most + margin
    low = low if floor is None else max(low, min(floor, least))
    return low, high if ceiling is None else min(high, max(ceiling, most))


def round_numbers(low: float, high: float) -> list[float]:
    """Return two to four round numbers to read an axis by, `low` being less than `high`."""
    ten = 10.0 ** math.floor(math.log10(high - low))
    steps = (ten * n for n in _STEPS)
    step = next(
        s for s in steps if math.floor(high / s + _DUST) - math.ceil(low / s - _DUST) < MANY
    )
    first = math.ceil(low / step - _DUST)
    return [n * step for n in range(first, math.floor(high / step + _DUST) + 1)]
