"""How well the reminders do, as the API and the page say it; behind them a real book."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from chamberwatch.core.watch.action import Action, Deed
from chamberwatch.core.watch.reminder import Call, Event, Priority, advance
from chamberwatch.service.books import OutKind, OutRow, OutState
from chamberwatch.service.reviewing import Reviewing
from chamberwatch.web.app import create_app
from tests.make import NOON, at, evidence
from tests.service.machine import Bench
from tests.web.desk_fakes import Played, calm_tent
from tests.web.test_web_page_air import plain, visit

QUALITY = "/api/v1/reminders/quality"
BERLIN = ZoneInfo("Europe/Berlin")


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    made = Bench(tmp_path)
    yield made
    made.close()


@pytest.fixture
def played(bench: Bench) -> Played:
    """Return a desk that looks back on a real book; noon is on Tuesday of 2026-W04."""
    set_ = calm_tent()
    looked = Reviewing(bench.books, bench.clock, bench.house, BERLIN, "terminal")
    set_.desk = replace(set_.desk, reviewing=looked)
    return set_


@pytest.fixture
def client(played: Played) -> Iterator[TestClient]:
    with TestClient(create_app(played.desk), base_url="http://localhost") as visitor:
        yield visitor


def message(reminder: int, episode: int, minutes: float, **changes: object) -> OutRow:
    plain_ = OutRow(
        id=0,
        reminder=reminder,
        episode=episode,
        address="phone",
        title="Tent: mist now",
        body="…",
        priority=Priority.MEDIUM,
        state=OutState.SENT,
        created=at(minutes),
        next_try=at(minutes),
        chamber="tent",
        sent=at(minutes),
    )
    return replace(plain_, **changes)  # type: ignore[arg-type]


def dry_spells(bench: Bench, lasting: float, *starts: float) -> int:
    """Let the tent ask to be misted, and be answered by itself; return the reminder's id."""
    with bench.books.write() as book:
        reminder = book.reminders.of("tent", Call.MIST, "")
        for start in starts:
            for event, minutes in ((Event.RAISED, start), (Event.RETURNED, start + lasting)):
                reminder, move = advance(reminder, event, at(minutes), "test")
                book.reminders.save(replace(reminder, evidence=evidence(79.0)), [move])
            book.outbox.add([message(reminder.id, reminder.episode, start)])
    return reminder.id


def lived(bench: Bench) -> None:
    """Let a Monday and half a Tuesday pass in which much is said."""
    mist = dry_spells(bench, 4.0, -1500, -1300, -1100, -900, -880, -860)
    with bench.books.write() as book:
        book.outbox.add(
            [
                message(mist, 1, -1500, address="second"),
                message(0, 0, -700, kind=OutKind.SUMMARY, priority=Priority.LOW),
                message(mist, 6, -850, state=OutState.DROPPED, sent=None),
            ]
        )
        vent = book.reminders.of("tent", Call.VENT, "")
        raised, move = advance(vent, Event.RAISED, at(-1600), "")
        book.reminders.save(raised, [move])
        book.outbox.add([message(vent.id, 1, -1600, priority=Priority.HIGH)])
        book.actions.add(Action(0, "tent", Deed.VENTED, at(-1588), "", NOON, "page"))


def asked(played: Played, address: str = QUALITY, status: int = 200) -> Any:  # noqa: ANN401
    with TestClient(create_app(played.desk), base_url="http://localhost") as visitor:
        answer = visitor.get(address)
    assert answer.status_code == status, answer.text
    return answer.json()


# ---------------------------------------------------------------------- the API


def test_a_week_with_nothing_in_it(played: Played) -> None:
    said = asked(played)
    (week,) = said["weeks"]
    assert (week["week"], week["over"], week["messages"]) == ("2026-W04", False, 0)
    assert (week["start"], week["end"]) == ("2026-01-18T23:00:00Z", "2026-01-25T23:00:00Z")
    assert week["by_priority"] == {"low": 0, "medium": 0, "high": 0}
    empty = ("by_cause", "stale", "floods", "worst")
    assert [week[name] for name in empty] == [[], [], [], []]
    assert (week["acknowledged_share"], week["median_to_action_min"]) == (None, None)
    assert said["aims"] == {
        "per_day_calm": 2.0,
        "per_day_at_most": 5.0,
        "by_priority": {"low": 0.8, "medium": 0.15, "high": 0.05},
        "chattering": 0,
        "fleeting": 0,
        "stale_fewer_than": 5,
        "floods": 0,
    }


def test_a_week_in_figures(played: Played, bench: Bench) -> None:
    lived(bench)
    (week,) = asked(played)["weeks"]
    assert week["messages"] == 8
    assert week["per_day"] == 5.2
    assert week["by_priority"] == {"low": 1, "medium": 6, "high": 1}
    assert [(c["about"], c["messages"]) for c in week["by_cause"]] == [
        ("Tent: mist", 6),
        ("Tent: summary", 1),
        ("Tent: vent", 1),
    ]
    assert week["not_sent"] == {"no longer true": 1}
    assert (week["episodes"], week["told"], week["acknowledged"]) == (7, 7, 0)
    assert (week["answered"], week["median_to_action_min"]) == (1, 12.0)
    assert (week["chattering"], week["chattering_within_a_minute"], week["fleeting"]) == (3, 0, 3)
    assert [(s["title"], s["lasted_h"]) for s in week["stale"]] == [("Tent: vent", 26.7)]
    worst = week["worst"][0]
    assert (worst["title"], worst["raises"], worst["needed_a_hand"]) == ("Tent: mist", 6, 0)
    assert worst["typical_min"] == 4.0
    assert worst["suggestion"] == {
        "setting": "on_delay",
        "quantity": "humidity",
        "value": 10.0,
        "was": 3.0,
        "written": 'patience.humidity.on_delay = "10 min"',
        "spared": 6,
        "raises": 6,
    }
    assert worst["advice"].startswith("For the chamber “tent” set patience.humidity.on_delay")


def test_what_came_all_at_once(played: Played, bench: Bench) -> None:
    with bench.books.write() as book:
        book.outbox.add(message(0, 0, -60 + n / 4, title=f"{n}") for n in range(12))
    (week,) = asked(played)["weeks"]
    assert week["floods"] == [
        {"start": "2026-01-20T11:00:00Z", "end": "2026-01-20T11:02:45Z", "messages": 12}
    ]
    assert "all at once 1 time more than 10 in 10 min" in visit(played, "/reminders")


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(week=st.text(max_size=24) | st.from_regex(r"[0-9]{4}-W[0-9]{2}", fullmatch=True))
def test_any_week_has_an_answer(client: TestClient, week: str) -> None:
    for path in (QUALITY, "/reminders"):
        answer = client.get(path, params={"week": week})
        assert answer.status_code in (200, 422), answer.text


def test_several_weeks_and_one_by_its_name(played: Played, bench: Bench) -> None:
    dry_spells(bench, 4.0, -60 * 24 * 7)
    weeks = asked(played, f"{QUALITY}?weeks=3")["weeks"]
    assert [(w["week"], w["messages"]) for w in weeks] == [
        ("2026-W04", 0),
        ("2026-W03", 1),
        ("2026-W02", 0),
    ]
    (one,) = asked(played, f"{QUALITY}?week=2026-W03")["weeks"]
    assert one == weeks[1]
    assert one["over"]


@pytest.mark.parametrize(
    ("query", "says"),
    [
        pytest.param("week=2026-W60", "its weeks are 01 to 53", id="no such week"),
        pytest.param("week=last", "such as 2026-W47", id="words"),
        pytest.param("week=2026-W05", "has not begun", id="ahead"),
        pytest.param("weeks=0", "give 1 or more", id="none"),
        pytest.param("weeks=27", "give 26 or less", id="too many"),
        pytest.param("week=" + "9" * 30, "write no more than 20", id="long"),
    ],
)
def test_what_can_not_be_asked_is_a_problem(played: Played, query: str, says: str) -> None:
    problem = asked(played, f"{QUALITY}?{query}", 422)
    assert says in problem["detail"]


def test_what_has_not_changed_is_not_sent_again(played: Played, bench: Bench) -> None:
    with TestClient(create_app(played.desk), base_url="http://localhost") as visitor:
        first = visitor.get(QUALITY)
        tag = {"If-None-Match": first.headers["etag"]}
        bench.clock.turn(seconds=20)
        assert visitor.get(QUALITY, headers=tag).status_code == 304
        dry_spells(bench, 4.0, -60)
        assert visitor.get(QUALITY, headers=tag).status_code == 200


def test_where_nobody_looks_back_it_says_so() -> None:
    assert "Nobody looks back" in asked(calm_tent(), QUALITY, 422)["detail"]


# ---------------------------------------------------------------------- the page


def test_the_page_of_a_quiet_week(played: Played) -> None:
    page = visit(played, "/reminders")
    assert "Week 4 of 2026, 19 to 25 January 2026, so far" in page
    assert "No reminders this week so far." in page
    assert "the week after" not in page
    assert "No reminders that week." in visit(played, "/reminders?week=2025-W40")


def test_the_page_of_a_week(played: Played, bench: Bench) -> None:
    lived(bench)
    page = visit(played, "/reminders")
    for words in (
        "messages 8: 5.2 a day, which is too many",
        "by priority low 12 % (about 80 %), medium 75 % (about 15 %), high 12 % (about 5 %)",
        "not gone out 1 no longer true",
        "known of 0 of 7 that a message told of (0 %)",
        "until acted on 12 min (the one answer came sooner or by then)",
        "close in a row 3 raises in rows of 3 or more within an hour, none of them within a min",
        "over at once 3 within 15 min, before anyone could act",
        "on over a day Tent: vent, for 26 h",
        "Tent: mist 6 messages, 3 raises close upon each other, 3 over before anyone could act.",
        'set patience.humidity.on_delay = "10 min" (now 3 min): all of its 6 raises',
        "Tent: summary 1",
    ):
        assert words in page
    assert "all at once" not in page


def test_a_week_of_the_crop_alone_has_nothing_that_tires(played: Played, bench: Bench) -> None:
    with bench.books.write() as book:
        today = book.reminders.of("", Call.TODAY, "")
        raised, move = advance(today, Event.RAISED, at(-60), "")
        book.reminders.save(raised, [move])
        book.outbox.add([message(today.id, 1, -60, chamber="", priority=Priority.LOW)])
    page = visit(played, "/reminders")
    assert "Nothing: no reminder about the air or a sensor came more than once" in page
    assert "today's list 1" in page


def test_a_bad_week_is_said_above_this_one(played: Played) -> None:
    page = visit(played, "/reminders?week=2026-W60", 422)
    assert "There is no week 60 in 2026" in page
    assert "Week 4 of 2026" in page


def test_one_can_walk_through_the_weeks(played: Played, bench: Bench) -> None:
    bench.clock.turn(minutes=60 * 24 * 7)
    with TestClient(create_app(played.desk), base_url="http://localhost") as visitor:
        page = visitor.get("/reminders?week=2026-W04").text
        assert 'href="/reminders?week=2026-W03"' in page
        assert 'href="/reminders?week=2026-W05"' in page
        assert "so far" not in plain(page)
        assert 'href="/reminders"' in visitor.get("/health").text


def test_names_are_written_and_not_obeyed(played: Played, bench: Bench) -> None:
    with bench.books.write() as book:
        odd = book.reminders.of("<b>cellar</b>", Call.MIST, "")
        raised, move = advance(odd, Event.RAISED, at(-60), "")
        book.reminders.save(raised, [move])
        book.outbox.add([message(odd.id, 1, -60)])
    with TestClient(create_app(played.desk), base_url="http://localhost") as visitor:
        page = visitor.get("/reminders").text
    assert "<b>cellar" not in page
    assert "&lt;b&gt;cellar" in page
