"""The rotation in a real browser: the plan as a chart, and what another wish would bring."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from chamberwatch.core.growing.batch import EntryKind
from chamberwatch.core.growing.rotation.plan import Wanted
from chamberwatch.service.growing.promised import NAME
from tests.browser.served import DESK, PHONE, served, take_picture, watched
from tests.web.desk_fakes import Played, dry_tent
from tests.web.plan_fakes import WISH, Grower, wishing

# WCAG 2.2 contrast (1.4.3) of each piece of text on the nearest painted ground.
CONTRAST = (Path(__file__).parent / "contrast.js").read_text()
LOOKS = [
    pytest.param(PHONE, False, id="phone"),
    pytest.param(PHONE, True, id="phone-dark"),
    pytest.param(DESK, False, id="desk"),
    pytest.param(DESK, True, id="desk-dark"),
]
TRY = (
    "/growing/rotation?species=grey-oyster&low=2&high=3&dry=500+g"
    "&species=shiitake&low=0.1&high=0.2&dry=860"
)


@pytest.fixture
def played() -> Played:
    return dry_tent()


def given(folder: Path, played: Played, *wanted: Wanted) -> Iterator[Grower]:
    with wishing(folder, played, *wanted) as made:
        made.start(-30, "top")
        made.tell(1, EntryKind.OPENED, -12)
        made.start(-9, "bottom")
        played.desk = replace(played.desk, books=made.books, growing=made.growing)
        yield made


@pytest.fixture
def ann(tmp_path: Path, played: Played) -> Iterator[Grower]:
    yield from given(tmp_path, played, WISH)


@pytest.fixture
def nobody(tmp_path: Path, played: Played) -> Iterator[Grower]:
    yield from given(tmp_path, played)


@pytest.mark.parametrize(("size", "dark"), LOOKS)
def test_the_plan_is_clean_and_clear(
    browser: Browser, played: Played, ann: Grower, size: tuple[int, int], dark: bool
) -> None:
    look = f"{'phone' if size == PHONE else 'desk'}{'-dark' if dark else ''}.png"
    with served(played) as at, watched(browser, at, size, dark=dark) as seen:
        for name, address in (("rotation", "/growing/rotation"), ("rotation-tried", TRY)):
            seen.page.goto(at + address)
            take_picture(seen.page, f"{name}-{look}")
            assert seen.width_over() == 0
            assert seen.page.evaluate(CONTRAST) == []
        seen.assert_clean()


def test_the_labels_stay_while_the_weeks_move(
    browser: Browser, played: Played, ann: Grower
) -> None:
    with served(played) as at, watched(browser, at) as seen:
        seen.page.goto(f"{at}/growing/rotation")
        frame, labels = seen.page.locator(".frame"), seen.page.locator(".frame .labels")
        before = labels.bounding_box()
        frame.evaluate("each => { each.scrollLeft = 400; }")
        assert labels.bounding_box() == before
        assert frame.evaluate("each => each.scrollLeft") == 400
        assert seen.width_over() == 0


def test_the_line_of_today_lies_behind_bars_and_the_wish_is_named_at_the_end(
    browser: Browser, played: Played, ann: Grower
) -> None:
    with served(played) as at, watched(browser, at) as seen:
        seen.page.goto(f"{at}/growing/rotation")
        order = seen.page.locator(".weeks").evaluate(
            "svg => [...svg.querySelectorAll('line.today, .body')].map(n => n.tagName)"
        )
        assert order[0] == "line"
        assert "rect" in order
        name = seen.page.locator("text.wished").evaluate(
            "text => (b => [b.x, b.x + b.width])(text.getBBox())"
        )
        wide = float(seen.page.locator(".weeks").get_attribute("width") or 0)
        assert wide / 2 < name[0] < name[1] < wide


def test_another_wish_is_planned_beside_the_one_kept_to(
    browser: Browser, played: Played, ann: Grower
) -> None:
    with served(played) as at, watched(browser, at, script=False) as seen:
        page = seen.page
        page.goto(f"{at}/growing/rotation")
        with ann.books.read() as book:
            kept = book.kept.text(NAME)
        first = page.get_by_role("group", name="Species 1")
        first.get_by_label("kg a week, to").fill("1,4")
        more = page.get_by_role("group", name="One more species")
        more.get_by_label("species").select_option("shiitake")
        more.get_by_label("kg a week, from").fill("0.1")
        more.get_by_label("dry substrate in one batch").fill("1.9 lb")
        page.get_by_role("button", name="Plan for this wish").click()
        expect(page.locator("#compared")).to_contain_text("starts a week")
        expect(page.locator("#snippet")).to_contain_text("kg_per_week = [0.4, 1.4]")
        expect(page.locator("#snippet")).to_contain_text('species = "shiitake"')
        with ann.books.read() as book:
            assert book.kept.text(NAME) == kept
        page.get_by_role("group", name="Species 1").get_by_label("kg a week, to").fill("lots")
        page.get_by_role("button", name="Plan for this wish").click()
        expect(page.get_by_role("alert")).to_contain_text("write how many kg a week")
        expect(
            page.get_by_role("group", name="Species 1").get_by_label("kg a week, to")
        ).to_have_value("lots")
        assert seen.outside == []


def test_without_a_wish_it_says_how_to_make_one(
    browser: Browser, played: Played, nobody: Grower
) -> None:
    with served(played) as at, watched(browser, at) as seen:
        seen.page.goto(f"{at}/growing/rotation")
        expect(seen.page.locator(".blank")).to_contain_text("Nothing is wished for yet")
        take_picture(seen.page, "rotation-nothing-phone.png")
        for thing in seen.page.locator("main button, main input, main select, main summary").all():
            box = thing.bounding_box()
            assert box is None or box["height"] >= 44.0
        seen.assert_clean()
