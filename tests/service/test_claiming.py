"""Whose is it: what nobody claims, and a new sensor in the settings."""

import threading
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import timedelta
from typing import Any

import pytest

from chamberwatch.core.errors import RefusedError
from chamberwatch.core.watch.guess import Guess
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.service.claiming import GUESSED_FOR, Claiming, Wish
from chamberwatch.service.listening import Heard, HeardNow
from tests.listeners import Ear, Reads, heard

WISH = Wish(
    "garden",
    "garden/2",
    "json",
    "tent",
    "top",
    {Quantity.HUMIDITY: ("/rh", "%"), Quantity.TEMPERATURE: ("/t", "°F")},
)


@dataclass
class Counted(Reads):
    """Understands messages, and tells which it was asked about."""

    looked: list[str] = field(default_factory=list)

    def guess(self, heard: Heard) -> Guess:
        self.looked.append(heard.topic)
        return super().guess(heard)


@dataclass
class Bench:
    """Claiming, and what stands around it."""

    ear: Ear = field(default_factory=Ear)
    topics: dict[str, str] = field(default_factory=dict)
    put: list[tuple[str, Mapping[str, Any]]] = field(default_factory=list)

    def claiming(self) -> Claiming:
        return Claiming(self.ear, Reads(), lambda: self.topics, self._put)

    def _put(self, name: str, entry: Mapping[str, Any]) -> None:
        self.put.append((name, entry))
        self.topics[name] = entry["topic"]


def test_what_is_claimed_and_what_is_not() -> None:
    bench = Bench(topics={"tent-top": "tent/+", "deaf": "nowhere"})
    old = heard("tent/a", 17.0)
    bench.ear.heard = [
        *(heard("zz", 17.0), heard("lamp", "on"), heard("a", 64.0)),
        *(replace(old, last=old.last - timedelta(minutes=1)), heard("tent/b", 18.0)),
    ]
    now = bench.claiming().now()
    assert [each.heard.topic for each in now.unclaimed] == ["a", "zz", "lamp"]
    assert now.of_sensors["tent-top"].topic == "tent/b"
    assert now.topics == bench.topics
    assert "deaf" not in now.of_sensors
    assert bench.ear.asked == 1


def test_a_message_is_guessed_at_once_and_a_new_one_anew() -> None:
    bench = Bench()
    claiming = bench.claiming()
    bench.ear.heard = [heard("a", {"temp": 17.9})]
    first = claiming.now().unclaimed[0].guess
    assert claiming.now().unclaimed[0].guess is first
    bench.ear.heard = [heard("a", {"temp": 64})]
    assert claiming.now().unclaimed[0].guess is first
    bench.ear.now += GUESSED_FOR
    (likely,) = claiming.now().unclaimed[0].guess.likely()
    assert likely.leaf.value == 64.0
    bench.ear.heard = []
    assert claiming.now().unclaimed == ()


def test_in_a_crowd_only_what_is_shown_is_looked_at_again() -> None:
    bench, reads = Bench(), Counted()
    claiming = Claiming(bench.ear, reads, dict, bench._put)

    def look(temp: float) -> list[str]:
        bench.ear.heard = [heard(f"t/{n:03}", {"temp": temp + n / 1000}) for n in range(500)]
        reads.looked.clear()
        claiming.now(100)
        return reads.looked

    assert len(look(17.0)) == 500  # once, to know which of them come first
    assert look(18.0) == []
    bench.ear.now += GUESSED_FOR
    assert look(19.0) == [f"t/{n:03}" for n in range(100)]
    assert look(20.0) == []
    bench.ear.now += GUESSED_FOR
    assert look(19.0) == []  # they say again what was looked at


def test_one_topic_is_found_or_not() -> None:
    bench = Bench()
    bench.ear.heard = [heard("a", 64.0)]
    found = bench.claiming().find("a")
    assert found is not None
    assert found.guess.asks
    assert bench.claiming().find("b") is None


@pytest.mark.parametrize(
    ("wish", "entry"),
    [
        pytest.param(
            WISH,
            {
                "chamber": "tent",
                "place": "top",
                "topic": "garden/2",
                "payload": "json",
                "accuracy": "digital",
                "reads": {
                    "humidity": {"at": "/rh", "unit": "%"},
                    "temperature": {"at": "/t", "unit": "°F"},
                },
            },
            id="json",
        ),
        pytest.param(
            replace(WISH, payload="number", reads={Quantity.CO2: ("", "ppm")}, accuracy="basic"),
            {
                "chamber": "tent",
                "place": "top",
                "topic": "garden/2",
                "payload": "number",
                "accuracy": "basic",
                "reads": {"co2": {"unit": "ppm"}},
            },
            id="number",
        ),
    ],
)
def test_what_is_written(wish: Wish, entry: dict[str, Any]) -> None:
    bench = Bench()
    bench.claiming().claim(wish)
    assert bench.put == [("garden", entry)]


def test_its_own_time_is_written_where_it_is_taken() -> None:
    assert replace(WISH, time_at="/time").entry()["time"] == {"at": "/time"}
    assert "time" not in WISH.entry()


@pytest.mark.parametrize(
    ("topics", "words"),
    [
        pytest.param({"garden": "x"}, "There is a sensor “garden” already", id="name-in-use"),
        pytest.param({"other": "garden/+"}, "“other” reads garden/2 meanwhile", id="topic"),
    ],
)
def test_what_was_taken_meanwhile(topics: dict[str, str], words: str) -> None:
    bench = Bench(topics=topics)
    with pytest.raises(RefusedError, match=words):
        bench.claiming().claim(WISH)
    assert bench.put == []


def test_two_at_once_make_one_sensor() -> None:
    bench, refused = Bench(), []
    claiming = bench.claiming()

    def claim() -> None:
        try:
            claiming.claim(WISH)
        except RefusedError as error:
            refused.append(str(error))

    threads = [threading.Thread(target=claim) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(10)
    assert len(bench.put) == 1
    assert len(refused) == 7


def test_nothing_heard_yet() -> None:
    now = Bench().claiming().now()
    assert isinstance(now.heard, HeardNow)
    assert (now.unclaimed, now.of_sensors) == ((), {})


def test_a_message_tells_whether_it_is_whole() -> None:
    whole = heard("a", 17.0)
    assert whole.whole
    assert not replace(whole, size=whole.size + 1).whole
    assert isinstance(Reads().guess(whole), Guess)
    assert isinstance(whole, Heard)
