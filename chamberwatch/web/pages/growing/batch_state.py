"""What a batch is doing and since when: the same words on every page."""

from collections.abc import Mapping
from datetime import datetime
from typing import Final
from zoneinfo import ZoneInfo

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import Batch
from chamberwatch.web.language import _, marked
from chamberwatch.web.pages.growing.dates import days_since, for_days

_WORDS: Final[Mapping[Stage, str]] = {
    Stage.COLONISATION: marked("colonisation"),
    Stage.CASE_RUN: marked("case run"),
    Stage.PINNING: marked("pinning"),
    Stage.FRUITING: marked("fruiting"),
    Stage.ANTLER: marked("antlers"),
    Stage.CONK: marked("conks"),
    Stage.RESTING: marked("resting"),
    Stage.SPENT: marked("spent"),
    Stage.CONTAMINATED: marked("contaminated"),
}


def stage_name(stage: Stage) -> str:
    """Name a stage."""
    return _(_WORDS[stage])


def state_words(batch: Batch) -> str:
    """Say in a word or two what a batch is doing."""
    return _("white through") if _waits(batch) else stage_name(batch.stage)


def state_days(batch: Batch, now: datetime, zone: ZoneInfo) -> int:
    """Return for how many days it has been doing that."""
    return max(days_since(_since(batch), now, zone), 0)


def state_for(batch: Batch, now: datetime, zone: ZoneInfo) -> str:
    """Say what it is doing and for how long."""
    return f"{state_words(batch)} {for_days(_since(batch), now, zone)}"


def _waits(batch: Batch) -> bool:
    return batch.sealed and batch.white_at is not None and batch.stage is Stage.COLONISATION


def _since(batch: Batch) -> datetime:
    return batch.white_at if batch.white_at is not None and _waits(batch) else batch.since
