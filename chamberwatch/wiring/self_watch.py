"""The watcher watched: what it says of itself outside, and how it looks itself over."""

import threading
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from typing import Final
from zoneinfo import ZoneInfo

from chamberwatch import __version__
from chamberwatch.clock import WallClock
from chamberwatch.core.watch.reading import Reading
from chamberwatch.mqtt.broker import BrokerAddress, BrokerLink
from chamberwatch.mqtt.out import OutLink
from chamberwatch.mqtt.probing import knock
from chamberwatch.mqtt.topics import OwnTopics
from chamberwatch.notify.calling import Calling
from chamberwatch.service import announced
from chamberwatch.service.announcing import Announcing
from chamberwatch.service.board import Board
from chamberwatch.service.checking import Checkup, Probes
from chamberwatch.service.history import History
from chamberwatch.service.ports import Clock
from chamberwatch.service.sign_of_life import SignOfLife
from chamberwatch.settings import Settings
from chamberwatch.storage.place import place_of
from chamberwatch.storage.probing import look_at_disk

LOOK_S: Final = 0.1
WAITS: Final = "The broker has not answered yet; it is asked until it does."


@dataclass(frozen=True, slots=True)
class SelfWatch:
    """What tells others how the watcher is.

    Attributes:
        checkup: looks itself over.
        out: the client that speaks; None: nothing is to be said.
        announcing: what says it.
        sign_of_life: calls an address; None: there is none.
    """

    checkup: Checkup
    out: OutLink | None = None
    announcing: Announcing | None = None
    sign_of_life: SignOfLife | None = None

    def troubles(self) -> tuple[str, ...]:
        """Return what is wrong with these, in plain words with the cure."""
        found = (
            self.out.trouble() if self.out is not None else None,
            self.sign_of_life.trouble() if self.sign_of_life is not None else None,
        )
        return tuple(trouble for trouble in found if trouble is not None)

    def farewell(self, now: datetime, *, orderly: bool) -> None:
        """Say that the watcher is at its end, and leave."""
        if self.out is not None:
            self.out.stop(announced.gone(__version__, now, orderly=orderly))

    def rest(self) -> None:
        """Leave without a word: others go on in our place at once."""
        if self.out is not None:
            self.out.stop()


def address_of(settings: Settings) -> BrokerAddress:
    """Return where the broker is and how to enter."""
    mqtt = settings.mqtt
    password = mqtt.password.get_secret_value() if mqtt.password else None
    return BrokerAddress(
        mqtt.host, mqtt.port, mqtt.username, password, mqtt.tls, mqtt.client_id, mqtt.ca_file
    )


def own_topics(settings: Settings) -> OwnTopics:
    """Return where chamberwatch itself speaks."""
    return OwnTopics(settings.mqtt.out)


def speaker(settings: Settings) -> OutLink | None:
    """Return the client that speaks; None: nothing is to be said.

    Raises:
        BrokerError: the address can't be one, or the certificates can't be used.
    """
    own = own_topics(settings)
    if not own.prefix:
        return None
    last_will = announced.gone(__version__, None, orderly=False)
    # How long a connection stood is real, also where the demo's clock is paced.
    return OutLink(address_of(settings), own, last_will, WallClock())


def watch_over(
    history: History,
    checkup: Checkup,
    out: OutLink | None,
    sign: SignOfLife | None,
    troubles: Callable[[], tuple[str, ...]],
) -> SelfWatch:
    """Join what tells others how the watcher is."""
    if out is None:
        return SelfWatch(checkup, sign_of_life=sign)
    return SelfWatch(checkup, out, Announcing(history, out, troubles), sign)


def sign_of_life(settings: Settings, ailing: Callable[[], str], clock: Clock) -> SignOfLife | None:
    """Return what calls an address while all is well; None: none is set."""
    wanted = settings.sign_of_life
    if wanted is None:
        return None
    return SignOfLife(Calling(wanted.url.get_secret_value()), wanted.every, ailing, clock)


def checkup_beside(link: BrokerLink, settings: Settings, clock: Clock, board: Board) -> Checkup:
    """Return a checkup of the daemon itself: its own link knows how it is with the broker."""
    pause = threading.Event()

    def newest() -> Reading | None:
        return max(board.newest().values(), default=None)

    def trouble(within_s: float) -> str | None:
        for _ in range(round(within_s / LOOK_S)):
            if link.connected() or link.trouble():
                break
            pause.wait(LOOK_S)
        waits = None if link.connected() else WAITS
        return link.trouble() or waits

    return Checkup(_probes(settings, trouble), clock, newest, zone=_zone(settings))


def checkup_alone(settings: Settings) -> Checkup:
    """Return a checkup without a daemon, or beside one that runs: it knocks at the broker."""
    probes = _probes(settings, partial(knock, address_of(settings)))
    return Checkup(probes, WallClock(), zone=_zone(settings))


def _zone(settings: Settings) -> ZoneInfo:
    return ZoneInfo(settings.site.timezone)


def _probes(settings: Settings, broker: Callable[[float], str | None]) -> Probes:
    return Probes(
        disk=partial(look_at_disk, settings.database.nearby),
        database=place_of(settings.database.address).look,
        broker=broker,
        address=str(address_of(settings)),
    )
