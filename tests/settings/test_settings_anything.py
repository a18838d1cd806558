"""Whatever stands in the file, the answer is settings or faults in plain words."""

import copy
import json
import tomllib
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from chamberwatch.core.errors import Fault, SettingsError
from chamberwatch.settings import check, load

KEYS = [
    *("site", "timezone", "altitude_m", "database", "url", "commit_every", "mqtt", "host", "port"),
    *("username", "password", "tls", "ca_file", "client_id", "window", "web", "address", "notify"),
    *("name", "to", "chamber", "title", "volume_l", "shelves", "stage", "surrounding", "sensor"),
    *("place", "topic", "payload", "unheard_after", "reads", "at", "unit", "time", "[key]"),
    *("temperature", "humidity", "co2", "pressure", "battery"),
    *("air_changes_per_h", "vent_air_changes_per_h", "wet_area_m2", "squeeze_g", "visits"),
    *("cover_u_w_per_m2k", "wet_at_most", "accuracy", "co2_lag", "corrects_pressure"),
    *("battery_low_v", "temperature_k", "co2_share", "device", "kind", "flow_m3_per_h"),
    *("water_g_per_h", "power_w", "windows", "on", "every"),
    *("living_space", "shelf_holds", "open_at_most", "early", "outdoors", "patience", "deadband"),
    *("on_delay", "off_delay", "harm_on_delay", "realarm", "priority"),
    *("rotation", "species", "kg_per_week", "batch_dry_g"),
    *("when", "days", "hours", "least", "away", "from", "until", "most_per_hour", "summary"),
    *("summary_always", "bedtime", "leaving", "wake"),
    *("wired", "bus", "self_calibration", "self_heating_k", "wired_username"),
    *("keep_raw", "backup", "folder", "days", "weeks", "months"),
]
WHOLE: dict[str, Any] = {
    "site": {"timezone": "Europe/Lisbon", "altitude_m": 120},
    "mqtt": {"port": 1883, "tls": True, "ca_file": "ca.crt", "username": "grower"},
    "notify": [
        {
            "to": "json://h",
            "least": "medium",
            "when": [{"days": "mon-fri", "hours": "07:00-08:30"}, {"hours": "18:00-01:00"}],
            "away": [{"from": "2026-12-20", "until": "2026-12-28"}],
            "most_per_hour": 6,
            "summary": "07:30",
            "bedtime": "none",
            "leaving": "07:15",
            "wake": "always",
        }
    ],
    "chamber": [
        {
            "name": "tent",
            "stage": "fruiting",
            "shelves": ["top", "low"],
            "surrounding": "room",
            "volume_l": 500,
            "air_changes_per_h": 0.8,
            "vent_air_changes_per_h": 12,
            "wet_at_most": "6 h",
            "visits": ["07:30", "18:00"],
            "living_space": True,
            "shelf_holds": 2,
            "open_at_most": 3,
            "patience": {
                "humidity": {"deadband": 3.0, "on_delay": "5 min", "priority": "high"},
                "co2": {"off_delay": "5 min", "harm_on_delay": "20 min", "realarm": "1 h"},
            },
            "early": "30 min",
        },
        {"name": "room", "outdoors": False},
    ],
    "sensor": [
        {
            "name": "air",
            "chamber": "tent",
            "place": "top",
            "topic": "t",
            "reads": {"humidity": {"at": "/rh"}, "co2": {"at": "/c", "unit": "ppm"}},
            "time": {"at": "/t"},
            "accuracy": {"temperature_k": 0.3},
            "co2_lag": "60 s",
            "corrects_pressure": False,
        },
        {
            "name": "room",
            "chamber": "room",
            "topic": "r",
            "payload": "number",
            "reads": {"battery": {}},
            "accuracy": "basic",
            "battery_low_v": 2.4,
        },
    ],
    "device": [
        {
            "name": "exhaust",
            "chamber": "tent",
            "kind": "fan",
            "flow_m3_per_h": 20,
            "windows": ["07:00-22:00", "23:30-00:30"],
            "on": "5 min",
            "every": "30 min",
        },
        {"name": "mat", "chamber": "tent", "kind": "heater", "power_w": 15},
    ],
    "wired": [
        {"name": "a", "kind": "scd4x", "every": "10 s", "self_heating_k": 4.0},
        {"name": "b", "kind": "sht4x", "bus": 3, "address": 0x45, "topic": "t/b"},
    ],
    "rotation": [
        {"species": "grey-oyster", "kg_per_week": [0.4, 0.6], "batch_dry_g": 350},
        {"species": "shiitake", "kg_per_week": 0.2, "batch_dry_g": 860.5},
    ],
}

_texts = st.sampled_from(
    [
        *("tent", "room", "json", "number", "senml", "fruiting", "5 min", "/a", "2 h"),
        *("fan", "humidifier", "basic", "07:30", "07:00-22:00", "22:00-24:00"),
    ]
)
_keys = st.sampled_from(KEYS) | st.text(st.characters(exclude_categories=["Cs"]), max_size=6)
_leaves = (
    st.booleans()
    | st.integers()
    | st.floats()
    | _texts
    | st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
    | st.just(date(2026, 1, 20))
    | st.just(datetime(2026, 1, 20, 12, tzinfo=UTC))
)
_values = st.recursive(
    _leaves,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(_keys, inner, max_size=4),
    max_leaves=20,
)


def _toml(value: object) -> str:
    """Write a value as TOML, tables inline."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{_toml(k)} = {_toml(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(_toml(v) for v in value) + "]"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, date):
        return value.isoformat()
    return repr(value)


def _file(folder: Path, content: dict[str, Any]) -> Path:
    text = "\n".join(f"{_toml(key)} = {_toml(value)}" for key, value in content.items())
    path = folder / "house.toml"
    path.write_bytes(text.encode())
    tomllib.loads(text)  # what is written here is TOML
    return path


def _is_plain(fault: Fault, written: str) -> None:
    assert "\n" not in str(fault)
    # A sentence of the validating library; a word of the file may well be quoted.
    for word in ("Input ", "validat", "Settings", "pydantic"):
        assert word not in fault.cure or word in written
    assert fault.cure.endswith((".", "?"))


def _is_answered(path: Path) -> None:
    environment = {"CHAMBERWATCH_MQTT_PASSWORD": "p", "CHAMBERWATCH_NOTIFY": "json://h"}
    faults = check(path, environment)
    for fault in faults:
        _is_plain(fault, path.read_bytes().decode())
    try:
        load(path, environment).house()
    except SettingsError as error:
        assert error.faults == faults  # noqa: PT017 - either way is right
        assert faults
    else:
        assert not faults


_quick = settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)


@_quick
@given(content=st.dictionaries(_keys, _values, max_size=5))
def test_any_content_is_answered(tmp_path: Path, content: dict[str, Any]) -> None:
    _is_answered(_file(tmp_path, content))


def _spots(value: object, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    inner: list[tuple[Any, object]] = []
    if isinstance(value, dict):
        inner = list(value.items())
    elif isinstance(value, list):
        inner = list(enumerate(value))
    deeper = [spot for key, part in inner for spot in _spots(part, (*path, key))]
    return ([path] if path else []) + deeper


SPOTS = _spots(WHOLE)


def _parent(content: Any, spot: tuple[Any, ...]) -> Any:  # noqa: ANN401 - any TOML value
    for part in spot[:-1]:
        content = content[part]
    return content


@_quick
@given(
    changes=st.lists(st.tuples(st.sampled_from(SPOTS), _keys, _values), max_size=3),
    removed=st.none() | st.sampled_from(SPOTS),
)
def test_good_content_changed_anywhere_is_answered(
    tmp_path: Path,
    changes: list[tuple[tuple[Any, ...], str, Any]],
    removed: tuple[Any, ...] | None,
) -> None:
    content = copy.deepcopy(WHOLE)
    # Deepest first, so that a spot is still there when its turn comes.
    for spot, key, value in sorted(changes, key=lambda change: -len(change[0])):
        place = _parent(content, spot)
        if isinstance(value, bool) and isinstance(place, dict):
            place[key] = value
        else:
            place[spot[-1]] = value
    if removed and len(removed) == 1:
        content.pop(removed[0])
    _is_answered(_file(tmp_path, content))


@pytest.mark.parametrize("spot", SPOTS, ids=lambda spot: ".".join(map(str, spot)))
@pytest.mark.parametrize(
    "value", [-1, 2.5, True, "", "x" * 500, [], [[]], {}, {"x": 1}, date(2026, 1, 20)]
)
def test_each_spot_with_each_kind_of_value_is_answered(
    tmp_path: Path, spot: tuple[Any, ...], value: object
) -> None:
    content = copy.deepcopy(WHOLE)
    _parent(content, spot)[spot[-1]] = value
    _is_answered(_file(tmp_path, content))


@pytest.mark.parametrize("spot", SPOTS, ids=lambda spot: ".".join(map(str, spot)))
def test_without_each_spot_it_is_answered(tmp_path: Path, spot: tuple[Any, ...]) -> None:
    content = copy.deepcopy(WHOLE)
    del _parent(content, spot)[spot[-1]]
    _is_answered(_file(tmp_path, content))


def test_what_is_changed_was_right(tmp_path: Path) -> None:
    assert check(_file(tmp_path, WHOLE), {}) == ()
