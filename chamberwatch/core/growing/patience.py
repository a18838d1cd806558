"""How long and how far a value may be outside before anything is said: the usual, and one's own.

The names are those of IEC 62682 / ANSI/ISA-18.2 and OPC 10000-9, annex B. Their tables give no
figures for humidity and carbon dioxide; those here are common practice.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields, replace
from datetime import timedelta
from typing import Final


@dataclass(frozen=True, slots=True)
class Patience:
    """How long and how far before a rule speaks.

    Attributes:
        deadband: how far inside the limit a value must be to count as back, in its own unit.
        on_delay: how long outside the band before it counts.
        off_delay: how long back inside before it counts as over.
        harm_on_delay: how long outside a harm limit before it counts; an opened zip is not harm.
        realarm: what is harmful and goes on is told anew after so long, then four times as long,
            and so on; None: never.
        priority: how much the band matters, a value of core.watch.reminder.Priority; None: as
            is usual for what has to be done. Harm is always of high priority.
    """

    deadband: float
    on_delay: timedelta
    off_delay: timedelta
    harm_on_delay: timedelta
    realarm: timedelta | None = timedelta(minutes=30)
    priority: int | None = None


@dataclass(frozen=True, slots=True)
class OwnPatience:
    """What somebody asked for in place of the usual; None: as usual."""

    deadband: float | None = None
    on_delay: timedelta | None = None
    off_delay: timedelta | None = None
    harm_on_delay: timedelta | None = None
    realarm: timedelta | None = None
    priority: int | None = None

    def over(self, usual: Patience) -> Patience:
        """Return the usual, changed where something was asked for."""
        asked = {each.name: getattr(self, each.name) for each in fields(self)}
        return replace(
            usual, **{name: value for name, value in asked.items() if value is not None}
        )


def _minutes(value: int) -> timedelta:
    return timedelta(minutes=value)


# Keys are the values of core.watch.reading.Quantity: growing lies below watching and does not
# know it. The deadbands are about the noise of a home sensor, the delays one to a few times its
# response.
PATIENCE: Final[Mapping[str, Patience]] = {
    "humidity": Patience(2.0, _minutes(3), _minutes(2), _minutes(10)),
    "temperature": Patience(0.5, _minutes(10), _minutes(5), _minutes(10)),
    "co2": Patience(75.0, _minutes(5), _minutes(3), _minutes(15)),
}

# The air of a room changes slowly and mould takes days; so only what lasts is worth a word.
ROOM_PATIENCE: Final[Mapping[str, Patience]] = {
    "humidity": Patience(3.0, _minutes(60), _minutes(30), _minutes(60), priority=1),
    "co2": Patience(250.0, _minutes(5), _minutes(5), _minutes(5)),
}


def neediest(several: Iterable[Patience]) -> Patience | None:
    """Return what is patient enough for all: the least of each; None of none.

    Two species in one chamber: whoever wants to be seen to sooner is.
    """
    all_of_them = tuple(several)
    if not all_of_them:
        return None
    return Patience(
        deadband=min(each.deadband for each in all_of_them),
        on_delay=min(each.on_delay for each in all_of_them),
        off_delay=min(each.off_delay for each in all_of_them),
        harm_on_delay=min(each.harm_on_delay for each in all_of_them),
        realarm=min((r for each in all_of_them if (r := each.realarm) is not None), default=None),
        priority=max(
            (p for each in all_of_them if (p := each.priority) is not None), default=None
        ),
    )
