"""The first steps on the page *Set-up*: what is there already, and what comes next."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from chamberwatch.core.errors import SettingsError
from chamberwatch.service.views import SensorNow
from chamberwatch.web.desk import Desk
from chamberwatch.web.language import _
from chamberwatch.web.pages.told import PRINTED


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a beginning.

    Attributes:
        title: what it is about.
        words: why, in a line.
        address: where it is done.
        done: it needs nothing more.
        needed: nothing works without it; the others only make it better.
    """

    title: str
    words: str
    address: str
    done: bool
    needed: bool = True


def over(begun: Sequence[Step]) -> bool:
    """Tell whether all is done that is needed."""
    return all(step.done or not step.needed for step in begun)


def steps(desk: Desk, set_up: str, sensors: Sequence[SensorNow]) -> Iterator[Step]:
    """Yield the steps of a beginning, in their order.

    Args:
        desk: what is there already.
        set_up: address of the page *Set-up*.
        sensors: of the whole house.
    """
    yield Step(
        _("The broker"),
        _("What your sensors publish to; most often it runs on this machine."),
        f"{set_up}/broker",
        desk.history.health().broker_connected,
    )
    yield Step(
        _("Place and units"),
        _("Your time zone, so that times of day are yours; °C or °F, g or oz."),
        f"{set_up}/units",
        _placed(desk),
        needed=False,
    )
    yield from _of_the_house(desk, set_up, sensors)
    if desk.growing is not None:
        yield Step(
            _("The first batch"),
            _("Say what grows, and its band follows."),
            "/growing/start",
            bool(desk.growing.record.batches()),
        )
    if desk.addresses is not None:
        yield Step(
            _("Your phone"),
            _("Where a reminder goes, so that you needn't look here."),
            f"{set_up}/telling/new",
            any(each.name != PRINTED for each in desk.addresses.all()),
            needed=False,
        )


def _of_the_house(desk: Desk, set_up: str, sensors: Sequence[SensorNow]) -> Iterator[Step]:
    house = desk.history.chambers()
    yield Step(
        _("A chamber"),
        _("Your tent, tub or cupboard: what you call it, how large it is, its shelves."),
        f"{set_up}/chambers/new",
        any(chamber.stage is not None for chamber in house),
    )
    yield Step(
        _("The room around it"),
        _("Its air is what comes in when you vent. Worth it if a sensor hangs there too."),
        f"{set_up}/chambers/new?kind=room",
        any(chamber.surrounding is not None for chamber in house),
        needed=False,
    )
    yield Step(
        _("Sensors"),
        _("Listen for what your sensors send, and say whose it is."),
        f"{set_up}/sensors",
        any(one.heard_ago is not None for one in sensors),
    )


def sensors_of(desk: Desk) -> list[SensorNow]:
    """Return every sensor of the house as it stands."""
    history = desk.history
    return [one for chamber in history.chambers() for one in history.now(chamber.name).sensors]


def _placed(desk: Desk) -> bool:
    """Tell whether somebody has said where the house stands."""
    if desk.editing is None:
        return True
    try:
        return "timezone" in desk.editing.content().get("site", {})
    except SettingsError:
        # The page says above what is wrong with the file.
        return True
