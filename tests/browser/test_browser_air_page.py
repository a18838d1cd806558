"""The page Air in a real browser: looked at, read by finger and keys, held against the core."""

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from playwright.sync_api import Browser, Page, expect

from chamberwatch.core.air.psychrometrics import air_state
from chamberwatch.core.shown_in import ShownIn, TemperatureUnit
from chamberwatch.web.figures import Figures
from chamberwatch.web.pages.air_axes import PLOT, WIDTH
from tests.browser.served import DESK, PHONE, served, take_picture, watched
from tests.web import chart_fakes
from tests.web.chart_fakes import dry, near_saturation, silent, tent_at
from tests.web.desk_fakes import Played

READS = "html[data-reads]"
LIVE = "html[data-live]"
GAP = "\N{NO-BREAK SPACE}"

OVERLAPS = (Path(__file__).parent / "overlaps.js").read_text()
# WCAG 2.2 contrast (1.4.3) of each piece of text on the nearest painted ground.
CONTRAST = (Path(__file__).parent / "contrast.js").read_text()

SCENES = [
    pytest.param(tent_at, "now", id="now"),
    pytest.param(dry, "dry", id="dry"),
    pytest.param(near_saturation, "wet", id="near-saturation"),
    pytest.param(chart_fakes.no_sensor, "no-sensor", id="no-sensor"),
    pytest.param(silent, "silent", id="silent"),
    pytest.param(chart_fakes.doubted, "doubted", id="doubted"),
    pytest.param(chart_fakes.winter, "winter", id="winter"),
    pytest.param(chart_fakes.sealed, "sealed", id="sealed"),
    pytest.param(chart_fakes.only_a_room, "room", id="only-a-room"),
    pytest.param(Played, "nothing", id="no-chamber"),
]


@pytest.mark.parametrize(("scene", "name"), SCENES)
@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_the_chart_is_clean_and_clear(
    browser: Browser, scene: Callable[[], Played], name: str, size: tuple[int, int], dark: bool
) -> None:
    kind = f"{'phone' if size == PHONE else 'desk'}{'-dark' if dark else ''}"
    with served(scene()) as address, watched(browser, address, size, dark=dark) as seen:
        seen.page.goto(f"{address}/air")
        seen.page.wait_for_selector(READS)
        take_picture(seen.page, f"air-{name}-{kind}.png")
        assert seen.width_over() == 0
        assert seen.page.evaluate(OVERLAPS) == []
        assert seen.page.evaluate(CONTRAST) == []
        seen.assert_clean()


def test_without_script_the_points_are_there_all_the_same(browser: Browser) -> None:
    with served(dry()) as address, watched(browser, address, script=False) as seen:
        seen.page.goto(f"{address}/air")
        expect(seen.page.locator("#airchart")).to_be_visible()
        expect(seen.page.locator("#piece-points")).to_contain_text("after a misting")
        expect(seen.page.locator("#piece-leads")).to_contain_text("Two squeezes into the air")
        expect(seen.page.locator("#readoff")).to_be_hidden()
        expect(seen.page.locator("#cross")).to_be_hidden()
        seen.assert_clean()


def stroked(page: Page, where: str) -> list[tuple[str, float]]:
    """Return the ink and the width of the lines that are there, as the browser draws them."""
    return [
        (ink, float(width.removesuffix("px")))
        for ink, width in page.locator(where).evaluate_all(
            "all => all.map(getComputedStyle).map(style => [style.stroke, style.strokeWidth])"
        )
    ]


@pytest.mark.parametrize(
    ("at_", "where"),
    [
        pytest.param("/air", "#airchart .hatch", id="harm"),
        pytest.param("/air", "#piece-key .hatch", id="key"),
        pytest.param("/air", "#airchart .tick", id="ticks"),
        pytest.param("/air", "#airchart .mark-now.old .crossed", id="silent"),
        pytest.param("/chamber/tent/hold?till=morning", ".holdchart .hatch", id="hold-harm"),
        pytest.param("/chamber/tent/hold?till=morning", ".holdchart .tick", id="hold-ticks"),
    ],
)
@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_hatches_ticks_and_crosses_are_drawn(
    browser: Browser, at_: str, where: str, dark: bool
) -> None:
    played = silent() if "crossed" in where else tent_at()
    with served(played) as address, watched(browser, address, dark=dark) as seen:
        seen.page.goto(f"{address}{at_}")
        lines = stroked(seen.page, where)
        assert lines
        assert all(ink.startswith("rgb(") and width > 0.5 for ink, width in lines), lines
        seen.assert_clean()


@pytest.mark.parametrize("at_", ["/air", "/chamber/tent/hold?till=morning"], ids=["air", "hold"])
def test_the_words_of_a_drawing_have_the_ink_of_the_page(browser: Browser, at_: str) -> None:
    with served(tent_at()) as address, watched(browser, address, dark=True) as seen:
        seen.page.goto(f"{address}{at_}")
        inks = seen.page.locator("svg.scene text").evaluate_all(
            "all => all.map(each => getComputedStyle(each).fill)"
        )
        assert inks
        assert "rgb(0, 0, 0)" not in inks


# ------------------------------------------------------------ the script against the core


@pytest.mark.parametrize("pressure_pa", [101_325.0, 84_556.0], ids=["sea", "1500 m"])
def test_the_script_reckons_as_the_core_does(browser: Browser, pressure_pa: float) -> None:
    """Far closer than a sensor can tell: both follow ASHRAE Fundamentals (2017) ch. 1."""
    points = [
        (t, rh)
        for t in (-15.0, -3.0, -0.4, 0.3, 4.0, 11.0, 18.2, 24.0, 33.0)
        for rh in (5.0, 30.0, 62.0, 88.0, 97.5, 100.0)
    ]
    with served(tent_at()) as address, watched(browser, address) as seen:
        seen.page.goto(f"{address}/air")
        seen.page.wait_for_selector(READS)
        told = seen.page.evaluate(
            "([points, p]) => points.map(([t, rh]) => moistAir.state(t, rh, p))",
            [points, pressure_pa],
        )
    assert len(told) == len(points)
    for (t, rh), said in zip(points, told, strict=True):
        air = air_state(t, rh, pressure_pa)
        assert said["humidity"] == pytest.approx(rh, abs=1e-6), (t, rh)
        assert said["dewPoint"] == pytest.approx(air.dew_point_c, abs=0.001), (t, rh)
        assert said["wetBulb"] == pytest.approx(air.wet_bulb_c, abs=0.001), (t, rh)
        assert said["vpdPa"] == pytest.approx(air.vpd_pa, abs=0.05), (t, rh)
        assert said["ratio"] == pytest.approx(air.humidity_ratio, rel=1e-4), (t, rh)
        assert said["enthalpyKj"] == pytest.approx(air.enthalpy_j_per_kg / 1000, abs=0.01), (t, rh)
        assert said["frost"] is air.frost, (t, rh)


@pytest.mark.parametrize("comma", [False, True], ids=["point", "comma"])
@pytest.mark.parametrize("unit", list(TemperatureUnit))
def test_the_script_writes_figures_as_the_server_does(
    browser: Browser, comma: bool, unit: TemperatureUnit
) -> None:
    figures = Figures(ShownIn(unit), comma, ZoneInfo("Europe/Berlin"))
    # None lies just half way between two: languages round that up or to the even one.
    values = [0.0, -0.04, 0.06, -12.34, 18.4, 999.96, 1234.56, 9999.4, 12_345.67, -1_234_567.8]
    with served(tent_at()) as address, watched(browser, address) as seen:
        opened(seen.page, address)
        numbers, temperatures, differences, filled = seen.page.evaluate(
            """([told, values]) => {
                const { writer, filled } = chamberwatchFigures;
                const write = writer(told);
                return [
                    values.flatMap((value) => [0, 1, 2].map((n) => write.number(value, n))),
                    values.slice(0, 5).map((value) => write.temperature(value)),
                    values.slice(0, 5).map((value) => write.difference(value, 1)),
                    filled('%(rh)s %% of %(most)s', { rh: 81, most: 'all' }),
                ];
            }""",
            [{"comma": comma, "fahrenheit": unit is TemperatureUnit.FAHRENHEIT}, values],
        )
    assert numbers == [figures.number(value, n) for value in values for n in (0, 1, 2)]
    assert temperatures == [figures.temperature(value) for value in values[:5]]
    assert differences == [figures.difference(value) for value in values[:5]]
    assert filled == "81 % of all"


# ------------------------------------------------------------ reading a point


def place(page: Page, t: float, water: float) -> tuple[float, float]:
    """Return where a point of the chart lies on the screen. [px]"""
    low, high, most = (
        float(part)
        for part in (page.locator("#airchart").get_attribute("data-window") or "").split()
    )
    box = page.locator("#airchart").bounding_box()
    assert box is not None
    x = PLOT.left + (t - low) / (high - low) * (PLOT.right - PLOT.left)
    y = PLOT.bottom - water / most * (PLOT.bottom - PLOT.top)
    per = box["width"] / WIDTH
    return box["x"] + x * per, box["y"] + y * per


def opened(page: Page, address: str) -> None:
    page.goto(f"{address}/air")
    page.wait_for_selector(READS)


def test_a_tap_reads_the_point_under_the_finger(browser: Browser) -> None:
    with served(tent_at()) as address, watched(browser, address) as seen:
        opened(seen.page, address)
        air = air_state(20.0, 70.0)
        seen.page.touchscreen.tap(*place(seen.page, 20.0, 1000 * air.humidity_ratio))
        line = seen.page.locator("#readoff")
        expect(line).to_contain_text(f"20.0{GAP}°C, 70 %")
        expect(line).to_contain_text(f"10{GAP}% too dry")
        expect(line).to_contain_text(f"dew point {air.dew_point_c:.1f}{GAP}°C")
        expect(line).to_contain_text("vapour-pressure deficit 0.70 kPa")
        expect(line).to_contain_text("10.2 g of water")
        seen.assert_clean()


def test_a_finger_draws_the_ring_up_and_down(browser: Browser) -> None:
    """Real touches: the ring is drawn, and the page does not scroll away beneath it."""
    with served(tent_at()) as address, watched(browser, address) as seen:
        opened(seen.page, address)
        x, y = place(seen.page, 18.0, 8.0)
        seen.page.touchscreen.tap(x, y)
        before = seen.page.locator("#readoff").inner_text()
        fingers = seen.page.context.new_cdp_session(seen.page)

        def finger(kind: str, *at: tuple[float, float]) -> None:
            points = [{"x": px, "y": py} for px, py in at]
            fingers.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

        finger("touchStart", (x, y))
        for step in range(1, 9):
            finger("touchMove", (x + 2.0 * step, y - 6.0 * step))
        finger("touchEnd")
        expect(seen.page.locator("#readoff")).not_to_have_text(before)
        assert seen.page.evaluate("scrollY") == 0
        ring = seen.page.locator("#cross .ring").bounding_box()
        assert ring is not None
        assert abs(ring["x"] + ring["width"] / 2 - (x + 16.0)) < 3.0
        assert abs(ring["y"] + ring["height"] / 2 - (y - 48.0)) < 3.0
        seen.assert_clean()


def test_the_arrow_keys_read_from_the_air_now(browser: Browser) -> None:
    with served(tent_at()) as address, watched(browser, address, DESK) as seen:
        opened(seen.page, address)
        seen.page.focus("#reading")
        line = seen.page.locator("#readoff")
        expect(line).to_contain_text(f"18.2{GAP}°C, 88 %")
        expect(line).to_contain_text("in the band")
        seen.page.keyboard.press("ArrowRight")
        expect(line).to_contain_text(f"18.4{GAP}°C, 87 %")
        seen.page.keyboard.press("Shift+ArrowDown")
        expect(line).to_contain_text(f"18.4{GAP}°C, 83 %")
        for _ in range(8):
            seen.page.keyboard.press("Shift+ArrowUp")
        expect(line).to_contain_text("Above the saturation line")
        for _ in range(30):
            seen.page.keyboard.press("Shift+ArrowRight")
        expect(line).to_contain_text(f"26.0{GAP}°C")
        expect(line).to_contain_text(f"2.0{GAP}°C too warm")
        seen.assert_clean()


def test_a_mouse_reads_as_it_passes(browser: Browser) -> None:
    with served(tent_at()) as address, watched(browser, address, DESK) as seen:
        opened(seen.page, address)
        seen.page.mouse.move(*place(seen.page, 22.0, 4.0))
        expect(seen.page.locator("#readoff")).to_contain_text(f"22.0{GAP}°C, 24 %")
        expect(seen.page.locator("#readoff")).to_contain_text("too dry, harmful")
        seen.assert_clean()


def test_it_is_read_in_the_units_and_figures_of_the_grower(browser: Browser) -> None:
    played = tent_at()
    played.desk = replace(played.desk, shown_in=ShownIn(TemperatureUnit.FAHRENHEIT))
    with served(played) as address, watched(browser, address, DESK) as seen:
        seen.page.set_extra_http_headers({"Accept-Language": "de"})
        opened(seen.page, address)
        seen.page.focus("#reading")
        line = seen.page.locator("#readoff")
        expect(line).to_contain_text(f"64,8{GAP}°F, 88 %")
        expect(line).to_contain_text(f"wet bulb 62,4{GAP}°F")
        expect(seen.page.locator("#airchart")).to_contain_text("temperature °F")
        seen.assert_clean()


def test_the_script_and_the_page_say_the_same_of_the_air_now(browser: Browser) -> None:
    with served(dry()) as address, watched(browser, address, DESK) as seen:
        opened(seen.page, address)
        seen.page.focus("#reading")
        first = seen.page.locator("#piece-points > div").first
        told = first.locator(".state").inner_text()
        verdict = first.locator(".verdict").inner_text()
        expect(seen.page.locator("#readoff")).to_contain_text(f"{verdict}; {told}")
        seen.assert_clean()


# ------------------------------------------------------------ live


def test_it_follows_without_a_reload_and_the_ring_stays(browser: Browser) -> None:
    played = tent_at()
    with served(played) as address, watched(browser, address, DESK) as seen:
        opened(seen.page, address)
        seen.page.wait_for_selector(LIVE)
        seen.page.mouse.move(*place(seen.page, 22.0, 4.0))
        told = seen.page.locator("#readoff").inner_text()
        later = dry().history.rooms["tent"]
        played.put(later)
        expect(seen.page.locator(".standing")).to_contain_text("too dry")
        expect(seen.page.locator("#airchart")).to_contain_text("two squeezes")
        # The same air is read; its place in the drawing may be another.
        expect(seen.page.locator("#readoff")).to_have_text(told)
        assert seen.page.locator("#reading").get_attribute("tabindex") == "0"
        seen.assert_clean()


def test_a_sensor_that_falls_silent_looks_old_at_once(browser: Browser) -> None:
    played = tent_at()
    with served(played) as address, watched(browser, address) as seen:
        opened(seen.page, address)
        seen.page.wait_for_selector(LIVE)
        played.put(silent(timedelta(minutes=52)).history.rooms["tent"])
        expect(seen.page.locator(".standing.old")).to_contain_text("52\N{NO-BREAK SPACE}min old")
        expect(seen.page.locator("#airchart .mark-now.old .crossed")).to_have_count(1)
        seen.assert_clean()


def test_another_chamber_is_one_link_away_and_stays_in_the_address(browser: Browser) -> None:
    with served(tent_at()) as address, watched(browser, address) as seen:
        opened(seen.page, address)
        seen.page.get_by_role("link", name="Living room").click()
        seen.page.wait_for_selector(LIVE)
        assert seen.page.url == f"{address}/air?chamber=room"
        expect(seen.page.locator("h2#title-0")).to_have_text("Living room")
        seen.assert_clean()


# ------------------------------------------------------------ will it hold


@pytest.mark.parametrize("scene", [tent_at, dry], ids=["leaves", "below"])
@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("till", ["", "?till=morning"], ids=["visit", "morning"])
def test_the_forecast_is_drawn_clearly(
    browser: Browser, scene: Callable[[], Played], size: tuple[int, int], dark: bool, till: str
) -> None:
    kind = f"{'phone' if size == PHONE else 'desk'}{'-dark' if dark else ''}"
    with served(scene()) as address, watched(browser, address, size, dark=dark) as seen:
        seen.page.goto(f"{address}/chamber/tent/hold{till}")
        expect(seen.page.locator(".holdchart")).to_be_visible()
        take_picture(seen.page, f"foreseen-{scene.__name__}-{kind}.png", whole=False)
        assert seen.width_over() == 0
        assert seen.page.evaluate(OVERLAPS) == []
        assert seen.page.evaluate(CONTRAST) == []
        seen.assert_clean()


def test_from_the_chart_to_the_forecast_and_back(browser: Browser) -> None:
    with served(tent_at()) as address, watched(browser, address) as seen:
        opened(seen.page, address)
        seen.page.get_by_role("link", name="See how it would go").click()
        expect(seen.page.locator("h1")).to_contain_text("Will it hold? Tent")
        seen.page.get_by_role("link", name="See its air on the chart").click()
        seen.page.wait_for_selector(READS)
        assert seen.page.url == f"{address}/air?chamber=tent"
        seen.assert_clean()
