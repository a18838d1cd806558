"""When a caution stands, and when it was seen."""

from datetime import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chamberwatch.core.growing.band import Band, Stage
from chamberwatch.core.growing.batch import Batch, Container, Passed, Start
from chamberwatch.core.growing.spores import (
    MOST_OPEN,
    Caution,
    Hazard,
    Seeing,
    Stay,
    about_contamination,
    about_spores,
    about_stale_air,
    caution_id,
    last_stood,
    many_since,
    read_id,
    sheddings,
    sheds,
    stays,
)
from tests.core.growing.lives import OYSTER, K, S, begin, live, numbered, on, tell


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


# ---------------------------------------------------------------------- what is forgotten


A_LIFE = (
    begin(),
    tell(K.OPENED, 18),
    tell(K.MOVED, 20, chamber=None),
    tell(K.MOVED, 24, chamber="tent", shelf="top"),
    tell(K.HARVESTED, 30, weight_g=300.0),
    tell(K.SPENT, 40),
)


def test_where_a_batch_stood_and_shed() -> None:
    stood = stays(numbered(*A_LIFE))
    assert stood == (Stay("tent", on(0), on(20)), Stay(None, on(20), on(24)), Stay("tent", on(24)))
    found = list(sheddings(live(OYSTER, *A_LIFE), "tent", stood))
    assert found == [(on(18), on(20)), (on(24), on(30)), (on(30), on(40))]
    assert list(sheddings(live(OYSTER, *A_LIFE), "shelf", stood)) == []
    still = live(OYSTER, *A_LIFE[:4])
    assert list(sheddings(still, "tent", stood))[-1] == (on(24), None)


def test_where_an_ended_batch_stood_last() -> None:
    assert last_stood(live(OYSTER, *A_LIFE)) == "tent"
    assert last_stood(live(OYSTER, *A_LIFE[:3])) is None
    assert last_stood(live(OYSTER, begin(chamber=None), tell(K.CONTAMINATED, 3))) is None


Days = tuple[float, float | None]


@pytest.mark.parametrize(
    ("shed", "since"),
    [
        pytest.param([], None, id="none"),
        pytest.param([(0, None), (1, None)], None, id="as many as are borne"),
        pytest.param([(0, None), (1, None), (2, None)], 2, id="one more"),
        pytest.param([(0, None), (1, None), (2, None), (3, None)], 2, id="another is no break"),
        pytest.param([(0, None), (1, None), (2, 5), (7, None)], 7, id="fallen, and more again"),
        pytest.param([(0, None), (1, None), (2, 5), (5, None)], 2, id="changed places at once"),
        pytest.param([(0, 9), (1, None), (2, None)], None, id="fallen, and stayed so"),
    ],
)
def test_since_when_there_are_too_many(shed: list[Days], since: float | None) -> None:
    found = many_since((on(a), None if b is None else on(b)) for a, b in shed)
    assert found == (None if since is None else on(since))


DAY = st.integers(0, 12)


@given(st.lists(st.tuples(DAY, st.none() | st.integers(1, 9)), max_size=9))
def test_since_then_there_were_never_so_few(drawn: list[tuple[int, int | None]]) -> None:
    """By another way: count on each day."""
    spans = [(first, None if days is None else first + days) for first, days in drawn]

    def number(day: int) -> int:
        return sum(a <= day and (b is None or day < b) for a, b in spans)

    many = [number(day) > MOST_OPEN for day in range(40)]
    calm = [day for day in range(40) if not many[day]]
    found = many_since((on(a), None if b is None else on(b)) for a, b in spans)
    assert found == (on(max(calm, default=-1) + 1) if many[-1] else None)


# ---------------------------------------------------------------------- stale air


@pytest.mark.parametrize(
    ("high", "batches", "seen", "since"),
    [
        pytest.param(40_000.0, [batch(1, S.ANTLER, 3)], [], 3, id="antlers"),
        pytest.param(40_000.0, [batch(1, S.ANTLER, 3, placed=5)], [], 5, id="carried in"),
        pytest.param(5_000.4, [batch(1, S.CASE_RUN, 3)], [], 3, id="more than a room may have"),
        pytest.param(5_000.0, [batch(1, S.ANTLER, 3)], [], None, id="no more than a room may"),
        pytest.param(None, [batch(1, S.ANTLER, 3)], [], None, id="not judged"),
        pytest.param(40_000.0, [batch(1, S.COLONISATION, 3)], [], None, id="sealed"),
        pytest.param(40_000.0, [batch(1, S.RESTING, 3)], [], None, id="rests"),
        pytest.param(40_000.0, [batch(1, S.ANTLER, 3)], [(4, 40_000)], None, id="seen"),
        pytest.param(5_000.4, [batch(1, S.ANTLER, 3)], [(4, 5_000)], None, id="seen, a fraction"),
        pytest.param(40_000.0, [batch(1, S.ANTLER, 3)], [(4, 10_000)], 3, id="more than was seen"),
        pytest.param(40_000.0, [batch(2, S.ANTLER, 9)], [(4, 40_000)], 9, id="those of last year"),
    ],
)
def test_air_that_people_do_not_bear(
    high: float | None, batches: list[Batch], seen: list[tuple[int, int]], since: float | None
) -> None:
    who = [Seeing("Ada", on(day), "page", ppm) for day, ppm in seen]
    found = about_stale_air("tent", "Tent", Band(high=high), batches, who)
    if since is None or high is None:
        assert found is None
    else:
        assert found is not None
        assert (found.id, found.since) == (f"co2-tent-{round(high)}", on(since))
        assert (found.chamber, found.batch) == ("tent", None)
        assert "above 5000 ppm in a room nobody should stay" in found.body
        assert any("NIOSH" in source and "40 000" in source for source in found.sources)


def test_how_much_is_said_in_the_title() -> None:
    found = about_stale_air("tent", "Tent", Band(high=40_000.0), [batch(1, S.ANTLER)], [])
    assert found is not None
    assert found.title.startswith("Tent: its band lets carbon dioxide go up to 40 000 ppm")
    assert about_stale_air("tent", "Tent", None, [batch(1, S.ANTLER)], []) is None


# ---------------------------------------------------------------------- contamination


LOOKED = on(4)


@pytest.mark.parametrize(
    ("stage", "suspected", "seen", "said"),
    [
        pytest.param(S.FRUITING, None, (), None, id="clean"),
        pytest.param(S.FRUITING, LOOKED, (), ("looks contaminated", LOOKED), id="green patches"),
        pytest.param(S.CONTAMINATED, None, (), ("is contaminated", on(7)), id="told"),
        pytest.param(S.CONTAMINATED, LOOKED, (), ("is contaminated", LOOKED), id="both"),
        pytest.param(S.CONTAMINATED, LOOKED, (30,), None, id="seen"),
        pytest.param(S.CONTAMINATED, None, (3,), ("is contaminated", on(7)), id="seen beforehand"),
        pytest.param(S.CONTAMINATED, LOOKED, (5,), None, id="seen when it looked so"),
        pytest.param(S.SPENT, LOOKED, (), None, id="cleared out"),
    ],
)
def test_contamination(
    stage: Stage,
    suspected: datetime | None,
    seen: tuple[int, ...],
    said: tuple[str, datetime] | None,
) -> None:
    who = [Seeing("Ada", on(day), "page", 1) for day in seen]
    found = about_contamination(batch(14, stage, day=7), "Grey oyster", suspected, who)
    if said is None:
        assert found is None
    else:
        assert found is not None
        assert found.title == f"Batch 14 (grey oyster) {said[0]}: bag it"
        assert (found.since, found.id) == (said[1], "contaminated-14-1")
        assert (found.chamber, found.batch) == ("tent", 14)
        assert "don't open it indoors" in found.body
        assert "eat nothing" in found.body


@pytest.mark.parametrize(
    ("text", "read"),
    [
        pytest.param("spores-big-tent-3", (Hazard.SPORES, "big-tent", 3), id="spores"),
        pytest.param("co2-tub-40000", (Hazard.CO2, "tub", 40_000), id="stale air"),
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
