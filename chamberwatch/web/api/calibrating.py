"""Checks of sensors: told, listed, and the salts to do them with."""

from typing import Annotated, Any, Final

from fastapi import APIRouter, Query, Request, Response
from fastapi import Path as InPath

from chamberwatch.core.air.calibration import salts_at
from chamberwatch.core.errors import RefusedError
from chamberwatch.web import shapes
from chamberwatch.web.api.writing import VIA
from chamberwatch.web.calibration_shapes import (
    CalibrationIn,
    CalibrationsOut,
    RecordedOut,
    SaltsOut,
)
from chamberwatch.web.desk import Desk, desk_of
from chamberwatch.web.once import Key, once
from chamberwatch.web.tells import Calibrating

router = APIRouter()

USUAL_C: Final = 20.0

SensorName = Annotated[str, InPath(max_length=200, description="name of the sensor")]


def _calibrating(desk: Desk) -> Calibrating:
    if desk.calibrating is None:
        raise RefusedError("Calibrations are not kept here. Ask the daemon that takes readings.")
    return desk.calibrating


@router.get("/sensors/{name}/calibrations", response_model=CalibrationsOut)
def calibrations(request: Request, name: SensorName) -> CalibrationsOut:
    """List the corrections of a sensor, newest first, with its newest readings as sent."""
    return CalibrationsOut.of(_calibrating(desk_of(request)).of(name))


@router.post("/sensors/{name}/calibrations", status_code=201, response_model=RecordedOut)
def calibrate(
    request: Request, name: SensorName, given: CalibrationIn, key: Key = None
) -> Response:
    """Record a check of a sensor; its readings are corrected from then on."""
    desk = desk_of(request)

    def do() -> tuple[int, dict[str, Any]]:
        recorded = _calibrating(desk).record(given.told(name, VIA))
        return 201, shapes.json_of(RecordedOut.of(recorded))

    return once(desk, request, key, do)


@router.get("/salts", response_model=SaltsOut)
def salts(
    request: Request,
    temperature_c: Annotated[
        float, Query(ge=-40.0, le=85.0, allow_inf_nan=False, description="of the room")
    ] = USUAL_C,
) -> SaltsOut:
    """Tell the humidity above saturated salts at a temperature, and how to do the check."""
    del request
    return SaltsOut.of(temperature_c, salts_at(temperature_c))
