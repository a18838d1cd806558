"""The files that are shipped are right and whole."""

import re
import tomllib
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from importlib.resources import files
from pathlib import Path
from typing import Any, get_args

import pytest
from pydantic import BaseModel

from chamberwatch.core.air.accuracy import CLASSES
from chamberwatch.core.air.psychrometrics import pressure_at_altitude_pa
from chamberwatch.core.growing.band import Stage
from chamberwatch.core.watch.chamber import Chamber, Sensor
from chamberwatch.core.watch.device import in_words
from chamberwatch.core.watch.reading import Place, Quantity
from chamberwatch.core.watch.reminder import Priority
from chamberwatch.core.watch.units import SCALES
from chamberwatch.settings import Settings, check, load

CONFIG = Path(__file__).parents[2] / "config" / "chamberwatch.toml"
DEMO = Path(str(files("chamberwatch") / "data" / "demo.toml"))
SHELVES = ("top", "upper", "lower", "bottom")
TENT = replace(
    Chamber("tent", "Tent", Stage.FRUITING, 500.0, SHELVES, "room"),
    living_space=True,
    shelf_holds=2,
    open_at_most=2,
)
ROOM = Chamber("room", "Living room")
T, RH, CO2 = Quantity.TEMPERATURE, Quantity.HUMIDITY, Quantity.CO2


def _sensor(name: str, chamber: str, shelf: str | None, *quantities: Quantity) -> Sensor:
    return Sensor(name, chamber, Place.AIR, shelf, timedelta(minutes=5), quantities)


ROOM_SHELF = _sensor("room-shelf", "room", None, T, RH, Quantity.PRESSURE, Quantity.BATTERY)


@pytest.mark.parametrize(
    ("path", "sensors"),
    [
        pytest.param(
            CONFIG,
            [
                _sensor("tent-middle", "tent", None, T, RH, CO2),
                replace(_sensor("tent-top", "tent", "top", RH), accuracy=CLASSES["basic"]),
                replace(ROOM_SHELF, battery_low_v=2.4),
            ],
            id="config",
        ),
        pytest.param(
            DEMO,
            [
                _sensor("tent-middle", "tent", None, T, RH, CO2),
                _sensor("tent-top", "tent", "top", T, RH),
                _sensor("room-shelf", "room", None, T, RH, CO2),
            ],
            id="demo",
        ),
    ],
)
def test_shipped_settings_are_right(path: Path, sensors: list[Sensor]) -> None:
    assert check(path, {}) == ()
    house = load(path, {}).house()
    tent = replace(TENT, open_at_most=3) if path == DEMO else TENT
    assert dict(house.chambers) == {"tent": tent, "room": ROOM}
    assert list(house.sensors.values()) == sensors
    assert house.pressure_pa == pressure_at_altitude_pa(120.0)
    assert house.devices == ()


def test_places_of_sensors(tmp_path: Path) -> None:
    path = tmp_path / "house.toml"
    path.write_text(
        '[[chamber]]\nname = "tub"\nshelves = ["low"]\n'
        + "".join(
            f'[[sensor]]\nname = "{place}"\nchamber = "tub"\nplace = "{place}"\ntopic = "t"\n'
            '[sensor.reads.temperature]\nat = "/t"\n'
            for place in ("air", "core", "surface", "low")
        )
    )
    house = load(path, {}).house()
    assert house.chamber("tub").title == "tub"
    assert [(s.place, s.shelf) for s in house.sensors_in("tub")] == [
        (Place.AIR, None),
        (Place.CORE, None),
        (Place.SURFACE, None),
        (Place.AIR, "low"),
    ]


# ------------------------------------------------------------------ the commented file is whole


def _models_in(annotation: Any) -> Iterator[type[BaseModel]]:  # noqa: ANN401 - a type expression
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for argument in get_args(annotation):
        yield from _models_in(argument)


def _keys(model: type[BaseModel], section: str) -> Iterator[tuple[str, str]]:
    """Yield (section, key) of every key there is."""
    for name, found in model.model_fields.items():
        inner = list(_models_in(found.annotation))
        for part in inner:
            yield from _keys(part, f"{section}.{name}".lstrip("."))
        if not inner:
            yield section, found.alias or name


_COMMENTED_OUT = re.compile(r'# (\[.+\]|[a-z0-9_]+ = (?:"[^"]*"|\[.*?\]|\S+)(?:\s+#.*)?)')


def _uncommented() -> str:
    """Return the file with every `# key = value` and `# [section]` made real."""
    lines = CONFIG.read_text(encoding="utf-8").splitlines()
    found = ((line, _COMMENTED_OUT.fullmatch(line)) for line in lines)
    return "\n".join(match[1] if match else line for line, match in found)


def _named(content: Any, section: str) -> set[str]:  # noqa: ANN401 - any TOML value
    """Return the keys that stand in a section, over all its entries."""
    here: list[Any] = [content]
    for part in section.split(".") if section else ():
        here = [entry[part] for entry in here if part in entry]
        here = [e for entry in here for e in (entry if isinstance(entry, list) else [entry])]
        if part == "reads":
            here = [read for reads in here for read in reads.values()]
    return {key for entry in here if isinstance(entry, dict) for key in entry}


SECRET_KEYS = {("mqtt", "password"), ("mqtt", "wired_password"), ("database", "password")}
EVERY_KEY = sorted(set(_keys(Settings, "")) - SECRET_KEYS)


@pytest.mark.parametrize(("section", "key"), EVERY_KEY, ids=lambda part: part)
def test_every_key_is_named_in_the_commented_file(section: str, key: str) -> None:
    assert key in _named(tomllib.loads(_uncommented()), section)


def test_the_keys_were_found() -> None:
    assert len(EVERY_KEY) > 25
    assert ("sensor.reads", "unit") in EVERY_KEY
    assert ("mqtt", "ca_file") in EVERY_KEY
    assert ("sensor.accuracy", "co2_share") in EVERY_KEY
    assert ("device", "every") in EVERY_KEY


def test_every_quantity_stands_there() -> None:
    sensors = tomllib.loads(CONFIG.read_text(encoding="utf-8"))["sensor"]
    assert {quantity for s in sensors for quantity in s["reads"]} == {q.value for q in Quantity}


@pytest.mark.parametrize("quantity", Quantity)
def test_every_unit_is_taken(quantity: Quantity, tmp_path: Path) -> None:
    for unit in SCALES[quantity]:
        path = tmp_path / "house.toml"
        path.write_text(
            '[[chamber]]\nname = "tub"\n[[sensor]]\nname = "s"\nchamber = "tub"\ntopic = "t/+/#"\n'
            f'[sensor.reads.{quantity}]\nat = "/a~0b"\nunit = "{unit}"\n'
        )
        (sensor,) = load(path, {}).sensor
        assert sensor.reads[quantity].unit == unit


def test_what_is_commented_out_is_right_too(tmp_path: Path) -> None:
    path = tmp_path / "house.toml"
    path.write_text(_uncommented().replace("tls = false", "tls = true"), encoding="utf-8")
    settings = load(path, {})
    assert settings.web.address == "http://tent.local:8642"
    assert [told.name for told in settings.notify] == ["phone"]
    tent, _ = settings.house().chambers.values()
    # What stands behind a # is the default, but for what has none.
    assert tent.early == timedelta(minutes=30)
    given = replace(tent, air_changes_per_h=None, vent_air_changes_per_h=None, wet_area_m2=None)
    assert replace(given, patience={}, early=None) == TENT
    for quantity in (T, RH, CO2):
        found, usual = given.patience_for(quantity), TENT.patience_for(quantity)
        assert usual is not None
        assert found == replace(usual, priority=Priority.MEDIUM)
    assert [in_words(device) for device in settings.house().devices] == [
        "fan, 20 m3/h, 5 min in every 30 min from 07:00 to 22:00",
        "humidifier, 150 g/h, all the time",
        "heater, 15 W, all the time",
    ]
