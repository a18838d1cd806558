"""The kinds of checks of a sensor, and what was typed into their forms."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import timedelta
from typing import Annotated, Final

from pydantic import BaseModel, Field

from chamberwatch.core.air.calibration import FRESH_AIR_PPM, STEPS, Salt, SaltReading
from chamberwatch.core.errors import RefusedError
from chamberwatch.core.shown_in import FAHRENHEIT_PER_K, FREEZING_F, TemperatureUnit
from chamberwatch.core.watch.checked import ByHand, Check, FreshAirCheck, ReferenceCheck, SaltCheck
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.service.guided import Begun
from chamberwatch.web.figures import Figures
from chamberwatch.web.language import _, found, marked
from chamberwatch.web.pages.said import Once
from chamberwatch.web.pages.typed_numbers import number_typed

Text = Annotated[str, Field(max_length=200)]


@dataclass(frozen=True, slots=True)
class Kind:
    """A way to check a sensor.

    Attributes:
        name: short, as it is kept.
        title: what a person calls it.
        gist: what it takes and what comes of it.
        quantity: what it corrects; None: any.
        wait: how long the sensor needs.
        steps: what to do, in order.
    """

    name: str
    title: str
    gist: str
    quantity: Quantity | None
    wait: timedelta
    steps: tuple[str, ...]

    def said(self) -> "Kind":
        """Return it with its words in the language spoken; steps of the core stay as they are."""
        return replace(
            self,
            title=_(self.title),
            gist=_(self.gist, ppm=f"{FRESH_AIR_PPM:.0f}"),
            steps=tuple(found(step) for step in self.steps),
        )


ONE, TWO, AIR, THERMOMETER, HAND = "one", "two", "air", "thermometer", "hand"

_IN_AIR: Final = (
    marked("Take the sensor outdoors, or put it at a wide open window where the wind comes in."),
    marked(
        "Leave it for half an hour, and stay away from it: your breath holds a hundred times as "
        "much."
    ),
    marked("Look whether the value has come to rest, and write it down here."),
    marked(
        "If the sensor has an automatic baseline of its own, turn that off: the two would pull "
        "apart."
    ),
)
_BESIDE: Final = (
    marked("Take a thermometer that you trust to 0.2 °C, such as one with a paper of its own."),
    marked("Lay both side by side in still air, out of the sun, and away from hands and heaters."),
    marked("Wait half an hour, then read both at the same moment."),
)
_BY_HAND: Final = (
    marked(
        "Give what each value is to be multiplied by, and what is added; 1 and 0 leave it as sent."
    ),
    marked("Say where the figures come from: whoever looks at them in a year will ask."),
)

KINDS: Final[Mapping[str, Kind]] = {
    kind.name: kind
    for kind in (
        Kind(
            ONE,
            marked("One salt"),
            marked(
                "A jar, table salt and an hour. Every reading is then moved by the same amount."
            ),
            Quantity.HUMIDITY,
            timedelta(hours=1),
            STEPS,
        ),
        Kind(
            TWO,
            marked("Two salts"),
            marked(
                "A jar, two salts and an hour above each. Better where the chamber is far from "
                "75 %%."
            ),
            Quantity.HUMIDITY,
            timedelta(hours=1),
            STEPS,
        ),
        Kind(
            AIR,
            marked("Fresh air"),
            marked("Half an hour outdoors, where the air holds about %(ppm)s ppm."),
            Quantity.CO2,
            timedelta(minutes=30),
            _IN_AIR,
        ),
        Kind(
            THERMOMETER,
            marked("Beside a thermometer"),
            marked("Half an hour beside a better one."),
            Quantity.TEMPERATURE,
            timedelta(minutes=30),
            _BESIDE,
        ),
        Kind(
            HAND,
            marked("By hand"),
            marked("For figures that you bring along, such as those of a laboratory."),
            None,
            timedelta(0),
            _BY_HAND,
        ),
    )
}


class CheckIn(BaseModel):
    """What such a form sends, as it was typed."""

    once: Once
    do: Text
    kind: Text = ""
    salt: Text = Salt.NACL.value
    temperature: Text = ""
    read: Text = ""
    fresh: Text = ""
    reference: Text = ""
    quantity: Text = ""
    slope: Text = ""
    offset: Text = ""
    how: Annotated[str, Field(max_length=400)] = ""
    who: Text = ""


def check_of(kind: str, told: CheckIn, begun: Begun | None, figures: Figures) -> Check:
    """Return what was done and read.

    Raises:
        RefusedError: it can't be read; the text says what to write.
    """
    if kind == ONE:
        return SaltCheck((salt_reading(told, figures),))
    if kind == TWO:
        if begun is None or begun.first is None:
            raise RefusedError(_("Keep what was read above the first salt before the second."))
        return SaltCheck((begun.first, salt_reading(told, figures)))
    if kind == AIR:
        fresh = _number(told.fresh, _("CO2 outdoors")) if told.fresh.strip() else FRESH_AIR_PPM
        return FreshAirCheck(_number(told.read, _("What the sensor says")), fresh)
    if kind == THERMOMETER:
        return ReferenceCheck(
            _celsius(told.read, _("What the sensor says"), figures),
            _celsius(told.reference, _("What the better one says"), figures),
        )
    return _by_hand(told)


def salt_reading(told: CheckIn, figures: Figures) -> SaltReading:
    """Return what was read above a salt.

    Raises:
        RefusedError: it can't be read.
    """
    try:
        salt = Salt(told.salt)
    except ValueError:
        raise RefusedError(
            _("There is no salt “%(salt)s”. Choose one of the list.", salt=told.salt)
        ) from None
    return SaltReading(
        salt,
        _celsius(told.temperature, _("Temperature beside the jar"), figures),
        _number(told.read, _("What the sensor says")),
    )


def _by_hand(told: CheckIn) -> ByHand:
    try:
        quantity = Quantity(told.quantity)
    except ValueError:
        raise RefusedError(_("Choose what is to be corrected.")) from None
    slope = _number(told.slope, _("Times")) if told.slope.strip() else 1.0
    offset = _number(told.offset, _("Plus")) if told.offset.strip() else 0.0
    return ByHand(quantity, slope, offset, told.how.strip())


def _celsius(text: str, label: str, figures: Figures) -> float:
    value = _number(text, label)
    if figures.shown_in.temperature is TemperatureUnit.CELSIUS:
        return value
    return (value - FREEZING_F) / FAHRENHEIT_PER_K


def _number(text: str, label: str) -> float:
    value = number_typed(text)
    if value is None or not -MOST <= value <= MOST:
        raise RefusedError(_("%(label)s: write a number such as 75.3.", label=label))
    return value


MOST: Final = 1e6
