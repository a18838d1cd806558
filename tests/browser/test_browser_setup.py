"""Set-up with a real browser: from nothing to a chamber, and every page clean and clear."""

from dataclasses import replace
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from chamberwatch.settings import load
from chamberwatch.web.tells import SettingsStand
from tests.browser.served import DESK, PHONE, served, take_picture, watched
from tests.web.address_fakes import FakeAddresses
from tests.web.desk_fakes import Played, dry_tent
from tests.web.editing_fakes import FakeEditing, OnDisk

CONTRAST = (Path(__file__).parent / "contrast.js").read_text()
WIDE = [
    pytest.param(PHONE, False, id="phone"),
    pytest.param(PHONE, True, id="phone-dark"),
    pytest.param(DESK, False, id="desk"),
    pytest.param(DESK, True, id="desk-dark"),
]
LONG = "The tall tent in the cellar beside the stairs to the garden"
FILE = f"""\
[[chamber]]
name = "tent"
title = "{LONG}"
stage = "fruiting"
shelves = ["a", "b", "c", "d", "e", "f", "g", "h", "i", "j", "k", "l"]
surrounding = "room"
[[chamber]]
name = "room"
title = "Living room"
[[notify]]
name = "phone"
to = "json://localhost"
when = [{{ days = "mon-fri", hours = "07:00-08:30" }}, {{ days = "sat", hours = "9:00-23:00" }}]
away = [{{ from = "2026-12-20", until = "2026-12-28 18:00" }}]
"""
PAGES = {
    "set-up": "/set-up",
    "set-up-chambers": "/set-up/chambers",
    "set-up-chamber": "/set-up/chambers/tent",
    "set-up-remove": "/set-up/chambers/room/remove",
    "set-up-telling": "/set-up/telling",
    "set-up-hours": "/set-up/telling/phone",
    "set-up-address": "/set-up/telling/new",
    "set-up-broker": "/set-up/broker",
    "set-up-units": "/set-up/units",
}


@pytest.fixture
def file(tmp_path: Path) -> Path:
    made = tmp_path / "cw.toml"
    made.write_text(FILE, encoding="utf-8")
    return made


@pytest.fixture
def house(file: Path) -> Played:
    played = dry_tent()
    played.desk = replace(played.desk, editing=OnDisk(file), addresses=FakeAddresses())
    return played


@pytest.fixture
def empty(tmp_path: Path) -> tuple[Played, Path]:
    made = tmp_path / "empty.toml"
    made.write_text("# mine\n", encoding="utf-8")
    played = Played()
    played.desk = replace(played.desk, editing=OnDisk(made))
    return played, made


@pytest.mark.parametrize(("size", "dark"), WIDE)
def test_the_pages_are_clean_and_clear(
    browser: Browser, house: Played, size: tuple[int, int], dark: bool
) -> None:
    look = f"{'phone' if size == PHONE else 'desk'}{'-dark' if dark else ''}.png"
    with served(house) as at, watched(browser, at, size, dark=dark) as seen:
        for name, path in PAGES.items():
            seen.page.goto(f"{at}{path}")
            take_picture(seen.page, f"{name}-{look}")
            assert seen.width_over() == 0, name
            assert seen.page.evaluate(CONTRAST) == [], name
        seen.assert_clean()


@pytest.mark.parametrize(("size", "dark"), WIDE)
def test_trouble_is_clear(browser: Browser, size: tuple[int, int], dark: bool) -> None:
    look = f"{'phone' if size == PHONE else 'desk'}{'-dark' if dark else ''}.png"
    played = dry_tent()
    why = 'cw.toml: chamber[1] "tent".stage = "fruitling": Did you mean fruiting?'
    stands = SettingsStand(why, ("web.port", "mqtt.client_id"))
    played.desk = replace(played.desk, editing=FakeEditing(stands=stands))
    with served(played) as at, watched(browser, at, size, dark=dark) as seen:
        seen.page.goto(f"{at}/set-up")
        expect(seen.page.locator("#refused")).to_contain_text("Did you mean fruiting?")
        expect(seen.page.locator("#waits")).to_contain_text("take effect when")
        take_picture(seen.page, f"set-up-trouble-{look}")
        assert seen.width_over() == 0
        assert seen.page.evaluate(CONTRAST) == []
        seen.assert_clean()


@pytest.mark.parametrize("script", [True, False], ids=["with script", "without"])
def test_from_nothing_to_a_chamber(
    browser: Browser, empty: tuple[Played, Path], script: bool
) -> None:
    played, file = empty
    with served(played) as at, watched(browser, at, script=script) as seen:
        page = seen.page
        take_picture(page, "nothing-yet-phone.png")
        page.click("text=Set it up")
        take_picture(page, "set-up-begin-phone.png")
        page.click("text=A chamber")
        page.fill("#title", LONG)
        page.fill("#length_cm", "60")
        page.fill("#width_cm", "40")
        page.fill("#height_cm", "150")
        page.fill("#shelves", "Top\nBottom")
        page.fill("#visits", "noon")
        page.check("#living_space")
        page.click("#save")
        expect(page.locator("#visits-wrong")).to_contain_text("Write a time of day")
        expect(page.locator("#title")).to_have_value(LONG)
        expect(page.locator("#shelves")).to_have_value("Top\nBottom")
        expect(page.locator("#living_space")).to_be_checked()
        take_picture(page, "set-up-fault-phone.png")
        assert seen.width_over() == 0
        assert page.evaluate(CONTRAST) == [] if script else True
        page.fill("#visits", "07:30")
        page.click("#save")
        expect(page.locator("[role=status]")).to_contain_text("The chamber is kept")
        chamber = load(file, {}).chamber[0]
    assert (chamber.title, chamber.volume_l) == (LONG, 360.0)
    assert chamber.shelves == ("top", "bottom")
    assert file.read_text(encoding="utf-8").startswith("# mine\n")


def test_quiet_hours_by_touch(browser: Browser, house: Played, file: Path) -> None:
    with served(house) as at, watched(browser, at) as seen:
        page = seen.page
        page.goto(f"{at}/set-up")
        page.click("text=Who is told, and when")
        page.click("text=When it may be spoken to")
        page.select_option("#days_2", "sun")
        page.fill("#from_2", "10:00")
        page.fill("#until_2", "12:00")
        page.click("#save")
        expect(page.locator("[role=status]")).to_contain_text("Kept in the settings file")
        seen.assert_clean()
    when = load(file, {}).notify[0].when
    assert when is not None
    assert len(when) == 3
    assert when[2].days == frozenset({6})


def test_every_field_is_reached_by_keyboard(browser: Browser, house: Played) -> None:
    with served(house) as at, watched(browser, at, DESK) as seen:
        page = seen.page
        page.goto(f"{at}/set-up/units")
        page.focus("#timezone")
        reached = []
        for _ in range(4):
            page.keyboard.press("Tab")
            reached.append(page.evaluate("document.activeElement.id"))
        assert reached == ["altitude_m", "temperature", "weight", "save"]
