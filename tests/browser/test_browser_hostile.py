"""Names that mean harm, on every page: they are words, and nothing but words."""

from collections.abc import Iterator
from typing import Final

import pytest
from playwright.sync_api import Browser, Dialog, Page

from tests.browser.every_page import addresses
from tests.browser.hostile import FREE, hostile
from tests.browser.houses import House
from tests.browser.served import DESK, PHONE, serving, watched

OPEN_ALL: Final = "document.querySelectorAll('details').forEach(each => { each.open = true })"
STRANGE: Final = """() => {
  const found = [];
  if (window.flag !== undefined) found.push('a script ran');
  for (const node of document.querySelectorAll('*')) {
    for (const { name } of node.attributes) {
      if (/^on|[^a-z0-9:_-]/i.test(name)) found.push(`attribute ${name} of ${node.tagName}`);
    }
    const source = node.getAttribute('src') ?? node.getAttribute('href') ?? '';
    if (/^(x$|javascript:)/i.test(source)) found.push(`${node.tagName} to ${source}`);
    const ours = node.src || node.type === 'application/json';
    if (node.tagName === 'SCRIPT' && !ours) found.push(node.outerHTML.slice(0, 80));
  }
  return [...new Set(found)];
}"""
"""What none of our pages holds: they have no script and no handler within them.

Styles within them are refused by the browser, which complains, and complaints are looked at too.
"""
TURNS: Final = r"""() => {
  const found = [], turning = /[\u202a-\u202e\u2066-\u2069]/, leftward = /[\u0590-\u08ff]/;
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const words = walk.currentNode.data, owner = walk.currentNode.parentElement;
    if (turning.test(words)) found.push(`turned: ${words.slice(0, 60)}`);
    if (!leftward.test(words) || owner.closest('svg, textarea, script')) continue;
    const beside = getComputedStyle(owner).unicodeBidi === 'normal';
    if (beside) found.push(`not alone: ${owner.outerHTML.slice(0, 80)}`);
  }
  for (const node of document.querySelectorAll('*')) {
    for (const { name, value } of node.attributes) {
      const comesBack = name === 'href' || node.type === 'hidden';
      if (!comesBack && turning.test(value)) found.push(`turned: ${name} of ${node.tagName}`);
    }
  }
  return [...new Set(found)];
}"""
"""Signs that turn what follows, and letters from right to left that move their neighbours.

An address and what a form must bring back as it was are let be.
"""


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    with hostile(tmp_path_factory.mktemp("hostile")) as built:
        yield built


@pytest.fixture(scope="module")
def at(house: House) -> Iterator[str]:
    with serving(house.app) as address:
        yield address


@pytest.mark.parametrize("size", [pytest.param(PHONE, id="phone"), pytest.param(DESK, id="desk")])
def test_hostile_names_are_words_on_every_page(
    browser: Browser, house: House, at: str, size: tuple[int, int]
) -> None:
    found: list[str] = []
    with watched(browser, at, size) as seen:

        def close(dialog: Dialog) -> None:
            found.append(f"a dialog: {dialog.message}")
            dialog.dismiss()

        seen.page.on("dialog", close)
        for address in addresses(house.named):
            answer = seen.page.goto(at + address)
            assert answer is not None
            assert answer.status < 500, address
            seen.page.evaluate(OPEN_ALL)
            found += [f"{address}: {each}" for each in _faults(seen.page)]
            if over := seen.width_over():
                found.append(f"{address}: {over} px too wide")
        complaints = [each for each in seen.complaints if "status of 4" not in each]
        assert not found, "\n".join(found)
        assert (complaints, seen.outside) == ([], [])


def _faults(page: Page) -> Iterator[str]:
    for look in (STRANGE, TURNS):
        yield from page.evaluate(look)


def test_a_hostile_topic_comes_back_from_the_form_as_it_was(
    browser: Browser, house: House, at: str
) -> None:
    with watched(browser, at, PHONE) as seen:
        seen.page.goto(f"{at}/set-up/sensors/claim?topic={house.named['topic']}")
        assert seen.page.locator("input[name=topic]").first.input_value() == FREE
