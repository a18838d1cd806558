"""The calendar: what stands in it, that it follows RFC 5545, and that it updates."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from icalendar import Calendar

from chamberwatch.core.growing.batch import EntryKind
from chamberwatch.core.growing.species import SpeciesTable
from tests.core.growing.timed import OYSTER, TABLE
from tests.web.desk_fakes import Played
from tests.web.plan_fakes import Asked, Grower, grower

FEED = "/api/v1/calendar.ics"
K = EntryKind

# All that RFC 5545 has an escape for, and letters of more than one octet to fold at.
AWKWARD = "Grey; oyster, the \\ “" + "grün-graue " * 14 + "one”"
AWKWARD_TABLE = SpeciesTable({**TABLE.species, "grey-oyster": replace(OYSTER, title=AWKWARD)}, {})


@pytest.fixture
def ann(tmp_path: Path, played: Played) -> Iterator[Grower]:
    with grower(tmp_path, played, TABLE) as made:
        yield made


def raw(ann: Grower) -> bytes:
    answer = ann.visitor.get(FEED)
    assert answer.status_code == 200
    return answer.content


@dataclass(frozen=True)
class Shown:
    """An event as the icalendar library reads it."""

    uid: str
    days: tuple[date, date]
    title: str
    body: str
    sequence: int
    stamp: datetime
    modified: datetime


def shown(event: Any) -> Shown:  # noqa: ANN401 - a component, whose values have many types
    first, end = event["DTSTART"].dt, event["DTEND"].dt
    assert (type(first), type(end)) == (date, date)
    return Shown(
        uid=str(event["UID"]),
        days=(first, end - timedelta(days=1)),  # DTEND is the day after (RFC 5545, 3.6.1)
        title=str(event["SUMMARY"]),
        body=str(event["DESCRIPTION"]),
        sequence=int(event["SEQUENCE"]),
        stamp=event["DTSTAMP"].dt,
        modified=event["LAST-MODIFIED"].dt,
    )


def events(ann: Grower) -> dict[str, Shown]:
    """Return the events by the part of their UID that names what they are of."""
    found = [shown(event) for event in Calendar.from_ical(raw(ann)).walk("VEVENT")]
    by_key = {event.uid.partition(".")[0]: event for event in found}
    assert len(by_key) == len(found)
    return by_key


# ------------------------------------------------------------------ what stands in it


def test_windows_of_a_bag_and_their_words(ann: Grower) -> None:
    ann.start(0)
    found = events(ann)
    # Stamets 2000, ch. 21: white through in 12 to 21 days, pins in 3 to 5 more, ripe in 4 to 7
    # more, 7 to 14 days between up to four flushes; a week to clear out.
    assert {key: event.days for key, event in found.items()} == {
        "white-1": (date(2026, 2, 1), date(2026, 2, 10)),
        "open-1": (date(2026, 2, 1), date(2026, 2, 10)),
        "pins-1-1": (date(2026, 2, 4), date(2026, 2, 15)),
        "harvest-1-1": (date(2026, 2, 8), date(2026, 2, 22)),
        "harvest-1-2": (date(2026, 2, 15), date(2026, 3, 8)),
        "harvest-1-3": (date(2026, 2, 22), date(2026, 3, 22)),
        "harvest-1-4": (date(2026, 3, 1), date(2026, 4, 5)),
        "clear-out-1": (date(2026, 3, 1), date(2026, 4, 12)),
    }
    harvest = found["harvest-1-1"]
    assert harvest.title == "Batch 1 (grey oyster): harvest, flush 1"
    (said,) = (d.words for d in ann.growing.duties.dues() if d.due.key == "harvest-1-1")
    assert harvest.body == said


def test_a_task_takes_the_place_of_what_is_due(ann: Grower) -> None:
    ann.start(-30)
    ann.tell(1, K.WHITE, -16)
    ann.tell(1, K.OPENED, -15)
    ann.tell(1, K.PINNED, -10)
    ripe = events(ann)["harvest-1-1"]
    (task,) = ann.growing.duties.tasks()
    assert (ripe.title, ripe.body) == (task.title, task.body)
    assert "Spores hurt lungs" in ripe.body
    # It could have been picked since the 14th and should have been by the 17th.
    assert task.overdue
    assert ripe.days == (date(2026, 1, 14), date(2026, 1, 20))
    ann.later(1)
    assert events(ann)["harvest-1-1"].days == (date(2026, 1, 14), date(2026, 1, 21))


def test_a_window_is_of_local_days(ann: Grower) -> None:
    # 12 days after 23:30 UTC it is past midnight in Berlin.
    ann.start(-0.5 - 1 / 48)
    assert events(ann)["white-1"].days[0] == date(2026, 2, 1)


def test_planned_starts_are_named_by_their_turn(ann: Grower) -> None:
    ann.plan.planned = [
        Asked("grey-oyster", date(2026, 1, 22), 4),
        Asked("grey-oyster", date(2026, 1, 22), 5),
        Asked("shiitake", date(2026, 1, 26), 1),
    ]
    before = events(ann)
    assert {key: event.days for key, event in before.items()} == {
        "start-grey-oyster-4": (date(2026, 1, 22), date(2026, 1, 22)),
        "start-grey-oyster-5": (date(2026, 1, 22), date(2026, 1, 22)),
        "start-shiitake-1": (date(2026, 1, 26), date(2026, 1, 26)),
    }
    # One was made, and another slips into the next week.
    ann.plan.planned = [
        Asked("grey-oyster", date(2026, 1, 22), 5),
        Asked("shiitake", date(2026, 2, 2), 1),
    ]
    ann.later(0.1)
    after = events(ann)
    assert after.keys() == {"start-grey-oyster-5", "start-shiitake-1"}
    assert after["start-grey-oyster-5"] == before["start-grey-oyster-5"]
    moved = after["start-shiitake-1"]
    assert moved.uid == before["start-shiitake-1"].uid
    assert (moved.sequence, moved.days[0]) == (1, date(2026, 2, 2))


def test_a_start_of_today_reads_as_its_task(ann: Grower) -> None:
    ann.plan.planned = [Asked("grey-oyster", date(2026, 1, 20), 1, ("tent", "top"))]
    (task,) = ann.growing.duties.tasks()
    (event,) = events(ann).values()
    assert (event.title, event.body) == (task.title, task.body)
    assert event.body.endswith("Put it in “tent”, shelf “top”.")


def test_of_two_on_one_day_each_is_an_event(ann: Grower) -> None:
    places = (("tent", "top"), ("tent", "bottom"))
    ann.plan.planned = [
        Asked("grey-oyster", date(2026, 1, 19), turn, place)
        for turn, place in enumerate(places, start=1)
    ]
    (task,) = ann.growing.duties.tasks()
    assert task.title == "Start the next 2 batches of grey oyster"
    found = events(ann)
    assert found.keys() == {"start-grey-oyster-1", "start-grey-oyster-2"}
    for event, (_, shelf) in zip(found.values(), places, strict=True):
        assert event.title == "Start the next grey oyster"
        assert event.body.endswith(f"shelf “{shelf}”.")
        # It waits since yesterday, so it is on today's page too.
        assert event.days == (date(2026, 1, 19), date(2026, 1, 20))


# ------------------------------------------------------------------ updates rather than doubles


def test_a_window_that_moves_is_the_same_event(ann: Grower) -> None:
    ann.start(0)
    before = events(ann)
    ann.later(11)
    assert events(ann) == before  # nothing new, nothing changed
    ann.tell(1, K.WHITE, 10.5)
    ann.tell(1, K.OPENED, 10.9)
    after = events(ann)
    assert after.keys() == before.keys() - {"white-1", "open-1"}
    for key, event in after.items():
        assert event.uid == before[key].uid
        assert event.days < before[key].days
        assert event.sequence == before[key].sequence + 1
        assert event.modified == ann.clock.now() > before[key].modified
        assert event.stamp == event.modified


def test_new_words_alone_are_no_new_sequence(ann: Grower) -> None:
    ann.start(-12)
    ann.later(-0.5)
    before = events(ann)["open-1"]
    ann.later(1)
    after = events(ann)["open-1"]
    assert before.body != after.body
    assert before.days == after.days
    assert before.sequence == after.sequence
    assert before.stamp < after.stamp


def test_what_comes_back_goes_on_counting(ann: Grower) -> None:
    ann.start(0)
    ann.tell(1, K.WHITE, 0)
    first = events(ann)
    ann.later(1)
    ann.tell(1, K.OPENED, 1)
    assert "open-1" not in events(ann)
    (opened,) = (e for e in ann.growing.record.entries(1) if e.kind is K.OPENED)
    ann.growing.record.withdraw(opened.id, "api")
    again = events(ann)
    assert again.keys() == first.keys()
    assert again["pins-1-1"].sequence > first["pins-1-1"].sequence


def test_two_houses_have_no_name_in_common(tmp_path: Path, played: Played) -> None:
    names = []
    for number in (1, 2):
        folder = tmp_path / str(number)
        folder.mkdir()
        with grower(folder, played, TABLE) as made:
            made.start(0)
            once = {event.uid for event in events(made).values()}
            assert once == {event.uid for event in events(made).values()}
            names.append(once)
    assert names[0].isdisjoint(names[1])


def test_what_has_not_changed_is_not_sent_again(ann: Grower) -> None:
    ann.start(0)
    first = ann.visitor.get(FEED)
    assert first.headers["content-type"] == "text/calendar; charset=utf-8"
    ann.later(0.5)
    asked = {"If-None-Match": first.headers["etag"]}
    again = ann.visitor.get(FEED, headers=asked)
    assert (again.status_code, again.content) == (304, b"")
    head = ann.visitor.head(FEED)
    assert (head.status_code, head.content) == (200, b"")
    assert head.headers["etag"] == first.headers["etag"]
    assert head.headers["content-length"] == first.headers["content-length"]
    ann.start(0.2)
    assert ann.visitor.get(FEED, headers=asked).status_code == 200


# ------------------------------------------------------------------ RFC 5545, by hand


def lines(content: bytes) -> list[str]:
    """Unfold content lines as section 3.1 of RFC 5545 says, and check that they are such."""
    assert content.endswith(b"\r\n")
    pieces = content.removesuffix(b"\r\n").split(b"\r\n")
    for piece in pieces:
        assert b"\r" not in piece
        assert b"\n" not in piece
        assert len(piece) <= 75  # octets, without the line break
        piece.decode()  # no letter is cut in two
        assert not re.search(rb"[\x00-\x08\x0a-\x1f\x7f]", piece)  # CONTROL has no place in one
    return re.sub(rb"\r\n[ \t]", b"", b"\r\n".join(pieces)).decode().split("\r\n")


def named(content: list[str], name: str) -> list[str]:
    """Return the values of a property."""
    found = (re.fullmatch(rf"{name}((?:;[^:]+)?):(.*)", line) for line in content)
    return [match[2] for match in found if match]


def test_the_bytes_follow_the_rules(tmp_path: Path, played: Played) -> None:
    with grower(tmp_path, played, AWKWARD_TABLE) as made:
        made.start(-13)
        made.plan.planned = [Asked("grey-oyster", date(2026, 1, 22))]
        content = lines(raw(made))
        read = events(made)
    # 3.4 and 3.6: one object; PRODID and VERSION exactly once; what begins ends, in order.
    assert (content[0], content[-1]) == ("BEGIN:VCALENDAR", "END:VCALENDAR")
    assert named(content, "VERSION") == ["2.0"]
    assert len(named(content, "PRODID")) == 1
    # 3.7.2: no METHOD, so it is a snapshot, and nobody has to be its organizer.
    assert named(content, "METHOD") == named(content, "ORGANIZER") == []
    body = content[content.index("BEGIN:VEVENT") : -1]
    blocks = [block.split("\n")[:-1] for block in "\n".join(body).split("BEGIN:VEVENT\n")[1:]]
    assert len(blocks) == len(read) == 9
    for block in blocks:
        # 3.6.1: UID and DTSTAMP exactly once, the others at most once.
        for name in ("UID", "DTSTAMP", "DTSTART", "DTEND", "SUMMARY", "DESCRIPTION", "SEQUENCE"):
            assert len(named(block, name)) == 1, name
        # 3.8.7.2: in UTC. 3.8.2.2: DTEND is of the same kind as DTSTART, and later.
        assert re.fullmatch(r"\d{8}T\d{6}Z", named(block, "DTSTAMP")[0])
        first, end = named(block, "DTSTART")[0], named(block, "DTEND")[0]
        assert any(line.startswith("DTSTART;VALUE=DATE:") for line in block)
        assert any(line.startswith("DTEND;VALUE=DATE:") for line in block)
        assert re.fullmatch(r"\d{8}", first)
        # 3.8.2.7: it makes nobody busy.
        assert named(block, "TRANSP") == ["TRANSPARENT"]
        assert first < end
        # 3.3.11: in a text, commas, semicolons and backslashes are escaped.
        for text in (*named(block, "SUMMARY"), *named(block, "DESCRIPTION")):
            assert re.fullmatch(r"(?:[^,;\\]|\\[,;nN\\])*", text)
    # 3.8.4.7: each UID once.
    uids = [named(block, "UID")[0] for block in blocks]
    assert len(set(uids)) == len(uids)
    # RFC 7986 sections 5.1 and 5.7.
    assert named(content, "NAME") == ["Growing"]
    assert "REFRESH-INTERVAL;VALUE=DURATION:PT3H" in content
    # The older name of the same is read as a DURATION (RFC 5545 section 3.3.6).
    assert "X-PUBLISHED-TTL:PT3H" in content
    # What was escaped is read as it was.
    title = f"{AWKWARD[0].lower()}{AWKWARD[1:]}"
    assert read["harvest-1-1"].title == f"Batch 1 ({title}): harvest, flush 1"


def test_line_breaks_and_control_characters(tmp_path: Path, played: Played) -> None:
    odd = replace(OYSTER, title="Grey\r\noyster\x07")
    table = SpeciesTable({**TABLE.species, "grey-oyster": odd}, {})
    with grower(tmp_path, played, table) as made:
        made.start(0)
        content = lines(raw(made))
        read = events(made)["harvest-1-1"].title
    assert any("(grey \\noyster ):" in line for line in content)  # 3.3.11
    assert read == "Batch 1 (grey \noyster ): harvest, flush 1"


def test_nothing_due_is_a_calendar_too(ann: Grower) -> None:
    content = lines(raw(ann))
    assert "BEGIN:VEVENT" not in content
    # 3.6: at least one component. 3.6.5: a time zone has a TZID and at least one observance, and
    # that has DTSTART and both offsets.
    assert named(content, "TZID") == ["UTC"]
    start = content.index("BEGIN:STANDARD")
    observance = content[start : content.index("END:STANDARD")]
    assert named(observance, "DTSTART") == ["19700101T000000"]
    assert named(observance, "TZOFFSETFROM") == named(observance, "TZOFFSETTO") == ["+0000"]
    assert Calendar.from_ical(raw(ann))["VERSION"] == "2.0"


def test_moments_are_those_of_the_clock(ann: Grower) -> None:
    ann.start(0)
    (stamp,) = {event.stamp for event in events(ann).values()}
    assert stamp == datetime(2026, 1, 20, 12, 0, tzinfo=UTC)
