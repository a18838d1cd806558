"""The air of a week, as the API gives it and a page draws it."""

from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest
from fastapi.testclient import TestClient

from chamberwatch.core.review.climate import HourOfDay
from chamberwatch.core.shown_in import ShownIn, TemperatureUnit
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.web.app import create_app
from chamberwatch.web.figures import Figures
from chamberwatch.web.pages.typical_day import HEIGHT, NONE, strips
from chamberwatch.web.pages.week_words import calendar_week
from chamberwatch.web.rendering import page
from tests.web.climate_fakes import FakeClimates, lived, told
from tests.web.desk_fakes import calm_tent

RH, T = Quantity.HUMIDITY, Quantity.TEMPERATURE
FIGURES = Figures(ShownIn(), comma=False, zone=ZoneInfo("Europe/Berlin"))
THERE = replace(FIGURES, shown_in=ShownIn(TemperatureUnit.FAHRENHEIT), comma=True)


@pytest.fixture
def visitor() -> TestClient:
    desk = replace(calm_tent().desk, climate=FakeClimates())
    return TestClient(create_app(desk), base_url="http://localhost")


def test_the_api_gives_figures_and_words(visitor: TestClient) -> None:
    found = visitor.get("/api/v1/chambers/tent/week?week=2026-W04").json()
    assert (found["chamber"], found["week"], found["over"]) == ("tent", "2026-W04", True)
    humid = found["shares"][0]
    assert (humid["in_band"], humid["unit"], humid["heard_min"]) == (0.81, "%", 9960.0)
    assert humid["words"].startswith("81 % within the band")
    assert found["spells"][0]["words"].startswith("Too dry for 3 h 10 min, from Tuesday")
    assert found["mistings"]["held_min"] == [9.0, 24.0, 24.0, 71.0]
    assert found["air_changes"]["closed_per_h"] == 0.8
    assert len(found["day"]["humidity"]) == 24
    assert found["changes"]


@pytest.mark.parametrize(
    ("address", "status"),
    [("/barn/week", 404), ("/tent/week?week=2026-W50", 422)],
)
def test_what_it_refuses(visitor: TestClient, address: str, status: int) -> None:
    assert visitor.get(f"/api/v1/chambers{address}").status_code == status


def test_where_nobody_looks_back() -> None:
    visitor = TestClient(create_app(calm_tent().desk), base_url="http://localhost")
    answer = visitor.get("/api/v1/chambers/tent/week")
    assert "Ask the daemon" in answer.json()["detail"]


def test_a_strip_shows_which_side() -> None:
    hours = [
        HourOfDay(0, 70.0, 4, 1, 3, 0),
        HourOfDay(1, 99.0, 4, 2, 0, 2),
        HourOfDay(2, 85.0, 4, 4, 0, 0),
        HourOfDay(3, None, 0, 0, 0, 0),
        HourOfDay(4, 85.0, 0, 0, 0, 0),
    ]
    (strip,) = strips({RH: hours}, FIGURES)
    assert [c.below for c in strip.cells] == pytest.approx([0.75 * HEIGHT, 0, 0, 0, 0], abs=0.06)
    assert [c.above for c in strip.cells] == pytest.approx([0, 0.5 * HEIGHT, 0, 0, 0], abs=0.06)
    assert [c.heard for c in strip.cells] == [True, True, True, False, False]
    assert strip.words == "worst from 00:00, 25 % within the band"
    assert strip.rows[0][1:] == ("70\N{NO-BREAK SPACE}%", "25 %")
    assert strip.rows[3][1:] == (NONE, NONE)
    assert strip.cells[3].title == "03:00: unheard"


def test_a_day_that_was_well_and_one_nobody_judged() -> None:
    well = [HourOfDay(h, 18.0, 4, 4, 0, 0) for h in range(24)]
    unjudged = [HourOfDay(h, 18.0, 0, 0, 0, 0) for h in range(24)]
    (strip,) = strips({T: well, RH: unjudged}, THERE)
    assert strip.words == "within the band at all hours"
    assert strip.rows[0][1] == "64,4\N{NO-BREAK SPACE}°F"


@pytest.mark.parametrize("over", [True, False])
def test_the_section_of_a_page(over: bool) -> None:
    week = told(lived(), over=over)

    def drawn(found: object, figures: Figures) -> str:
        answer = page(
            "_climate.html",
            climate=found,
            days_of=calendar_week(week.week, over=over),
            strips=strips(week.climate.day, figures),
            figures=figures,
        )
        return bytes(answer.body).decode()

    shown = drawn(week, THERE)
    assert "81 % within the band, 17 % too dry" in shown
    assert "61,0 °F to 69,6 °F" in shown
    assert "Too dry for 3 h 10 min" in shown
    assert shown.count("<svg") == 3
    calm = drawn(replace(week, spells=(), changes=()), FIGURES)
    assert "Nothing: keep on like this." in calm
    assert "None of five minutes or more." in calm
    silent = drawn(replace(week, shares=()), FIGURES)
    assert ("so far" in silent) is not over
    so_far = "" if over else ", so far"
    assert f'<h2 id="climate">Monday 19 to Sunday 25 January{so_far}</h2>' in silent
