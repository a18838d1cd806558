"""The summary in the morning, the forecast at bedtime, and harm that is over."""

import threading
from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from chamberwatch.core.watch.action import Amounts, Deed
from chamberwatch.core.watch.hours import AT_ONCE, WAKING, Hours, Manner, Wake
from chamberwatch.core.watch.reminder import Call, Priority
from chamberwatch.service.books import OutKind, OutState
from tests.fakes import HandClock
from tests.service.machine import Bench

EVENING = datetime(2026, 1, 20, 21, 30, tzinfo=UTC)
BEDTIME = datetime(2026, 1, 20, 22, tzinfo=UTC)
MORNING = datetime(2026, 1, 21, 7, tzinfo=UTC)
DEFAULT = Manner()
SUMMARIES = Manner(foretells=False, foretells_day=False)
ONLY_URGENT = Hours(tuple(replace(w, least=Priority.MEDIUM) for w in WAKING.windows))
FORECAST = "Tent: it won't hold till morning"


def made(
    folder: Path, at: datetime, manner: Manner = DEFAULT, zone: ZoneInfo | None = None
) -> Bench:
    return Bench(
        folder, HandClock(at), manners={"phone": manner}, counselled=True, zone=zone or UTC
    )


def look(bench: Bench) -> None:
    """Make a round; no sensor counts as silent, however far we jumped."""
    for sensor in bench.house.sensors:
        bench.board.heard(sensor, bench.clock.monotonic())
    bench.rounds.look()


def deliver(bench: Bench) -> None:
    look(bench)
    bench.delivery().deliver_due(threading.Event())


def titles(bench: Bench) -> list[str]:
    return [title for title, _ in bench.phone.sent]


def until(bench: Bench, at: datetime) -> None:
    bench.clock.turn(seconds=(at - bench.clock.now()).total_seconds())


def air(
    bench: Bench, humidity: float, minutes: int = 1, warm: float = 18.0, room: float = 35.0
) -> None:
    """Let the tent and the room be heard, once a minute; dry air in the room."""
    for _ in range(minutes):
        bench.clock.turn(minutes=1)
        now = bench.clock.now().isoformat()
        bench.take(f"middle temperature {warm} {now};middle humidity {humidity} {now}")
        bench.take(f"room temperature 20 {now};room humidity {room} {now}")


# ------------------------------------------------------------------ in the morning


def test_nothing_to_say_is_not_said(tmp_path: Path) -> None:
    bench = made(tmp_path, EVENING, SUMMARIES)
    air(bench, 88.0, 20)
    until(bench, MORNING)
    air(bench, 88.0)
    deliver(bench)
    assert bench.phone.sent == []


def test_a_summary_whose_absence_is_a_sign(tmp_path: Path) -> None:
    bench = made(tmp_path, EVENING, replace(SUMMARIES, summary=time(7, 30), summary_always=True))
    air(bench, 84.0, 40)
    air(bench, 91.0, 20)
    bench.intake.commit()
    until(bench, MORNING + timedelta(minutes=29))
    deliver(bench)
    assert bench.phone.sent == []
    air(bench, 88.0)
    deliver(bench)
    deliver(bench)
    assert bench.phone.sent == [
        (
            "All well",
            "Tent since 22:00: humidity 84 to 91 %, now 88 %; temperature 18.0 °C.",
        )
    ]


def test_harm_that_was_told_and_lasts_is_not_called_well(tmp_path: Path) -> None:
    always = replace(SUMMARIES, summary=time(7, 30), summary_always=True)
    bench = made(tmp_path, MORNING - timedelta(minutes=30), always)
    air(bench, 60.0, 40)
    deliver(bench)
    assert titles(bench) == ["Tent: mist now (pins dry out)"]
    until(bench, MORNING + timedelta(minutes=29))
    air(bench, 60.0)
    deliver(bench)
    title, body = bench.phone.sent[-1]
    assert title == "Nothing new, but one thing isn't over yet"
    assert body.startswith(
        "Told before and not over yet: Tent: mist now (pins dry out).\nTent since 22:00:"
    )


def test_a_summary_once_a_day_over_restarts_and_steps_of_the_clock(tmp_path: Path) -> None:
    always = replace(SUMMARIES, summary=time(7, 30), summary_always=True)
    bench = made(tmp_path, MORNING + timedelta(minutes=31), always)
    deliver(bench)
    bench.crash()
    deliver(bench)
    bench.clock.turn(minutes=-30)
    deliver(bench)
    bench.clock.turn(minutes=45)
    deliver(bench)
    assert len(bench.phone.sent) == 1
    bench.clock.turn(minutes=24 * 60)
    deliver(bench)
    assert len(bench.phone.sent) == 2


def test_one_that_was_missed_comes_late_but_not_in_the_afternoon(tmp_path: Path) -> None:
    always = replace(SUMMARIES, summary=time(7, 30), summary_always=True)
    bench = made(tmp_path, MORNING + timedelta(hours=2), always)
    deliver(bench)
    assert len(bench.phone.sent) == 1
    until(bench, MORNING + timedelta(days=1, hours=4))
    deliver(bench)
    assert len(bench.phone.sent) == 1


def test_what_came_back_by_itself_stands_in_the_summary(tmp_path: Path) -> None:
    bench = made(tmp_path, MORNING, SUMMARIES)
    deliver(bench)
    until(bench, MORNING + timedelta(hours=16))
    for _ in range(2):
        air(bench, 76.0, 6)
        deliver(bench)
        air(bench, 90.0, 6)
        deliver(bench)
    until(bench, MORNING + timedelta(days=1))
    deliver(bench)
    ((title, body),) = bench.phone.sent
    assert title == "Nothing to do: all is back in order"
    first = body.splitlines()[0]
    assert first == "Back in order: Tent too dry, 2 times, last from 23:16 to 23:21."
    until(bench, MORNING + timedelta(days=2))
    deliver(bench)
    assert len(bench.phone.sent) == 1


def test_what_ails_the_watcher_is_said_once_until_it_was_well(tmp_path: Path) -> None:
    bench = made(tmp_path, MORNING, SUMMARIES)
    told, day = [], timedelta(days=1)
    full, stick = "Only 3 MB are free. Make room.", "No stick. Plug it in."
    for n, ails in enumerate(
        [{}, {"disk": full}, {"disk": full}, {"disk": full, "backup": stick}, {}, {"disk": full}]
    ):
        until(bench, MORNING + n * day)
        bench.ails = ails
        deliver(bench)
        bench.crash()
        told.append([body.splitlines()[-1] for _, body in bench.phone.sent])
        bench.phone.sent.clear()
    itself = "chamberwatch itself is not well: "
    assert told == [[], [itself + full], [], [itself + stick], [], [itself + full]]


def test_a_reminder_carries_what_ails_the_watcher(tmp_path: Path) -> None:
    bench = made(tmp_path, EVENING, replace(SUMMARIES, hours=ONLY_URGENT))
    air(bench, 97.5, 70)
    bench.ails = {"backup": "No stick."}
    until(bench, MORNING)
    deliver(bench)
    ((title, body),) = bench.phone.sent
    assert title == "Tent: let it dry off"
    assert body.splitlines()[-1] == "chamberwatch itself is not well: No stick."


def test_one_thing_keeps_its_links_and_carries_the_rest(tmp_path: Path) -> None:
    bench = made(tmp_path, MORNING, SUMMARIES)
    deliver(bench)
    until(bench, MORNING + timedelta(hours=16))
    air(bench, 88.0, 3, warm=11.0)
    air(bench, 88.0, 12, warm=11.0)
    deliver(bench)
    air(bench, 88.0, 8, warm=18.0)
    air(bench, 76.0, 6)
    deliver(bench)
    until(bench, MORNING + timedelta(days=1))
    deliver(bench)
    ((title, body),) = bench.phone.sent
    assert title == "Tent: mist now"
    assert "Back in order: Tent too cold from" in body.splitlines()[1]


def test_what_waits_comes_with_a_summary_soon_after(tmp_path: Path) -> None:
    bench = made(tmp_path, BEDTIME, replace(SUMMARIES, summary=time(7, 30)))
    air(bench, 76.0, 6)
    deliver(bench)
    (row,) = bench.outbox()
    assert row.next_try == MORNING + timedelta(minutes=30)


def test_what_no_window_speaks_of_comes_with_the_summary(tmp_path: Path) -> None:
    bench = made(tmp_path, EVENING, replace(SUMMARIES, hours=ONLY_URGENT))
    air(bench, 97.5, 70)
    deliver(bench)
    assert bench.phone.sent == []
    assert bench.reminder(Call.DRY_OFF).active
    until(bench, MORNING)
    deliver(bench)
    assert titles(bench) == ["Tent: let it dry off"]


# ------------------------------------------------------------------ before leaving


LEAVING = datetime(2026, 1, 21, 7, 14, tzinfo=UTC)


def test_what_is_foretold_before_leaving(tmp_path: Path) -> None:
    bench = made(tmp_path, LEAVING - timedelta(minutes=30), replace(DEFAULT, foretells=False))
    air(bench, 84.0, 29)
    deliver(bench)
    assert titles(bench) == []
    air(bench, 84.0, 2)
    deliver(bench)
    deliver(bench)
    assert titles(bench) == ["Tent: it won't hold till 18:00"]
    assert "To hold it till 18:00, wet the walls" in bench.phone.sent[0][1]
    # Who was told is not told again when it comes, unless it does harm.
    air(bench, 77.0, 30)
    deliver(bench)
    assert len(titles(bench)) == 1
    air(bench, 60.0, 12)
    deliver(bench)
    assert len(titles(bench)) == 2


@pytest.mark.parametrize(
    ("manner", "humidity"),
    [
        pytest.param(replace(DEFAULT, foretells_day=False), 84.0, id="not wanted"),
        pytest.param(replace(DEFAULT, leaves=time(5, 50)), 84.0, id="while nobody may be told"),
        pytest.param(DEFAULT, 94.0, id="wet all over"),
        pytest.param(replace(DEFAULT, leaves=time(18, 30)), 84.0, id="nobody comes later"),
    ],
)
def test_nothing_is_foretold_before_leaving(
    manner: Manner, humidity: float, tmp_path: Path
) -> None:
    bench = made(tmp_path, LEAVING - timedelta(minutes=60), replace(manner, foretells=False))
    for _ in range(10):
        air(bench, humidity, 10)
        deliver(bench)
    assert [title for title in titles(bench) if "hold" in title] == []


def test_a_time_of_ones_own_to_leave(tmp_path: Path) -> None:
    manner = replace(DEFAULT, foretells=False, leaves=time(9, 0))
    bench = made(tmp_path, LEAVING, manner)
    air(bench, 84.0, 105)
    deliver(bench)
    assert titles(bench) == []
    air(bench, 84.0, 2)
    deliver(bench)
    assert titles(bench) == ["Tent: it won't hold till 18:00"]


# ------------------------------------------------------------------ at bedtime


def test_a_night_that_will_not_hold_is_told_once(tmp_path: Path) -> None:
    bench = made(tmp_path, EVENING)
    air(bench, 82.0, 29)
    deliver(bench)
    assert bench.phone.sent == []
    air(bench, 82.0)
    deliver(bench)
    ((title, body),) = bench.phone.sent
    assert title == FORECAST
    assert body.startswith("Not till 07:30 tomorrow: it lasts")
    assert "To hold the humidity:" in body
    assert body.endswith("You won't be woken for that.")
    bench.crash()
    air(bench, 82.0, 5)
    deliver(bench)
    assert len(bench.phone.sent) == 1
    until(bench, BEDTIME + timedelta(days=1))
    air(bench, 82.0)
    deliver(bench)
    assert titles(bench) == [FORECAST, FORECAST]


def test_a_bedtime_of_ones_own(tmp_path: Path) -> None:
    bench = made(tmp_path, EVENING, replace(DEFAULT, bedtime=time(23, 30)))
    air(bench, 82.0, 35)
    deliver(bench)
    assert bench.phone.sent == []
    until(bench, datetime(2026, 1, 20, 23, 29, tzinfo=UTC))
    air(bench, 82.0)
    deliver(bench)
    assert titles(bench) == [FORECAST]


@pytest.mark.parametrize(
    ("wake", "woken"),
    [
        pytest.param(Wake.FORETOLD, False, id="foretold"),
        pytest.param(Wake.ALWAYS, True, id="always"),
        pytest.param(Wake.NEVER, False, id="never"),
    ],
)
def test_what_was_foretold_wakes_nobody(tmp_path: Path, wake: Wake, woken: bool) -> None:
    bench = made(tmp_path, EVENING, replace(DEFAULT, wake=wake))
    air(bench, 82.0, 30)
    deliver(bench)
    assert titles(bench) == [FORECAST]
    air(bench, 60.0, 20)
    deliver(bench)
    assert len(bench.phone.sent) == (2 if woken else 1)
    until(bench, MORNING)
    air(bench, 60.0)
    deliver(bench)
    assert titles(bench) == [FORECAST, "Tent: mist now (pins dry out)"]


def test_what_was_not_foretold_wakes(tmp_path: Path) -> None:
    bench = made(tmp_path, EVENING)
    air(bench, 60.0, 20)
    bench.logbook.act("tent", Deed.MISTED, None, "", "page")
    deliver(bench)
    until(bench, BEDTIME + timedelta(hours=2))
    air(bench, 88.0, 5)
    deliver(bench)
    before = len(bench.phone.sent)
    air(bench, 60.0, 20)
    deliver(bench)
    assert titles(bench)[before:] == ["Tent: mist now (pins dry out)"]


def test_a_misting_after_the_forecast_makes_harm_news(tmp_path: Path) -> None:
    bench = made(tmp_path, EVENING)
    air(bench, 82.0, 30)
    deliver(bench)
    air(bench, 82.0, 5)
    bench.logbook.act("tent", Deed.MISTED, None, "", "page")
    air(bench, 60.0, 30)
    deliver(bench)
    assert titles(bench) == [FORECAST, "Tent: mist now (pins dry out)"]


def test_a_forecast_that_did_not_arrive_foretold_nothing(tmp_path: Path) -> None:
    bench = made(tmp_path, EVENING)
    air(bench, 82.0, 30)
    look(bench)
    (row,) = bench.outbox()
    with bench.sql.write() as book:
        book.outbox.save(replace(row, state=OutState.FAILED))
    air(bench, 60.0, 20)
    deliver(bench)
    assert titles(bench) == ["Tent: mist now (pins dry out)"]


def test_what_was_said_an_hour_before_is_not_said_again(tmp_path: Path) -> None:
    bench = made(tmp_path, EVENING)
    air(bench, 76.0, 6)
    deliver(bench)
    assert titles(bench) == ["Tent: mist now"]
    air(bench, 76.0, 24)
    deliver(bench)
    assert titles(bench) == ["Tent: mist now"]
    # But nobody was told of the night: harm in it is news.
    air(bench, 60.0, 20)
    deliver(bench)
    assert titles(bench) == ["Tent: mist now", "Tent: mist now (pins dry out)"]


def test_after_a_misting_the_forecast_is_of_other_air(tmp_path: Path) -> None:
    bench = made(tmp_path, EVENING)
    air(bench, 76.0, 6)
    deliver(bench)
    bench.logbook.act("tent", Deed.MISTED, None, "", "page", Amounts(1.0, 0.0))
    air(bench, 82.0, 24)
    deliver(bench)
    assert titles(bench) == ["Tent: mist now", FORECAST]


def test_medium_after_the_forecast_waits_though_the_window_is_open(tmp_path: Path) -> None:
    bench = made(tmp_path, EVENING, replace(DEFAULT, hours=AT_ONCE.hours, bedtime=time(22)))
    air(bench, 82.0, 30)
    deliver(bench)
    air(bench, 76.0, 20)
    deliver(bench)
    assert titles(bench) == [FORECAST]
    (row,) = [row for row in bench.outbox() if row.kind is OutKind.REMINDER]
    assert row.next_try == datetime(2026, 1, 21, 7, 30, tzinfo=UTC)


def test_what_was_not_heard_at_bedtime_is_foretold_a_little_later(tmp_path: Path) -> None:
    bench = made(tmp_path, BEDTIME)
    deliver(bench)
    assert bench.phone.sent == []
    air(bench, 82.0, 3)
    deliver(bench)
    assert titles(bench) == [FORECAST]


def test_nothing_is_foretold_of_what_was_put_off(tmp_path: Path) -> None:
    bench = made(tmp_path, EVENING)
    air(bench, 76.0, 6)
    deliver(bench)
    bench.logbook.shelve(bench.reminder(Call.MIST).id, timedelta(hours=12), "page")
    until(bench, BEDTIME)
    air(bench, 76.0)
    deliver(bench)
    assert titles(bench) == ["Tent: mist now"]


@pytest.mark.parametrize(
    "manner",
    [
        pytest.param(replace(DEFAULT, foretells=False), id="not wanted"),
        pytest.param(replace(DEFAULT, least=Priority.HIGH), id="high alone"),
        pytest.param(
            replace(DEFAULT, hours=Hours(WAKING.windows, ((EVENING, MORNING),))), id="away"
        ),
    ],
)
def test_nothing_is_foretold_to_who_does_not_want_it(tmp_path: Path, manner: Manner) -> None:
    bench = made(tmp_path, EVENING, manner)
    air(bench, 82.0, 31)
    look(bench)
    assert bench.outbox() == []


def test_co2_alone_is_told_once_a_week(tmp_path: Path) -> None:
    bench = made(tmp_path, EVENING)
    told = []
    for evening in range(9):
        until(bench, BEDTIME + timedelta(days=evening, minutes=-12))
        for _ in range(13):
            air(bench, 90.0, room=88.0)
            bench.take(f"middle co2 1300 {bench.clock.now().isoformat()}")
        before = len(bench.phone.sent)
        deliver(bench)
        told += [evening] * (FORECAST in titles(bench)[before:])
    assert told == [0, 7]


def test_a_fault_in_what_is_reckoned_leaves_the_air_watched(
    tmp_path: Path, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    bench = made(tmp_path, EVENING, replace(DEFAULT, bedtime=time(21, 35)))

    def breaks(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("chamberwatch.service.counselling.Counselling.hold", breaks)
    air(bench, 76.0, 6)
    for _ in range(2):
        look(bench)
    assert caplog.text.count("A part of the rounds (Nights) failed") == 1
    assert bench.reminder(Call.MIST).active


# ------------------------------------------------------------------ what can't be read

UNREADABLE = [
    pytest.param("no text of ours", id="no JSON"),
    pytest.param("", id="empty"),
    pytest.param("[]", id="a list"),
    pytest.param("7", id="a number"),
    pytest.param("{}", id="nothing in it"),
    pytest.param('{"how": "danced", "day": 3}', id="unknown words"),
    pytest.param('{"how": "holds", "bedtime": null}', id="no times"),
    pytest.param('{"how": "holds", "bedtime": "0001-01-01T00:00+14:00"}', id="before all time"),
    pytest.param('{"day": "2026-01-21", "move": Infinity}', id="no number"),
    pytest.param('{"day": "2026-01-20", "move": 9999999999999999999999}', id="too large"),
]


def spoil(bench: Bench, name: str, text: str) -> None:
    with bench.sql.write() as book:
        book.kept.keep_text(name, text)


@pytest.mark.parametrize("text", UNREADABLE)
def test_a_night_that_cannot_be_read_is_looked_at_anew(tmp_path: Path, text: str) -> None:
    bench = made(tmp_path, EVENING)
    spoil(bench, "night phone tent", text)
    spoil(bench, "day phone tent", text)
    air(bench, 60.0, 12)
    deliver(bench)
    assert titles(bench) == ["Tent: mist now (pins dry out)"]
    air(bench, 82.0, 20)
    bench.logbook.act("tent", Deed.MISTED, None, "", "page", Amounts(1.0, 0.0))
    air(bench, 82.0, 1)
    deliver(bench)
    assert FORECAST in titles(bench)


@pytest.mark.parametrize("text", UNREADABLE)
def test_a_summary_that_cannot_be_read_counts_as_not_told(tmp_path: Path, text: str) -> None:
    always = replace(SUMMARIES, summary=time(7, 30), summary_always=True)
    bench = made(tmp_path, MORNING + timedelta(minutes=31), always)
    spoil(bench, "summary phone", text)
    deliver(bench)
    deliver(bench)
    assert len(bench.phone.sent) == 1


@pytest.mark.parametrize("text", ["no number", "1.5", "9" * 30, "9" * 5000])
def test_returns_go_on_from_the_newest_where_the_last_cannot_be_read(
    tmp_path: Path, text: str
) -> None:
    bench = made(tmp_path, datetime(2026, 1, 20, 12, tzinfo=UTC), SUMMARIES)
    air(bench, 60.0, 15)
    deliver(bench)
    spoil(bench, "returns told up to", text)
    look(bench)
    air(bench, 88.0, 12)
    deliver(bench)
    assert titles(bench)[1:] == ["Tent: humidity is back inside its band"]
    spoil(bench, "returns told up to", text)
    deliver(bench)
    assert len(titles(bench)) == 2


# ------------------------------------------------------------------ harm that is over


def test_a_return_of_high_priority_is_said(tmp_path: Path) -> None:
    bench = made(tmp_path, datetime(2026, 1, 20, 12, tzinfo=UTC), SUMMARIES)
    air(bench, 60.0, 15)
    deliver(bench)
    air(bench, 75.0, 6)
    air(bench, 88.0, 6)
    deliver(bench)
    deliver(bench)
    assert bench.phone.sent[1:] == [
        (
            "Tent: humidity is back inside its band",
            "Humidity 88 %, band 80 to 95 %. Nothing more to do.",
        )
    ]


def test_who_is_told_of_harm_alone_hears_its_end_too(tmp_path: Path) -> None:
    harm_alone = replace(SUMMARIES, least=Priority.HIGH)
    bench = made(tmp_path, datetime(2026, 1, 20, 12, tzinfo=UTC), harm_alone)
    air(bench, 60.0, 15)
    deliver(bench)
    air(bench, 88.0, 6)
    deliver(bench)
    assert titles(bench) == [
        "Tent: mist now (pins dry out)",
        "Tent: humidity is back inside its band",
    ]


def test_a_return_of_medium_priority_is_not_said(tmp_path: Path) -> None:
    bench = made(tmp_path, datetime(2026, 1, 20, 12, tzinfo=UTC), SUMMARIES)
    air(bench, 76.0, 6)
    deliver(bench)
    air(bench, 88.0, 6)
    deliver(bench)
    assert titles(bench) == ["Tent: mist now"]


def test_a_return_at_night_wakes_nobody(tmp_path: Path) -> None:
    bench = made(tmp_path, BEDTIME + timedelta(hours=2), SUMMARIES)
    air(bench, 60.0, 15)
    deliver(bench)
    air(bench, 88.0, 6)
    deliver(bench)
    assert titles(bench) == ["Tent: mist now (pins dry out)"]
    until(bench, MORNING)
    deliver(bench)
    ((title, body),) = bench.phone.sent[1:]
    assert title == "Nothing to do: all is back in order"
    assert body.startswith("Back in order: Tent: humidity is back inside its band.\n")


# ------------------------------------------------------------------ the clocks change

CHANGES = [
    pytest.param("Europe/Lisbon", "2026-03-28", 8.0, id="Lisbon, forward"),
    pytest.param("Europe/Lisbon", "2026-10-24", 10.0, id="Lisbon, back"),
    pytest.param("America/New_York", "2026-03-07", 8.0, id="New York, forward"),
    pytest.param("America/New_York", "2026-10-31", 10.0, id="New York, back"),
    pytest.param("Australia/Lord_Howe", "2026-10-03", 8.5, id="Lord Howe, forward"),
    pytest.param("Australia/Lord_Howe", "2026-04-04", 9.5, id="Lord Howe, back"),
]


@pytest.mark.parametrize(("name", "evening", "quiet_h"), CHANGES)
def test_the_night_on_which_the_clocks_change(
    tmp_path: Path, name: str, evening: str, quiet_h: float
) -> None:
    zone = ZoneInfo(name)
    ten = datetime.fromisoformat(f"{evening} 22:00").replace(tzinfo=zone).astimezone(UTC)
    always = replace(SUMMARIES, summary=time(7), summary_always=True)
    bench = made(tmp_path, ten, always, zone)
    air(bench, 76.0, 6)
    deliver(bench)
    until(bench, ten + timedelta(hours=quiet_h, minutes=-1))
    deliver(bench)
    assert bench.phone.sent == []
    until(bench, ten + timedelta(hours=quiet_h))
    air(bench, 76.0)
    deliver(bench)
    assert titles(bench) == ["Tent: mist now"]
    until(bench, ten + timedelta(hours=quiet_h, minutes=70))
    deliver(bench)
    assert len(bench.phone.sent) == 1
