"""What more than one part of the machine works with, and how one run differs from another."""

import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import TextIO
from zoneinfo import ZoneInfo

from chamberwatch.core.watch.chamber import House
from chamberwatch.service.board import Board
from chamberwatch.service.correcting import Corrector
from chamberwatch.service.counselling import Counselling
from chamberwatch.service.foreseeing import Foreseeing
from chamberwatch.service.growing.bands_then import BandsThen
from chamberwatch.service.growing.growing import Growing
from chamberwatch.service.history import Vitals
from chamberwatch.service.knowing import Knowing
from chamberwatch.service.ports import Clock, Messenger
from chamberwatch.service.responding import Responding
from chamberwatch.service.telling import Teller
from chamberwatch.storage.book import SqlBooks
from chamberwatch.web.tells import Editing
from chamberwatch.wiring.claiming import Ears
from chamberwatch.wiring.pictures import Picture
from chamberwatch.wiring.speaking import Speaking


@dataclass(frozen=True, slots=True)
class Occasion:
    """How this run differs from another.

    Attributes:
        terminal: where the terminal's messages go.
        page: address of the pages as the terminal's reader can open them.
        vitals: asks the daemon how its parts are.
        silent_until: readings up to this time are never spoken of.
        ailing: asks the daemon what of it has died or hangs; empty when all is alive.
        ears: hear what no sensor claims, while somebody looks.
        editing: changes the settings; None: they can't be changed in this run.
        started: when this run began; None: with these parts.
        beside: gives the texts that are kept with a backup, by the ends of their names.
    """

    terminal: TextIO
    page: str
    vitals: Callable[[], Vitals]
    silent_until: datetime | None = None
    ailing: Callable[[], str] = lambda: ""
    ears: Ears = field(default_factory=Ears)
    editing: Editing | None = None
    started: datetime | None = None
    beside: Callable[[], Mapping[str, str]] = dict


@dataclass(frozen=True, slots=True)
class Common:
    """What more than one part of the machine works with."""

    books: SqlBooks
    clock: Clock
    zone: ZoneInfo
    house: House
    board: Board
    growing: Growing
    wake: threading.Event
    corrector: Corrector
    messengers: dict[str, Messenger]
    picture: Picture | None
    knowing: Knowing
    counsel: Counselling
    responding: Responding
    spoken: Speaking
    teller: Teller
    foreseeing: Foreseeing
    bands: BandsThen
