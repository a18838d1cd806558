"""What is said to lamps, buzzers and displays, when, and in which shape."""

import json
import threading
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, fields, replace
from datetime import UTC, timedelta
from pathlib import Path
from typing import Any, ClassVar

import pytest

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.watch.doubt import Doubt, Doubted
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.reminder import ASKING, Call, Cause, Event, Reminder, State, advance
from chamberwatch.service import announced
from chamberwatch.service.announcing import Announcing
from chamberwatch.service.history import History, Vitals
from chamberwatch.service.views import ReminderNow
from chamberwatch.web.air_shapes import AirOut
from chamberwatch.web.shapes import ReminderNowOut, json_of
from tests.make import NOON, at
from tests.said import read
from tests.service.machine import Bench

WELL = Vitals(connected=True, message_ago=timedelta(0), troubles=())
AIR, MIST = "chamber/tent", "reminder/tent/mist"


@dataclass
class Board:
    """An outlet that holds what was put up, and can be out of reach or full."""

    number: int | None = 1
    room: int = 10_000
    kept: dict[str, str] = field(default_factory=dict)
    said: list[tuple[str, str]] = field(default_factory=list)

    def connection(self) -> int | None:
        return self.number

    def publish(self, topic: str, body: str) -> bool:
        if self.number is None or len(self.said) >= self.room:
            return False
        if body:
            read(topic, body)
        self.said.append((topic, body))
        self.kept[topic] = body
        return True

    def fresh(self) -> list[str]:
        """Return the topics of what was said since this was last asked."""
        topics = [topic for topic, _ in self.said]
        self.said.clear()
        return topics

    def content(self, topic: str) -> dict[str, Any]:
        return read(topic, self.kept[topic])


@dataclass
class Corner:
    """A small machine with an outlet."""

    bench: Bench
    outlet: Board = field(default_factory=Board)
    troubles: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        bench = self.bench
        self.history = History(
            bench.books, bench.clock, bench.house, bench.board, UTC, lambda: WELL, NOON, "0.0",
            bench.counsel,
        )  # fmt: skip
        self.announcing = Announcing(self.history, self.outlet, lambda: self.troubles)

    def hear(self, humidity: float, temperature: float = 20.0, minutes: float = 1.0) -> None:
        """Let the minutes go by with one reading, and look."""
        self.bench.clock.turn(minutes=minutes)
        now = self.bench.clock.now().isoformat()
        self.bench.take(f"middle temperature {temperature} {now};middle humidity {humidity} {now}")
        self.bench.intake.idle()
        self.announcing.look()

    def move(self, event: Event, call: Call = Call.MIST) -> Reminder:
        with self.bench.books.write() as book:
            (reminder,) = (r for r in book.reminders.all() if r.call is call)
            shelf = timedelta(minutes=30) if event is Event.SHELVED else None
            cause = Cause("a test", shelf=shelf)
            moved, move = advance(reminder, event, self.bench.clock.now(), cause)
            book.reminders.save(moved, [move])
        return moved


@pytest.fixture
def corner(tmp_path: Path) -> Iterator[Corner]:
    bench = Bench(tmp_path)
    yield Corner(bench)
    bench.sql.close()


def test_everything_is_said_at_first_and_nothing_twice(corner: Corner) -> None:
    corner.announcing.look()
    assert corner.outlet.fresh() == ["status", AIR, "chamber/room", "chamber/shelf"]
    corner.announcing.look()
    assert corner.outlet.fresh() == []
    silent = corner.outlet.content(AIR)
    assert (silent["time"], silent["stale"], silent["asked"]) == (None, True, None)
    assert set(silent["air"].values()) == {None}
    assert silent["band"]["humidity"] == {
        "low": 80.0, "high": 95.0, "harm_low": 70.0, "harm_high": None, "unit": "%",
    }  # fmt: skip
    assert corner.outlet.content("chamber/room")["band"] == {}
    assert corner.outlet.content("status")["since"] == "2026-01-20T12:00:00Z"


def test_a_chamber_is_said_as_the_api_gives_it(corner: Corner) -> None:
    corner.hear(90.0)
    said = corner.outlet.content(AIR)
    given = json_of(AirOut.of(corner.history.now("tent")))
    assert said["air"].keys() - {"plus_minus"} < given.keys()
    for name, value in said["air"].items():
        assert value == given[name], name
    assert said["air"]["plus_minus"]["humidity_pct"] == 2.0
    assert (said["time"], said["stale"]) == (given["time"], given["stale"])
    by_quantity = {each["quantity"]: each for each in given["judgements"]}
    assert said["judgements"].keys() == {"temperature", "humidity"}
    for quantity, judgement in said["judgements"].items():
        assert judgement.items() <= by_quantity[quantity].items()


def test_the_air_is_said_once_a_minute_and_a_change_at_once(corner: Corner) -> None:
    corner.hear(90.0)
    corner.outlet.fresh()
    for _ in range(5):
        corner.hear(90.5, minutes=0.15)
        assert corner.outlet.fresh() == []
    corner.hear(91.0, minutes=0.3)
    assert AIR in corner.outlet.fresh()
    assert corner.outlet.content(AIR)["air"]["humidity_pct"] == 91.0
    corner.hear(76.0, minutes=0.1)
    assert corner.outlet.fresh() == [AIR]
    dry = corner.outlet.content(AIR)["judgements"]["humidity"]
    assert (dry["standing"], dry["by"], dry["harm"]) == ("below", 4.0, False)
    corner.hear(69.0, minutes=0.1)
    assert corner.outlet.fresh() == [AIR]
    assert corner.outlet.content(AIR)["judgements"]["humidity"]["harm"]


def dry_spell(corner: Corner) -> None:
    for _ in range(5):
        corner.hear(76.0)


def test_a_reminder_is_said_from_its_first_raise_on(corner: Corner) -> None:
    corner.hear(90.0)
    assert MIST not in corner.outlet.kept
    dry_spell(corner)
    said = corner.outlet.content(MIST)
    (shown,) = (s for s in corner.history.reminders(None) if s.reminder.call is Call.MIST)
    given = json_of(ReminderNowOut.with_words(shown))
    assert said.keys() < given.keys()
    for name in said.keys() - {"title", "body"}:
        assert said[name] == given[name], name
    assert (said["state"], said["active"], said["priority"]) == ("unacknowledged", True, "medium")
    assert said["title"] == "Tent: mist now"
    asked = corner.outlet.content(AIR)["asked"]
    assert (asked["call"], asked["title"]) == ("mist", "Tent: mist now")
    assert asked["id"] == said["id"]


def test_every_state_is_said_at_once_the_normal_one_too(corner: Corner) -> None:
    dry_spell(corner)
    corner.outlet.fresh()
    for event, state in (
        (Event.SEEN, State.ACKNOWLEDGED),
        (Event.SHELVED, State.SHELVED),
        (Event.SHELF_ENDED, State.UNACKNOWLEDGED),
        (Event.RETURNED, State.RETURNED),
        (Event.SEEN, State.NORMAL),
    ):
        corner.move(event)
        corner.announcing.look()
        said = set(corner.outlet.fresh())
        # That nothing is asked any more was said of the tent when it returned.
        assert said == ({MIST} if state is State.NORMAL else {MIST, AIR})
        assert corner.outlet.content(MIST)["state"] == state
        asked = corner.outlet.content(AIR)["asked"]
        assert (asked is not None) is (state in ASKING)
    assert corner.outlet.content(MIST)["active"] is False
    # The words of what is over stay, however the air moves.
    corner.hear(88.0, minutes=5)
    assert MIST not in corner.outlet.fresh()


def test_shelved_until(corner: Corner) -> None:
    dry_spell(corner)
    corner.move(Event.SHELVED)
    corner.announcing.look()
    assert corner.outlet.content(MIST)["shelved_until"] == "2026-01-20T12:35:00Z"


def test_words_of_a_live_one_follow_the_air_by_minutes(corner: Corner) -> None:
    dry_spell(corner)
    corner.hear(75.0)
    assert "75 %" in corner.outlet.content(MIST)["body"]
    corner.hear(74.0, minutes=0.2)
    assert "75 %" in corner.outlet.content(MIST)["body"]
    corner.hear(73.0, minutes=0.8)
    assert "73 %" in corner.outlet.content(MIST)["body"]


class Counting(History):
    """Counts how often words are made."""

    asked: ClassVar[int] = 0

    def reminders(self, states: frozenset[State] | None) -> Sequence[ReminderNow]:
        Counting.asked += 1
        return History.reminders(self, states)


def test_the_same_words_are_not_made_at_every_look(corner: Corner) -> None:
    dry_spell(corner)
    given = {f.name: getattr(corner.history, f.name) for f in fields(corner.history)}
    announcing = Announcing(Counting(**given), corner.outlet, lambda: ())
    announcing.look()
    Counting.asked = 0
    for _ in range(100):
        corner.bench.clock.turn(seconds=3)
        announcing.look()
    assert Counting.asked == 5


def test_all_of_it_again_on_a_new_connection(corner: Corner) -> None:
    dry_spell(corner)
    kept = set(corner.outlet.kept)
    corner.outlet.fresh()
    corner.outlet.number = None
    corner.announcing.look()
    assert corner.outlet.fresh() == []
    corner.outlet.number = 2
    corner.announcing.look()
    again = corner.outlet.fresh()
    assert set(again) == kept == {"status", MIST, AIR, "chamber/room", "chamber/shelf"}
    assert again[0] == "status"


def test_what_was_not_taken_is_said_at_the_next_look(corner: Corner) -> None:
    dry_spell(corner)
    everything = set(corner.outlet.kept)
    corner.outlet.fresh()
    corner.outlet.number, corner.outlet.room = 2, 2
    said: list[str] = []
    for _ in range(3):
        corner.announcing.look()
        said += corner.outlet.fresh()
    assert set(said) == everything
    assert len(said) == len(everything)


def test_troubles_of_the_watcher_are_part_of_its_status(corner: Corner) -> None:
    corner.announcing.look()
    assert corner.outlet.content("status")["well"] is True
    corner.troubles = ("The broker is not connected yet.",)
    corner.announcing.look()
    status = corner.outlet.content("status")
    assert (status["well"], status["troubles"]) == (False, ["The broker is not connected yet."])


def test_a_doubted_sensor_has_no_say(corner: Corner) -> None:
    corner.hear(76.0)
    assert "humidity" in corner.outlet.content(AIR)["judgements"]
    doubt = Doubt("middle", Doubted.STUCK, at(1), "It has not moved.", frozenset(Quantity))
    corner.bench.board.doubt({"middle": doubt}, ())
    corner.outlet.fresh()
    corner.announcing.look()
    assert corner.outlet.fresh() == [AIR]
    said = corner.outlet.content(AIR)
    assert said["judgements"] == {}
    assert said["doubts"] == [
        {
            "sensor": "middle",
            "kind": "stuck",
            "since": "2026-01-20T12:01:00Z",
            "words": "It has not moved.",
        }
    ]


def test_the_place_that_is_worst_off_speaks(corner: Corner) -> None:
    corner.hear(90.0)
    now = corner.bench.clock.now().isoformat()
    corner.bench.take(f"top humidity 74.0 {now}")
    corner.announcing.look()
    humidity = corner.outlet.content(AIR)["judgements"]["humidity"]
    assert (humidity["sensor"], humidity["where"], humidity["by"]) == ("top", "top", 6.0)


def test_silence_makes_a_chamber_stale(corner: Corner) -> None:
    corner.hear(90.0)
    corner.bench.clock.turn(minutes=6)
    corner.announcing.look()
    said = corner.outlet.content(AIR)
    assert (said["stale"], said["judgements"]) == (True, {})


# ------------------------------------------------------------------ tasks, and what is gone


def task(corner: Corner, chamber: str, call: Call, subject: str, *events: Event) -> None:
    with corner.bench.books.write() as book:
        reminder = book.reminders.of(chamber, call, subject)
        for event in events:
            reminder, move = advance(reminder, event, corner.bench.clock.now(), "a test")
            book.reminders.save(reminder, [move])


def test_a_task_that_is_done_is_taken_away_a_day_later(corner: Corner) -> None:
    opened = "reminder/tent/open/open-3"
    task(corner, "tent", Call.OPEN, "open-3", Event.RAISED)
    task(corner, "", Call.TODAY, "", Event.RAISED)
    corner.announcing.look()
    assert corner.outlet.content(opened)["subject"] == "open-3"
    assert corner.outlet.content("reminder/-/todays-list")["chamber"] == ""
    task(corner, "tent", Call.OPEN, "open-3", Event.SEEN, Event.RETURNED)
    task(corner, "", Call.TODAY, "", Event.SEEN, Event.RETURNED)
    corner.announcing.look()
    assert corner.outlet.content(opened)["state"] == "normal"
    corner.bench.clock.turn(minutes=24 * 60 + 1)
    corner.announcing.look()
    assert corner.outlet.kept[opened] == ""
    corner.outlet.fresh()
    corner.announcing.look()
    assert corner.outlet.fresh() == []
    # Today's list has one topic for ever.
    assert corner.outlet.content("reminder/-/todays-list")["state"] == "normal"
    # What another run left with the broker is taken away too.
    corner.outlet.number, corner.outlet.kept = 2, {}
    corner.announcing.look()
    assert corner.outlet.kept[opened] == ""


def test_reminders_of_a_chamber_that_is_gone_are_taken_away(corner: Corner) -> None:
    task(corner, "attic", Call.MIST, "", Event.RAISED)
    corner.announcing.look()
    assert corner.outlet.kept["reminder/attic/mist"] == ""


@pytest.mark.parametrize(
    ("reminder", "topic"),
    [
        pytest.param(Reminder(1, "tent", Call.MIST), "reminder/tent/mist", id="air"),
        pytest.param(
            Reminder(1, "tent", Call.DRY_OFF, "surfaces"),
            "reminder/tent/dry-off/surfaces",
            id="surfaces",
        ),
        pytest.param(
            Reminder(1, "tent", Call.CHECK_SENSOR, "middle"),
            "reminder/tent/check-the-sensor/middle",
            id="a sensor",
        ),
        pytest.param(
            Reminder(1, "tent", Call.OPEN, "a/b+c#d"), "reminder/tent/open/a%2Fb%2Bc%23d", id="odd"
        ),
        pytest.param(Reminder(1, "", Call.TODAY), "reminder/-/todays-list", id="of no chamber"),
    ],
)
def test_topics(reminder: Reminder, topic: str) -> None:
    assert announced.topic_of(reminder) == topic


def test_no_two_calls_share_a_topic() -> None:
    topics = {announced.topic_of(Reminder(1, "tent", call)) for call in Call}
    assert len(topics) == len(Call)


def test_the_schema_knows_every_word_we_have() -> None:
    from tests.said import SCHEMA

    known = SCHEMA["$defs"]
    assert set(known["call"]["enum"]) == {call.value for call in Call}
    assert set(known["state"]["enum"]) == {state.value for state in State}
    assert set(known["doubt"]["properties"]["kind"]["enum"]) == {d.value for d in Doubted}


@pytest.mark.parametrize("orderly", [True, False])
def test_gone(orderly: bool) -> None:
    said = read("status", announced.gone("0.0", NOON if orderly else None, orderly=orderly))
    assert (said["at_work"], said["orderly"]) == (False, orderly)
    assert said["since"] == ("2026-01-20T12:00:00Z" if orderly else None)


# ------------------------------------------------------------------ the loop


def test_a_fault_is_said_once_and_ends_nothing(
    corner: Corner, caplog: pytest.LogCaptureFixture
) -> None:
    announcing, stopping = corner.announcing, threading.Event()
    looks: list[float] = []

    def troubles() -> tuple[str, ...]:
        looks.append(corner.bench.clock.elapsed_s)
        if len(looks) >= 4:
            stopping.set()
        if len(looks) < 3:
            raise RuntimeError("a fault of ours")
        return ()

    announcing.troubles = troubles
    announcing.run(stopping)
    assert len(looks) == 4
    assert len([m for m in caplog.messages if "a fault of ours" in m]) == 1
    assert "status" in corner.outlet.kept
    assert announcing.looked_s == looks[-1]


@pytest.mark.parametrize(
    ("look_s", "rest_s"),
    [
        pytest.param(0.0, 0.25, id="quick"),
        pytest.param(3.0, 30.0, id="slow"),
        # A watch that hears nothing for five minutes would end the daemon.
        pytest.param(50.0, 60.0, id="very slow"),
    ],
)
def test_it_rests_longer_where_a_look_takes_long(
    corner: Corner, look_s: float, rest_s: float
) -> None:
    clock, stopping = corner.bench.clock, threading.Event()
    began: list[float] = []

    def troubles() -> tuple[str, ...]:
        began.append(clock.elapsed_s)
        clock.turn(seconds=look_s)
        if len(began) == 2:
            stopping.set()
        return ()

    corner.announcing.troubles = troubles
    corner.announcing.run(stopping)
    assert began[1] - began[0] == look_s + rest_s


def test_a_database_that_cannot_be_read_is_waited_for(
    corner: Corner, caplog: pytest.LogCaptureFixture
) -> None:
    corner.bench.sql.close()
    stopping = threading.Event()
    count = iter(range(3))

    def troubles() -> tuple[str, ...]:
        if next(count) == 2:
            stopping.set()
        return ()

    corner.announcing.troubles = troubles
    corner.announcing.run(stopping)
    assert len([m for m in caplog.messages if "waits for the database" in m]) == 1


def test_a_changed_stage_is_said_with_its_band(corner: Corner) -> None:
    corner.hear(90.0)
    changed = replace(
        corner.history,
        house=replace(
            corner.bench.house,
            chambers={
                "tent": replace(corner.bench.house.chamber("tent"), stage=Stage.COLONISATION)
            },
        ),
    )
    announcing = Announcing(changed, corner.outlet, lambda: ())
    announcing.look()
    said = corner.outlet.content(AIR)
    assert (said["stage"], set(said["band"])) == ("colonisation", {"temperature"})


def test_a_body_is_small_and_plain() -> None:
    body = announced.at_work("0.0", NOON, ("Zelt: naß",)).body()
    assert "naß" in body
    assert json.loads(body)["troubles"] == ["Zelt: naß"]
