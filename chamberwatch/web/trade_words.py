"""Words of the trade as a page writes them: what was done, where a sensor hangs, what it grows in.

What is kept and what the API says are the values of the kinds themselves; a page says them in the
language spoken.
"""

from collections.abc import Callable, Mapping
from typing import Final

from chamberwatch.core.growing.batch import Container
from chamberwatch.core.watch.action import Deed
from chamberwatch.core.watch.chamber import Sensor
from chamberwatch.core.watch.course import Way
from chamberwatch.core.watch.reading import Place
from chamberwatch.core.watch.reminder import Priority
from chamberwatch.web.language import _, marked, ngettext

_DEEDS: Final[Mapping[Deed, str]] = {
    Deed.MISTED: marked("misted"),
    Deed.VENTED: marked("vented"),
    Deed.REFILLED: marked("refilled"),
    Deed.OPENED: marked("opened"),
    Deed.HARVESTED: marked("harvested"),
    Deed.MOVED: marked("moved"),
    Deed.SOAKED: marked("soaked"),
    Deed.CLEANED: marked("cleaned"),
    Deed.NOTED: marked("noted"),
}
_PLACES: Final[Mapping[Place, str]] = {
    Place.AIR: marked("air"),
    Place.CORE: marked("core"),
    Place.SURFACE: marked("surface"),
}
_WAYS: Final[Mapping[Way, str]] = {
    Way.RISING: marked("rising"),
    Way.FALLING: marked("falling"),
    Way.STEADY: marked("steady"),
}
_PRIORITIES: Final[Mapping[Priority, str]] = {
    Priority.LOW: marked("low priority"),
    Priority.MEDIUM: marked("medium priority"),
    Priority.HIGH: marked("high priority"),
}
_CONTAINERS: Final[Mapping[Container, Callable[[int], str]]] = {
    Container.BAG: lambda n: ngettext("sealed bag", "%(num)s sealed bags", n),
    Container.JAR: lambda n: ngettext("jar", "%(num)s jars", n),
    Container.BUCKET: lambda n: ngettext("bucket", "%(num)s buckets", n),
    Container.TRAY: lambda n: ngettext("tray", "%(num)s trays", n),
    Container.LOG: lambda n: ngettext("log", "%(num)s logs", n),
}


def deed_name(deed: Deed) -> str:
    """Name a deed that was done."""
    return _(_DEEDS[deed])


def place_name(place: Place) -> str:
    """Name the kind of place where a sensor hangs."""
    return _(_PLACES[place])


def where(sensor: Sensor) -> str:
    """Say where a sensor hangs: in a block, on a surface, at a shelf, or just in the air."""
    hangs_free = sensor.place is Place.AIR
    return sensor.shelf if hangs_free and sensor.shelf else place_name(sensor.place)


def way_name(way: Way) -> str:
    """Say which way a value goes."""
    return _(_WAYS[way])


def priority_name(priority: Priority) -> str:
    """Name a priority."""
    return _(_PRIORITIES[priority])


def container_name(container: Container, count: int, *, sealed: bool) -> str:
    """Say what it grows in, and how many where it is more than one; a bag that was cut is open."""
    if container is Container.BAG and not sealed:
        return ngettext("cut bag", "%(num)s cut bags", count)
    return _CONTAINERS[container](count)
