"""Every page in a real browser: the rules of accessibility, and what none of them may do.

The list of pages is held against the routes of the application: a page that is new and in no
list fails the first test here.
"""

import re
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import pytest
from PIL import Image
from playwright.sync_api import Browser, Page

from tests.browser.every_page import NO_PAGES, PAGES, addresses, routes
from tests.browser.houses import HOUSES, House
from tests.browser.served import DESK, PHONE, Visitor, Watcher, serving, take_picture, watched

HERE: Final = Path(__file__).parent
RULES: Final = HERE.parents[1] / "deploy" / "web" / "node_modules" / "axe-core" / "axe.min.js"
CONTRAST, PLAIN, TARGETS, WORDS_APART, FOCUSABLE = (
    (HERE / f"{name}.js").read_text(encoding="utf-8")
    for name in ("contrast", "plain", "targets", "words_apart", "focusable")
)
CHECK: Final = "axe.run(document, {resultTypes: ['violations'], preload: false})"
HEARD: Final = """() => {
  const part = document.querySelector('#live')?.dataset.part;
  const fetched = performance.getEntriesByType('resource');
  return !part || fetched.some((each) => each.name.endsWith(part) && each.responseEnd > 0);
}"""
"""A page that stays fresh fetches its changing part as soon as it hears of the watcher."""
CHECK_COLOURS: Final = CHECK.replace(
    "{", "{runOnly: {type: 'rule', values: ['color-contrast', 'link-in-text-block']}, "
)
"""In the dark only colours differ; the contrast is that of level AA (WCAG 2.2, 1.4.3)."""
OPEN_ALL: Final = "document.querySelectorAll('details').forEach(each => { each.open = true })"
VISITORS: Final = {"crowded": Visitor("de-DE", "Asia/Kolkata")}
"""Who lives elsewhere and writes 18,4; everybody else is as the browser comes."""


@dataclass
class Visit:
    """A house whose pages are served."""

    name: str
    house: House
    at: str

    @contextmanager
    def watched(self, browser: Browser, size: tuple[int, int]) -> Iterator[Watcher]:
        """Open its first page."""
        with watched(
            browser,
            self.at,
            size,
            visitor=VISITORS.get(self.name),
            cookie=self.house.cookie,
        ) as seen:
            yield seen

    def addresses(self) -> list[str]:
        return list(addresses(self.house.named))


@pytest.fixture(scope="module", params=list(HOUSES))
def visit(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Visit]:
    name = request.param
    with ExitStack() as stack:
        house = stack.enter_context(HOUSES[name](tmp_path_factory.mktemp(name)))
        yield Visit(name, house, stack.enter_context(serving(house.app)))


@pytest.fixture(scope="module")
def rules() -> str:
    if not RULES.exists():
        pytest.skip(f"{RULES} is missing; fetch it: python deploy/web/build_hook.py --for-tests")
    return RULES.read_text(encoding="utf-8")


def test_every_page_is_in_the_list(visit: Visit) -> None:
    assert set(routes(visit.house.app)) == {*PAGES, *NO_PAGES}


def test_every_page_keeps_the_rules_of_accessibility(
    browser: Browser, visit: Visit, rules: str
) -> None:
    found = []
    with visit.watched(browser, PHONE) as seen:
        for address in visit.addresses():
            _open(seen, visit, address)
            seen.page.evaluate(OPEN_ALL)
            seen.page.evaluate(rules)
            found += [f"{address}: {each}" for each in _grave(seen.page.evaluate(CHECK))]
            seen.page.emulate_media(color_scheme="dark")
            told = seen.page.evaluate(CHECK_COLOURS)
            found += [f"{address}, dark: {each}" for each in _grave(told)]
            seen.page.emulate_media(color_scheme="light")
    assert not found, "\n".join(found)


def _grave(told: dict[str, Any]) -> Iterator[str]:
    """Yield what is serious or critical, in words."""
    for each in told["violations"]:
        if each["impact"] in {"serious", "critical"}:
            for node in each["nodes"][:3]:
                yield f"{each['id']}: {node['target']} {node['failureSummary'][:300]}"


@pytest.mark.parametrize("size", [pytest.param(PHONE, id="phone"), pytest.param(DESK, id="desk")])
def test_every_page_is_clean_and_clear(
    browser: Browser, visit: Visit, size: tuple[int, int]
) -> None:
    found = []
    with visit.watched(browser, size) as seen:
        for address in visit.addresses():
            status = _open(seen, visit, address)
            _take_pictures(seen.page, visit, address, size)
            assert status in {200, 404, 410, 400}, address
            found += [f"{address}: {each}" for each in _plain_faults(seen, size)]
        complaints = [each for each in seen.complaints if "status of 4" not in each]
        assert not found, "\n".join(found)
        assert (complaints, seen.outside) == ([], [])


def _plain_faults(seen: Watcher, size: tuple[int, int]) -> Iterator[str]:
    page = seen.page
    yield from page.evaluate(PLAIN)
    for fold in ("closed", "open"):
        if fold == "open":
            page.evaluate(OPEN_ALL)
        if over := seen.width_over():
            yield f"{over} px too wide, folds {fold}"
        for each in page.evaluate(WORDS_APART):
            yield f"words: {each}, folds {fold}"
    if size == PHONE:
        yield from (f"small: {each}" for each in page.evaluate(TARGETS))
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        yield from (f"faint, {scheme}: {each}" for each in page.evaluate(CONTRAST))
    page.emulate_media(color_scheme="light")


def _take_pictures(page: Page, visit: Visit, address: str, size: tuple[int, int]) -> None:
    """Take a picture in light and dark, and in grey; of the other houses one or the other."""
    name = re.sub(r"\W+", "-", address[:40]).strip("-") or "now"
    stem = f"every-{name}-{visit.name}-{'phone' if size == PHONE else 'desk'}"
    if visit.name == "whole" or size == PHONE:
        kept = take_picture(page, f"{stem}.png")
        if kept is not None:
            with Image.open(kept) as picture:
                picture.convert("L").save(kept.with_stem(f"{stem}-grey"), compress_level=1)
    if visit.name == "whole" or size == DESK:
        page.emulate_media(color_scheme="dark")
        take_picture(page, f"{stem}-dark.png")
        page.emulate_media(color_scheme="light")


def _open(seen: Watcher, visit: Visit, address: str) -> int:
    cookies = visit.house.cookie
    if address == "/enter":
        seen.page.context.clear_cookies()
    answer = seen.page.goto(visit.at + address)
    assert answer is not None
    seen.page.wait_for_function(HEARD)
    if address == "/enter":
        seen.page.context.add_cookies(
            [{"name": n, "value": v, "url": visit.at} for n, v in cookies.items()]
        )
    return answer.status


FOREIGN: Final = re.compile(r"[^\n|]{0,40}(?:°C|\d\s?k?g\b|\d\.\d)[^\n|]{0,20}")
"""What nobody reads who likes °F and oz and writes 18,4."""
SAYS: Final = """() => {
  const main = document.querySelector('main').cloneNode(true);
  main.querySelectorAll('code, pre, [data-verbatim]').forEach((each) => each.remove());
  const labels = [...main.querySelectorAll('[aria-label]')].map((each) => each.ariaLabel);
  return [main.textContent.replace(/[ \\n]+/g, ' '), ...labels].join('\\n');
}"""
FITTING: Final[Mapping[str, str]] = {
    "/air": "g of water",  # in a kg of air: of no weight that anybody puts on a scale
    "/chamber/tent/note": "one is about 1",  # the field beside it asks for grams
    "/growing/start": "2 kg, 5 lb 8 oz",  # how it may be typed
    "/set-up/broker": "127.0.0.1",
    "/set-up/units": "°C",  # to choose from
    "/set-up/sensors/claim?topic=garden/2/climate": "in °C",  # what the sensor sends
    "/set-up/chambers/new": "Thin film 3.8",  # as the field takes it
    "/set-up/chambers/tent": "Thin film 3.8",
    "/reminders": "ANSI/ISA-18.2",
}
TECHNICAL: Final = "/health"
"""Versions, addresses, and messages just as they came."""


def test_units_and_decimal_signs_are_the_growers_on_every_page(
    browser: Browser, visit: Visit
) -> None:
    """Of the crowded house, whose grower likes °F and oz and whose browser writes a comma."""
    if visit.name not in VISITORS:
        pytest.skip("the units of this house are those that are kept")
    found = []
    with visit.watched(browser, DESK) as seen:
        for address in visit.addresses():
            if address == TECHNICAL:
                continue
            _open(seen, visit, address)
            fits = FITTING.get(address, "nothing")
            told = FOREIGN.findall(seen.page.evaluate(SAYS))
            found += [f"{address}: {each}" for each in told if fits not in each]
    assert not found, "\n".join(found)


@pytest.mark.parametrize("part", [0, 1])
def test_everything_on_every_page_is_reached_by_keyboard(
    browser: Browser, visit: Visit, part: int
) -> None:
    found = []
    with visit.watched(browser, DESK) as seen:
        for address in visit.addresses()[part::2]:
            _open(seen, visit, address)
            seen.page.evaluate(OPEN_ALL)
            found += [f"{address}: {each}" for each in _not_reached(seen.page)]
    assert not found, "\n".join(found)


STOP: Final = """() => {
  const at = document.activeElement;
  if (!at || at === document.body) return null;
  const style = getComputedStyle(at);
  const box = at.getBoundingClientRect();
  const outlined = style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2;
  const framed = at instanceof SVGElement && window.lookOf(at) !== at.dataset.look;
  const shown = outlined || framed;
  const inside = box.bottom > 0 && box.top < innerHeight && box.right > 0 && box.left < innerWidth;
  return [at.dataset.stop ?? '', shown, inside, at.outerHTML.slice(0, 80)];
}"""


def _not_reached(page: Page) -> Iterator[str]:
    """Go through a page by tabs; yield what is left out, and where the focus can't be seen."""
    words: dict[str, str] = page.evaluate(FOCUSABLE)
    left = dict(words)
    for _ in range(2 * len(words) + 20):
        page.keyboard.press("Tab")
        stop = page.evaluate(STOP)
        if stop is None:
            if not left:
                break
            continue
        number, shown, inside, html = stop
        left.pop(number, None)
        if not shown:
            yield f"the focus is not seen on {html}"
        if not inside:
            yield f"the focus is out of sight on {html}"
        if not left:
            break
    yield from (f"no tab leads to {each}" for each in left.values())
