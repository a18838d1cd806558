"""The air a stage wants: limits, and harm limits further out."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta
from enum import StrEnum
from typing import Final


class Stage(StrEnum):
    """What a crop is doing today; a chamber is stated to be in one of those of `HOME_BANDS`.

    Colonisation, pinning, fruiting and resting (between flushes) are common to all; a species may
    have case run, antler or conk as well. The last two end a batch.
    """

    COLONISATION = "colonisation"
    CASE_RUN = "case run"
    PINNING = "pinning"
    FRUITING = "fruiting"
    ANTLER = "antler"
    CONK = "conk"
    RESTING = "resting"
    SPENT = "spent"
    CONTAMINATED = "contaminated"


@dataclass(frozen=True, slots=True)
class Band:
    """Limits of one quantity, in the unit of that quantity. None: not limited on that side.

    Attributes:
        low: below this something should be done.
        high: above this something should be done.
        harm_low: below this the crop is hurt.
        harm_high: above this the crop is hurt.
        high_after: how long a value must stay above `high`, where that is longer than usual.
        source: who says so.
    """

    low: float | None = None
    high: float | None = None
    harm_low: float | None = None
    harm_high: float | None = None
    high_after: timedelta | None = None
    source: str = ""

    @property
    def edges(self) -> tuple[float | None, float | None]:
        """Return what a value is held against below and above: the limit, else that of harm."""
        low = self.low if self.low is not None else self.harm_low
        return low, self.high if self.high is not None else self.harm_high


COMMON_PRACTICE: Final = "common practice for a home chamber with nothing recorded in it"

# Keys are the values of core.watch.reading.Quantity: growing lies below watching and does not
# know it. A quantity that is missing is not judged in that stage: sealed bags keep their own
# humidity and carbon dioxide, so a colonising chamber is judged on temperature alone.
HOME_BANDS: Final[Mapping[Stage, Mapping[str, Band]]] = {
    Stage.COLONISATION: {
        "temperature": Band(18.0, 27.0, None, 30.0, source=COMMON_PRACTICE),
    },
    Stage.FRUITING: {
        "temperature": Band(13.0, 24.0, None, 30.0, source=COMMON_PRACTICE),
        # Every misting overshoots, so only an hour above the high limit calls for drying off.
        "humidity": Band(
            80.0, 95.0, 70.0, None, high_after=timedelta(minutes=60), source=COMMON_PRACTICE
        ),
        "co2": Band(None, 1000.0, None, 2000.0, source=COMMON_PRACTICE),
    },
}

# Stamets, Growing Gourmet and Medicinal Mushrooms, 3rd ed. (2000), pp. 213-214: keep the
# substrate below 35 °C; the crop overheats inside the block first.
CORE_BAND: Final = Band(
    harm_high=35.0, source="Stamets 2000, pp. 213-214: keep the substrate below 35 °C"
)

# The room around a chamber: people live in it. Damp for hours feeds mould (US EPA, A Brief Guide
# to Mold, Moisture, and Your Home, from memory: below 60 %, ideally 30 to 50). Carbon dioxide:
# 5000 ppm is the long-term limit of workplaces (OSHA, NIOSH, 8 h mean); a store of colonising bags
# in a small closed room can pass it.
ROOM_BANDS: Final[Mapping[str, Band]] = {
    "humidity": Band(
        high=60.0,
        high_after=timedelta(hours=2),
        source="US EPA, A Brief Guide to Mold, Moisture, and Your Home: below 60 %",
    ),
    "co2": Band(harm_high=5000.0, source="5000 ppm, the 8 h limit of workplaces (OSHA, NIOSH)"),
}
