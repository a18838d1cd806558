"""Will it hold: the drawing of the forecast, and what would make it hold."""

import re
from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from chamberwatch.core.growing.band import Band
from chamberwatch.core.shown_in import ShownIn
from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.core.watch.outlook import Foreseen
from chamberwatch.core.watch.situation import Limit, Situation
from chamberwatch.service.views import HoldNow
from chamberwatch.web.figures import Figures
from chamberwatch.web.pages.foreseen import PLOT, HoldChart, hold_chart, remedies
from tests.make import NOON, ROOM, TENT
from tests.web.air_fakes import held_till, situation
from tests.web.desk_fakes import ZONE

GAP = "\N{NO-BREAK SPACE}"
FIGURES = Figures(ShownIn(), comma=False, zone=ZONE)
SIX = NOON + timedelta(hours=6)


def drawn(of: Situation, until: datetime = SIX, chamber: Chamber = TENT) -> HoldChart:
    chart = hold_chart(chamber, held_till(of, until), FIGURES)
    assert chart is not None
    return chart


def labels(chart: HoldChart) -> list[str]:
    return [label.text for label in chart.labels]


def test_the_moment_it_leaves_its_band_is_marked_there() -> None:
    of = situation(88.0)
    answer = held_till(of, SIX).answer
    chart = drawn(of)
    share = (answer.until - NOON) / (SIX - NOON)
    assert chart.end == pytest.approx(PLOT.left + share * (PLOT.right - PLOT.left), abs=0.1)
    assert chart.band is not None
    assert chart.end_y == pytest.approx(sum(chart.band), abs=0.2)  # its lower edge
    assert any(re.fullmatch(r"about \d\d:\d\d: leaves its band", text) for text in labels(chart))
    assert "as it is" in labels(chart)
    assert "misted" in labels(chart)


def test_what_is_below_already_says_so() -> None:
    chart = drawn(situation(76.0))
    assert "now: below its band" in labels(chart)
    assert chart.end == PLOT.left


@pytest.mark.parametrize("ppm", [840.0, 1400.0])
def test_what_the_co2_ends_is_told(ppm: float) -> None:
    of = replace(situation(88.0, ppm), standing_g=500.0, co2_limit_ppm=900.0)
    held = held_till(of, SIX)
    assert held.answer.limit is Limit.CO2
    chart = drawn(of)
    assert any(text.endswith("CO₂ at its limit") for text in labels(chart))
    assert any(text.startswith("now: ") for text in labels(chart)) is (ppm > 1000.0)


def test_what_holds_has_no_end_and_no_remedy() -> None:
    of = replace(situation(88.0, None), standing_g=200.0)
    held = held_till(of, SIX)
    assert held.answer.holds
    chart = drawn(of)
    assert chart.end is None
    assert chart.misted == ""
    assert remedies(held.answer, FIGURES) == ()
    assert "misted as advised" not in chart.described


@pytest.mark.parametrize(
    ("chamber", "line"),
    [
        pytest.param(ROOM, None, id="no-band"),
        pytest.param(TENT, (), id="no-course"),
        pytest.param(TENT, (Foreseen(NOON, 88.0),), id="one-point"),
    ],
)
def test_without_band_or_course_there_is_no_drawing(
    chamber: Chamber, line: tuple[Foreseen, ...] | None
) -> None:
    held = held_till(situation(), SIX)
    if line is not None:
        held = replace(held, as_it_is=line)
    assert hold_chart(chamber, held, FIGURES) is None


@pytest.mark.parametrize(
    ("hours", "marks"),
    [
        pytest.param(6.0, [f"{hour}:00" for hour in range(13, 20)], id="short"),
        pytest.param(18.0, ["15:00", "18:00", "21:00", "Wed 21", "03:00", "06:00"], id="night"),
        pytest.param(48.0, ["Wed 21", "12:00", "Thu 22", "12:00"], id="two-days"),
    ],
)
def test_times_are_those_of_the_clock_on_the_wall(hours: float, marks: list[str]) -> None:
    chart = drawn(situation(), NOON + timedelta(hours=hours))
    assert [tick.label.text for tick in chart.hours if tick.label] == marks


def test_a_band_open_below_reaches_the_edge() -> None:
    class Open(Chamber):
        def band(self, *_: object) -> Band | None:
            return Band(high=95.0)

    chart = drawn(situation(), chamber=Open("tent", "Tent"))
    assert chart.harm is None
    assert chart.band is not None
    assert sum(chart.band) == pytest.approx(PLOT.bottom)


def said(held: HoldNow) -> list[tuple[str, str]]:
    found = remedies(held.answer, FIGURES)
    return [(each.what, each.amount.replace(GAP, " ")) for each in found]


def test_remedies_have_their_amounts() -> None:
    told = said(held_till(situation(76.0, 1400.0), SIX))
    assert told[0] == ("vent first", "the CO₂ is at its limit already")
    assert told[1] == ("into the air", "two squeezes, 2 g")
    assert told[2][0] == "onto walls and into the tray"
    answer = held_till(situation(76.0), SIX).answer
    larger = replace(answer, openings_share=0.42, load_share=0.5)
    assert said(HoldNow(larger, ""))[-2:] == [
        ("smaller openings", "that let in 42 % of the air they let in now"),
        ("larger openings, for the CO₂", "2.0 times as large"),
    ]
