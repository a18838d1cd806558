"""Lines in pieces, the stretch that a panel shows, and its round numbers."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from chamberwatch.core.shown_in import ShownIn, TemperatureUnit
from chamberwatch.service.chart import BandThen, ChartLine
from chamberwatch.web.pages.chart_harm import crossed, fence
from chamberwatch.web.pages.chart_lines import Bands, Point, beyond, outside, runs, spreads
from chamberwatch.web.pages.chart_scale import (
    KINDS,
    PANELS,
    decimals_for,
    shown,
    spread_of,
    stretch,
    unit_of,
)

THERE = ShownIn(TemperatureUnit.FAHRENHEIT)


def line(*means: float | None, spread: float = 0.0) -> ChartLine:
    return ChartLine(
        "humidity_pct",
        "%",
        tuple(60.0 * n for n in range(len(means))),
        tuple(None if m is None else m - spread for m in means),
        means,
        tuple(None if m is None else m + spread for m in means),
    )


def band(
    low: float | None = 80.0,
    high: float | None = 95.0,
    harm: tuple[float | None, float | None] = (None, None),
    start: float = 0.0,
    end: float = 10_000.0,
) -> BandThen:
    first, last = (datetime.fromtimestamp(t, UTC) for t in (start, end))
    return BandThen("humidity_pct", first, last, low, high, *harm, "")


def test_gaps_stay_gaps() -> None:
    assert list(runs(line(1.0, 2.0, None, None, 3.0))) == [
        [(0.0, 1.0), (60.0, 2.0)],
        [(240.0, 3.0)],
    ]
    assert list(runs(line(None, None))) == []


def test_the_spread_has_the_same_gaps_and_is_left_out_where_there_is_none() -> None:
    (first, second) = spreads(line(1.0, 2.0, None, 3.0, 4.0, spread=0.5))
    assert first == ([(0.0, 0.5), (60.0, 1.5)], [(0.0, 1.5), (60.0, 2.5)])
    assert second[0][0] == (180.0, 2.5)
    assert list(spreads(line(1.0, 2.0))) == []


@pytest.mark.parametrize(
    ("means", "bands", "pieces"),
    [
        pytest.param((85.0, 90.0), [band()], [], id="inside"),
        pytest.param(
            (85.0, 75.0), [band()], [[(30.0, 80.0), (60.0, 75.0)]], id="out where it crosses"
        ),
        pytest.param(
            (75.0, 85.0, 75.0),
            [band()],
            [[(0.0, 75.0), (30.0, 80.0)], [(90.0, 80.0), (120.0, 75.0)]],
            id="in and out again",
        ),
        pytest.param(
            (70.0, 100.0),
            [band()],
            [[(0.0, 70.0), (20.0, 80.0)], [(50.0, 95.0), (60.0, 100.0)]],
            id="right through",
        ),
        pytest.param((97.0,), [band()], [[(0.0, 97.0)]], id="one alone"),
        pytest.param((97.0, 97.0), [], [], id="no band"),
        pytest.param((97.0, 96.0), [band(end=0.0)], [], id="its band has ended"),
        pytest.param(
            (85.0, 85.0, 85.0),
            [band(end=90.0), band(88.0, 97.0, start=90.0)],
            [[(120.0, 85.0)]],
            id="the band moved away from it",
        ),
        pytest.param(
            (85.0, 60.0),
            [band(None, None, (70.0, None))],
            [[(36.0, 70.0), (60.0, 60.0)]],
            id="only harm is a limit",
        ),
    ],
)
def test_what_lies_outside(
    means: tuple[float, ...], bands: list[BandThen], pieces: list[list[tuple[float, float]]]
) -> None:
    (run,) = runs(line(*means))
    found = outside(run, Bands.among(bands, "humidity_pct"))
    assert [[(round(t, 6), round(v, 6)) for t, v in piece] for piece in found] == pieces


@pytest.mark.parametrize(
    ("harm", "stretches"),
    [
        pytest.param((None, None), [], id="there is none"),
        pytest.param((60.0, 99.0), [], id="never"),
        pytest.param((72.0, None), [(36.0, 84.0, 72.0)], id="the least below"),
        pytest.param((None, 92.0), [(0.0, 30.0, 92.0), (105.0, 120.0, 92.0)], id="the most above"),
        pytest.param((72.0, 94.0), [(36.0, 84.0, 72.0), (0.0, 10.0, 94.0)], id="both"),
    ],
)
def test_when_a_harm_limit_was_crossed(
    harm: tuple[float | None, float | None], stretches: list[tuple[float, float, float]]
) -> None:
    least, most = (84.0, 64.0, 84.0), (95.0, 89.0, 93.0)
    spread = replace(line(90.0, 80.0, 90.0), least=least, most=most)
    found = list(crossed(spread, [band(harm=harm)]))
    assert [pytest.approx(each) for each in found] == stretches


@pytest.mark.parametrize("low", [True, False])
def test_the_strokes_of_a_harm_limit_stand_on_its_harmful_side(low: bool) -> None:
    assert fence(50.0, 62.0, 40.0, low=low) == (
        f"M50 40H62M54 40l-4 {4 if low else -4}M61 40l-4 {4 if low else -4}"
    )


@pytest.mark.parametrize(
    ("values", "bands", "low", "high"),
    [
        pytest.param([85.0, 90.0], [band()], 78.8, 96.2, id="the band and a margin"),
        pytest.param([76.0, 90.0], [band(harm=(70.0, None))], 68.0, 97.0, id="harm came near"),
        pytest.param([79.0, 90.0], [band(harm=(70.0, None))], 77.72, 96.28, id="harm is far"),
        pytest.param([50.0], [], 44.0, 56.0, id="next to nothing changes"),
        pytest.param([99.0, 101.0], [], 93.84, 101.0, id="a sensor beyond the ceiling"),
        pytest.param([], [], 0.0, 6.0, id="nothing at all"),
        pytest.param([60.0], [band(None, None, (50.0, 70.0))], 48.4, 71.6, id="only harm"),
    ],
)
def test_what_a_panel_shows(
    values: list[float], bands: list[BandThen], low: float, high: float
) -> None:
    found = stretch("humidity_pct", values, bands)
    assert [found.low, found.high] == pytest.approx([low, high])
    assert found.share(found.low) == 0.0
    assert found.share(found.high) == 1.0


@pytest.mark.parametrize(
    ("numbers", "decimals"),
    [
        pytest.param([70.0, 80.0, 90.0], 0, id="tens"),
        pytest.param([12.5, 15.0, 17.5, 20.0], 1, id="halves of fives"),
        pytest.param([0.0, 0.05, 0.1], 2, id="hundredths"),
        pytest.param([0.1, 0.1 + 1e-12], 1, id="dust"),
    ],
)
def test_how_many_decimals_tell_them_apart(numbers: list[float], decimals: int) -> None:
    assert decimals_for(numbers) == decimals


def test_temperatures_are_shown_as_they_are_liked() -> None:
    assert unit_of("dew_point_c", "°C", THERE) == "°F"
    assert unit_of("co2_ppm", "ppm", THERE) == "ppm"
    assert shown("temperature_c", 18.0, THERE) == pytest.approx(64.4)
    assert shown("humidity_pct", 18.0, THERE) == 18.0
    assert spread_of("temperature_c", THERE) == pytest.approx(7.2)
    assert spread_of("temperature_c", ShownIn()) == 4.0


def test_every_quantity_is_drawn_once() -> None:
    assert [name for panel in PANELS for name in panel] == list(KINDS)


# ------------------------------------------------------------ what lies beyond the band


def spread_of_points(least: tuple[float, ...], most: tuple[float, ...]) -> tuple[list[Point], ...]:
    return tuple([(60.0 * n, value) for n, value in enumerate(edge)] for edge in (least, most))


@pytest.mark.parametrize(
    ("least", "most", "bands", "outlines"),
    [
        pytest.param((85.0, 84.0), (90.0, 91.0), [band()], [], id="inside"),
        pytest.param(
            (85.0, 75.0, 85.0),
            (90.0, 90.0, 90.0),
            [band()],
            [[(30, 80), (60, 75), (90, 80), (90, 80), (60, 80), (30, 80)]],
            id="a dip below",
        ),
        pytest.param(
            (85.0, 90.0),
            (90.0, 100.0),
            [band()],
            [[(30, 95), (60, 100), (60, 95), (30, 95)]],
            id="a peak above",
        ),
        pytest.param(
            (60.0, 62.0),
            (70.0, 72.0),
            [band()],
            [[(0, 60), (60, 62), (60, 72), (0, 70)]],
            id="all of it below",
        ),
        pytest.param(
            (70.0, 70.0),
            (99.0, 99.0),
            [band()],
            [
                [(0, 99), (60, 99), (60, 95), (0, 95)],
                [(0, 70), (60, 70), (60, 80), (0, 80)],
            ],
            id="both sides",
        ),
        pytest.param((10.0, 10.0), (99.0, 99.0), [], [], id="no band"),
    ],
)
def test_what_of_the_spread_lies_beyond_the_band(
    least: tuple[float, ...],
    most: tuple[float, ...],
    bands: list[BandThen],
    outlines: list[list[Point]],
) -> None:
    low, high = spread_of_points(least, most)
    assert list(beyond(low, high, Bands.among(bands, "humidity_pct"))) == outlines
