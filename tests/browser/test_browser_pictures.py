"""The pictures of the README, taken anew when asked for."""

import os
from dataclasses import replace
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import Browser

from chamberwatch.core.air.condensation import Margin
from chamberwatch.core.air.figure import Origin
from tests.browser.scenes import usual
from tests.browser.served import PHONE, served, watched
from tests.browser.week_scenes import usual_week, with_charts
from tests.web.air_fakes import counsel, situation
from tests.web.chart_fakes import dry
from tests.web.desk_fakes import Played
from tests.web.growing_scenes import played

README = Path(__file__).parents[2] / "deploy" / "readme"
COLOURS = 160
MOST_BYTES = 200_000

needs_asking = pytest.mark.skipif(
    os.environ.get("CHAMBERWATCH_PICTURES") != "readme",
    reason="set CHAMBERWATCH_PICTURES=readme to take the pictures of the README anew",
)


def reckoned() -> Played:
    """Return the usual tent with all that can be reckoned of it."""
    shown_of = usual()
    shown, told = shown_of.history.rooms["tent"], counsel(situation(76.2))
    margin = Margin(17.1, 3.2, 0.6, Origin.MEASURED, wet=False)
    shown_of.put(replace(shown, counsel=told, margin=margin))
    (asked,) = shown_of.history.all_reminders
    body = f"Humidity 76 % and falling, band 80 to 95 %. {told.mist_words}"
    shown_of.history.remember(replace(asked, body=body))
    return shown_of


def taken(
    browser: Browser, address: str, name: str, ready: str, size: tuple[int, int] = PHONE
) -> int:
    """Take a picture of a page and keep it with few colours; return its size in bytes.

    Args:
        browser: takes it.
        address: of the page.
        name: of the file.
        ready: what is there once all is drawn.
        size: of the window, and so of the picture. [px]
    """
    README.mkdir(parents=True, exist_ok=True)
    path = README / f"{name}.png"
    root, _, page = address.rpartition("/")
    with watched(browser, root, size) as seen:
        seen.page.goto(f"{root}/{page}")
        seen.page.wait_for_selector(ready)
        seen.page.screenshot(path=path)
    with Image.open(path) as picture:
        picture.convert("RGB").quantize(COLOURS).save(path, optimize=True)
    return path.stat().st_size


@needs_asking
@pytest.mark.parametrize(
    ("name", "size"),
    [pytest.param("desk", (1280, 1080), id="desk"), pytest.param("phone", PHONE, id="phone")],
)
def test_picture_of_now(browser: Browser, name: str, size: tuple[int, int]) -> None:
    with served(reckoned()) as at:
        length = taken(browser, f"{at}/", f"now-{name}", "html[data-live]", size)
    assert 10_000 < length < MOST_BYTES


@needs_asking
def test_picture_of_the_week(browser: Browser) -> None:
    with served(usual_week(), with_charts) as at:
        length = taken(browser, f"{at}/week", "week-desk", "#week[data-drawn]", (1280, 980))
    assert 10_000 < length < MOST_BYTES


@needs_asking
def test_picture_of_the_air(browser: Browser) -> None:
    with served(dry()) as at:
        length = taken(browser, f"{at}/air", "air-desk", "html[data-reads]", (1280, 900))
    assert 10_000 < length < MOST_BYTES


@needs_asking
def test_picture_of_growing(browser: Browser, tmp_path: Path) -> None:
    with played("usual", tmp_path) as made, served(made) as at:
        length = taken(browser, f"{at}/growing", "growing-phone", "main")
    assert 10_000 < length < MOST_BYTES
