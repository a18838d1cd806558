"""The pages about what grows in a real browser: every action from the page to the database and
back, on a phone and at a desk, without any script of ours.
"""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import Container
from tests.browser.served import DESK, PHONE, Watcher, served, take_picture, watched
from tests.photo.pictures import encoded, from_a_phone, noisy
from tests.web.growing_scenes import SCENES, GrowingPlayed, played

CONTRAST = (Path(__file__).parent / "contrast.js").read_text()

# Links and buttons that a wet finger would miss; a link within a sentence is left out.
SMALL = """() => [...document.querySelectorAll('main a, main button, main select, main summary,'
  + ' main input:not([type=hidden])')]
  .filter(e => e.checkVisibility() && !e.closest('p:not(.ways-on):not(.back)'))
  .map(e => [e.textContent.trim().slice(0, 30) || e.id, e.getBoundingClientRect().height])
  .filter(([, high]) => high < 44)"""
OPEN_ALL = "document.querySelectorAll('details').forEach(d => { d.open = true })"

PAGES = (
    "/growing",
    "/growing/start",
    "/growing/batches/1",
    "/growing/finished",
    "/growing/lineage",
    "/growing/entries/1",
)


@pytest.fixture
def house(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[GrowingPlayed]:
    with played(getattr(request, "param", "one"), tmp_path) as made:
        yield made


@pytest.mark.parametrize("scene", list(SCENES))
@pytest.mark.parametrize(
    ("size", "dark"),
    [
        pytest.param(PHONE, False, id="phone"),
        pytest.param(PHONE, True, id="phone dark"),
        pytest.param(DESK, False, id="desk"),
        pytest.param(DESK, True, id="desk dark"),
    ],
)
def test_every_page_is_clean_and_clear(
    browser: Browser, tmp_path: Path, scene: str, size: tuple[int, int], dark: bool
) -> None:
    end = f"{'phone' if size == PHONE else 'desk'}{'-dark' if dark else ''}.png"
    with (
        played(scene, tmp_path) as made,
        served(made) as at,
        watched(browser, at, size, dark=dark) as seen,
    ):
        some = made.grown.record.batches()
        for address in PAGES:
            if not some and address[-1] == "1":
                continue
            seen.page.goto(at + address)
            name = address.strip("/").replace("/", "-")
            take_picture(seen.page, f"{name}-{scene}-{end}")
            seen.page.evaluate(OPEN_ALL)
            assert seen.width_over() == 0, address
            assert seen.page.evaluate(CONTRAST) == [], address
            assert seen.page.evaluate(SMALL) == [], address
        seen.assert_clean()


def say(page: Page, form: str, button: str) -> None:
    page.locator(f"#{form}").get_by_role("button", name=button).click()


def unfold(page: Page, form: str) -> None:
    """Open the fold that a form lies in."""
    page.locator(f"details:has(> #{form}) > summary").click()


@pytest.mark.parametrize("size", [pytest.param(PHONE, id="phone"), pytest.param(DESK, id="desk")])
@pytest.mark.parametrize("house", ["empty"], indirect=True)
def test_a_whole_life_from_the_first_day(
    browser: Browser, house: GrowingPlayed, size: tuple[int, int]
) -> None:
    record = house.grown.record
    with served(house) as at, watched(browser, at, size, script=False) as seen:
        page = seen.page
        page.goto(f"{at}/growing")
        page.get_by_role("link", name="Start a batch", exact=True).click()
        page.get_by_label("What grows").select_option("grey-oyster")
        page.get_by_label("How many").fill("3")
        page.get_by_label("On what").fill("wheat straw")
        page.get_by_label("Filled weight").fill("4.5 kg")
        page.get_by_label("of that water").fill("66")
        page.get_by_text("Begun earlier").click()
        page.get_by_label("or on the day").fill("2026-01-04")
        page.get_by_role("button", name="See what follows first").click()
        expect(page.locator("#follows")).to_contain_text("1.53")
        assert record.batches() == {}
        page.get_by_role("button", name="Start it").click()
        expect(page.get_by_role("status")).to_contain_text("the batch has begun")
        batch = record.batch(1)
        assert (batch.start.container, batch.count, batch.start.wet_g) == (
            Container.BAG,
            3,
            4500.0,
        )
        assert (batch.chamber, batch.shelf) == ("cupboard", "upper")

        say(page, "white", "White through")
        assert record.batch(1).white_at is not None

        unfold(page, "split")
        page.get_by_label("How many of the 3").fill("1")
        page.locator("#split-place").select_option("cupboard/lower")
        say(page, "split", "Record it")
        assert (record.batch(1).count, record.batch(2).shelf) == (2, "lower")

        house.clock.turn(minutes=20)
        unfold(page, "moved")
        page.locator("#moved-place").select_option("tent/top")
        say(page, "moved", "Record it")
        assert record.batch(1).chamber == "tent"

        say(page, "opened", "Opened")
        assert record.batch(1).stage is Stage.PINNING
        say(page, "pinned", "Pins seen")
        expect(page.locator("#stage")).to_have_text("Fruiting since today")

        page.get_by_label("Weight, in g").fill("620 + 80")
        say(page, "harvested", "Harvested")
        assert [harvest.weight_g for harvest in record.batch(1).harvests] == [620.0, 80.0]
        expect(page.locator("#crop")).to_contain_text("700")

        unfold(page, "staged")
        page.locator("#staged-stage").select_option("fruiting")
        say(page, "staged", "Record it")
        assert record.batch(1).stage is Stage.FRUITING
        say(page, "rested", "Rests now")
        assert record.batch(1).stage is Stage.RESTING
        say(page, "soaked", "Soaked")
        assert record.batch(1).soaked_at is not None

        unfold(page, "spent")
        say(page, "spent", "Spent")
        assert record.batch(1).stage is Stage.SPENT
        page.get_by_role("link", name="All shelves").click()
        page.get_by_role("link", name="Finished batches (1)").click()
        expect(page.get_by_role("row", name="1 Grey oyster").last).to_contain_text("700")
        seen.assert_clean()


def test_a_refusal_comes_back_at_its_field_as_typed(
    browser: Browser, house: GrowingPlayed
) -> None:
    with served(house) as at, watched(browser, at, PHONE, script=False) as seen:
        page = seen.page
        page.goto(f"{at}/growing/batches/1")
        unfold(page, "harvested")
        field = page.get_by_label("Weight, in g")
        field.fill("62,000")
        say(page, "harvested", "Harvested")
        field = page.get_by_label("Weight, in g")
        expect(field).to_be_visible()
        expect(field).to_have_value("62,000")
        expect(field).to_have_attribute("aria-invalid", "true")
        expect(page.locator("#harvested-weights-wrong")).to_contain_text("can be read in two ways")
        take_picture(page, "growing-batches-1-refused-phone.png")
        assert house.grown.record.batch(1).harvests == ()
        field.fill("620")
        say(page, "harvested", "Harvested")
        assert len(house.grown.record.batch(1).harvests) == 1
        seen.assert_clean(422)


@pytest.mark.parametrize("size", [pytest.param(PHONE, id="phone"), pytest.param(DESK, id="desk")])
def test_a_photo_from_the_phone_to_the_page(
    browser: Browser, house: GrowingPlayed, tmp_path: Path, size: tuple[int, int]
) -> None:
    with served(house) as at, watched(browser, at, size, script=False) as seen:
        page = seen.page
        page.goto(f"{at}/growing/batches/1")
        unfold(page, "noted")
        page.locator("#noted-note").fill("the first pins, on the left cut")
        photo = tmp_path / "IMG 0042.jpg"
        photo.write_bytes(from_a_phone(6))
        page.locator("#noted-photo").set_input_files(photo)
        say(page, "noted", "Record it")
        expect(page.get_by_role("status")).to_have_text("Recorded: the note.")
        image = page.get_by_role("img", name="the first pins")
        expect(image).to_be_visible()
        expect(image).to_have_js_property("naturalWidth", 240)
        assert len(list((tmp_path / "photos").iterdir())) == 2
        name = "phone" if size == PHONE else "desk"
        take_picture(page, f"growing-batches-1-photo-{name}.png")
        assert seen.width_over() == 0
        image.click()
        expect(page.get_by_role("img", name="Photo of batch 1")).to_be_visible()
        assert seen.width_over() == 0
        page.get_by_text("Take this photo away").click()
        page.get_by_role("button", name="Delete it").click()
        expect(page.get_by_role("status")).to_contain_text("gone for good")
        assert list((tmp_path / "photos").iterdir()) == []
        seen.assert_clean()


def test_a_photo_that_is_too_large_shows_the_reason(
    browser: Browser, house: GrowingPlayed, tmp_path: Path
) -> None:
    """A browser that may not finish sending would show a broken connection instead."""
    large = tmp_path / "large.png"
    large.write_bytes(encoded(noisy(3000, 1700), "PNG"))
    assert large.stat().st_size > 15e6
    with served(house) as at, watched(browser, at, PHONE, script=False) as seen:
        seen.page.goto(f"{at}/growing/batches/1")
        unfold(seen.page, "noted")
        seen.page.locator("#noted-photo").set_input_files(large)
        say(seen.page, "noted", "Record it")
        expect(seen.page.locator("main")).to_contain_text("12 MB at most")


def test_what_was_told_is_corrected_and_withdrawn(browser: Browser, house: GrowingPlayed) -> None:
    record = house.grown.record
    with served(house) as at, watched(browser, at, PHONE, script=False) as seen:
        page = seen.page
        page.goto(f"{at}/growing/batches/1")
        unfold(page, "harvested")
        page.get_by_label("Weight, in g").fill("620")
        say(page, "harvested", "Harvested")
        page.get_by_role("link", name="Correct: Harvested 620").click()
        page.get_by_label("Weight, in g").fill("580")
        page.get_by_role("button", name="Correct it").click()
        assert [harvest.weight_g for harvest in record.batch(1).harvests] == [580.0]
        expect(page.locator(".told s")).to_contain_text("620")
        page.get_by_role("link", name="Correct: Harvested 580").click()
        page.get_by_label("It did not happen? Say why").fill("it was the other batch")
        page.get_by_role("button", name="It did not happen").click()
        assert record.batch(1).harvests == ()
        expect(page.locator(".told")).to_contain_text("Because: it was the other batch")
        seen.assert_clean()


@pytest.mark.parametrize("house", ["usual"], indirect=True)
def test_a_caution_is_seen_and_a_lost_batch_is_told(
    browser: Browser, house: GrowingPlayed
) -> None:
    record = house.grown.record
    with served(house) as at, watched(browser, at, PHONE, script=False) as seen:
        page = seen.page
        page.goto(f"{at}/growing/batches/2")
        expect(page.locator(".mind")).to_contain_text("mind the spores")
        page.get_by_label("Seen by").fill("Ana")
        page.get_by_role("button", name="Seen", exact=True).click()
        expect(page.locator(".mind")).to_have_count(0)
        unfold(page, "contaminated")
        expect(page.locator("#contaminated")).to_contain_text("do not open it indoors")
        say(page, "contaminated", "Contaminated")
        assert record.batch(2).stage is Stage.CONTAMINATED
        expect(page.locator(".mind")).to_contain_text("Please mind")
        page.get_by_label("Seen by").fill("Ana")
        page.get_by_role("button", name="Seen", exact=True).click()
        expect(page.locator(".mind")).to_have_count(0)
        seen.assert_clean()


@pytest.mark.parametrize("house", ["usual"], indirect=True)
def test_shelves_lead_to_batches_and_to_starts(browser: Browser, house: GrowingPlayed) -> None:
    with served(house) as at, watched(browser, at, DESK, script=False) as seen:
        page = seen.page
        page.goto(f"{at}/growing")
        page.get_by_role("link", name="3 \N{MULTIPLICATION SIGN}6 King oyster").click()
        expect(page.get_by_role("heading", level=1)).to_have_text("3 King oyster")
        page.go_back()
        page.get_by_role("link", name="Start here: tent, bottom").click()
        expect(page.get_by_label("Where it stands")).to_have_value("tent/bottom")
        page.go_back()
        page.get_by_role("link", name="Lines").click()
        page.get_by_role("link", name="batch 5").click()
        page.get_by_role("link", name="Start one from its spawn").click()
        expect(page.get_by_label("Spawn taken from")).to_have_value("5")
        page.get_by_role("button", name="Start it").click()
        newest = max(house.grown.record.batches())
        assert house.grown.record.batch(newest).start.parent == 5
        seen.assert_clean()


@pytest.mark.parametrize("house", ["usual"], indirect=True)
def test_everything_is_reached_by_keyboard(browser: Browser, house: GrowingPlayed) -> None:
    with served(house) as at, watched(browser, at, PHONE, script=False) as seen:
        page = seen.page
        page.goto(f"{at}/growing/batches/6")
        reach(seen, "Opened")
        page.keyboard.press("Enter")
        expect(page.get_by_role("status")).to_have_text("Recorded: opened.")
        assert house.grown.record.batch(6).stage is Stage.PINNING
        seen.assert_clean()


def reach(seen: Watcher, words: str) -> None:
    """Go on by tabs until the focus stands on these words, and can be seen there."""
    for _ in range(60):
        seen.page.keyboard.press("Tab")
        text = seen.page.evaluate("document.activeElement.textContent.trim()")
        if text == words:
            outline = "getComputedStyle(document.activeElement).outlineStyle"
            assert seen.page.evaluate(outline) == "solid"
            return
    raise AssertionError(f"no tab leads to {words}")
