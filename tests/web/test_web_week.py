"""The page *Week* as the server makes it: the drawing, the links, the words, what is refused."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from html import unescape
from itertools import pairwise
from urllib.parse import parse_qs, urlparse
from xml.etree import ElementTree as ET
from zoneinfo import ZoneInfo

import pytest
from fastapi.testclient import TestClient

from chamberwatch.core.review.week import Week
from chamberwatch.core.shown_in import ShownIn, TemperatureUnit
from chamberwatch.service.books import Span
from chamberwatch.service.chart import BandThen, Mark, MarkKind
from chamberwatch.service.reviewing import WeekReview
from chamberwatch.web.app import create_app
from chamberwatch.web.pages.chart_paper import PER_BOLD, PER_LETTER
from chamberwatch.web.pages.week_words import calendar_week, whose
from tests.make import NOON
from tests.web.climate_fakes import FakeClimates
from tests.web.desk_fakes import Played, calm_tent
from tests.web.lookback_fakes import FakeLookback
from tests.web.week_fakes import FakeCharting

LAST_WEEK = Span(NOON - timedelta(days=7), NOON)


@pytest.fixture
def charting() -> FakeCharting:
    return FakeCharting()


@pytest.fixture
def played(charting: FakeCharting) -> Played:
    made = calm_tent()
    made.desk = replace(made.desk, charting=charting, lookback=FakeLookback())
    return made


def visitor(played: Played) -> TestClient:
    return TestClient(create_app(played.desk), base_url="http://localhost")


def got(played: Played, address: str = "/week", status: int = 200, language: str = "en") -> str:
    answer = visitor(played).get(address, headers={"accept-language": language})
    assert answer.status_code == status
    return answer.text


def drawing(page: str, name: str = "wide") -> ET.Element:
    found = re.search(rf'<svg class="week-drawing {name}".*?</svg>', page, re.DOTALL)
    assert found is not None
    return ET.fromstring(found[0])  # noqa: S314 - our own page


def texts(svg: ET.Element, cls: str) -> list[str]:
    return ["".join(t.itertext()) for t in svg.iter("text") if t.get("class") == cls]


def paths(svg: ET.Element, cls: str) -> list[ET.Element]:
    return [each for each in svg.iter("path") if each.get("class") == cls]


def links(page: str) -> dict[str, str]:
    return {
        act: unescape(address)
        for act, address in re.findall(r'<a data-act="(\w+)"[^>]*? href="([^"]+)"', page)
    }


def test_the_last_seven_days_are_shown(played: Played, charting: FakeCharting) -> None:
    page = got(played)
    assert "13 Jan 13:00 to 20 Jan 2026 13:00" in page
    chamber, quantities, span, points = charting.asked[0]
    assert (chamber, points) == ("tent", 300)
    assert quantities == ("humidity_pct", "temperature_c", "dew_point_c", "co2_ppm", "vpd_kpa")
    assert (span.start, span.end) == (NOON - timedelta(days=7), NOON)


def test_the_drawing_has_four_panels_bands_that_change_and_a_gap(played: Played) -> None:
    svg = drawing(got(played))
    assert texts(svg, "name") == [
        "humidity, %",
        "temperature, °C",
        "dew point",
        "CO₂, ppm",
        "vapour-pressure deficit (VPD), kPa",
    ]
    panels = [g for g in svg.iter("g") if (g.get("class") or "").startswith("panel")]
    assert len(panels) == 4
    for panel in panels:
        assert len([r for r in panel.iter("rect") if r.get("class") == "band"]) == 2
        assert len([r for r in panel.iter("rect") if r.get("class") == "night"]) == 7
        (line,) = paths(panel, "line")
        assert (line.get("d") or "").count("M") == 2, "what was not read is a gap"
        assert paths(panel, "line out"), "what left its band is drawn over once more"
        assert paths(panel, "spread")
    assert paths(svg, "beyond"), "what of the spread left its band has an edge of its own"
    assert len(paths(panels[1], "line second")) == 2, "the sign beside its name, and the line"


def test_a_harm_limit_is_coloured_only_where_it_was_crossed(
    played: Played, charting: FakeCharting
) -> None:
    svg = drawing(got(played))
    assert len(paths(svg, "harm")) == 4, "humidity and CO₂, of two bands each"
    assert paths(svg, "harm crossed") == []
    assert texts(svg, "harm-word") == ["harm below", "harm above"]
    charting.chambers["tent"] = -6.0
    assert len(paths(drawing(got(played)), "harm crossed")) >= 3


def test_signs_tell_what_they_are_of(played: Played) -> None:
    svg = drawing(got(played))
    lanes = {g.get("class"): g for g in svg.iter("g") if (g.get("class") or "").startswith("lane")}
    assert set(lanes) == {"lane done", "lane batch", "lane asked"}
    kinds = {g.get("class") for g in lanes["lane done"].iter("g")}
    assert {"mark deed", "mark found"} <= kinds
    titles = [t.text or "" for t in lanes["lane batch"].iter("title")]
    assert titles == ["batch 6 (grey oyster): opened"]
    assert "opened" in texts(svg, "mark-word")


def test_too_many_signs_are_counted(played: Played, charting: FakeCharting) -> None:
    charting.marks = tuple(
        Mark(MarkKind.DEED, NOON - timedelta(minutes=29 * n), None, "misted", f"deed {n}")
        for n in range(1, 340)
    )
    page = got(played)
    assert "339 in this time; come closer to see them" in texts(drawing(page), "mark-word")
    assert "139 more before these; choose a shorter time." in page


@pytest.mark.parametrize(
    ("words", "said"),
    [
        pytest.param(["misted", "misted"], "misted ×2", id="the same"),  # noqa: RUF001
        pytest.param(["misted", "vented", "misted"], "×3", id="several"),  # noqa: RUF001
    ],
)
def test_signs_on_one_another_are_one(
    played: Played, charting: FakeCharting, words: list[str], said: str
) -> None:
    charting.marks = tuple(
        Mark(MarkKind.DEED, NOON - timedelta(days=3, minutes=n), None, word, f"deed {n}")
        for n, word in enumerate(words)
    )
    assert texts(drawing(got(played)), "mark-word") == [said]


def reminder(hours_ago: float, lasted: float, word: str) -> Mark:
    start = NOON - timedelta(hours=hours_ago)
    return Mark(MarkKind.REMINDER, start, start + timedelta(hours=lasted), word, word)


@pytest.mark.parametrize(
    ("marks", "within", "beside"),
    [
        pytest.param([reminder(40, 30, "mist")], ["mist"], [], id="within its frame"),
        pytest.param([reminder(40, 1, "mist")], [], ["mist"], id="beside its frame"),
        pytest.param(
            [reminder(60, 50, "check"), reminder(50, 1, "mist")], ["check"], [], id="in another's"
        ),
        pytest.param(
            [reminder(60, 50, "check"), reminder(55, 1, "mist")], [], [], id="two begin together"
        ),
        pytest.param(
            [reminder(60, 50, "check"), reminder(50, 1, "mist"), reminder(9, 1, "vent")],
            ["check"],
            ["vent"],
            id="free again",
        ),
        pytest.param([reminder(4, 4, "mist")], [], ["mist"], id="before it at the right end"),
        pytest.param(
            [reminder(9, 3, "vent"), reminder(4, 4, "mist")], [], ["vent"], id="once at the end"
        ),
    ],
)
def test_no_word_lies_under_a_frame(
    played: Played, charting: FakeCharting, marks: list[Mark], within: list[str], beside: list[str]
) -> None:
    charting.marks = tuple(marks)
    svg = drawing(got(played))
    assert (texts(svg, "bar-word"), texts(svg, "mark-word")) == (within, beside)


def test_a_week_of_two_months_names_both() -> None:
    assert calendar_week(Week(2026, 49), over=True) == "Monday 30 November to Sunday 6 December"


def test_what_people_wrote_is_escaped(played: Played, charting: FakeCharting) -> None:
    charting.marks = (
        Mark(MarkKind.DEED, NOON - timedelta(days=2), None, "<b>", "</title><script>"),
    )
    page = got(played)
    assert "<script>" not in page
    assert "&lt;/title&gt;&lt;script&gt;" in page


def test_where_the_links_lead(played: Played) -> None:
    found = links(got(played))
    week, earlier = "2026-01-13T12:00:00Z", "2026-01-06T12:00:00Z"
    assert found["earlier"] == f"/week?chamber=tent&from={earlier}&to={week}"
    assert found["day"] == "/week?chamber=tent&from=2026-01-19T12:00:00Z&to=2026-01-20T12:00:00Z"
    assert "later" not in found
    assert "now" not in found
    before = links(got(played, found["earlier"]))
    assert before["later"] == f"/week?chamber=tent&from={week}&to=2026-01-20T12:00:00Z"
    assert before["now"] == before["later"]


@pytest.mark.parametrize(
    ("query", "lengths", "none"),
    [
        pytest.param(
            "?from=2026-01-15&to=2026-01-16",
            {"closer": timedelta(hours=12), "farther": timedelta(days=2)},
            set(),
            id="a day",
        ),
        pytest.param(
            "?from=2026-01-15T10:00&to=2026-01-15T10:20",
            {"closer": timedelta(minutes=15), "farther": timedelta(minutes=40)},
            set(),
            id="twenty minutes",
        ),
        pytest.param(
            "?from=2026-01-15T10:00&to=2026-01-15T10:15",
            {"farther": timedelta(minutes=30)},
            {"closer"},
            id="as close as it goes",
        ),
        pytest.param(
            "?from=2014-01-01T00:00Z&to=2025-01-09T00:00Z",
            {"closer": timedelta(days=2013)},
            {"farther"},
            id="as far as it goes",
        ),
    ],
)
def test_closer_and_farther_halve_and_double_as_far_as_it_goes(
    played: Played, query: str, lengths: dict[str, timedelta], none: set[str]
) -> None:
    found = links(got(played, f"/week{query}"))
    assert none.isdisjoint(found)
    for act, length in lengths.items():
        asked = parse_qs(urlparse(found[act]).query)
        start, end = (datetime.fromisoformat(asked[name][0]) for name in ("from", "to"))
        assert end - start == length


def test_the_steps_are_one_sentence(played: Played) -> None:
    sentence = re.search(r'<nav class="steps".*?<p>(.*?)</p>', got(played), re.DOTALL)
    assert sentence is not None
    assert re.sub(r"<[^>]+>", "", sentence[1]) == (
        "Show an hour, a day, a week, a month or a year; come closer or step back. "
        "Go earlier, later or up to now."
    )
    assert re.findall(r'data-act="(\w+)"[^>]* aria-current', sentence[1]) == ["week"]


def test_the_csv_is_that_of_what_is_drawn(played: Played) -> None:
    found = re.search(r'id="csv" href="([^"]+)"', got(played))
    assert found is not None
    assert unescape(found[1]) == (
        "/api/v1/chambers/tent/chart.csv?from=2026-01-13T12:00:00Z&to=2026-01-20T12:00:00Z"
        "&quantities=humidity_pct,temperature_c,dew_point_c,co2_ppm,vpd_kpa&points=300"
    )


@pytest.mark.parametrize(
    ("beside", "named", "moved"),
    [
        pytest.param("@before", "the week before", timedelta(days=7), id="the week before"),
        pytest.param("room", "Living room", timedelta(), id="another chamber"),
    ],
)
def test_what_is_laid_beside(
    played: Played, charting: FakeCharting, beside: str, named: str, moved: timedelta
) -> None:
    page = got(played, f"/week?beside={beside}")
    svg = drawing(page)
    assert len(paths(svg, "line beside")) == 4
    assert f'<b id="beside-name">{named}</b>' in page
    own, other = charting.asked
    assert other[0] == ("tent" if moved else "room")
    assert own[2].start - other[2].start == moved
    # Both begin together at the left edge.
    first = re.match(r"M([\d.]+) ", paths(svg, "line beside")[0].get("d") or "")
    assert first is not None
    assert float(first[1]) < 52.0


@pytest.mark.parametrize("beside", ["tent", "nowhere"])
def test_nothing_is_laid_beside_where_it_makes_no_sense(played: Played, beside: str) -> None:
    assert paths(drawing(got(played, f"/week?beside={beside}")), "line beside") == []


@pytest.mark.parametrize(
    ("query", "status", "said"),
    [
        pytest.param("chamber=cave", 404, "There is no chamber “cave”", id="no such chamber"),
        pytest.param("from=soon", 422, "“soon” is no time", id="no time"),
        pytest.param("from=2026-01-05&to=2026-01-04", 422, "Swap", id="backwards"),
    ],
)
def test_what_is_wrong_is_said_and_the_page_stays(
    played: Played, query: str, status: int, said: str
) -> None:
    page = got(played, f"/week?{query}", status)
    assert said in page
    assert drawing(page) is not None


def test_without_a_chamber_it_says_where_to_begin() -> None:
    page = got(Played())
    assert "No chamber yet" in page
    assert 'action="/set-up"' in page
    assert 'href="/set-up"' in page
    assert "<svg class" not in page.split("<main", 1)[1]


def test_without_a_reading_it_says_so_and_where_there_are_some(
    played: Played, charting: FakeCharting
) -> None:
    charting.first = NOON + timedelta(days=1)
    charting.marks = ()
    page = got(played)
    assert "Nothing was read in this time." in page
    assert 'href="/week?chamber=tent"' in page
    assert "Nothing was recorded or asked in this time." in page
    assert paths(drawing(page), "line") == []


def test_where_nothing_is_drawn_it_is_refused() -> None:
    assert visitor(calm_tent()).get("/week").status_code == 422


def test_the_site_chooses_the_unit_and_the_browser_the_sign(played: Played) -> None:
    played.desk = replace(played.desk, shown_in=ShownIn(TemperatureUnit.FAHRENHEIT))
    svg = drawing(got(played, language="de-DE"))
    assert "temperature, °F" in texts(svg, "name")
    numbers = texts(svg, "number")
    assert "0,4" in numbers
    assert "60" in numbers


def test_what_happened_stands_in_words(played: Played) -> None:
    page = got(played)
    assert "<h3>Tuesday 20 January</h3>" in page
    # Asked at 9:00 UTC.
    assert re.search(r"<b>10:00</b> <span class=\"state\">asked</span> vent; not over yet", page)
    assert "<b>12:00 to 13:00</b>" in page
    assert page.index("Tuesday 20 January") < page.index("Monday 19 January")


def test_whose_the_bands_are(played: Played) -> None:
    page = got(played)
    assert re.findall(r"<dt>(.+)</dt><dd>(batch .+)</dd>", page) == [
        ("at the beginning", "batch 6 (grey oyster, pinning)"),
        ("from Fri 16 Jan, 13:00", "batch 6 (grey oyster, fruiting)"),
    ]


def test_whose_says_of_what_where_it_is_not_of_all(played: Played, charting: FakeCharting) -> None:
    made = charting.chart("tent", ("humidity_pct", "co2_ppm", "vpd_kpa"), LAST_WEEK)
    hours = replace(made, bands=tuple(_of_two(made.bands)))
    assert [(each.what, each.why) for each in whose(hours, ZoneInfo("Europe/Berlin"))] == [
        ("humidity, vapour-pressure deficit (VPD)", "batch 6 (grey oyster, pinning)"),
        ("CO₂", "batch 9 (shiitake, fruiting)"),
        ("humidity, vapour-pressure deficit (VPD)", "batch 6 (grey oyster, fruiting)"),
    ]


def _of_two(bands: Sequence[BandThen]) -> Iterator[BandThen]:
    """Yield bands of which that of CO2 is another batch's all the time."""
    for band in bands:
        other = band.quantity == "co2_ppm"
        yield replace(band, why="batch 9 (shiitake, fruiting)") if other else band


def test_beneath_it_stands_the_week_of_its_last_moment(played: Played) -> None:
    climates = FakeClimates()
    played.desk = replace(played.desk, climate=climates)
    page = got(played)
    assert climates.asked == [("tent", "2026-W04")]
    assert "81 % within the band, 17 % too dry" in page
    assert "31 mistings found, 6 of them not recorded" in page
    (whole,) = re.findall(r'href="([^"]+)">Show just this week', page)
    assert '<h2 id="climate">Monday 19 to Sunday 25 January</h2>' in page
    assert "from=2026-01-18T23:00:00Z&amp;to=2026-01-25T23:00:00Z" in whole
    got(played, "/week?from=2026-01-05&to=2026-01-12")
    assert climates.asked[-1] == ("tent", "2026-W02")


def test_of_a_room_there_is_nothing_to_change(played: Played) -> None:
    climates = FakeClimates()
    played.desk = replace(played.desk, climate=climates)
    assert "The week in numbers" not in got(played, "/week?chamber=room")
    assert climates.asked == []


class FakeReviewing:
    """Knows that there are weeks, and is not asked about them here."""

    def weeks(self, last: str = "", count: int = 1) -> tuple[WeekReview, ...]:
        raise AssertionError((last, count))


@pytest.mark.parametrize(
    ("query", "week"),
    [
        pytest.param("", "2026-W03", id="most of it lies in the week before"),
        pytest.param("?from=2026-01-05&to=2026-01-12", "2026-W02", id="a week of the calendar"),
        pytest.param("?from=2026-01-05&to=2026-01-06", "", id="a day"),
    ],
)
def test_how_the_reminders_did_is_one_step_away(played: Played, query: str, week: str) -> None:
    played.desk = replace(played.desk, reviewing=FakeReviewing())
    page = got(played, f"/week{query}")
    assert re.findall(r'href="/reminders\?week=([^"]+)"', page) == ([week] if week else [])


def test_what_lasts_into_another_day_says_so(played: Played, charting: FakeCharting) -> None:
    began = NOON - timedelta(days=2)
    charting.marks = (
        Mark(
            MarkKind.REMINDER, began, began + timedelta(days=1), "mist", "mist; over after 60 min"
        ),
    )
    assert "<b>13:00 to Mon 19\N{NO-BREAK SPACE}Jan 13:00</b>" in got(played)


def test_what_is_still_being_summed_up_is_said(played: Played, charting: FakeCharting) -> None:
    assert "Still being summed up" not in got(played)
    charting.left_out = Span(NOON - timedelta(days=40), NOON - timedelta(days=3))
    said = (
        "Still being summed up, and partly missing here: 11 Dec 2025 13:00 to 17 Jan 2026 13:00."
    )
    assert said in got(played).replace("\N{NO-BREAK SPACE}", " ")


@pytest.mark.parametrize("paper", ["narrow", "wide"])
def test_the_words_of_the_time_axis_stay_on_the_sheet(played: Played, paper: str) -> None:
    svg = drawing(got(played, "/week?from=2026-01-13&to=2026-01-20"), paper)
    words = [t for t in svg.iter("text") if (t.get("class") or "").startswith("time")]
    width = float((svg.get("viewBox") or "").split()[2])
    ends = [
        (
            float(t.get("x") or 0),
            len(t.text or "") * (PER_BOLD if "major" in t.attrib["class"] else PER_LETTER) / 2,
        )
        for t in words
    ]
    assert all(half <= x <= width - half for x, half in ends)
    assert all(b - half_b > a + half_a for (a, half_a), (b, half_b) in pairwise(ends))
    if paper == "wide":
        assert (words[0].text, words[-1].text) == ("Tue 13", "Tue 20")


def test_a_year_is_drawn_without_nights(played: Played) -> None:
    svg = drawing(got(played, "/week?from=2025-01-20&to=2026-01-20"))
    assert [r for r in svg.iter("rect") if r.get("class") == "night"] == []
    assert "2026" in texts(svg, "time major")


def test_a_name_of_sixty_letters_is_not_cut(played: Played) -> None:
    tent = played.history.rooms["tent"]
    long = "The big shelving tent behind the cellar stairs, left side row"
    played.put(replace(tent, chamber=replace(tent.chamber, title=long)))
    assert f"<h1>{long}</h1>" in got(played)


def test_the_script_is_told_what_is_shown(played: Played) -> None:
    page = got(played, "/week?from=2026-01-15&to=2026-01-16")
    assert '"zone": "Europe/Berlin"' in page
    assert '"from": "2026-01-14T23:00:00Z"' in page
