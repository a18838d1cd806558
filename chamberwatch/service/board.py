"""What was last heard, for every thread to look at.

Readings wait in memory for up to `commit_every` before they are in the database; a page or a
reminder that showed only what is in the file would be that much behind. The board holds the
newest reading of each series, when each sensor was last heard, and which chambers still owe a
person a word. It can be lost at any moment: all of it is rebuilt from the book and from the
next readings.
"""

import threading
from collections import deque
from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from typing import Final

from chamberwatch.core.watch.action import ANSWERS, Action
from chamberwatch.core.watch.advice import trend_per_h
from chamberwatch.core.watch.doubt import Doubt
from chamberwatch.core.watch.lately import Track
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.core.watch.reminder import Call
from chamberwatch.service.advised import Advised, Amounts
from chamberwatch.service.tracing import Trace

Series = tuple[str, Quantity]


SETTLING: Final = timedelta(minutes=15)
"""After a change of its band, or of what a sensor in it is worth, a chamber is left in peace for
so long: whoever opened the bag stands in front of it and has been told the new band (common
practice, as long as after a misting)."""

TREND_OVER: Final = timedelta(minutes=10)
TREND_POINTS: Final = 60
TREND_EVERY: Final = TREND_OVER / TREND_POINTS
"""One point in so long is plenty for a slope, however fast a sensor talks."""


class Board:
    """Newest readings, times of hearing, debts. Safe from any thread."""

    def __init__(self, started_s: float) -> None:
        """Start empty; a sensor never heard counts as quiet from `started_s` (monotonic) on."""
        self._lock = threading.Lock()
        self._started_s = started_s
        self._newest: dict[Series, Reading] = {}
        self._points: dict[Series, deque[tuple[datetime, float]]] = {}
        self._heard_s: dict[str, float] = {}
        self._owed: dict[str, datetime | None] = {}
        self._deeds: dict[tuple[str, Call], datetime] = {}
        self._advised: dict[tuple[str, Call], Advised] = {}
        self._touched: dict[str, datetime] = {}
        self._traces: dict[Series, Trace] = {}
        self._doubts: Mapping[str, Doubt] = {}
        self._shaken: set[str] = set()
        self._settles: dict[str, tuple[datetime, datetime]] = {}
        self._rebanded: set[str] = set()
        self._pulse = 0

    def remember(self, newest: Mapping[Series, Reading], actions: Iterable[Action]) -> None:
        """Take over what the book holds, at the start."""
        with self._lock:
            self._newest.update(newest)
        for action in actions:
            self.did(action)

    def show(self, reading: Reading) -> None:
        """Put up a reading that is newer than what hangs there."""
        key = (reading.sensor, reading.quantity)
        with self._lock:
            self._newest[key] = reading
            trace = self._traces.get(key)
            if trace is None:
                self._traces[key] = Trace(reading)
            else:
                trace.take(reading)
            points = self._points.get(key)
            if points is None:
                points = self._points[key] = deque(maxlen=TREND_POINTS)
            if not points or reading.time - points[-1][0] >= TREND_EVERY:
                points.append((reading.time, reading.value))
            while points and reading.time - points[0][0] > TREND_OVER:
                points.popleft()
            self._pulse += 1

    def forget_newest(self, series: Series) -> None:
        """Take down a reading whose time has turned out to be wrong."""
        with self._lock:
            self._newest.pop(series, None)
            self._points.pop(series, None)
            self._traces.pop(series, None)

    def heard(self, sensor: str, at_s: float) -> None:
        """Note that a sensor spoke just now. `at_s` is monotonic."""
        with self._lock:
            self._heard_s[sensor] = at_s

    def quiet_s(self, sensor: str, now_s: float) -> float:
        """Return how long a sensor has been quiet, by the monotonic clock, in s."""
        with self._lock:
            return now_s - self._heard_s.get(sensor, self._started_s)

    def has_heard(self, sensor: str) -> bool:
        """Tell whether a sensor has spoken since the start."""
        with self._lock:
            return sensor in self._heard_s

    def newest(self) -> dict[Series, Reading]:
        """Return a copy of all newest readings."""
        with self._lock:
            return dict(self._newest)

    def newest_of(self, series: Series) -> Reading | None:
        """Return the newest reading of one series."""
        with self._lock:
            return self._newest.get(series)

    def newest_among(self, sensors: Iterable[str]) -> dict[Series, Reading]:
        """Return the newest readings of some sensors, without a look at all the others."""
        keys = [(sensor, quantity) for sensor in sensors for quantity in Quantity]
        with self._lock:
            return {key: self._newest[key] for key in keys if key in self._newest}

    def trends(self, sensors: Iterable[str]) -> dict[Series, float]:
        """Return the change in an hour of each series of some sensors for which it is known.

        A slope is dear: in a house of many chambers those of all took longer than a commit.
        """
        keys = [(sensor, quantity) for sensor in sensors for quantity in Quantity]
        with self._lock:
            points = {key: tuple(self._points[key]) for key in keys if key in self._points}
        slopes = {key: trend_per_h(series) for key, series in points.items()}
        return {key: slope for key, slope in slopes.items() if slope is not None}

    def lately(self, series: Series) -> tuple[tuple[datetime, float], ...]:
        """Return what a series said in the last ten minutes, oldest first."""
        with self._lock:
            return tuple(self._points.get(series, ()))

    def tracks(self) -> dict[Series, Track]:
        """Return what is remembered of each series that was heard since the start."""
        with self._lock:
            return {key: trace.track() for key, trace in self._traces.items()}

    def doubt(self, doubts: Mapping[str, Doubt], shaken: Iterable[str]) -> None:
        """Put up which sensors are in doubt; `shaken` are the chambers for which that is news."""
        with self._lock:
            self._doubts = doubts
            self._shaken.update(shaken)
            self._pulse += 1

    def doubts(self) -> Mapping[str, Doubt]:
        """Return the doubt about each sensor that has one."""
        with self._lock:
            return self._doubts

    def take_shaken(self, chamber: str) -> bool:
        """Tell whether doubts about a chamber's sensors have changed, and forget that."""
        with self._lock:
            shaken = chamber in self._shaken
            self._shaken.discard(chamber)
            return shaken

    def owe(self, chamber: str, not_before: datetime | None = None) -> None:
        """Note that a person has yet to be told something about a chamber, perhaps later."""
        with self._lock:
            self._owed[chamber] = not_before

    def paid(self, chamber: str) -> None:
        """Note that everything has been told."""
        with self._lock:
            self._owed.pop(chamber, None)

    def owes(self, chamber: str, now: datetime) -> bool:
        """Tell whether something is yet to be told, and may be by now."""
        with self._lock:
            not_before = self._owed.get(chamber, now)
            return chamber in self._owed and (not_before is None or now >= not_before)

    def did(self, action: Action) -> None:
        """Note a deed, so that it is not asked for again at once."""
        with self._lock:
            latest = self._touched.get(action.chamber, action.at)
            self._touched[action.chamber] = max(action.at, latest)
            for call in ANSWERS.get(action.deed, frozenset()):
                key = (action.chamber, call)
                self._deeds[key] = max(action.at, self._deeds.get(key, action.at))
            self._pulse += 1

    def undo(self, chamber: str, actions: Iterable[Action]) -> None:
        """Take down what was noted of a chamber's deeds, and note those that still hold."""
        with self._lock:
            self._touched.pop(chamber, None)
            self._deeds = {key: at for key, at in self._deeds.items() if key[0] != chamber}
        for action in actions:
            self.did(action)

    def deeds(self, chamber: str) -> dict[Call, datetime]:
        """Return when each call was last answered in a chamber."""
        with self._lock:
            return {call: at for (name, call), at in self._deeds.items() if name == chamber}

    def touched(self) -> dict[str, datetime]:
        """Return when anything was last done to each chamber."""
        with self._lock:
            return dict(self._touched)

    def answered(self, call: Call) -> dict[str, datetime]:
        """Return when a call was last answered in each chamber."""
        with self._lock:
            return {name: at for (name, what), at in self._deeds.items() if what is call}

    def advise(self, chamber: str, call: Call, advised: Advised) -> None:
        """Note which amounts a person was told."""
        with self._lock:
            self._advised[chamber, call] = advised

    def advised(self, chamber: str, call: Call) -> Advised | None:
        """Return the amounts a person was last told; None since the start."""
        with self._lock:
            return self._advised.get((chamber, call))

    def all_advised(self) -> Amounts:
        """Return all amounts people were last told."""
        with self._lock:
            return dict(self._advised)

    def settle(self, chamber: str, since: datetime, until: datetime) -> None:
        """Note when a chamber's band changed, and until when it is left in peace for that."""
        with self._lock:
            self._settles[chamber] = since, until
            self._rebanded.add(chamber)
            self._pulse += 1

    def settling(self, chamber: str, time: datetime) -> datetime | None:
        """Return until when a chamber is left in peace, None where at that time it isn't."""
        with self._lock:
            settles = self._settles.get(chamber)
        return settles[1] if settles is not None and settles[0] <= time < settles[1] else None

    def take_rebanded(self) -> frozenset[str]:
        """Return the chambers whose band has changed, and forget that."""
        with self._lock:
            rebanded = frozenset(self._rebanded)
            self._rebanded.clear()
            return rebanded

    def stir(self) -> None:
        """Note that something to show has changed."""
        with self._lock:
            self._pulse += 1

    def pulse(self) -> int:
        """Return a number that grows with every change."""
        with self._lock:
            return self._pulse
