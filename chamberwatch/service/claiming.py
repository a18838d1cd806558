"""Whose is it? What is heard and nobody claims, and a new sensor put into the settings.

The settings file, the broker and how messages are written are behind ports: this is the order of
steps. Nothing that is heard here gets into the book.
"""

import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Final, Protocol

from chamberwatch.core.errors import RefusedError
from chamberwatch.core.watch.guess import Guess
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.service.listening import Heard, HeardNow, Listener
from chamberwatch.service.ports import Said

GUESSED_FOR: Final = timedelta(seconds=10)
"""So long a guess holds, whatever is sent meanwhile: the page looks every two seconds."""


@dataclass(frozen=True, slots=True)
class Wish:
    """A sensor that somebody wants to have.

    Attributes:
        name: its name.
        topic: on which it speaks.
        payload: json, number or senml.
        chamber: name of the chamber it hangs in.
        place: air, core, surface, or a shelf's name.
        reads: where each quantity stands, and its unit.
        time_at: pointer to the message's own time, if it shall be taken.
        accuracy: class of its accuracy.
    """

    name: str
    topic: str
    payload: str
    chamber: str
    place: str
    reads: Mapping[Quantity, tuple[str, str]]
    time_at: str | None = None
    accuracy: str = "digital"

    def entry(self) -> dict[str, Any]:
        """Return what goes into the settings, without the name."""
        found: dict[str, Any] = {
            "chamber": self.chamber,
            "place": self.place,
            "topic": self.topic,
            "payload": self.payload,
            "accuracy": self.accuracy,
            "reads": {q.value: _read(at, unit) for q, (at, unit) in self.reads.items()},
        }
        if self.time_at is not None:
            found["time"] = {"at": self.time_at}
        return found


def _read(at: str, unit: str) -> dict[str, str]:
    return {"at": at, "unit": unit} if at else {"unit": unit}


@dataclass(frozen=True, slots=True)
class WouldRead:
    """What a sensor would read of a message, and why it can't read the rest."""

    said: Sequence[Said]
    reasons: Sequence[str]


class Understanding(Protocol):
    """Knows how messages are written."""

    def guess(self, heard: Heard) -> Guess:
        """Return what a message may hold; never raises for what was sent."""
        ...

    def would_read(self, wish: Wish, payload: bytes, came: datetime) -> WouldRead:
        """Return what a sensor would read of a message, with the reader of the intake."""
        ...

    def takes_in(self, topic_filter: str, topic: str) -> bool:
        """Tell whether a topic falls under a sensor's filter."""
        ...


@dataclass(frozen=True, slots=True)
class Unclaimed:
    """A topic that no sensor claims, and what its newest message may hold."""

    heard: Heard
    guess: Guess


@dataclass(frozen=True, slots=True)
class WhoseNow:
    """Sensors and topics as they are at this moment.

    Attributes:
        heard: everything that was heard.
        topics: of each sensor in the settings, by its name.
        of_sensors: what was heard on them, by the sensor's name; the newest of each.
        unclaimed: topics that nobody claims; those that can be understood first.
    """

    heard: HeardNow
    topics: Mapping[str, str]
    of_sensors: Mapping[str, Heard]
    unclaimed: Sequence[Unclaimed]


class Claiming:
    """Finds whose a message is, and makes a sensor of it."""

    def __init__(
        self,
        listener: Listener,
        understanding: Understanding,
        topics: Callable[[], Mapping[str, str]],
        put: Callable[[str, Mapping[str, Any]], None],
    ) -> None:
        """Take what it stands on.

        Args:
            listener: hears everything.
            understanding: knows how messages are written.
            topics: returns the topic of each sensor that stands in the settings now, by name.
            put: writes a sensor of that name into the settings.
        """
        self._listener = listener
        self._understanding = understanding
        self._topics = topics
        self._put = put
        self._turn = threading.Lock()
        self._guessed: dict[str, _Guessed] = {}

    def now(self, most: int | None = None) -> WhoseNow:
        """Return sensors and topics, and go on listening for another while.

        Args:
            most: so many unclaimed topics are shown; what those behind them may hold is looked at
                once, to know how they rank, and not again with each message. None: all are.
        """
        heard, topics = self._listener.hear(), self._topics()
        of_sensors: dict[str, Heard] = {}
        unclaimed: list[Heard] = []
        for each in heard.heard:
            owners = [n for n, t in topics.items() if self._understanding.takes_in(t, each.topic)]
            for name in owners:
                known = of_sensors.get(name)
                if known is None or known.last < each.last:
                    of_sensors[name] = each
            if not owners:
                unclaimed.append(each)
        return WhoseNow(heard, topics, of_sensors, self._all_guessed(unclaimed, heard.now, most))

    def _all_guessed(
        self, unclaimed: Sequence[Heard], now: datetime, most: int | None
    ) -> tuple[Unclaimed, ...]:
        known = self._guessed
        guessed = {
            each.topic: known.get(each.topic) or self._guess_at(each, now) for each in unclaimed
        }
        ranked = sorted(unclaimed, key=lambda each: _rank(each.topic, guessed[each.topic].guess))
        for each in ranked[:most]:
            if guessed[each.topic].is_over(each, now):
                guessed[each.topic] = self._guess_at(each, now)
        self._guessed = guessed
        ranked.sort(key=lambda each: _rank(each.topic, guessed[each.topic].guess))
        return tuple(Unclaimed(each, guessed[each.topic].guess) for each in ranked)

    def _guess_at(self, heard: Heard, now: datetime) -> "_Guessed":
        return _Guessed(heard, self._understanding.guess(heard), now)

    def find(self, topic: str) -> Unclaimed | None:
        """Return what was heard on a topic, None where nothing was (yet)."""
        found = next((each for each in self._listener.hear().heard if each.topic == topic), None)
        return None if found is None else Unclaimed(found, self._understanding.guess(found))

    def topics(self) -> Mapping[str, str]:
        """Return the topic of each sensor in the settings, by its name."""
        return self._topics()

    def guess(self, heard: Heard) -> Guess:
        """Return what a message may hold."""
        return self._understanding.guess(heard)

    def would_read(self, wish: Wish, payload: bytes, came: datetime) -> WouldRead:
        """Return what a sensor would read of a message."""
        return self._understanding.would_read(wish, payload, came)

    def claimed_by(self, topic: str) -> str | None:
        """Return the name of a sensor that claims a topic, None where none does."""
        takes_in = self._understanding.takes_in
        return next((n for n, t in self._topics().items() if takes_in(t, topic)), None)

    def claim(self, wish: Wish) -> None:
        """Put a sensor into the settings; it takes effect at once.

        Raises:
            SettingsError: it can't be one; each fault with its cure.
            RefusedError: the name is in use, the topic was claimed meanwhile, or nothing can be
                written.
        """
        with self._turn:  # two at once would else both find the name free
            if wish.name in self._topics():
                raise RefusedError(
                    f"There is a sensor “{wish.name}” already; choose another name."
                )
            if (owner := self.claimed_by(wish.topic)) is not None:
                raise RefusedError(f"The sensor “{owner}” reads {wish.topic} meanwhile.")
            self._put(wish.name, wish.entry())


@dataclass(frozen=True, slots=True)
class _Guessed:
    """What a message may hold, and when that was looked at."""

    heard: Heard
    guess: Guess
    at: datetime

    def is_over(self, heard: Heard, now: datetime) -> bool:
        """Tell whether to look anew; most say again what they said at the last look."""
        return now - self.at >= GUESSED_FOR and _says(self.heard) != _says(heard)


def _says(heard: Heard) -> tuple[bytes, int, bool]:
    return heard.payload, heard.size, heard.old


def _rank(topic: str, guess: Guess) -> tuple[int, str]:
    """Put first what is sure, then what may be, then what can't be understood."""
    if guess.likely():
        return 0, topic
    return (1 if guess.asks else 2), topic
