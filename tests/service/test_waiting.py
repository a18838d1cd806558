"""When to speak, from the reading to the phone: held, folded, passed on, foretold."""

import threading
from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from pathlib import Path

from chamberwatch.core.watch.hours import AT_ONCE, WAKING, Hours, Manner, Wake, Window
from chamberwatch.core.watch.reminder import Call, Priority
from chamberwatch.core.wording import Message
from chamberwatch.service.books import OutKind, OutState
from chamberwatch.service.ports import Outcome
from chamberwatch.service.rows import to_send
from tests.fakes import HandClock, Phone, PlainLinks
from tests.service.machine import Bench

QUIET = Manner(summaries=False, foretells=False)
DAYTIME = datetime(2026, 1, 20, 12, tzinfo=UTC)
NIGHT = datetime(2026, 1, 20, 22, 30, tzinfo=UTC)
MORNING = datetime(2026, 1, 21, 7, tzinfo=UTC)
DAY = datetime(2026, 1, 20, 8, tzinfo=UTC)


def made(
    folder: Path, at: datetime, manner: Manner = QUIET, others: tuple[Phone, ...] = ()
) -> Bench:
    return Bench(folder, HandClock(at), manners={"phone": manner}, others=others)


def deliver(bench: Bench) -> None:
    bench.delivery().deliver_due(threading.Event())


def titles(phone: Phone) -> list[str]:
    return [title for title, _ in phone.sent]


def until(bench: Bench, at: datetime) -> None:
    bench.clock.turn(seconds=(at - bench.clock.now()).total_seconds())


def stale(bench: Bench) -> None:
    """Let the CO2 rise above its limit."""
    bench.minutes_of("co2", 1300.0, 8)


# ------------------------------------------------------------------ held


def test_medium_waits_for_the_morning(tmp_path: Path) -> None:
    bench = made(tmp_path, NIGHT)
    bench.minutes_of("humidity", 76.0, 5)
    deliver(bench)
    (row,) = bench.outbox()
    assert (bench.phone.sent, row.next_try) == ([], MORNING)
    until(bench, MORNING - timedelta(seconds=1))
    deliver(bench)
    assert bench.phone.sent == []
    until(bench, MORNING)
    deliver(bench)
    assert titles(bench.phone) == ["Tent: mist now"]


def test_what_waited_is_said_as_it_is_by_then(tmp_path: Path) -> None:
    bench = made(tmp_path, NIGHT)
    bench.phone.links = PlainLinks()
    bench.minutes_of("humidity", 76.0, 5)
    deliver(bench)
    until(bench, MORNING)
    bench.minutes_of("humidity", 73.0, 5)
    deliver(bench)
    ((_, body),) = bench.phone.sent
    assert body.startswith("Humidity 73 %")
    number = bench.reminder(Call.MIST).id
    assert f"I have misted: http://tent/do/{number}.1.misted" in body


def test_what_has_returned_by_the_morning_is_not_said(tmp_path: Path) -> None:
    bench = made(tmp_path, NIGHT)
    bench.minutes_of("humidity", 76.0, 5)
    deliver(bench)
    bench.minutes_of("humidity", 90.0, 4)
    until(bench, MORNING)
    deliver(bench)
    assert bench.phone.sent == []
    assert bench.outbox(OutState.DROPPED)[0].error == "no longer true"


def test_what_was_put_off_in_the_night_is_not_said(tmp_path: Path) -> None:
    bench = made(tmp_path, NIGHT)
    bench.minutes_of("humidity", 76.0, 5)
    deliver(bench)
    bench.logbook.shelve(bench.reminder(Call.MIST).id, timedelta(hours=12), "page")
    until(bench, MORNING)
    deliver(bench)
    assert bench.phone.sent == []


def test_two_that_waited_are_one_message(tmp_path: Path) -> None:
    bench = made(tmp_path, NIGHT)
    bench.minutes_of("humidity", 76.0, 5)
    bench.minutes_of("temperature", 11.0, 12)
    deliver(bench)
    assert bench.phone.sent == []
    until(bench, MORNING)
    deliver(bench)
    ((title, body),) = bench.phone.sent
    assert title == "2 things wait for you"
    assert [line.split(". ")[0] for line in body.splitlines()] == [
        "Tent: mist now",
        "Tent: warm it",
    ]
    assert {row.kind for row in bench.outbox(OutState.SENT)} == {OutKind.SUMMARY}
    assert len(bench.outbox(OutState.FOLDED)) == 2


def test_dry_and_stale_air_stays_one_thing(tmp_path: Path) -> None:
    bench = made(tmp_path, NIGHT)
    for _ in range(8):
        bench.minutes_of("humidity", 76.0, 1)
        bench.take(f"middle co2 1300 {bench.clock.now().isoformat()}")
    deliver(bench)
    assert len(bench.outbox()) == 1
    until(bench, MORNING)
    deliver(bench)
    ((title, body),) = bench.phone.sent
    assert title == "Tent: vent, then mist"
    assert "See the other reminder" not in body


def test_a_restart_in_the_night_loses_nothing(tmp_path: Path) -> None:
    bench = made(tmp_path, NIGHT)
    bench.minutes_of("humidity", 76.0, 5)
    deliver(bench)
    bench.crash()
    deliver(bench)
    assert (bench.phone.sent, bench.outbox()[0].next_try) == ([], MORNING)
    stale(bench)
    bench.crash()
    until(bench, MORNING + timedelta(minutes=40))
    deliver(bench)
    assert len(bench.phone.sent) == 1
    assert bench.outbox() == []


def test_other_hours_hold_from_the_next_start_on(tmp_path: Path) -> None:
    bench = made(tmp_path, NIGHT)
    bench.minutes_of("humidity", 76.0, 5)
    deliver(bench)
    later = Hours((Window(time(7), time(23)),))
    bench.manners = {"phone": replace(QUIET, hours=later)}
    bench.crash()
    deliver(bench)
    assert titles(bench.phone) == ["Tent: mist now"]


def test_high_goes_through_at_night(tmp_path: Path) -> None:
    bench = made(tmp_path, NIGHT)
    bench.minutes_of("humidity", 60.0, 15)
    deliver(bench)
    assert titles(bench.phone) == ["Tent: mist now (pins dry out)"]
    assert "Pins dry out" in bench.phone.sent[0][1]
    # The medium message before it says nothing that was not said since.
    until(bench, MORNING)
    deliver(bench)
    assert len(bench.phone.sent) == 1
    assert bench.outbox() == []


def test_never_wakes(tmp_path: Path) -> None:
    bench = made(tmp_path, NIGHT, replace(QUIET, wake=Wake.NEVER))
    bench.minutes_of("humidity", 60.0, 15)
    deliver(bench)
    assert bench.phone.sent == []
    until(bench, MORNING)
    deliver(bench)
    assert titles(bench.phone) == ["Tent: mist now (pins dry out)"]


def test_a_failed_message_does_not_wake_later(tmp_path: Path) -> None:
    bench = made(tmp_path, NIGHT - timedelta(minutes=36))
    bench.minutes_of("humidity", 76.0, 5)
    bench.phone.outcome = Outcome(ok=False, reason="the service answered 500")
    deliver(bench)
    assert len(bench.phone.sent) == 1
    bench.phone.outcome = Outcome(ok=True)
    until(bench, NIGHT)
    deliver(bench)
    assert len(bench.phone.sent) == 1
    until(bench, MORNING)
    deliver(bench)
    assert len(bench.phone.sent) == 2


def test_an_early_word_is_of_no_use_later(tmp_path: Path) -> None:
    bench = made(tmp_path, NIGHT)
    words = Message("Tent: soon too dry", "In about 20 minutes.")
    row = to_send("phone", words, OutKind.EARLY, NIGHT, expires=NIGHT + timedelta(hours=1))
    with bench.sql.write() as book:
        book.outbox.add([row])
    deliver(bench)
    assert bench.phone.sent == []
    assert bench.outbox(OutState.DROPPED)[0].error.startswith("an early word")


# ------------------------------------------------------------------ who


def test_a_second_person_gets_high_alone(tmp_path: Path) -> None:
    other = Phone("other")
    bench = made(tmp_path, DAYTIME, others=(other,))
    bench.manners["other"] = replace(QUIET, least=Priority.HIGH)
    bench.minutes_of("humidity", 76.0, 5)
    deliver(bench)
    assert (titles(bench.phone), titles(other)) == (["Tent: mist now"], [])
    bench.minutes_of("humidity", 60.0, 12)
    deliver(bench)
    assert len(titles(other)) == 1
    assert [row.address for row in bench.outbox(OutState.DROPPED)] == ["other"]


def test_who_is_away_is_told_when_back_and_another_covers(tmp_path: Path) -> None:
    other = Phone("other")
    bench = made(tmp_path, DAYTIME, others=(other,))
    away = ((DAYTIME - timedelta(hours=1), DAYTIME + timedelta(days=2)),)
    bench.manners["phone"] = replace(QUIET, hours=Hours(WAKING.windows, away))
    bench.manners["other"] = QUIET
    bench.minutes_of("humidity", 60.0, 15)
    deliver(bench)
    assert (titles(bench.phone), len(titles(other))) == ([], 1)
    assert {row.address for row in bench.outbox()} == {"phone"}
    until(bench, DAYTIME + timedelta(days=2))
    bench.minutes_of("humidity", 60.0, 2)
    deliver(bench)
    assert len(titles(bench.phone)) == 1


def test_where_everybody_is_away_high_goes_to_all(tmp_path: Path) -> None:
    other, screen = Phone("other"), Phone("terminal")
    bench = made(tmp_path, DAYTIME, others=(other, screen))
    away = ((DAYTIME - timedelta(hours=1), DAYTIME + timedelta(days=2)),)
    gone = replace(QUIET, hours=Hours(WAKING.windows, away))
    bench.manners |= {"phone": gone, "other": gone, "terminal": AT_ONCE}
    bench.minutes_of("humidity", 76.0, 5)
    deliver(bench)
    assert (titles(bench.phone), titles(other)) == ([], [])
    assert titles(screen) == ["Tent: mist now"]
    bench.minutes_of("humidity", 60.0, 12)
    deliver(bench)
    assert (len(titles(bench.phone)), len(titles(other)), len(titles(screen))) == (1, 1, 2)


# ------------------------------------------------------------------ not too many


def calls(bench: Bench, *values: tuple[str, float, int]) -> None:
    for quantity, value, minutes in values:
        bench.minutes_of(quantity, value, minutes)
        deliver(bench)


def test_no_more_in_an_hour_than_asked_for(tmp_path: Path) -> None:
    bench = made(tmp_path, DAYTIME, replace(QUIET, most_per_hour=1))
    calls(bench, ("humidity", 76.0, 5))
    sent_at = bench.outbox(OutState.SENT)[0].sent
    assert sent_at is not None
    calls(bench, ("temperature", 11.0, 12), ("co2", 1300.0, 8))
    assert len(bench.phone.sent) == 1
    assert {row.next_try for row in bench.outbox()} == {sent_at + timedelta(hours=1)}
    bench.crash()
    until(bench, sent_at + timedelta(hours=1, seconds=-1))
    deliver(bench)
    assert len(bench.phone.sent) == 1
    until(bench, sent_at + timedelta(hours=1))
    deliver(bench)
    assert titles(bench.phone)[1:] == ["2 things wait for you"]
    assert bench.outbox() == []


def test_high_is_not_counted_out(tmp_path: Path) -> None:
    bench = made(tmp_path, DAYTIME, replace(QUIET, most_per_hour=1))
    calls(bench, ("humidity", 76.0, 5), ("humidity", 60.0, 12))
    assert len(bench.phone.sent) == 2


def test_a_terminal_is_told_everything(tmp_path: Path) -> None:
    bench = made(tmp_path, NIGHT, AT_ONCE)
    calls(
        bench,
        *(("humidity", value, 5) for _ in range(8) for value in (76.0, 90.0)),
    )
    assert titles(bench.phone).count("Tent: mist now") == 8


# ------------------------------------------------------------------ a phone that is off


def test_what_is_still_so_reaches_a_phone_that_was_off_for_long(tmp_path: Path) -> None:
    """Neither the summary of what had waited nor twelve hours may swallow what goes on."""
    bench = made(tmp_path, DAY)
    bench.phone.outcome = Outcome(ok=False, reason="it is off")
    for _ in range(14 * 6):
        for quantity, value in (("humidity", 77.0), ("temperature", 11.0), ("co2", 1300.0)):
            bench.minutes_of(quantity, value, 1)
        bench.minutes_of("humidity", 77.0, 7)
        deliver(bench)
    bench.phone.outcome = Outcome(ok=True)
    bench.phone.sent.clear()
    for _ in range(12 * 6):
        for quantity, value in (("humidity", 77.0), ("temperature", 11.0), ("co2", 1300.0)):
            bench.minutes_of(quantity, value, 1)
        bench.minutes_of("humidity", 77.0, 7)
        deliver(bench)
    said = " ".join(f"{title} {body}" for title, body in bench.phone.sent)
    assert "vent, then mist" in said
    assert "warm it" in said


def test_a_summary_that_did_not_go_out_is_taken_apart_again(tmp_path: Path) -> None:
    bench = made(tmp_path, NIGHT)
    bench.minutes_of("humidity", 76.0, 5)
    bench.minutes_of("temperature", 11.0, 12)
    deliver(bench)
    until(bench, MORNING)
    bench.phone.outcome = Outcome(ok=False, reason="it is off")
    deliver(bench)
    assert [title for title, _ in bench.phone.sent] == ["2 things wait for you"]
    assert {row.kind for row in bench.outbox()} == {OutKind.REMINDER}
    bench.phone.outcome = Outcome(ok=True)
    bench.clock.turn(minutes=2)
    deliver(bench)
    assert bench.phone.sent[-1][0] == "2 things wait for you"
    assert len(bench.outbox(OutState.FOLDED)) == 2
