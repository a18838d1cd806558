"""Words of the trade on a page: every kind has one, and it is said in the language spoken."""

import pytest

from chamberwatch.core.growing.batch import Container
from chamberwatch.core.watch.action import Deed
from chamberwatch.core.watch.chamber import Sensor
from chamberwatch.core.watch.course import Way
from chamberwatch.core.watch.reading import Place
from chamberwatch.core.watch.reminder import Priority
from chamberwatch.web import trade_words


def test_every_kind_has_a_name(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(trade_words, "_", str.upper)
    assert [trade_words.deed_name(each) for each in Deed] == [d.value.upper() for d in Deed]
    assert [trade_words.way_name(each) for each in Way] == ["RISING", "FALLING", "STEADY"]
    assert [trade_words.place_name(each) for each in Place] == ["AIR", "CORE", "SURFACE"]
    assert [trade_words.priority_name(each) for each in Priority] == [
        "LOW PRIORITY",
        "MEDIUM PRIORITY",
        "HIGH PRIORITY",
    ]


@pytest.mark.parametrize(
    ("container", "count", "sealed", "said"),
    [
        pytest.param(Container.BAG, 1, True, "sealed bag", id="a sealed bag"),
        pytest.param(Container.BAG, 3, True, "3 sealed bags", id="sealed bags"),
        pytest.param(Container.BAG, 1, False, "cut bag", id="a cut bag"),
        pytest.param(Container.BAG, 2, False, "2 cut bags", id="cut bags"),
        pytest.param(Container.JAR, 4, False, "4 jars", id="jars, open or not"),
        pytest.param(Container.BUCKET, 1, True, "bucket", id="a bucket"),
        pytest.param(Container.TRAY, 2, False, "2 trays", id="trays"),
        pytest.param(Container.LOG, 2, False, "2 logs", id="logs"),
    ],
)
def test_what_it_grows_in(container: Container, count: int, sealed: bool, said: str) -> None:
    assert trade_words.container_name(container, count, sealed=sealed) == said


@pytest.mark.parametrize(
    ("sensor", "said"),
    [
        pytest.param(Sensor("a", "tent"), "air", id="free"),
        pytest.param(Sensor("a", "tent", shelf="top"), "top", id="at a shelf"),
        pytest.param(Sensor("a", "tent", Place.CORE, shelf="top"), "core", id="in a block"),
        pytest.param(Sensor("a", "tent", Place.SURFACE), "surface", id="on a wall"),
    ],
)
def test_where_a_sensor_hangs(sensor: Sensor, said: str) -> None:
    assert trade_words.where(sensor) == said
