"""The pictures of the README, taken anew when asked for."""

import os
from dataclasses import replace
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from chamberwatch.core.air.condensation import Margin
from chamberwatch.core.air.figure import Origin
from tests.browser.scenes import usual
from tests.browser.served import DESK, PHONE, served, watched
from tests.web.air_fakes import counsel, situation
from tests.web.desk_fakes import Played

README = Path(__file__).parents[2] / "deploy" / "readme"


def reckoned() -> Played:
    """Return the usual tent with all that can be reckoned of it."""
    played = usual()
    shown, told = played.history.rooms["tent"], counsel(situation(76.2))
    margin = Margin(17.1, 3.2, 0.6, Origin.MEASURED, wet=False)
    played.put(replace(shown, counsel=told, margin=margin))
    (asked,) = played.history.all_reminders
    body = f"Humidity 76 % and falling, band 80 to 95 %. {told.mist_words}"
    played.history.remember(replace(asked, body=body))
    return played


@pytest.mark.skipif(
    os.environ.get("CHAMBERWATCH_PICTURES") != "1",
    reason="set CHAMBERWATCH_PICTURES=1 to take the pictures of the README anew",
)
@pytest.mark.parametrize(
    ("name", "size"),
    [pytest.param("desk", DESK, id="desk"), pytest.param("phone", PHONE, id="phone")],
)
def test_picture_of_now(browser: Browser, name: str, size: tuple[int, int]) -> None:
    README.mkdir(parents=True, exist_ok=True)
    path = README / f"now-{name}.png"
    with served(reckoned()) as address, watched(browser, address, size) as seen:
        seen.page.wait_for_selector("html[data-live]")
        seen.page.screenshot(path=path, full_page=size == DESK)
    assert path.stat().st_size > 10_000
