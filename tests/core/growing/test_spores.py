"""When a caution stands, and when it was seen."""

from datetime import datetime

import pytest

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import Batch, Container, Passed, Start
from chamberwatch.core.growing.spores import (
    Caution,
    Hazard,
    Seeing,
    about_contamination,
    about_spores,
    caution_id,
    read_id,
    sheds,
)
from tests.core.growing.lives import S, on


def batch(number: int, stage: Stage = S.FRUITING, day: float = 0.0, placed: float = 0.0) -> Batch:
    open_ = stage is not S.COLONISATION
    stages = [Passed(S.COLONISATION, 0, on(-20), on(day))] if open_ else []
    return Batch(
        number,
        Start("grey-oyster", Container.BAG),
        on(-20),
        (*stages, Passed(stage, 1, on(day))),
        1,
        "tent",
        None,
        on(placed),
        opened_at=on(day) if open_ else None,
        chambers=("tent",),
    )


def saw(*counts: int) -> list[Seeing]:
    return [Seeing("Ada", on(30), "page", count) for count in counts]


def spores(count: int, *seen: int) -> Caution | None:
    return about_spores("tent", "Tent", [batch(n, day=n) for n in range(count)], saw(*seen))


@pytest.mark.parametrize(
    ("stage", "does"),
    [
        pytest.param(S.COLONISATION, False, id="sealed"),
        pytest.param(S.CASE_RUN, False, id="cased"),
        pytest.param(S.PINNING, True, id="pins come"),
        pytest.param(S.FRUITING, True, id="fruits"),
        pytest.param(S.RESTING, True, id="rests between flushes"),
        pytest.param(S.SPENT, False, id="spent"),
        pytest.param(S.CONTAMINATED, False, id="thrown out"),
    ],
)
def test_who_sheds_spores(stage: Stage, does: bool) -> None:
    assert sheds(batch(1, stage)) is does


@pytest.mark.parametrize(
    ("count", "seen", "since_day"),
    [
        pytest.param(2, (), None, id="two are borne"),
        pytest.param(3, (), 2, id="three are not"),
        pytest.param(3, (3,), None, id="seen"),
        pytest.param(4, (3,), 3, id="one more is news"),
        pytest.param(3, (3, 5), None, id="fewer than were seen are none"),
        pytest.param(5, (3, 5), None, id="nor are as many again"),
        pytest.param(6, (3, 5), 5, id="more than ever"),
        pytest.param(3, (1,), 2, id="what was seen of one says nothing of three"),
    ],
)
def test_spores(count: int, seen: tuple[int, ...], since_day: int | None) -> None:
    found = spores(count, *seen)
    if since_day is None:
        assert found is None
    else:
        assert found is not None
        assert (found.id, found.since) == (f"spores-tent-{count}", on(since_day))
        assert f"{count} open batches" in found.title
        assert "FFP2" in found.body
        assert any("Lenhart" in each for each in found.sources)


def test_a_batch_that_was_carried_in_sheds_since_then() -> None:
    here = [batch(1), batch(2), batch(3, placed=9)]
    found = about_spores("tent", "Tent", here, ())
    assert found is not None
    assert found.since == on(9)


LOOKED = on(4)


@pytest.mark.parametrize(
    ("stage", "suspected", "seen", "said"),
    [
        pytest.param(S.FRUITING, None, (), None, id="clean"),
        pytest.param(S.FRUITING, LOOKED, (), ("looks contaminated", LOOKED), id="green patches"),
        pytest.param(S.CONTAMINATED, None, (), ("is contaminated", on(7)), id="told"),
        pytest.param(S.CONTAMINATED, LOOKED, (), ("is contaminated", LOOKED), id="both"),
        pytest.param(S.CONTAMINATED, LOOKED, (1,), None, id="seen"),
        pytest.param(S.SPENT, LOOKED, (), None, id="cleared out"),
    ],
)
def test_contamination(
    stage: Stage,
    suspected: datetime | None,
    seen: tuple[int, ...],
    said: tuple[str, datetime] | None,
) -> None:
    found = about_contamination(batch(14, stage, day=7), "Grey oyster", suspected, saw(*seen))
    if said is None:
        assert found is None
    else:
        assert found is not None
        assert found.title == f"Batch 14 (grey oyster) {said[0]}: bag it"
        assert (found.since, found.id) == (said[1], "contaminated-14-1")
        assert "don't open it indoors" in found.body
        assert "eat nothing" in found.body


@pytest.mark.parametrize(
    ("text", "read"),
    [
        pytest.param("spores-big-tent-3", (Hazard.SPORES, "big-tent", 3), id="spores"),
        pytest.param("contaminated-14-1", (Hazard.CONTAMINATED, "14", 1), id="contaminated"),
        pytest.param("spores-tent", None, id="no number"),
        pytest.param("spores--3", None, id="of nothing"),
        pytest.param("spores-tent-²", None, id="no plain number"),
        pytest.param("ghosts-tent-3", None, id="of no kind"),
        pytest.param("", None, id="empty"),
    ],
)
def test_ids(text: str, read: tuple[Hazard, str, int] | None) -> None:
    assert read_id(text) == read
    assert read is None or caution_id(*read) == text
