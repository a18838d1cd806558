"""A growing record that holds the batches it was given, for pages that only look at them."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from types import SimpleNamespace
from typing import cast

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import Batch, Container, Passed, Start
from chamberwatch.service.growing.growing import Growing
from chamberwatch.settings.species import shipped_species
from tests.make import at, house
from tests.web.desk_fakes import Played


@dataclass(frozen=True)
class FakeRecord:
    """Batches as they are."""

    kept: Mapping[int, Batch]

    def batches(self) -> Mapping[int, Batch]:
        return self.kept


class NothingToMind:
    """No cautions are due."""

    def standing(self, *asked: object) -> tuple[()]:
        del asked
        return ()


def standing_batch(
    number: int,
    species: str,
    stage: Stage,
    shelf: str | None,
    days: float,
    container: Container = Container.BAG,
    count: int = 1,
    chamber: str = "tent",
) -> Batch:
    """Return a batch that has been in its stage for so many days."""
    since: datetime = at(-days * 24 * 60 - 30)
    opened = None if stage is Stage.COLONISATION else since
    return Batch(
        number,
        Start(species, container, count),
        since - timedelta(days=20),
        (Passed(stage, 0, since),),
        count,
        chamber,
        shelf,
        since,
        opened_at=opened,
    )


def with_batches(played: Played, *batches: Batch) -> Played:
    """Put batches before a desk."""
    grown = SimpleNamespace(
        record=FakeRecord({each.id: each for each in batches}),
        table=shipped_species(),
        cautions=NothingToMind(),
        standing=SimpleNamespace(house=house()),
    )
    played.desk = replace(played.desk, growing=cast(Growing, grown))
    return played
