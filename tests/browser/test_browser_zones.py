"""The night in which the clocks go back, looked at from elsewhere: pages keep the site's clock.

In Lisbon 25 October 2026 has 25 hours: at 01:00 UTC it is 01:00 once more (tz database,
Europe/Lisbon; Directive 2000/84/EC, last Sunday in October at 01:00 UTC).
"""

from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from chamberwatch.core.growing.batch import EntryKind
from chamberwatch.core.watch.action import Action, Deed
from chamberwatch.service.chronicle import Chronicle, GrowingTold
from chamberwatch.web.rendering import vendored
from tests.browser.served import DESK, served, watched
from tests.browser.week_scenes import with_charts
from tests.make import ROOM, TENT
from tests.web.desk_fakes import AIR, chamber_now
from tests.web.growing_scenes import GrowingPlayed
from tests.web.lookback_fakes import FakeLookback
from tests.web.week_fakes import FakeCharting

needs_charts = pytest.mark.skipif(
    not vendored("echarts.min.js"),
    reason="the charts were not fetched: python deploy/web/build_hook.py",
)

NOW = datetime(2026, 10, 25, 18, 30, tzinfo=UTC)
SATURDAY_LATE = datetime(2026, 10, 24, 22, 45, tzinfo=UTC)  # 23:45 in Lisbon
SUNDAY_EARLY = datetime(2026, 10, 24, 23, 15, tzinfo=UTC)  # 00:15, and still Saturday in UTC
SUMMER_TIME = datetime(2026, 10, 25, 0, 30, tzinfo=UTC)  # 01:30
WINTER_TIME = datetime(2026, 10, 25, 1, 30, tzinfo=UTC)  # 01:30 once more
ELSEWHERE = ["America/New_York", "Pacific/Auckland"]


@pytest.fixture
def house(tmp_path: Path) -> Iterator[GrowingPlayed]:
    made = GrowingPlayed(tmp_path)
    made.clock.wall = NOW
    made.put(chamber_now(TENT, [], AIR))
    made.put(chamber_now(ROOM))
    with closing(made.sql) as books:
        made.start(days_ago=20)
        opened = (NOW - SUNDAY_EARLY) / timedelta(days=1)
        made.tell(1, EntryKind.OPENED, days_ago=opened)
        with books.write() as book:
            for at in (SATURDAY_LATE, SUMMER_TIME, WINTER_TIME):
                book.actions.add(Action(0, "tent", Deed.MISTED, at, "", at, "page"))
        told = GrowingTold(made.grown.record, made.grown.table)
        chronicle = Chronicle(books, made.grown.standing.house, told, "terminal")
        made.desk = replace(
            made.desk,
            chronicle=chronicle,
            charting=FakeCharting(last=NOW),
            lookback=FakeLookback(),
        )
        yield made


@needs_charts
@pytest.mark.parametrize("zone", ELSEWHERE)
def test_every_page_keeps_the_clock_of_the_site(
    browser: Browser, house: GrowingPlayed, zone: str
) -> None:
    with (
        served(house, with_charts) as at,
        watched(browser, at, DESK, zone=zone) as seen,
    ):
        page = seen.page
        offset = page.evaluate("new Date('2026-10-25T12:00Z').getTimezoneOffset()")
        assert offset != 0, "the browser is elsewhere"
        the_week_has_25_hours(page, at)
        the_log_sorts_by_the_days_of_the_site(page, at)
        growing_counts_the_days_of_the_site(page, at)
        seen.assert_clean()


def the_week_has_25_hours(page: Page, at: str) -> None:
    page.goto(f"{at}/week?chamber=tent&from=2026-10-25&to=2026-10-26")
    page.wait_for_selector("#week[data-drawn]")
    drawn = page.locator("#week").get_attribute("data-drawn") or ""
    start, end = (datetime.fromisoformat(each) for each in drawn.split("/"))
    # Midnight is an hour apart from UTC at its beginning, and not at its end.
    assert start == datetime(2026, 10, 24, 23, tzinfo=UTC)
    assert end == datetime(2026, 10, 26, tzinfo=UTC)
    marks = page.evaluate(
        """([from, to]) => {
            const week = window.chamberwatchWeek;
            return week.marks(week.clockOf('Europe/Lisbon'), from, to, 9)
                .map((mark) => [mark.at, mark.label]);
        }""",
        [start.timestamp(), end.timestamp()],
    )
    assert [label for _, label in marks] == [
        "Sun 25", "03:00", "06:00", "09:00", "12:00", "15:00", "18:00", "21:00", "Mon 26",
    ]  # fmt: skip
    assert marks[1][0] - marks[0][0] == 4 * 3600
    # The newest stretch that was read, by the clock of the site: 18:30 UTC is 18:30 there again.
    expect(page.locator("#read-off b")).to_contain_text("Sun 25 Oct 18:")
    expect(page.locator("footer")).to_contain_text("Europe/Lisbon")


def the_log_sorts_by_the_days_of_the_site(page: Page, at: str) -> None:
    page.goto(f"{at}/log")
    days = page.locator("main h2").all_inner_texts()
    assert days[:2] == ["Today, Sunday 25 October", "Yesterday, Saturday 24 October"]
    times = page.locator("main li time").all_inner_texts()
    assert times[:4] == ["01:30", "01:30", "00:15", "23:45"]


def growing_counts_the_days_of_the_site(page: Page, at: str) -> None:
    page.goto(f"{at}/growing/batches/1")
    # In New York it was opened on Saturday, and so it was by UTC.
    expect(page.locator("main")).to_contain_text("today 00:15")
    page.goto(f"{at}/growing")
    expect(page.locator("main")).to_contain_text("Sun 25 Oct")
