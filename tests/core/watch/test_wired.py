"""Sensors on wires: what can be believed, and when something is said of one."""

import math
from collections.abc import Sequence
from datetime import UTC, datetime

import pytest

from chamberwatch.core.watch.reading import PLAUSIBLE, Quantity
from chamberwatch.core.watch.wired import (
    MAKES,
    Course,
    Ill,
    Measured,
    Taken,
    WiredKind,
    WireError,
    after_failing,
    after_well,
    impossible,
    next_after_s,
    spoken,
)

T, H, C, _, _ = Quantity
SCD4X, SCD30, SHT4X = (MAKES[kind] for kind in WiredKind)
EVERY_S = 10.0


@pytest.mark.parametrize(
    ("measured", "wrong"),
    [
        pytest.param(Measured(20.5, 91.0, 812.0), None, id="a tent"),
        pytest.param(Measured(20.5, 100.0, 812.0), None, id="wet"),
        pytest.param(Measured(130.0, 50.0, 812.0), (T, 130.0), id="end of its scale"),
        pytest.param(Measured(20.5, 118.9, 812.0), (H, 118.9), id="too humid"),
        pytest.param(Measured(20.5, -0.1, 812.0), (H, -0.1), id="too dry"),
        pytest.param(Measured(20.5, 91.0, 0.0), (C, 0.0), id="no CO2 at all"),
        pytest.param(Measured(20.5, 91.0, 40_001.0), (C, 40_001.0), id="too much CO2"),
        pytest.param(Measured(130.0, -3.0, 0.0), (T, 130.0), id="the first of three"),
    ],
)
def test_what_can_not_be_is_found(measured: Measured, wrong: tuple[Quantity, float]) -> None:
    assert impossible(SCD4X, measured) == wrong


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_what_is_no_number_can_not_be(value: float) -> None:
    found = impossible(SCD30, Measured(value, 50.0, 500.0))
    assert found is not None
    assert found[0] is T


def test_a_sensor_without_co2_is_not_asked_for_it() -> None:
    assert impossible(SHT4X, Measured(20.5, 91.0)) is None
    assert Measured(20.5, 91.0).values() == {T: 20.5, H: 91.0}


def test_what_is_believed_here_the_daemon_takes_in() -> None:
    for make in MAKES.values():
        for quantity, (least, most) in make.believed.items():
            assert least >= PLAUSIBLE[quantity][0]
            assert most <= PLAUSIBLE[quantity][1] or quantity is T


@pytest.mark.parametrize(
    ("measured", "time", "said"),
    [
        pytest.param(
            Measured(20.533, 91.257, 812.4),
            datetime(2026, 11, 3, 3, 4, 5, 678_900, tzinfo=UTC),
            {
                "time": "2026-11-03T03:04:05.678Z",
                "temperature": 20.53,
                "humidity": 91.26,
                "co2": 812,
            },
            id="CO2",
        ),
        pytest.param(Measured(20.5, 91.0), None, {"temperature": 20.5, "humidity": 91.0}, id="no"),
    ],
)
def test_what_is_said(measured: Measured, time: datetime | None, said: dict[str, object]) -> None:
    assert spoken(Taken("wired/tent", measured, 5.0), time) == said


# ------------------------------------------------------------------ when it is told


def _told(pattern: str, ills: Sequence[Ill] = (Ill.NO_ANSWER,)) -> list[str]:
    """Return what is told along a course of attempts: . went well, digits fail by that ill."""
    course, news = Course(), []
    for second, sign in enumerate(pattern):
        if sign == ".":
            course, lasted_s = after_well(course, float(second))
            if lasted_s is not None:
                news.append(f"{second} over after {lasted_s:g}")
        else:
            course, ill = after_failing(course, ills[int(sign)], float(second))
            if ill is not None:
                news.append(f"{second} {ill}")
    return news


@pytest.mark.parametrize(
    ("pattern", "news"),
    [
        pytest.param(".....", [], id="all is well"),
        pytest.param("0", ["0 no answer"], id="never answered: told at once"),
        pytest.param("0" * 300, ["0 no answer"], id="and once"),
        pytest.param("0....", ["0 no answer", "3 over after 3"], id="three well in a row end it"),
        pytest.param("..0..00...", [], id="a crackle is not told"),
        pytest.param("...000...", ["5 no answer", "8 over after 5"], id="three in a row are"),
        pytest.param("..000.0..0...", ["4 no answer", "12 over after 10"], id="it wavers"),
        pytest.param(
            "...000......000...",
            ["5 no answer", "8 over after 5", "14 no answer", "17 over after 5"],
            id="a second time is told again",
        ),
    ],
)
def test_each_trouble_is_told_once_and_once_its_end(pattern: str, news: list[str]) -> None:
    assert _told(pattern) == news


@pytest.mark.parametrize("ill", [Ill.NO_BUS, Ill.NO_RIGHT, Ill.NO_DRIVER])
def test_what_is_no_crackle_is_told_at_once(ill: Ill) -> None:
    assert _told("....0", [ill]) == [f"4 {ill}"]


def test_another_trouble_within_the_first_is_told_once_too() -> None:
    ills = [Ill.NO_ANSWER, Ill.WRONG_SUM]
    assert _told("...0000111010101..." + "0", ills) == [
        "5 no answer",
        "7 wrong checksum",
        "18 over after 15",
    ]


def test_many_crackles_are_told_in_the_end() -> None:
    # Every third reading fails: never three in a row.
    news = _told("..0" * 40, [Ill.WRONG_SUM])
    assert news == ["59 often"]  # the twentieth failure


def test_it_is_over_when_few_of_the_last_hundred_fail() -> None:
    # At 144 five of the last hundred failed: those at 47, 50, 53, 56 and 59.
    news = _told("..0" * 20 + "." * 100, [Ill.WRONG_SUM])
    assert news == ["59 often", "144 over after 85"]


def test_a_long_outage_leaves_nothing_to_be_told_of_later() -> None:
    assert _told("..." + "0" * 200 + "...." + "0..0..") == ["5 no answer", "205 over after 202"]


@pytest.mark.parametrize(
    ("failed", "every_s", "wait_s"),
    [
        pytest.param(0, 10.0, 10.0, id="well"),
        pytest.param(3, 10.0, 10.0, id="just told"),
        pytest.param(4, 10.0, 16.0, id="longer"),
        pytest.param(5, 10.0, 32.0, id="and longer"),
        pytest.param(9, 10.0, 60.0, id="a minute at the most"),
        pytest.param(5000, 10.0, 60.0, id="for ever"),
        pytest.param(9, 600.0, 600.0, id="never more often than wished"),
    ],
)
def test_a_sensor_that_fails_is_asked_more_seldom(
    failed: int, every_s: float, wait_s: float
) -> None:
    assert next_after_s(Course(failed=failed), every_s) == wait_s


@pytest.mark.parametrize(
    ("error", "text"),
    [
        pytest.param(WireError(Ill.STUCK), "stuck", id="alone"),
        pytest.param(WireError(Ill.HUNG, "timed out"), "bus hangs: timed out", id="with detail"),
    ],
)
def test_an_error_says_what_is_wrong(error: WireError, text: str) -> None:
    assert str(error) == text
