"""The whole way of a new grower on a phone, from an empty folder to the yield of a first batch.

The daemon, the broker and the database are real, and nothing but the page tells what comes next.
Each step is held against the page and against what stands in the settings or the database.
"""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.brokers import MOSQUITTO, NO_MOSQUITTO, wait_until
from tests.browser.newcomer import ROOM_TOPIC, TENT_TOPIC, Newcomer, newcomer
from tests.browser.served import PHONE, Watcher, watched
from tests.receivers import http_address, http_receiver

pytestmark = pytest.mark.skipif(MOSQUITTO is None, reason=NO_MOSQUITTO)

SOON_MS = 20_000
GREY_OYSTER = "Grey oyster (Pleurotus ostreatus)"
PASSCODE = "straw under the eaves"
LIVE = "html[data-live]"
LAST_OF_TENT = 'surrounding = "living-room"\n'
# Delays are minutes, as they are for growers; no test shall wait for them.
HURRIED = """
# quicker than life, for a try
[chamber.patience.humidity]
on_delay = "10 s"
off_delay = "10 s"
harm_on_delay = "10 s"
"""


@pytest.fixture
def house(tmp_path: Path) -> Iterator[Newcomer]:
    with newcomer(tmp_path) as made:
        yield made


def test_a_new_grower_finds_the_way(browser: Browser, house: Newcomer) -> None:
    with watched(browser, house.at, PHONE) as seen:
        sets_the_house_up(seen.page, house)
        claims_both_sensors(seen.page, house)
        starts_a_batch_and_opens_it(seen.page, house)
        is_reminded_and_answers_in_a_tap(seen.page, house)
        sees_it_on_week_and_air(seen.page, house)
        harvests(seen.page, house)
        puts_the_log_right(seen.page, house)
        sees_the_yield(seen.page, house)
        assert seen.width_over() == 0
        seen.assert_clean()
    ends_well(house)
    heard = house.rows(
        "SELECT quantity, count(*) FROM series, readings WHERE id = series GROUP BY 1"
    )
    assert {quantity for quantity, _ in heard} == {"co2", "humidity", "temperature"}
    (driest,) = house.rows(
        "SELECT min(value) FROM series, readings "
        "WHERE id = series AND quantity = 'humidity' AND value > 50"
    )
    assert driest == (66.0,)


def test_a_new_grower_lets_the_phone_in(browser: Browser, house: Newcomer) -> None:
    with watched(browser, house.at, PHONE) as seen:
        likes_other_units(seen.page, house)
        is_told_on_the_phone(seen.page, house)
        sets_a_passcode_and_lets_the_network_in(seen.page, house)
        with watched(browser, house.at, PHONE) as other:
            logs_in_from(other)
        seen.assert_clean()
    ends_well(house)


# ------------------------------------------------------------------ setting up


def go(page: Page, name: str) -> None:
    """Open a page by the navigation."""
    page.get_by_role("navigation", name="Pages").get_by_role("link", name=name).tap()


def step(page: Page, title: str) -> None:
    """Go on with a step of the beginning."""
    go(page, "Set-up")
    page.locator(".begin").get_by_role("link", name=title).tap()


def save(page: Page) -> None:
    page.locator("#save").tap()
    expect(page.get_by_role("status").first).to_be_visible()


def sets_the_house_up(page: Page, house: Newcomer) -> None:
    expect(page.get_by_role("heading", name="No chamber yet")).to_be_visible()
    page.get_by_role("button", name="Set it up").tap()
    page.get_by_role("link", name="The broker").first.tap()
    expect(page.locator(".said")).to_contain_text("nothing listens there")
    page.get_by_label("Its port").fill(str(house.broker.port))
    save(page)
    assert house.settings()["mqtt"]["port"] == house.broker.port
    # The link stands a moment after the settings do.
    wait_until(lambda: "Connected to the broker" in house.log(), "the broker lets us in")
    step(page, "Place and units")
    page.get_by_label("Time zone").fill("Europe/Lisbon")
    save(page)
    assert house.settings()["site"]["timezone"] == "Europe/Lisbon"
    sets_chamber_and_room_up(page, house)


def sets_chamber_and_room_up(page: Page, house: Newcomer) -> None:
    step(page, "A chamber")
    page.get_by_label("What you call it").fill("Tent")
    for side, length in (("Length", "60"), ("Width", "60"), ("Height", "140")):
        page.get_by_label(f"{side}, cm").fill(length)
    page.get_by_label("Shelves").fill("top\nsecond\nthird\nbottom")
    save(page)
    step(page, "The room around it")
    page.get_by_label("What you call it").fill("Living room")
    expect(page.get_by_label("Tent")).to_be_checked()
    save(page)
    assert house.settings()["chamber"] == [
        {
            "name": "tent",
            "title": "Tent",
            "stage": "fruiting",
            "volume_l": 504,
            "shelves": ["top", "second", "third", "bottom"],
            "surrounding": "living-room",
        },
        {"name": "living-room", "title": "Living room"},
    ]


def claims_both_sensors(page: Page, house: Newcomer) -> None:
    step(page, "Sensors")
    expect(page.locator(".asks")).to_have_count(2, timeout=SOON_MS)
    for topic, where in ((TENT_TOPIC, "tent/top"), (ROOM_TOPIC, "living-room/air")):
        asks = page.locator("li", has=page.locator(".asks", has_text=topic))
        expect(asks).to_contain_text("whose is it?")
        asks.get_by_text("Say whose it is").tap()
        page.get_by_label("Where it hangs").select_option(where)
        page.locator("#save").tap()
        expect(page.get_by_role("status").first).to_contain_text("stands in the settings")
    expect(page.locator("#known li").first).to_contain_text("humidity 93", timeout=SOON_MS)
    expect(page.locator(".asks")).to_have_count(0, timeout=SOON_MS)
    kept = {each["topic"]: (each["chamber"], each["place"]) for each in house.settings()["sensor"]}
    assert kept == {TENT_TOPIC: ("tent", "top"), ROOM_TOPIC: ("living-room", "air")}
    go(page, "Now")
    tent = page.locator("article").first
    expect(tent).to_contain_text("93\N{NO-BREAK SPACE}%", timeout=SOON_MS)
    expect(tent).to_contain_text("820\N{NO-BREAK SPACE}ppm")


# ------------------------------------------------------------------ growing and reminding


def starts_a_batch_and_opens_it(page: Page, house: Newcomer) -> None:
    page.get_by_role("link", name="Tell what grows here").tap()
    page.get_by_label("What grows").select_option(label=GREY_OYSTER)
    page.get_by_label("Where it stands").select_option(label="Tent: second")
    page.get_by_label("Filled weight of all").fill("2500")
    page.get_by_label("of that water").fill("65")
    page.get_by_role("button", name="Start it").tap()
    expect(page.get_by_role("status").first).to_contain_text("Write its number on it")
    page.get_by_role("button", name="Opened").tap()
    expect(page.locator("main")).to_contain_text("Pinning since today")
    told = house.rows("SELECT batch, kind, chamber, shelf FROM entries ORDER BY id")
    assert told == [(1, "started", "tent", "second"), (1, "opened", None, None)]
    # Nothing is left to begin with but what may wait.
    go(page, "Set-up")
    expect(page.locator(".begin")).to_have_count(0)
    house.by_hand(LAST_OF_TENT, LAST_OF_TENT + HURRIED)
    page.get_by_role("button", name="Read the settings again").tap()
    expect(page.get_by_role("status")).to_contain_text("were read again")


def is_reminded_and_answers_in_a_tap(page: Page, house: Newcomer) -> None:
    go(page, "Now")
    page.wait_for_selector(LIVE)
    # Harm is told even while the chamber settles into the band of what was opened just now.
    house.air.humidity_pct = 66.0
    asked = page.locator("article").first.get_by_text("Tent: mist now").last
    expect(asked).to_be_visible(timeout=30_000)
    reminded = "SELECT state, evidence_value FROM reminders WHERE call = 'mist'"
    assert house.rows(reminded) == [("unacknowledged", 66.0)]
    page.get_by_role("button", name="Misted").first.tap()
    expect(page.locator("#said")).to_contain_text("Noted: misted just now.")
    assert house.rows("SELECT chamber, deed, via FROM actions") == [("tent", "misted", "page")]
    assert house.rows(reminded) == [("acknowledged", 66.0)]
    house.air.humidity_pct = 92.0
    expect(page.locator("article").first).to_contain_text("Nothing to do", timeout=30_000)
    moves = [event for (event,) in house.rows("SELECT event FROM moves ORDER BY id")]
    assert moves[0] == "raised"
    assert "seen" in moves
    assert moves[-1] == "returned to normal"


def sees_it_on_week_and_air(page: Page, house: Newcomer) -> None:
    go(page, "Week")
    page.locator("[data-act=hour]").tap()
    page.locator("#happened summary").tap()
    happened = page.locator("#happened")
    expect(happened).to_contain_text("misted")
    expect(happened).to_contain_text("opened")
    go(page, "Air")
    page.wait_for_selector(LIVE)
    expect(page.locator("#piece-standing")).to_contain_text("92\N{NO-BREAK SPACE}%")
    expect(page.locator("#airchart")).to_be_visible()
    # The point follows the air without a reload.
    house.air.humidity_pct = 95.0
    expect(page.locator("#piece-standing")).to_contain_text(
        "95\N{NO-BREAK SPACE}%", timeout=SOON_MS
    )
    expect(page.locator("#piece-points")).to_contain_text("20.4\N{NO-BREAK SPACE}°C")


# ------------------------------------------------------------------ harvest and log


def harvests(page: Page, house: Newcomer) -> None:
    go(page, "Growing")
    page.locator(".stands").first.tap()
    page.get_by_role("button", name="Pins seen").tap()
    expect(page.get_by_role("status").first).to_contain_text("pins seen")
    page.get_by_label("Weight").fill("420")
    page.get_by_role("button", name="Harvested").tap()
    page.wait_for_url("**said=harvested")
    # 420 g fresh on 2500 g of which 35 % are dry: 48 %.
    expect(page.locator("main")).to_contain_text("Picked so far: 420\N{NO-BREAK SPACE}g")
    expect(page.locator("main")).to_contain_text("Biological efficiency 48\N{NO-BREAK SPACE}%")
    assert house.rows("SELECT weight_g FROM entries WHERE kind = 'harvested'") == [(420.0,)]


def puts_the_log_right(page: Page, house: Newcomer) -> None:
    go(page, "Log")
    log = page.locator("main")
    for said in ("harvested 420", "pinned", "opened", "started", "misted", "“mist”"):
        expect(log).to_contain_text(said)
    line = page.locator("li", has_text="harvested 420")
    line.get_by_role("link", name="put right").tap()
    page.get_by_label("Weight, in g unless you write another").fill("410 g")
    page.get_by_role("button", name="Correct it").tap()
    expect(page.get_by_role("status").first).to_contain_text("The old line stays")
    expect(page.locator("s, del").first).to_contain_text("harvested 420")
    expect(log).to_contain_text("harvested 410")
    kept = house.rows("SELECT kind, weight_g, corrects FROM entries ORDER BY id")
    assert kept[-1][1:] == (410.0, 4)
    assert kept[3] == ("harvested", 420.0, None)


def sees_the_yield(page: Page, house: Newcomer) -> None:
    go(page, "Growing")
    page.locator(".stands").first.tap()
    page.locator("summary", has_text="Spent").tap()
    page.get_by_role("button", name="Spent").tap()
    page.wait_for_url("**said=spent")
    page.get_by_role("link", name="All shelves").tap()
    page.get_by_role("link", name="Finished batches").tap()
    expect(page.locator("main")).to_contain_text("410\N{NO-BREAK SPACE}g")
    expect(page.locator("main")).to_contain_text("47\N{NO-BREAK SPACE}%")
    assert house.rows("SELECT kind FROM entries ORDER BY id DESC LIMIT 1") == [("spent",)]


def ends_well(house: Newcomer) -> None:
    """End the daemon; nothing went wrong meanwhile that no page showed."""
    assert house.end() == 0
    for trouble in ("Traceback", "ERROR", "Exception"):
        assert trouble not in house.log()


# ------------------------------------------------------------------ liking, telling, letting in


def likes_other_units(page: Page, house: Newcomer) -> None:
    page.goto(f"{house.at}/set-up/units")
    for temperature, weight, said in (
        ("°F", "oz", "UTC, °F and oz"),
        ("°C", "g", "UTC, °C and g"),
    ):
        page.get_by_label("Temperatures in").select_option(temperature)
        page.get_by_label("Weights in").select_option(weight)
        save(page)
        expect(page.locator(".chapters").first).to_contain_text(said)
        site = house.settings()["site"]
        assert (site["temperature"], site["weight"]) == (temperature, weight)
        page.get_by_role("link", name="Place and units").last.tap()


def is_told_on_the_phone(page: Page, house: Newcomer) -> None:
    with http_receiver() as receiver:
        step(page, "Your phone")
        page.get_by_label("Whose it is").fill("phone")
        page.get_by_label("Its address").fill(http_address(receiver.port))
        save(page)
        expect(page.locator("main")).to_contain_text("no phone hears it")
        page.get_by_role("button", name="Send a test message to phone").tap()
        page.wait_for_url("**tried=phone")
        wait_until(lambda: receiver.taken == ["chamberwatch: a test message"], "it comes")
    page.get_by_role("link", name="When it may be spoken to").tap()
    window = page.get_by_role("group", name="Line 1", exact=True)
    window.get_by_label("Days").select_option(index=1)
    window.get_by_label("from").fill("07:30")
    window.get_by_label("until").fill("21:30")
    save(page)
    (phone,) = house.settings()["notify"]
    assert [each["hours"] for each in phone["when"]] == ["07:30-21:30"]


def sets_a_passcode_and_lets_the_network_in(page: Page, house: Newcomer) -> None:
    page.goto(f"{house.at}/set-up/phone")
    page.get_by_role("link", name="Set a passcode").tap()
    page.get_by_label("Passcode, 8 characters or more").fill(PASSCODE)
    page.get_by_label("The same once more").fill(PASSCODE)
    page.get_by_role("button", name="Set it").tap()
    expect(page.get_by_role("status")).to_contain_text("you are logged in")
    page.goto(f"{house.at}/set-up/phone")
    page.get_by_role("button", name="Let the home network in").tap()
    expect(page.locator("main")).to_contain_text("That is written.")
    assert house.settings()["web"]["host"] == "0.0.0.0"  # noqa: S104 - what the button is for
    go(page, "Set-up")
    expect(page.locator("#waits")).to_contain_text("web.host")


def logs_in_from(other: Watcher) -> None:
    page = other.page
    expect(page.get_by_role("heading", name="Log in")).to_be_visible()
    page.get_by_label("Passcode").fill(PASSCODE)
    page.get_by_role("button", name="Log in").tap()
    expect(page.get_by_role("heading", name="No chamber yet")).to_be_visible()
    other.assert_clean()
