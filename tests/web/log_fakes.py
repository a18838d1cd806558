"""A desk with a real log on a real database, and a few days in it."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import timedelta
from pathlib import Path

from chamberwatch.core.growing.batch import Container, EntryKind, Start
from chamberwatch.core.watch.action import Action, Deed
from chamberwatch.core.watch.calibrated import Calibration
from chamberwatch.core.watch.found import Found, Kind
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.reminder import Call, Cause, Event, Priority, advance
from chamberwatch.service.amending import Amending
from chamberwatch.service.board import Board
from chamberwatch.service.books import OutRow, OutState
from chamberwatch.service.chronicle import Chronicle, GrowingTold
from chamberwatch.service.growing.growing import Growing
from chamberwatch.service.growing.places import Place
from chamberwatch.service.growing.told import Telling
from chamberwatch.storage.book import SqlBooks, open_books
from tests.make import at, evidence
from tests.web.desk_fakes import Played, dry_tent
from tests.web.growing_fakes import growing, where_people_live

A_DAY_MIN = 24 * 60.0
TERMINAL = "terminal"


@dataclass
class Logged:
    """The desk, and what lies behind it."""

    played: Played
    books: SqlBooks
    growing: Growing
    chronicle: Chronicle
    amending: Amending

    def did(self, deed: Deed, minutes: float, chamber: str = "tent", **more: object) -> Action:
        action = Action(0, chamber, deed, at(minutes), "", at(minutes), "page")
        with self.books.write() as book:
            return book.actions.add(replace(action, **more))  # type: ignore[arg-type]

    def found(self, kind: Kind, minutes: float, **more: object) -> None:
        event = Found(0, "tent", kind, at(minutes), at(minutes + 4))
        with self.books.write() as book:
            book.found.add(replace(event, **more))  # type: ignore[arg-type]

    def reminded(self, minutes: float, *events: Event, call: Call = Call.MIST) -> None:
        """Let a reminder of the tent go through some events, a minute apart."""
        with self.books.write() as book:
            reminder = book.reminders.of("tent", call, "")
            for n, event in enumerate(events):
                shelf = timedelta(minutes=30) if event is Event.SHELVED else None
                shown = evidence() if event is Event.RAISED else None
                words = "seen (page)" if event is Event.SEEN else ""
                reminder, move = advance(
                    reminder, event, at(minutes + n), Cause(words, shown, shelf)
                )
                book.reminders.save(reminder, [move])

    def sent(
        self, minutes: float, state: OutState, error: str = "", address: str = "phone"
    ) -> None:
        row = OutRow(
            0, 1, 1, address, "Tent: mist now", "Two squeezes.", Priority.MEDIUM,
            state, at(minutes), at(minutes), error=error, chamber="tent",
        )  # fmt: skip
        with self.books.write() as book:
            book.outbox.add([row])

    def checked(self, minutes: float) -> None:
        check = Calibration(
            0, "top", Quantity.HUMIDITY, 1.0, -1.8, at(minutes), "page",
            "salt check with NaCl: 77.1 % sent, 75.3 % true", at(minutes),
        )  # fmt: skip
        with self.books.write() as book:
            book.calibrations.add(check)


def lived(made: Logged) -> None:
    """Let a few days go by."""
    record = made.growing.record
    start = Start("grey-oyster", Container.BAG, 2, "wheat straw", wet_g=4000.0)
    record.start(start, Place("tent", "top"), at(-20 * A_DAY_MIN), "", "page")
    record.tell(1, Telling(EntryKind.OPENED, at(-3 * A_DAY_MIN)), "page")
    record.tell(1, Telling(EntryKind.PINNED, at(-2.2 * A_DAY_MIN), "all round the cut"), "page")
    record.tell(1, Telling(EntryKind.HARVESTED, at(-300), weight_g=620.0), "page")
    made.did(Deed.REFILLED, -2 * A_DAY_MIN)
    told = made.did(Deed.MISTED, -95, amount=3.0, standing_g=20.0, advised=True)
    made.found(
        Kind.MISTING, -96, action=told.id, humidity_before_pct=76.0, humidity_after_pct=91.0,
        held=timedelta(minutes=42),
    )  # fmt: skip
    made.found(
        Kind.VENTING, -200, co2_before_ppm=1480.0, co2_after_ppm=610.0, humidity_before_pct=92.0,
        humidity_after_pct=71.0,
    )  # fmt: skip
    made.did(Deed.NOTED, -1500, note="caps like coins")
    made.reminded(-100, Event.RAISED, Event.SEEN, Event.RETURNED)
    made.sent(-100, OutState.SENT)
    made.sent(-99, OutState.FAILED, "the service refused it (HTTP 401)")
    made.sent(-98, OutState.SENT, address=TERMINAL)
    made.checked(-4000)


@contextmanager
def logged(folder: Path, *, empty: bool = False) -> Iterator[Logged]:
    """Give a desk with a log."""
    played = dry_tent()
    books = open_books(f"sqlite:///{folder / 'log.db'}", at(0))
    house, board = where_people_live(), Board(0.0)
    grows = growing(books, played.clock, house)
    chronicle = Chronicle(books, house, GrowingTold(grows.record, grows.table), TERMINAL)
    amending = Amending(books, played.clock, house, board)
    played.desk = replace(
        played.desk, books=books, growing=grows, chronicle=chronicle, amending=amending
    )
    made = Logged(played, books, grows, chronicle, amending)
    if not empty:
        lived(made)
    yield made
    books.close()
