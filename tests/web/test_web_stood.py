"""Batches on a shelf: form by container and stage, words beneath, and no crowding."""

from dataclasses import replace
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import Batch, Container, Passed, Start
from chamberwatch.web.pages.stood import PER_CHARACTER, Standing, standing
from tests.make import NOON, at

TITLES = {"grey-oyster": "Grey oyster", "long": "A species with a very long name"}
ENDS = (22.0, 338.0)


def batch(
    number: int = 6,
    stage: Stage = Stage.FRUITING,
    container: Container = Container.BAG,
    species: str = "grey-oyster",
    count: int = 1,
) -> Batch:
    """Return a batch that has been in its stage for five days."""
    since = at(-5 * 24 * 60 - 30)
    start = Start(species, container, count)
    opened = None if stage is Stage.COLONISATION else since
    stages = (Passed(stage, 0, since),)
    return Batch(number, start, at(-30000), stages, count, "tent", "top", since, opened_at=opened)


def stand(*batches: Batch) -> Standing:
    return standing(batches, TITLES, (NOON, ZoneInfo("UTC")), ENDS)


@pytest.mark.parametrize(
    ("stage", "crop", "doing"),
    [
        pytest.param(Stage.COLONISATION, "", "colonisation, 5 days", id="sealed"),
        pytest.param(Stage.CASE_RUN, "", "case run, 5 days", id="cased"),
        pytest.param(Stage.PINNING, "pins", "pinning, 5 days", id="pins"),
        pytest.param(Stage.FRUITING, "caps", "fruiting, 5 days", id="fruits"),
        pytest.param(Stage.ANTLER, "antlers", "antlers, 5 days", id="antlers"),
        pytest.param(Stage.CONK, "conks", "conks, 5 days", id="conks"),
        pytest.param(Stage.RESTING, "stubs", "resting, 5 days", id="rests"),
    ],
)
def test_the_stage_is_a_form_and_a_word(stage: Stage, crop: str, doing: str) -> None:
    (one,) = stand(batch(stage=stage)).stood
    assert (one.figure.crop, one.doing, one.figure.sealed) == (
        crop,
        doing,
        stage is Stage.COLONISATION,
    )


@pytest.mark.parametrize("container", Container)
def test_each_container_has_a_form(container: Container) -> None:
    (one,) = stand(batch(container=container)).stood
    assert one.figure.container == container.name.lower()


def test_a_bag_that_is_white_through_says_since_when() -> None:
    running = batch(stage=Stage.COLONISATION)
    white = replace(running, white_at=at(-24 * 60 - 5))
    assert [each.figure.white for each in stand(running, white).stood] == [False, True]
    assert stand(white).stood[0].doing == "white through, 1 day"
    assert stand(white).says == (
        "batch 6, grey oyster, sealed bag, white through since yesterday",
    )
    assert stand(replace(white, white_at=at(-5))).stood[0].doing == "white through"


@pytest.mark.parametrize(
    ("count", "shown", "more"),
    [
        pytest.param(0, 0, None, id="none"),
        pytest.param(1, 1, None, id="one"),
        pytest.param(2, 2, None, id="two"),
        pytest.param(4, 4, None, id="as many as fit"),
        pytest.param(5, 3, 2, id="one too many"),
        pytest.param(30, 3, 27, id="crowded"),
    ],
)
def test_what_has_no_room_is_counted(count: int, shown: int, more: int | None) -> None:
    drawn = stand(*(batch(number) for number in range(count, 0, -1)))
    assert [one.number for one in drawn.stood] == list(range(1, shown + 1))
    assert (drawn.more.count if drawn.more else None) == more
    if drawn.more:
        assert f"batch {count}, grey oyster" in drawn.more.says


@pytest.mark.parametrize("count", [1, 2, 3, 4, 5, 9])
@pytest.mark.parametrize("species", ["grey-oyster", "long", "unknown-to-the-table"])
def test_nothing_lies_on_its_neighbour(count: int, species: str) -> None:
    stage = Stage.COLONISATION
    drawn = stand(*(batch(100 + n, stage, species=species) for n in range(count)))
    places = [(one.x, one.width) for one in drawn.stood]
    if drawn.more:
        places.append((drawn.more.x, drawn.more.width))
    for (x, width), (other, _) in pairwise(places):
        assert x + width / 2 <= other - width / 2 + 0.1
    assert places[0][0] - places[0][1] / 2 >= ENDS[0]
    assert places[-1][0] + places[-1][1] / 2 <= ENDS[1] + 0.1
    for one in drawn.stood:
        assert max(len(one.name), len(one.doing)) * PER_CHARACTER <= one.width


def test_several_in_one_batch_are_counted() -> None:
    (one,) = stand(batch(container=Container.JAR, count=4)).stood
    assert one.count == "\N{MULTIPLICATION SIGN}4"
    assert one.says == "batch 6, grey oyster, 4 jars, fruiting for 5 days"


@pytest.mark.parametrize(
    ("stage", "says"),
    [
        pytest.param(Stage.COLONISATION, "sealed bag, colonisation for 5 days", id="sealed"),
        pytest.param(Stage.FRUITING, "cut bag, fruiting for 5 days", id="cut"),
    ],
)
def test_all_of_it_is_said_in_words(stage: Stage, says: str) -> None:
    assert stand(batch(stage=stage)).says == (f"batch 6, grey oyster, {says}",)


def test_today_is_new() -> None:
    new = replace(batch(), stages=(Passed(Stage.FRUITING, 1, at(-60)),))
    assert stand(new).stood[0].doing == "fruiting"
