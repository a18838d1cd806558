"""What the API takes and gives about calibrations. What was read is the raw value, as sent."""

from collections.abc import Mapping
from typing import Annotated, Final

from pydantic import BaseModel, Field

from chamberwatch.core.air.calibration import (
    FRESH_AIR_PPM,
    NAMES,
    SCATTER_PCT,
    STEPS,
    FixedPoint,
    Salt,
    SaltReading,
)
from chamberwatch.core.watch.calibrated import Calibration
from chamberwatch.core.watch.checked import (
    ByHand,
    Check,
    FreshAirCheck,
    ReferenceCheck,
    SaltCheck,
)
from chamberwatch.core.watch.reading import UNITS, Quantity, Reading
from chamberwatch.service.calibrating import LONGEST_NAME, Recorded, SensorCalibrations, Told
from chamberwatch.web.given import Given, GivenMoment
from chamberwatch.web.problems import ProblemError
from chamberwatch.web.shapes import Moment

Percent = Annotated[float, Field(ge=0.0, le=105.0, allow_inf_nan=False)]
Celsius = Annotated[float, Field(ge=-40.0, le=85.0, allow_inf_nan=False)]
Ppm = Annotated[float, Field(ge=0.0, le=100_000.0, allow_inf_nan=False)]
Number = Annotated[float, Field(ge=-1e6, le=1e6, allow_inf_nan=False)]


class SaltIn(Given):
    """What a sensor said above a saturated salt."""

    salt: Salt
    temperature_c: Celsius = Field(description="of slush and sensor")
    read_pct: Percent = Field(description="what the sensor said, as it sends it")
    scatter_pct: float = Field(
        default=SCATTER_PCT, ge=0.0, le=5.0, description="how far it wandered at rest"
    )


class CalibrationIn(Given):
    """A check of a sensor; which fields belong together, `FORMS` says."""

    quantity: Quantity
    who: str = Field(min_length=1, max_length=LONGEST_NAME, description="who did it")
    at: GivenMoment | None = Field(
        default=None, description="readings from this time on are corrected; default: now"
    )
    salts: list[SaltIn] | None = Field(default=None, min_length=1, max_length=2)
    read_ppm: Ppm | None = Field(default=None, description="what it said in fresh air")
    fresh_air_ppm: Ppm | None = Field(default=None, description=f"default: {FRESH_AIR_PPM:.0f}")
    read_c: Celsius | None = Field(default=None, description="what it said")
    reference_c: Celsius | None = Field(default=None, description="what a better one said")
    slope: Number | None = Field(default=None, description="1.0 leaves it")
    offset: Number | None = Field(default=None, description="0.0 leaves it")
    how: str = Field(default="", max_length=400, description="where slope and offset come from")

    def told(self, sensor: str, via: str) -> Told:
        """Return it as the service takes it.

        Raises:
            ProblemError: the fields do not belong together.
        """
        return Told(sensor, self._check(), self.who, self.at, via)

    def _check(self) -> Check:
        given = {n for n in _OF_CHECKS & self.model_fields_set if getattr(self, n) is not None}
        match self.quantity:
            case Quantity.HUMIDITY if self.salts is not None and given == {"salts"}:
                return SaltCheck(tuple(_salt(salt) for salt in self.salts))
            case Quantity.CO2 if self.read_ppm is not None and given <= _OF_FRESH_AIR:
                fresh = FRESH_AIR_PPM if self.fresh_air_ppm is None else self.fresh_air_ppm
                return FreshAirCheck(self.read_ppm, fresh)
            case Quantity.TEMPERATURE if given == _OF_REFERENCE:
                return ReferenceCheck(self.read_c or 0.0, self.reference_c or 0.0)
            case _ if given and given <= _BY_HAND and given != {"how"}:
                slope = 1.0 if self.slope is None else self.slope
                return ByHand(self.quantity, slope, self.offset or 0.0, self.how.strip())
        raise ProblemError(422, "not-valid", FORMS)


FORMS: Final = (
    "These fields don't belong together. Give humidity with salts; co2 with read_ppm and, if "
    "known, fresh_air_ppm; temperature with read_c and reference_c; or any of them, or pressure, "
    "with slope, offset and how. A slope of 1 with an offset of 0 withdraws a correction."
)
_OF_CHECKS: Final = frozenset(CalibrationIn.model_fields) - {"quantity", "who", "at"}
_OF_FRESH_AIR: Final = {"read_ppm", "fresh_air_ppm"}
_OF_REFERENCE: Final = {"read_c", "reference_c"}
_BY_HAND: Final = {"slope", "offset", "how"}


def _salt(given: SaltIn) -> SaltReading:
    return SaltReading(given.salt, given.temperature_c, given.read_pct, given.scatter_pct)


class CalibrationOut(BaseModel):
    """One correction, as kept."""

    id: int
    sensor: str
    quantity: str
    unit: str
    slope: float
    offset: float
    at: Moment
    who: str
    how: str
    recorded: Moment

    @classmethod
    def of(cls, calibration: Calibration) -> "CalibrationOut":
        """Write a calibration."""
        return cls(
            id=calibration.id,
            sensor=calibration.sensor,
            quantity=calibration.quantity,
            unit=UNITS[calibration.quantity],
            slope=round(calibration.slope, 6),
            offset=round(calibration.offset, 6),
            at=calibration.at,
            who=calibration.who,
            how=calibration.how,
            recorded=calibration.recorded,
        )


class RecordedOut(BaseModel):
    """What followed from a check."""

    calibration: CalibrationOut
    words: str
    by: float = Field(description="what is added where it was checked, in the unit")
    plus_minus: float | None = Field(description="how far it may still be off there")
    action: int = Field(description="number of the deed that stands in the log")

    @classmethod
    def of(cls, recorded: Recorded) -> "RecordedOut":
        """Write what followed; readings of the past are corrected by a command of their own."""
        finding, calibration = recorded.finding, recorded.calibration
        words = finding.words
        if calibration.at < calibration.recorded:
            words += (
                " Readings kept since then stay as they are until “chamberwatch recalibrate "
                f"--sensor {calibration.sensor}” has run."
            )
        return cls(
            calibration=CalibrationOut.of(calibration),
            words=words,
            by=round(finding.by, 4),
            plus_minus=None if finding.plus_minus is None else round(finding.plus_minus, 4),
            action=recorded.action.id,
        )


class NewestOut(BaseModel):
    """The newest reading of one quantity, as sent and as it counts."""

    quantity: str
    unit: str
    raw: float
    value: float
    time: Moment
    calibration: int | None = Field(description="the one in force; null: none")

    @classmethod
    def of(cls, reading: Reading, held: Mapping[Quantity, Calibration]) -> "NewestOut":
        """Write a reading."""
        calibration = held.get(reading.quantity)
        return cls(
            quantity=reading.quantity,
            unit=UNITS[reading.quantity],
            raw=reading.value if reading.raw is None else reading.raw,
            value=reading.value,
            time=reading.time,
            calibration=None if calibration is None else calibration.id,
        )


class CalibrationsOut(BaseModel):
    """All corrections of a sensor, newest first, and what it sent last."""

    sensor: str
    co2_factor: float = Field(description="for the air pressure, before the calibration")
    newest: list[NewestOut]
    calibrations: list[CalibrationOut]

    @classmethod
    def of(cls, found: SensorCalibrations) -> "CalibrationsOut":
        """Write what there is of a sensor."""
        return cls(
            sensor=found.sensor.name,
            co2_factor=round(found.co2_factor, 4),
            newest=[NewestOut.of(r, found.in_force) for r in found.newest.values()],
            calibrations=[CalibrationOut.of(c) for c in found.calibrations],
        )


class SaltOut(BaseModel):
    """The humidity above a saturated salt."""

    salt: str
    name: str
    humidity_pct: float
    plus_minus_pct: float


class SaltsOut(BaseModel):
    """Salts at a temperature, and how to do the check."""

    temperature_c: float
    source: str
    salts: list[SaltOut]
    steps: list[str]

    @classmethod
    def of(cls, temperature_c: float, points: Mapping[Salt, FixedPoint]) -> "SaltsOut":
        """Write the salts."""
        return cls(
            temperature_c=temperature_c,
            source="Greenspan 1977, J. Res. NBS 81A(1):89-96, Table 2",
            salts=[
                SaltOut(
                    salt=salt,
                    name=NAMES[salt],
                    humidity_pct=round(point.humidity_pct, 2),
                    plus_minus_pct=round(point.plus_minus_pct, 2),
                )
                for salt, point in points.items()
            ],
            steps=list(STEPS),
        )
