"""Before the night, and before leaving: what will not hold is told once, while there is time.

What was looked at stands in the book, so that a restart neither asks twice nor forgets. Whoever
was told need not be woken for it, nor told again in the hours it was about.
"""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, tzinfo
from enum import StrEnum
from typing import Final

from chamberwatch.core import summary_words
from chamberwatch.core.errors import RefusedError
from chamberwatch.core.watch.chamber import Chamber, House
from chamberwatch.core.watch.hours import Manner, Wake, is_away, last_closing, moment, speaks
from chamberwatch.core.watch.outlook import HoldAnswer
from chamberwatch.core.watch.reading import Place, Quantity
from chamberwatch.core.watch.reminder import QUIET, Call, Priority
from chamberwatch.service.board import Board
from chamberwatch.service.books import Book, OutKind, OutRow
from chamberwatch.service.counselling import Counselling
from chamberwatch.service.rows import to_send

LATE: Final = timedelta(hours=1)
"""So long after bedtime it may still be said; after that nobody is up to do anything."""

SAID_LATELY: Final = timedelta(hours=1)
LEAVES_BEFORE: Final = timedelta(minutes=15)
"""So long before the first visit of the day it is said what won't hold till the next one."""

LONG_AWAY: Final = timedelta(hours=4)
"""Until a visit that is nearer nothing is foretold by day."""

WET_SHARE: Final = 0.9
"""Of the band: air above this has wet walls behind it."""

AGAIN_AFTER: Final = timedelta(days=7)
"""CO2 alone is put right by an opening, once; it is not told every evening."""


class How(StrEnum):
    """What came of looking at a night."""

    HOLDS = "holds"
    FORECAST = "forecast"
    REMINDER = "reminder"
    """A reminder had said the same a short while before."""
    OF_CO2 = "of CO2 alone"


@dataclass(frozen=True, slots=True)
class Stretch:
    """Hours without anybody: what they are called, when to speak of them, when they end."""

    name: str
    at: datetime
    until: datetime


NIGHT: Final = "night"
DAY: Final = "day"


@dataclass(frozen=True, slots=True)
class Night:
    """What was said of one night, or of the hours of one day, to one address, of one chamber.

    Attributes:
        bedtime: which night.
        how: what was said.
        told: when.
        morning: until then it was spoken of.
        co2: when CO2 alone was last told.
    """

    bedtime: datetime
    how: How
    told: datetime
    morning: datetime
    co2: datetime | None = None


@dataclass(frozen=True, slots=True)
class Nights:
    """Knows which night was foretold to whom, and foretells it. Safe from any thread.

    Attributes:
        house: what the grower declared.
        board: what was done to each chamber.
        counsel: answers “will it hold?”.
        manners: how each address wants to be spoken to.
        zone: of the site.
    """

    house: House
    board: Board
    counsel: Counselling
    manners: Mapping[str, Manner]
    zone: tzinfo

    def write(self, book: Book, now: datetime) -> bool:
        """Foretell what is to be foretold at this moment; return whether anything was."""
        told = False
        for address, manner in self.manners.items():
            if manner.least > Priority.MEDIUM or is_away(manner.hours, now):
                continue
            for chamber in self._open():
                for stretch in ahead(manner, chamber, now, self.zone):
                    told |= self._look(book, address, chamber, (stretch, now))
        return told

    def _open(self) -> Iterable[Chamber]:
        """Return the chambers with an open crop: sealed bags keep their own humidity."""
        judged = (c.band(Quantity.HUMIDITY, Place.AIR) for c in self.house.chambers.values())
        together = zip(self.house.chambers.values(), judged, strict=True)
        return [chamber for chamber, band in together if band is not None]

    def _look(
        self, book: Book, address: str, chamber: Chamber, times: tuple[Stretch, datetime]
    ) -> bool:
        """Look at a stretch once; return whether a message was written."""
        stretch, now = times
        key = _key(stretch.name, address, chamber.name)
        before = _loads(book.kept.text(key))
        if before is not None and before.bedtime == stretch.at:
            return False
        if book.reminders.of(chamber.name, Call.MIST, "").state in QUIET:
            return False
        try:
            answer = self.counsel.hold(chamber.name, stretch.until, now)
        except RefusedError:
            # Nothing heard just now; the next rounds look again, for as long as it is of use.
            return False
        co2 = before.co2 if before is not None else None
        how = self._how(book, address, chamber, (answer, co2), now)
        if how is How.OF_CO2 and stretch.name == DAY:
            how = How.HOLDS
        if how in (How.FORECAST, How.OF_CO2):
            co2 = now if how is How.OF_CO2 else co2
            book.outbox.add([self._row(address, chamber, answer, now)])
        book.kept.keep_text(key, _dumps(Night(stretch.at, how, now, stretch.until, co2)))
        return how in (How.FORECAST, How.OF_CO2)

    def _how(
        self,
        book: Book,
        address: str,
        chamber: Chamber,
        found: tuple[HoldAnswer, datetime | None],
        now: datetime,
    ) -> How:
        answer, co2 = found
        if answer.holds:
            return How.HOLDS
        if answer.mist is None:
            return How.HOLDS if co2 is not None and now - co2 < AGAIN_AFTER else How.OF_CO2
        if self._wet_all_over(chamber, now):
            return How.HOLDS
        lately = self._said_lately(book, address, chamber.name, now)
        return How.REMINDER if lately else How.FORECAST

    def _wet_all_over(self, chamber: Chamber, now: datetime) -> bool:
        """Tell whether the air is as humid as only walls that are wet all over keep it.

        How much water stands on them nobody can weigh, and to reckon it is off by a factor of
        two; but it has hardly ever been too little for the hours ahead (in simulated tents).
        """
        situation = self.counsel.situation(chamber.name, now)
        if situation is None or situation.humidity is None:
            return False
        low, high = situation.humidity
        return situation.air.humidity_pct >= low + WET_SHARE * (high - low)

    def _said_lately(self, book: Book, address: str, chamber: str, now: datetime) -> bool:
        """Tell whether a reminder has said so, and nothing was done since."""
        since = max(now - SAID_LATELY, self._misted(chamber) or now - SAID_LATELY)
        for sent in book.outbox.sent_since(since):
            if sent.address == address and sent.kind is OutKind.REMINDER:
                reminder = book.reminders.get(sent.reminder)
                if reminder is not None and (reminder.chamber, reminder.call) == (
                    chamber,
                    Call.MIST,
                ):
                    return True
        return False

    def _misted(self, chamber: str) -> datetime | None:
        return self.board.deeds(chamber).get(Call.MIST)

    def _row(self, address: str, chamber: Chamber, answer: HoldAnswer, now: datetime) -> OutRow:
        manner = self.manners[address]
        ends = max(answer.until, now)
        open_then = speaks(manner.hours, Priority.MEDIUM, ends, self.zone)
        hushed = answer.mist is not None and not open_then and manner.wake is not Wake.ALWAYS
        words = summary_words.forecast(chamber, answer, now, self.zone, hushed=hushed)
        return to_send(
            address, words, OutKind.FORECAST, now, chamber=chamber.name, expires=now + LATE
        )

    def foretold(self, book: Book, address: str, chamber: str, now: datetime) -> datetime | None:
        """Return until when dry air in a chamber was foretold to an address; None: it was not.

        A forecast that did not go out says nothing, and after a misting it is about other air.
        """
        for name in (NIGHT, DAY):
            night = _loads(book.kept.text(_key(name, address, chamber)))
            if night is not None and night.told <= now < night.morning:
                until = self._told(book, address, chamber, night)
                if until is not None:
                    return until
        return None

    def _told(self, book: Book, address: str, chamber: str, night: Night) -> datetime | None:
        """Return until when what was said of a stretch holds; None: it said nothing of dryness."""
        misted = self._misted(chamber)
        if misted is not None and misted > night.told:
            return None
        if night.how is not How.FORECAST:
            return None
        went_out = any(
            sent.kind is OutKind.FORECAST and (sent.address, sent.chamber) == (address, chamber)
            for sent in book.outbox.sent_since(night.told - timedelta(seconds=1))
        )
        return night.morning if went_out else None


def bedtime(manner: Manner, chamber: Chamber, now: datetime, zone: tzinfo) -> datetime | None:
    """Return the bedtime that has just come; None while it is not."""
    today = now.astimezone(zone).date()
    # One after midnight belongs to the evening before.
    found = (_bedtime_of(manner, chamber, day, zone) for day in (today, _before(today)))
    return next((at for at in found if at is not None and at <= now < at + LATE), None)


def _bedtime_of(manner: Manner, chamber: Chamber, day: date, zone: tzinfo) -> datetime | None:
    if manner.bedtime is not None:
        return moment(day, manner.bedtime, zone)
    closes = last_closing(manner.hours, day, zone)
    return min(moment(day, chamber.visits[-1], zone), closes) if closes is not None else None


def _before(day: date) -> date:
    return day - timedelta(days=1)


def ahead(manner: Manner, chamber: Chamber, now: datetime, zone: tzinfo) -> Iterable[Stretch]:
    """Return the stretches without anybody that are to be spoken of at this moment."""
    if manner.foretells:
        at = bedtime(manner, chamber, now, zone)
        if at is not None:
            yield Stretch(NIGHT, at, morning_visit(chamber, now, zone))
    if manner.foretells_day:
        leaves, until = _leaving(manner, chamber, now, zone)
        due = leaves <= now < leaves + LATE and until - now >= LONG_AWAY
        if due and speaks(manner.hours, Priority.MEDIUM, now, zone):
            yield Stretch(DAY, leaves, until)


def _leaving(
    manner: Manner, chamber: Chamber, now: datetime, zone: tzinfo
) -> tuple[datetime, datetime]:
    """Return when the grower leaves today, and when somebody comes by after that."""
    today = now.astimezone(zone).date()
    first = moment(today, chamber.visits[0], zone)
    leaves = first - LEAVES_BEFORE if manner.leaves is None else moment(today, manner.leaves, zone)
    later = (moment(today, visit, zone) for visit in chamber.visits)
    until = next((at for at in later if at >= leaves + LONG_AWAY), leaves)
    return leaves, until


def morning_visit(chamber: Chamber, now: datetime, zone: tzinfo) -> datetime:
    """Return when the grower first comes by on the next day."""
    today = now.astimezone(zone).date()
    visits = (moment(today + timedelta(days=d), chamber.visits[0], zone) for d in range(2))
    return next((at for at in visits if at > now), now + timedelta(hours=12))


def _key(stretch: str, address: str, chamber: str) -> str:
    return f"{stretch} {address} {chamber}"


def _dumps(night: Night) -> str:
    times = {"bedtime": night.bedtime, "told": night.told, "morning": night.morning}
    if night.co2 is not None:
        times["co2"] = night.co2
    return json.dumps({"how": night.how.value, **{k: t.isoformat() for k, t in times.items()}})


def _loads(text: str | None) -> Night | None:
    """Return what was kept of a night; None where that can't be read, as if never looked at."""
    if text is None:
        return None
    try:
        said: dict[str, str] = json.loads(text)
        how = How(said.pop("how"))
        times = {key: datetime.fromisoformat(time).astimezone(UTC) for key, time in said.items()}
        return Night(how=how, **times)
    except (ValueError, KeyError, TypeError, AttributeError, OverflowError):
        return None
