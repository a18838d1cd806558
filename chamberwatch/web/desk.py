"""What the web room is given to work with. It has no SQL and no rules of its own."""

from dataclasses import dataclass, field
from typing import Final, TypeVar, cast
from zoneinfo import ZoneInfo

from fastapi import Request

from chamberwatch.core.errors import RefusedError
from chamberwatch.core.shown_in import ShownIn
from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.service.books import Books
from chamberwatch.service.claiming import Claiming
from chamberwatch.service.growing.growing import Growing
from chamberwatch.service.growing.photos import Photos
from chamberwatch.service.ports import Clock
from chamberwatch.service.wellness import Wellness
from chamberwatch.web.asks import (
    Charting,
    Chronicling,
    Climates,
    Foreseeing,
    History,
    Lookback,
    Reviewing,
    Strips,
)
from chamberwatch.web.language import _, marked
from chamberwatch.web.tells import (
    Addresses,
    Amending,
    Calibrating,
    Editing,
    Guiding,
    Logbook,
    Serving,
)
from chamberwatch.web.whence import Reach

T = TypeVar("T")

ASK_THE_DAEMON: Final = marked("Ask the daemon that takes readings.")


@dataclass(frozen=True, slots=True)
class Desk:
    """Everything the faces stand on.

    Attributes:
        history: what is asked.
        logbook: what is told.
        clock: the time.
        books: only for answers kept under an `Idempotency-Key`, links already used, and who may
            come in.
        zone: in which the pages write times.
        address: where a phone reaches the pages, without a slash at the end; None: it can't.
        calibrating: takes in checks of sensors; None: they can't be told here.
        lookback: what was found in the record; None: nobody looks.
        growing: the growing record and what follows from it; None: it is not kept here.
        serving: takes reminders out of service; None: it can't be told here.
        reviewing: looks back on weeks; None: nobody does.
        addresses: who is told; None: nobody is told from here.
        names: of this machine in its home network.
        foreseeing: when limits will be reached; None: nobody looks ahead.
        charting: what a chart shows; None: nothing is drawn here.
        strips: what was read in the last hours; None: nobody remembers.
        climate: how the air of a week was; None: nobody looks back.
        photos: photos beside notes; None: none are kept here.
        chronicle: the log; None: it is not kept here.
        amending: puts right what was told of deeds; None: it can't be told here.
        guided: remembers checks under way; None: nothing is checked from here.
        shown_in: units in which temperatures and weights are written.
        claiming: hears what nobody claims and makes sensors of it; None: nothing listens here.
        reach: how a phone may come to these pages; None: it is not known here.
        editing: changes the settings; None: they can't be changed here.
        wellness: says how everything is; None: nothing here does.
    """

    history: History
    logbook: Logbook
    clock: Clock
    books: Books
    zone: ZoneInfo
    address: str | None
    calibrating: Calibrating | None = None
    lookback: Lookback | None = None
    growing: Growing | None = None
    serving: Serving | None = None
    reviewing: Reviewing | None = None
    addresses: Addresses | None = None
    names: frozenset[str] = frozenset()
    foreseeing: Foreseeing | None = None
    charting: Charting | None = None
    strips: Strips | None = None
    climate: Climates | None = None
    photos: Photos | None = None
    chronicle: Chronicling | None = None
    amending: Amending | None = None
    guided: Guiding | None = None
    shown_in: ShownIn = field(default_factory=ShownIn)
    claiming: Claiming | None = None
    reach: Reach | None = None
    editing: Editing | None = None
    wellness: Wellness | None = None


def desk_of(request: Request) -> Desk:
    """Return the desk this application was made with."""
    return cast(Desk, request.app.state.desk)


def chamber_named(desk: Desk, name: str) -> Chamber:
    """Return a chamber as it is declared; nothing is reckoned of its air.

    Raises:
        UnknownNameError: no such chamber.
    """
    found = next((each for each in desk.history.chambers() if each.name == name), None)
    return found if found is not None else desk.history.now(name).chamber


def _there(part: T | None, missing: str, cure: str = "") -> T:
    """Return a part of the desk.

    Raises:
        RefusedError: it is not there.
    """
    if part is None:
        raise RefusedError(f"{missing} {cure or _(ASK_THE_DAEMON)}")
    return part


def addresses_of(desk: Desk) -> Addresses:
    """Return who is told.

    Raises:
        RefusedError: nobody is told from here.
    """
    return _there(desk.addresses, _("Nobody is told from here."))


def wellness_of(request: Request) -> Wellness:
    """Return what says how everything is.

    Raises:
        RefusedError: nothing here does.
    """
    return _there(desk_of(request).wellness, _("Nothing here tells how everything is."))


def claiming_of(request: Request) -> Claiming:
    """Return what hears topics that nobody claims.

    Raises:
        RefusedError: nothing listens here.
    """
    return _there(desk_of(request).claiming, _("Nothing listens here."))


def growing_of(request: Request) -> Growing:
    """Return the growing record.

    Raises:
        RefusedError: it is not kept here.
    """
    return _there(desk_of(request).growing, _("No growing record is kept here."))


def photos_of(request: Request) -> Photos:
    """Return the photos.

    Raises:
        RefusedError: none are kept here.
    """
    return _there(desk_of(request).photos, _("No photos are kept here."))


def serving_of(request: Request) -> Serving:
    """Return what takes reminders out of service.

    Raises:
        RefusedError: nothing here does.
    """
    return _there(desk_of(request).serving, _("Nothing is taken out of service here."))


def reviewing_of(desk: Desk) -> Reviewing:
    """Return what looks back on weeks.

    Raises:
        RefusedError: nobody does here.
    """
    return _there(desk.reviewing, _("Nobody looks back on weeks here."))


def climate_of(desk: Desk) -> Climates:
    """Return what looks back on the air.

    Raises:
        RefusedError: nobody does here.
    """
    return _there(desk.climate, _("Nobody looks back on the air here."))


def charting_of(desk: Desk) -> Charting:
    """Return what answers what a chart shows.

    Raises:
        RefusedError: nothing here does.
    """
    return _there(desk.charting, _("Nothing is drawn here."))


def chronicle_of(request: Request) -> Chronicling:
    """Return the log.

    Raises:
        RefusedError: it is not kept here.
    """
    return _there(desk_of(request).chronicle, _("No log is kept here."))


def amending_of(request: Request) -> Amending:
    """Return what puts deeds right.

    Raises:
        RefusedError: nothing here does.
    """
    return _there(desk_of(request).amending, _("Nothing is put right here."))


def editing_of(desk: Desk) -> Editing:
    """Return what changes the settings.

    Raises:
        RefusedError: they can't be changed here.
    """
    return _there(
        desk.editing,
        _("The settings can't be changed from here."),
        _("Change the file by hand, and start chamberwatch again."),
    )


def calibrating_of(request: Request) -> Calibrating:
    """Return what takes in checks of sensors.

    Raises:
        RefusedError: nothing here does.
    """
    return _there(desk_of(request).calibrating, _("Calibrations are not kept here."))


def guided_of(request: Request) -> Guiding:
    """Return what remembers checks under way.

    Raises:
        RefusedError: nothing here does.
    """
    return _there(desk_of(request).guided, _("No sensor is checked from here."))
