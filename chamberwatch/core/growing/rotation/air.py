"""Which species can be open in one chamber: whose air is whose."""

import math
from itertools import combinations

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.species import Species, Stated, Wants

Ends = tuple[float | None, float | None]


def meets(*species: Species) -> tuple[float, float] | None:
    """Return the fruiting temperatures that suit all of them; None where there are none. [°C].

    One without figures suits any.
    """
    low, high = -math.inf, math.inf
    for each in species:
        least, most = fruiting_c(each)
        low = low if least is None else max(low, least)
        high = high if most is None else min(high, most)
    return (low, high) if low <= high else None


def share_air(*species: Species) -> bool:
    """Tell whether open batches of all of them can stand in one chamber.

    Their temperatures have to overlap, and nobody's least carbon dioxide may be more than
    another bears. Humidity parts nobody: those who like it drier stand it for a while.
    """
    stale = [_stale_ppm(each) for each in species]
    apart = any(_apart(one, other) for one, other in combinations(stale, 2))
    return not apart and meets(*species) is not None


def _apart(one: Ends, other: Ends) -> bool:
    pairs = ((one[0], other[1]), (other[0], one[1]))
    return any(low is not None and high is not None and low > high for low, high in pairs)


def overlaps(one: Ends, other: Ends | None) -> bool:
    """Tell whether two ranges meet; one that is not known meets all."""
    return other is None or not _apart(one, other)


def fruiting_c(species: Species) -> Ends:
    """Return the air temperatures in which it fruits. [°C]."""
    wants = _fruiting(species)
    return _ends(wants.temperature_c if wants is not None else None)


def colonising_c(species: Species) -> Ends:
    """Return the air temperatures in which it colonises. [°C]."""
    wants = species.stages.get(Stage.COLONISATION)
    return _ends(wants.temperature_c if wants is not None else None)


def _stale_ppm(species: Species) -> Ends:
    wants = _fruiting(species)
    return _ends(wants.co2_ppm if wants is not None else None)


def _fruiting(species: Species) -> Wants | None:
    return species.stages.get(Stage.FRUITING) or species.stages.get(Stage.CONK)


def _ends(stated: Stated | None) -> Ends:
    return (None, None) if stated is None else (stated.low, stated.high)
