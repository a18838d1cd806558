"""The page *Week* in a real browser: fingers, mouse, keys, paper, other zones, no script."""

import csv
import io
import json
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlparse

import pytest
from playwright.sync_api import Browser, Page, Request, expect

from chamberwatch.core.shown_in import ShownIn, TemperatureUnit
from chamberwatch.service.chart import BandThen, ChartLine
from chamberwatch.web.pages.chart_harm import crossed
from chamberwatch.web.pages.chart_lines import Bands, beyond
from chamberwatch.web.rendering import vendored
from tests.browser.served import DESK, PHONE, Watcher, served, take_picture, watched
from tests.browser.week_scenes import WEEKS, usual_week, with_charts
from tests.web.desk_fakes import Played
from tests.web.week_fakes import FakeCharting

SIZES = [pytest.param(PHONE, id="phone"), pytest.param(DESK, id="desk")]
DARK = [pytest.param(False, id="light"), pytest.param(True, id="dark")]
CONTRAST = (Path(__file__).parent / "contrast.js").read_text()
DRAWN = "#week[data-drawn]"

needs_charts = pytest.mark.skipif(
    not vendored("echarts.min.js"),
    reason="the charts were not fetched: python deploy/web/build_hook.py",
)


@contextmanager
def looked_at(
    browser: Browser,
    played: Played,
    query: str = "",
    size: tuple[int, int] = DESK,
    *,
    dark: bool = False,
    script: bool = True,
) -> Iterator[tuple[Watcher, str]]:
    """Open the page, drawn."""
    with (
        served(played, with_charts) as address,
        watched(browser, address, size, dark=dark, script=script) as seen,
    ):
        seen.page.goto(f"{address}/week{query}")
        if script and seen.page.locator("#week").count():
            seen.page.wait_for_selector(DRAWN)
        yield seen, address


def shown(page: Page) -> tuple[datetime, datetime]:
    """Return the span that the address tells of; the drawn one where it tells of none."""
    asked = parse_qs(urlparse(page.url).query)
    if "from" in asked:
        return tuple(datetime.fromisoformat(asked[name][0]) for name in ("from", "to"))  # type: ignore[return-value]
    return drawn(page)


def drawn(page: Page) -> tuple[datetime, datetime]:
    """Return the span whose data was drawn last."""
    start, end = (page.locator("#week").get_attribute("data-drawn") or "").split("/")
    return datetime.fromisoformat(start), datetime.fromisoformat(end)


def until_drawn_as_shown(page: Page) -> None:
    """Wait until the hand rests and the data of what is shown is drawn."""
    page.wait_for_selector("#canvas:not([aria-busy])")


@needs_charts
def test_the_script_finds_what_lies_beyond_a_band_as_the_server_does(browser: Browser) -> None:
    start = datetime(2026, 1, 1, tzinfo=UTC)
    times = [start.timestamp() + 60 * n for n in range(6)]
    least = list(zip(times, (85.0, 75.0, 60.0, 96.0, 85.0, 70.0), strict=True))
    most = list(zip(times, (90.0, 90.0, 70.0, 99.0, 97.0, 90.0), strict=True))
    band = BandThen("q", start, start + timedelta(hours=1), 80.0, 95.0, None, None, "")
    asked = {"quantity": "q", "from": times[0], "to": times[0] + 3600, "low": 80, "high": 95}
    with looked_at(browser, usual_week()) as (seen, _):
        told = seen.page.evaluate(
            "([least, most, band]) => chamberwatchWeek.beyond(least, most, [band], 'q')",
            [least, most, {**asked, "harmLow": None, "harmHigh": None}],
        )
    outlines = list(beyond(least, most, Bands.among([band], "q")))
    assert len(outlines) >= 3
    assert [[tuple(point) for point in outline] for outline in told] == outlines


@needs_charts
def test_the_script_finds_where_harm_was_crossed_as_the_server_does(browser: Browser) -> None:
    start = datetime(2026, 1, 1, tzinfo=UTC)
    at = tuple(start.timestamp() + 60 * n for n in range(6))
    least, most = (85.0, 65.0, None, 60.0, 85.0, 70.0), (90.0, 98.0, None, 70.0, 99.0, 90.0)
    line = ChartLine("q", "%", at, least, most, most)
    band = BandThen("q", start, start + timedelta(hours=1), 80.0, 95.0, 70.0, 97.0, "")
    told_band = {"quantity": "q", "from": at[0], "to": at[0] + 3600, "low": 80, "high": 95}
    with looked_at(browser, usual_week()) as (seen, _):
        told = seen.page.evaluate(
            "([line, band]) => chamberwatchWeek.crossed(line, [band], 'q')",
            [
                {"at": at, "least": least, "mean": most, "most": most},
                {**told_band, "harmLow": 70, "harmHigh": 97},
            ],
        )
    stretches = list(crossed(line, [band]))
    assert len(stretches) == 4
    assert [tuple(each) for each in told] == stretches


@needs_charts
@pytest.mark.parametrize("scene", list(WEEKS))
@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("dark", DARK)
def test_every_week_is_clean_and_clear(
    browser: Browser, scene: str, size: tuple[int, int], dark: bool
) -> None:
    name = f"week-{scene}-{'phone' if size == PHONE else 'desk'}{'-dark' if dark else ''}.png"
    with looked_at(browser, WEEKS[scene](), size=size, dark=dark) as (seen, _):
        take_picture(seen.page, name)
        assert seen.width_over() == 0
        assert seen.page.evaluate(CONTRAST) == []
        seen.assert_clean()


@pytest.mark.parametrize("scene", ["usual", "clocks", "crowded", "never-read"])
@pytest.mark.parametrize("size", SIZES)
def test_without_a_script_the_server_draws_the_same(
    browser: Browser, scene: str, size: tuple[int, int]
) -> None:
    name = f"week-{scene}-{'phone' if size == PHONE else 'desk'}-no-script.png"
    with looked_at(browser, WEEKS[scene](), "?beside=@before", size, script=False) as (seen, _):
        page = seen.page
        take_picture(page, name)
        paper = "narrow" if size == PHONE else "wide"
        expect(page.locator(f".week-drawing.{paper}")).to_be_visible()
        expect(page.locator(".week-drawing:visible")).to_have_count(1)
        expect(page.locator("#print, #charts").locator("visible=true")).to_have_count(0)
        before = page.locator("#span-words").inner_text()
        page.get_by_role("link", name="The time before this").click()
        assert page.locator("#span-words").inner_text() != before
        page.get_by_role("link", name="Show a day").click()
        start, end = shown(page)
        assert end - start == timedelta(days=1)
        page.get_by_role("link", name="Come closer").click()
        start, end = shown(page)
        assert end - start == timedelta(hours=12)
        page.get_by_label("From").fill("2026-01-15T06:00")
        page.get_by_label("To", exact=True).fill("2026-01-15T18:00")
        page.get_by_role("button", name="Show", exact=True).click()
        expect(page.locator("#span-words")).to_have_text(
            "Thursday 15 January 2026, 06:00 to 18:00"
        )
        page.wait_for_load_state("load")  # its style sheets too
        assert seen.width_over() == 0
        seen.assert_clean()


def _touch(page: Page, moves: list[list[tuple[float, float]]]) -> None:
    """Put fingers down, move them through the places, and lift them."""
    session = page.context.new_cdp_session(page)

    def points(places: list[tuple[float, float]]) -> list[dict[str, Any]]:
        return [{"x": x, "y": y, "id": n} for n, (x, y) in enumerate(places)]

    kind = "touchStart"
    for places in moves:
        session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points(places)})
        # A finger that rests for a moment before it moves reads the chart.
        if kind == "touchMove":
            page.wait_for_timeout(16)
        kind = "touchMove"
    session.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})


def _under(page: Page, x: float, span: tuple[datetime, datetime]) -> datetime:
    """Return the time under a place; the plot stands 46 px and 10 px within its box."""
    box = page.locator("#plot").bounding_box()
    assert box is not None
    share = (x - box["x"] - 46.0) / (box["width"] - 56.0)
    return span[0] + share * (span[1] - span[0])


def _middle(page: Page) -> tuple[float, float]:
    page.locator("#canvas").scroll_into_view_if_needed()
    box = page.locator("#canvas").bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2, box["y"] + min(box["height"], 400) / 2


@needs_charts
def test_a_finger_drags_and_two_pinch_and_both_fetch(browser: Browser) -> None:
    charting = FakeCharting()
    with looked_at(browser, usual_week(charting), size=PHONE) as (seen, _):
        page = seen.page
        start, end = drawn(page)
        x, y = _middle(page)
        asked = len(charting.asked)
        _touch(page, [[(x + n * 10, y)] for n in range(12)])
        until_drawn_as_shown(page)
        dragged = shown(page)
        assert dragged[1] - dragged[0] == pytest.approx(end - start, abs=timedelta(minutes=2))
        # 110 px of the 302 px that a week has on this phone.
        assert start - dragged[0] == pytest.approx(
            timedelta(days=7) * 110 / 302, abs=timedelta(hours=2)
        )
        assert len(charting.asked) > asked
        x, y = _middle(page)
        _touch(page, [[(x - 30 - n * 6, y), (x + 30 + n * 6, y)] for n in range(11)])
        until_drawn_as_shown(page)
        pinched = shown(page)
        assert (pinched[1] - pinched[0]) / (dragged[1] - dragged[0]) == pytest.approx(
            1 / 3, abs=0.02
        )
        # What lay between the fingers still does.
        assert abs(_under(page, x, pinched) - _under(page, x, dragged)) < timedelta(minutes=30)
        assert [a[2].end - a[2].start for a in charting.asked[-3:]].count(pinched[1] - pinched[0])
        take_picture(page, "week-pinched-phone.png", whole=False)
        seen.assert_clean()


@needs_charts
def test_a_tap_reads_off_and_a_held_finger_reads_along(browser: Browser) -> None:
    with looked_at(browser, usual_week(), size=PHONE) as (seen, _):
        page = seen.page
        before = shown(page)
        x, y = _middle(page)
        _touch(page, [[(x, y)]])
        expect(page.locator("#hair")).to_be_visible()
        first = page.locator("#read-off b").inner_text()
        expect(page.locator("#read-out")).to_contain_text(first)
        held = [[(x, y)]] * 30 + [[(x + n * 4, y)] for n in range(20)]
        _touch(page, held)
        assert page.locator("#read-off b").inner_text() != first
        assert shown(page) == before
        seen.assert_clean()


@needs_charts
def test_mouse_wheel_and_hover(browser: Browser) -> None:
    with looked_at(browser, usual_week()) as (seen, _):
        page = seen.page
        start, end = drawn(page)
        x, y = _middle(page)
        page.mouse.move(x, y)
        expect(page.locator("#hair")).to_be_visible()
        expect(page.locator("#read-off")).to_contain_text("humidity")
        expect(page.locator("#read-out")).to_have_text("")
        page.mouse.down()
        page.mouse.move(x + 100, y, steps=5)
        page.mouse.up()
        until_drawn_as_shown(page)
        dragged = shown(page)
        assert dragged[0] < start
        page.wait_for_timeout(350)
        page.mouse.wheel(0, -200)
        until_drawn_as_shown(page)
        closer = shown(page)
        assert closer[1] - closer[0] < 0.8 * (end - start)
        seen.assert_clean()


@needs_charts
def test_links_and_keys(browser: Browser) -> None:
    with looked_at(browser, usual_week()) as (seen, address):
        page = seen.page
        page.get_by_role("link", name="Show a day").click()
        until_drawn_as_shown(page)
        day = shown(page)
        assert day[1] - day[0] == timedelta(days=1)
        page.get_by_role("link", name="The time before this").click()
        until_drawn_as_shown(page)
        assert shown(page) == (day[0] - timedelta(days=1), day[0])
        expect(page.locator("[data-act=day]")).to_have_attribute("aria-current", "true")
        for name, length in (("year", 365), ("month", 30), ("week", 7)):
            page.get_by_role("link", name=f"Show a {name}").click()
            until_drawn_as_shown(page)
            start, end = shown(page)
            # A year and a month may hold an hour more or less by the clock of the site.
            assert abs(end - start - timedelta(days=length)) <= timedelta(hours=1)
        page.locator("#canvas").focus()
        for key in "hdwmy":
            page.keyboard.press(key)
        assert shown(page)[1] - shown(page)[0] == timedelta(days=7), "a letter changes nothing"
        page.keyboard.press("-")
        until_drawn_as_shown(page)
        start, end = shown(page)
        assert end - start == timedelta(days=14)
        page.get_by_role("link", name="Come closer").click()
        until_drawn_as_shown(page)
        start, end = shown(page)
        assert end - start == timedelta(days=7)
        page.locator("#canvas").focus()
        page.keyboard.press("End")
        page.keyboard.press("ArrowLeft")
        page.keyboard.press("ArrowLeft")
        expect(page.locator("#read-out")).to_contain_text("humidity")
        expect(page.locator("[data-act=later]")).to_have_attribute("aria-disabled", "true")
        # Under the chart the words follow, and the address can be shared.
        words = page.locator("#span-words").inner_text()
        expect(page).to_have_title(re.compile(re.escape(words)))
        shared = page.url
        page.goto(shared)
        page.wait_for_selector(DRAWN)
        expect(page.locator("#span-words")).to_have_text(words)
        assert shared.startswith(f"{address}/week?")
        seen.assert_clean()


@needs_charts
def test_the_csv_holds_what_is_drawn(browser: Browser) -> None:
    with looked_at(browser, usual_week(), "?beside=@before") as (seen, _):
        page = seen.page
        answers: list[Any] = []
        page.on("response", lambda r: answers.append(r) if "/chart?" in r.url else None)
        with page.expect_response(lambda r: "/chart?" in r.url):
            page.get_by_role("link", name="Show a day").click()
        until_drawn_as_shown(page)
        with page.expect_download() as download:
            page.locator("#csv").click()
        text = Path(download.value.path()).read_text()
        start, end = drawn(page)
        own = [
            a
            for a in answers
            if parse_qs(urlparse(a.url).query)["to"] == [end.isoformat().replace("+00:00", "Z")]
        ]
        told = json.loads(own[-1].body())
        rows = list(csv.DictReader(io.StringIO(text)))
        for line in told["lines"]:
            own_rows = [row for row in rows if row["quantity"] == line["quantity"]]
            held = [float(row["mean"]) if row["mean"] else None for row in own_rows]
            assert held == line["mean"]
        assert start.isoformat() < end.isoformat()
        seen.assert_clean()


@needs_charts
@pytest.mark.parametrize("zone", ["America/Los_Angeles", "Pacific/Auckland"])
def test_a_browser_in_another_zone_shows_the_sites_times(browser: Browser, zone: str) -> None:
    with served(usual_week(), with_charts) as address:
        context = browser.new_context(
            timezone_id=zone, locale="de-DE", viewport={"width": 1280, "height": 900}
        )
        outside: list[str] = []
        page = context.new_page()
        page.on("request", lambda r: _note(r, address, outside))
        page.goto(f"{address}/week")
        page.wait_for_selector(DRAWN)
        # Noon UTC of the fakes is 13:00 in Berlin; the newest half-hour is that before.
        expect(page.locator("#read-off b")).to_have_text("Tue 20 Jan 12:30")
        expect(page.locator("#read-off")).to_contain_text("18,0\u00a0°C")
        expect(page.locator("#span-words")).to_have_text("13 Jan 13:00 to 20 Jan 2026 13:00")
        assert outside == []
        context.close()


def _note(request: Request, address: str, outside: list[str]) -> None:
    if not request.url.startswith(address):
        outside.append(request.url)


@needs_charts
def test_the_day_of_25_hours(browser: Browser) -> None:
    query = "?from=2025-10-26&to=2025-10-27"
    with looked_at(browser, WEEKS["clocks"](), query) as (seen, _):
        start, end = drawn(seen.page)
        assert end - start == timedelta(hours=25)
        made = seen.page.evaluate(
            """([from, to]) => {
                const week = window.chamberwatchWeek;
                const clock = week.clockOf('Europe/Berlin');
                return week.marks(clock, from, to, 9).map((m) => [m.at, m.label]);
            }""",
            [start.timestamp(), end.timestamp()],
        )
        labels = [label for _, label in made]
        assert labels == [
            "Sun 26",
            "03:00",
            "06:00",
            "09:00",
            "12:00",
            "15:00",
            "18:00",
            "21:00",
            "Mon 27",
        ]
        # From midnight to three it is four hours that night.
        assert made[1][0] - made[0][0] == 4 * 3600
        take_picture(seen.page, "week-25-hours-desk.png", whole=False)
        seen.page.get_by_role("link", name="The time before this").click()
        until_drawn_as_shown(seen.page)
        earlier = drawn(seen.page)
        assert earlier == (start - timedelta(days=1), start)
        seen.assert_clean()


@needs_charts
@pytest.mark.parametrize(
    ("query", "name"),
    [
        pytest.param("?from=2025-01-20&to=2026-01-20", "year", id="a year"),
        pytest.param("?from=2025-10-28&to=2026-01-20", "twelve-weeks", id="twelve weeks"),
        pytest.param("?from=2026-01-20T10:00&to=2026-01-20T11:00", "hour", id="an hour"),
        pytest.param("?beside=@before", "before", id="the week before"),
        pytest.param("?beside=room", "room", id="another chamber"),
    ],
)
@pytest.mark.parametrize("size", SIZES)
def test_other_spans_and_what_is_laid_beside(
    browser: Browser, query: str, name: str, size: tuple[int, int]
) -> None:
    with looked_at(browser, usual_week(), query, size) as (seen, _):
        which = "phone" if size == PHONE else "desk"
        take_picture(seen.page, f"week-{name}-{which}.png")
        if "beside" in query:
            named = "the week before" if "before" in query else "Living room"
            expect(seen.page.locator("#beside-name")).to_have_text(named)
            expect(seen.page.locator("#read-off .then")).to_contain_text(named)
        assert seen.width_over() == 0
        seen.assert_clean()


@needs_charts
def test_fahrenheit_is_shown_where_it_is_liked(browser: Browser) -> None:
    played = usual_week()
    played.desk = replace(played.desk, shown_in=ShownIn(TemperatureUnit.FAHRENHEIT))
    with looked_at(browser, played) as (seen, _):
        expect(seen.page.locator("#read-off")).to_contain_text("64.4\u00a0°F")
        take_picture(seen.page, "week-fahrenheit-desk.png", whole=False)


@needs_charts
def test_light_and_dark_follow_at_once(browser: Browser) -> None:
    with looked_at(browser, usual_week()) as (seen, _):
        light = seen.page.locator("#plot").screenshot()
        seen.page.emulate_media(color_scheme="dark")
        seen.page.wait_for_timeout(200)
        assert seen.page.locator("#plot").screenshot() != light
        seen.assert_clean()


@needs_charts
def test_when_the_server_is_away_it_is_said(browser: Browser) -> None:
    with looked_at(browser, usual_week()) as (seen, _):
        seen.page.context.route("**/chart?*", lambda route: route.abort())
        seen.page.get_by_role("link", name="Show a day").click()
        expect(seen.page.locator("#trouble")).to_contain_text("may be old")
        seen.page.context.unroute("**/chart?*")
        seen.page.get_by_role("link", name="Show a month").click()
        expect(seen.page.locator("#trouble")).to_be_hidden()
        seen.complaints = [said for said in seen.complaints if "ERR_FAILED" not in said]
        seen.assert_clean()


@pytest.mark.parametrize(
    "script",
    [pytest.param(False, id="no-script"), pytest.param(True, id="script", marks=needs_charts)],
)
def test_on_paper_it_is_ink_on_white_on_one_sheet_wide(browser: Browser, script: bool) -> None:
    with looked_at(browser, usual_week(), "?beside=@before", dark=True, script=script) as (
        seen,
        _,
    ):
        page = seen.page
        page.emulate_media(media="print", color_scheme="dark")
        page.set_viewport_size({"width": 690, "height": 976})
        take_picture(page, f"week-print{'' if script else '-no-script'}.png")
        expect(page.locator(".week-drawing.wide")).to_be_visible()
        expect(page.locator(".paper-title")).to_contain_text("Tent, 13 Jan 13:00")
        hidden = page.locator(".steps, .choose, #charts, .top, .foot, .take-away")
        expect(hidden.locator("visible=true")).to_have_count(0)
        white, ink = page.evaluate(
            """() => [getComputedStyle(document.documentElement).backgroundColor,
                getComputedStyle(document.querySelector('.week-drawing [class=line]')).stroke]"""
        )
        assert (white, ink) == ("rgb(255, 255, 255)", "rgb(0, 0, 0)")
        assert seen.width_over() == 0
        seen.assert_clean()
