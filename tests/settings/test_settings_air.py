"""What advice needs to know: the chamber's facts, what sensors are good for, and devices."""

from datetime import time, timedelta
from pathlib import Path

import pytest

from chamberwatch.core.air.accuracy import CLASSES, DIGITAL, Accuracy
from chamberwatch.core.watch.chamber import Chamber, House, Sensor
from chamberwatch.core.watch.device import Device, Kind, Timetable
from chamberwatch.settings import Settings, check, load
from chamberwatch.settings.devices import AMOUNTS

TENT = '[[chamber]]\nname = "tent"\nstage = "fruiting"\nvolume_l = 500\n'
ROOM = '[[chamber]]\nname = "room"\n'
AIR = '[[sensor]]\nname = "air"\nchamber = "tent"\ntopic = "t"\n'
CO2 = '[sensor.reads.co2]\nat = "/c"\n'
HUMIDITY = '[sensor.reads.humidity]\nat = "/rh"\n'
DEVICE = '[[device]]\nname = "d"\nchamber = "tent"\n'
FAN = DEVICE + 'kind = "fan"\nflow_m3_per_h = 20\n'

A_TIME = 'Write a time of day, such as "07:30".'
A_WINDOW = 'Write from and to, such as "07:00-22:00".'
NO_KEY = "There is no such key; take it out."


def _written(folder: Path, text: str) -> Path:
    path = folder / "house.toml"
    path.write_text(text, encoding="utf-8")
    return path


def _lines(folder: Path, text: str) -> list[str]:
    path = _written(folder, text)
    return [str(fault).removeprefix(f"{path}: ") for fault in check(path, {})]


def _settings(folder: Path, text: str) -> Settings:
    return load(_written(folder, text), {})


def _house(folder: Path, text: str) -> House:
    return _settings(folder, text).house()


# ------------------------------------------------------------------ what is right


def test_all_of_a_chamber_is_handed_on(tmp_path: Path) -> None:
    text = TENT + (
        "air_changes_per_h = 0.8\nvent_air_changes_per_h = 12\nwet_area_m2 = 1.5\n"
        'squeeze_g = 0.9\ncover_u_w_per_m2k = 3\nwet_at_most = "4 h"\nearly = "30 min"\n'
        'visits = ["8:05", 21:00:00]\n'
    )
    stage = _house(tmp_path, TENT).chamber("tent").stage
    assert _house(tmp_path, text).chamber("tent") == Chamber(
        name="tent",
        title="tent",
        stage=stage,
        volume_l=500.0,
        air_changes_per_h=0.8,
        vent_air_changes_per_h=12.0,
        wet_area_m2=1.5,
        squeeze_g=0.9,
        cover_u_w_per_m2k=3.0,
        wet_at_most=timedelta(hours=4),
        early=timedelta(minutes=30),
        visits=(time(8, 5), time(21)),
    )


def test_defaults_are_those_of_the_core(tmp_path: Path) -> None:
    house = _house(tmp_path, TENT + AIR + CO2)
    tent, sensor = house.chamber("tent"), house.sensors["air"]
    assert tent == Chamber("tent", "tent", tent.stage, 500.0)
    assert sensor == Sensor("air", "tent", quantities=sensor.quantities)
    assert house.devices == ()


@pytest.mark.parametrize(
    ("accuracy", "expected"),
    [
        *(pytest.param(f'"{word}"', known, id=word) for word, known in CLASSES.items()),
        pytest.param("{}", DIGITAL, id="an empty table"),
        pytest.param(
            "{ temperature_k = 0.3, co2_share = 0 }",
            Accuracy(temperature_k=0.3, co2_share=0.0),
            id="part of a table",
        ),
        pytest.param(
            "{ temperature_k = 1, humidity_pct = 2, humidity_wet_pct = 3, co2_ppm = 4,"
            " co2_share = 0.05, surface_k = 6 }",
            Accuracy(1.0, 2.0, 3.0, 4.0, 0.05, 6.0),
            id="a whole table",
        ),
    ],
)
def test_what_a_sensor_is_good_for(tmp_path: Path, accuracy: str, expected: Accuracy) -> None:
    house = _house(tmp_path, TENT + AIR + f"accuracy = {accuracy}\n" + CO2)
    assert house.sensors["air"].accuracy == expected


def test_all_of_a_sensor_is_handed_on(tmp_path: Path) -> None:
    text = TENT + AIR + 'co2_lag = "2 min"\ncorrects_pressure = false\nbattery_low_v = 2.4\n'
    sensor = _house(tmp_path, text + CO2 + '[sensor.reads.battery]\nat = "/b"\n').sensors["air"]
    assert (sensor.co2_lag_s, sensor.corrects_pressure, sensor.battery_low_v) == (
        120.0,
        False,
        2.4,
    )


def test_devices_are_handed_on_in_their_order(tmp_path: Path) -> None:
    text = (
        FAN
        + 'windows = ["07:00-22:00", "23:30 - 24:00"]\non = "5 min"\nevery = "30 min"\n'
        + '[[device]]\nname = "mister"\nchamber = "tent"\nkind = "humidifier"\n'
        + 'water_g_per_h = 150\nwindows = ["22:00\N{EN DASH}6:00"]\n'
        + '[[device]]\nname = "mat"\nchamber = "tent"\nkind = "heater"\npower_w = 15.5\n'
    )
    day, evening, night = (
        (time(7), time(22)),
        (time(23, 30), time(0)),
        (time(22), time(6)),
    )
    cycle = Timetable((day, evening), timedelta(minutes=5), timedelta(minutes=30))
    assert _house(tmp_path, TENT + text).devices == (
        Device("d", "tent", Kind.FAN, cycle, flow_m3_per_h=20.0),
        Device("mister", "tent", Kind.HUMIDIFIER, Timetable((night,)), water_g_per_h=150.0),
        Device("mat", "tent", Kind.HEATER, power_w=15.5),
    )


def test_every_kind_has_its_amount() -> None:
    assert set(AMOUNTS) == set(Kind)


# ------------------------------------------------------------------ what is wrong

CHAMBER_FAULTS = [
    pytest.param(
        "visits = []",
        '.visits = []: Name at least one time of day, such as ["18:00"].',
        id="no visit",
    ),
    pytest.param(
        'visits = ["07:30", "07:30"]',
        '.visits = ["07:30", "07:30"]: One time of day stands there twice; take one out.',
        id="a visit twice",
    ),
    pytest.param(
        'visits = ["18:00", "07:30"]',
        '.visits = ["18:00", "07:30"]: Write them in the order of the day, the earliest first.',
        id="visits out of order",
    ),
    pytest.param(
        'visits = ["07:30", "25:00"]', f'.visits[2] = "25:00": {A_TIME}', id="no such hour"
    ),
    pytest.param(
        'visits = ["half past six"]', f'.visits[1] = "half past six": {A_TIME}', id="words"
    ),
    pytest.param("visits = [18]", f".visits[1] = 18: {A_TIME}", id="a number for a time"),
    pytest.param("visits = [{ at = 1 }]", f".visits[1]: {A_TIME}", id="a table for a time"),
    pytest.param(
        'visits = "18:00"',
        '.visits = "18:00": Write a list, such as ["07:30", "18:00"].',
        id="visits that are no list",
    ),
    pytest.param("squeeze_g = 0", ".squeeze_g = 0: Give more than 0.", id="an empty bottle"),
    pytest.param("squeeze_g = 60", ".squeeze_g = 60: Give 50 or less.", id="a hose"),
    pytest.param(
        'air_changes_per_h = "two"', '.air_changes_per_h = "two": Write a number.', id="a word"
    ),
    pytest.param(
        "air_changes_per_hour = 2",
        f".air_changes_per_hour = 2: {NO_KEY} Did you mean air_changes_per_h?",
        id="a key misspelt",
    ),
    pytest.param("wet_area_m2 = -1", ".wet_area_m2 = -1: Give 0 or more.", id="less than no area"),
    pytest.param(
        "cover_u_w_per_m2k = 0", ".cover_u_w_per_m2k = 0: Give 0.1 or more.", id="no heat at all"
    ),
    pytest.param(
        'wet_at_most = "1 min"', '.wet_at_most = "1 min": Give 10 min to 3 days.', id="too short"
    ),
    pytest.param(
        'wet_at_most = "4 days"', '.wet_at_most = "4 days": Give 10 min to 3 days.', id="too long"
    ),
    pytest.param('early = "4 min"', '.early = "4 min": Give 5 min to 3 h.', id="hardly early"),
    pytest.param('early = "4 h"', '.early = "4 h": Give 5 min to 3 h.', id="too early"),
    pytest.param(
        "air_changes_per_h = 12\nvent_air_changes_per_h = 2",
        ": vent_air_changes_per_h must be more than air_changes_per_h: the first is while it is "
        "vented, the second while it is closed.",
        id="more when closed",
    ),
    pytest.param(
        'air_changes_per_h = 2\nvent_air_changes_per_h = 2\nshelves = ["core", "a", "a"]',
        ": Two shelves have the same name; give each its own. A shelf can't be called core; that "
        "is a place already. vent_air_changes_per_h must be more than air_changes_per_h: the "
        "first is while it is vented, the second while it is closed.",
        id="all that does not fit together",
    ),
]


def test_a_room_has_no_limit_to_be_early_for(tmp_path: Path) -> None:
    text = TENT + '[[chamber]]\nname = "room"\nearly = "30 min"\n'
    (line,) = _lines(tmp_path, text)
    assert line == (
        'chamber[2] "room": early is for a chamber with a stage; a room has no limits to be '
        "early for."
    )


@pytest.mark.parametrize(("text", "line"), CHAMBER_FAULTS)
def test_faults_of_a_chamber(tmp_path: Path, text: str, line: str) -> None:
    assert _lines(tmp_path, f"{TENT}{text}\n") == [f'chamber[1] "tent"{line}']


A_CLASS = "Write one of basic, digital, probe, or a table such as { humidity_pct = 3.0 }."

SENSOR_FAULTS = [
    pytest.param(
        'accuracy = "digtal"',
        f'.accuracy = "digtal": {A_CLASS} Did you mean digital?',
        id="a class misspelt",
    ),
    pytest.param("accuracy = 2", f".accuracy = 2: {A_CLASS}", id="a number for a class"),
    pytest.param(
        "accuracy = { humidity = 3 }",
        f".accuracy.humidity = 3: {NO_KEY} Did you mean humidity_pct?",
        id="a key of the table misspelt",
    ),
    pytest.param(
        "accuracy = { humidity_pct = 0 }",
        ".accuracy.humidity_pct = 0: Give more than 0.",
        id="never wrong",
    ),
    pytest.param(
        "accuracy = { co2_share = 5 }", ".accuracy.co2_share = 5: Give 0.5 or less.", id="per cent"
    ),
    pytest.param(
        "co2_lag = 90",
        ".co2_lag = 90: Write a number and a unit, such as 30 s, 5 min or 2 h.",
        id="a lag without a unit",
    ),
    pytest.param('co2_lag = "1 h"', '.co2_lag = "1 h": Give 1 s to 30 min.', id="too slow"),
    pytest.param(
        'corrects_pressure = "no"',
        '.corrects_pressure = "no": Write true or false.',
        id="a word for a truth",
    ),
    pytest.param(
        "battery_low_v = 2.4",
        ".battery_low_v = 2.4: It reads no battery; take this out, or add [sensor.reads.battery].",
        id="no battery",
    ),
]


@pytest.mark.parametrize(("text", "line"), SENSOR_FAULTS)
def test_faults_of_a_sensor(tmp_path: Path, text: str, line: str) -> None:
    assert _lines(tmp_path, f"{TENT}{AIR}{text}\n{CO2}") == [f'sensor[1] "air"{line}']


@pytest.mark.parametrize("key", ['co2_lag = "60 s"', "corrects_pressure = true"])
def test_what_is_said_of_co2_needs_it(tmp_path: Path, key: str) -> None:
    assert _lines(tmp_path, f"{TENT}{AIR}{key}\n{HUMIDITY}") == [
        f'sensor[1] "air".{key}: It reads no co2; take this out, or add [sensor.reads.co2].'
    ]


@pytest.mark.parametrize(
    "reads",
    [
        pytest.param("reads = 5\n", id="no section"),
        pytest.param("[sensor.reads]\n", id="empty"),
        pytest.param('[sensor.reads.co3]\nat = "/c"\n', id="misspelt"),
    ],
)
def test_a_quantity_is_not_missed_when_reads_is_at_fault(tmp_path: Path, reads: str) -> None:
    (line,) = _lines(tmp_path, f"{TENT}{AIR}corrects_pressure = true\n{reads}")
    assert line.startswith('sensor[1] "air".reads')


DEVICE_FAULTS = [
    pytest.param(
        DEVICE + 'kind = "fann"\n',
        '.kind = "fann": Write one of fan, humidifier, heater. Did you mean fan?',
        id="a kind misspelt",
    ),
    pytest.param(DEVICE + "flow_m3_per_h = 20\n", ".kind: Add it; it is needed.", id="of no kind"),
    pytest.param(
        DEVICE + 'kind = "fan"\n', ": A fan needs flow_m3_per_h; add it.", id="a fan of no flow"
    ),
    pytest.param(
        DEVICE + 'kind = "fan"\nwater_g_per_h = 5\npower_w = 3\n',
        ": A fan needs flow_m3_per_h; add it. A fan has no water_g_per_h and no power_w; take it "
        "out.",
        id="a fan of anything else",
    ),
    pytest.param(
        FAN.replace("fan", "heater"),
        ": A heater needs power_w; add it. A heater has no flow_m3_per_h; take it out.",
        id="a heater with a flow",
    ),
    pytest.param(
        DEVICE + 'kind = "humidifier"\nwater_g_per_hour = 5\n',
        f".water_g_per_hour = 5: {NO_KEY} Did you mean water_g_per_h?",
        id="an amount misspelt",
    ),
    pytest.param(
        DEVICE + 'kind = "humidifier"\nwater_g_per_h = "much"\n',
        '.water_g_per_h = "much": Write a number.',
        id="an amount in words",
    ),
    pytest.param(
        DEVICE + 'kind = "fan"\nflow_m3_per_h = 0\n',
        ".flow_m3_per_h = 0: Give more than 0.",
        id="a fan that stands",
    ),
    pytest.param(
        FAN + 'on = "5 min"\n',
        ': on and every go together, as in on = "5 min", every = "30 min"; add every.',
        id="on alone",
    ),
    pytest.param(
        FAN + 'every = "5 min"\n',
        ': on and every go together, as in on = "5 min", every = "30 min"; add on.',
        id="every alone",
    ),
    pytest.param(
        FAN + 'on = "30 min"\nevery = "5 min"\n',
        ": on is longer than every; swap them.",
        id="longer than every",
    ),
    pytest.param(
        FAN + 'on = "30 min"\nevery = "25 h"\n',
        '.every = "25 h": Give 1 s to 24 h.',
        id="more than a day",
    ),
    pytest.param(
        FAN + 'windows = ["07:10-07:20"]\non = "5 min"\nevery = "30 min"\n',
        ": It would never run: on begins at midnight and again after each every, and all of that "
        "falls outside windows; widen them.",
        id="never",
    ),
    pytest.param(
        FAN + 'windows = ["07:00 to 22:00"]\n',
        f'.windows[1] = "07:00 to 22:00": {A_WINDOW}',
        id="a window in words",
    ),
    pytest.param(
        FAN + 'windows = ["07:00-25:00"]\n', f'.windows[1] = "07:00-25:00": {A_WINDOW}', id="25"
    ),
    pytest.param(
        FAN + 'windows = [["07:00", "22:00"]]\n',
        f'.windows[1] = ["07:00", "22:00"]: {A_WINDOW}',
        id="a list for a window",
    ),
    pytest.param(
        FAN + 'windows = ["07:00-7:00"]\n',
        '.windows[1] = "07:00-7:00": It ends as it starts; for the whole day leave windows out.',
        id="no window",
    ),
    pytest.param(
        FAN + 'windows = "07:00-22:00"\n',
        '.windows = "07:00-22:00": Write a list, such as ["07:00-22:00"].',
        id="windows that are no list",
    ),
    pytest.param(
        FAN.replace('"tent"', '"tint"'),
        '.chamber = "tint": There is no such chamber. Did you mean tent?',
        id="a chamber misspelt",
    ),
    pytest.param(
        FAN.replace('"tent"', '"room"'),
        '.chamber = "room": That is a room; a device works in a [[chamber]] with a stage. '
        "Known: tent.",
        id="in a room",
    ),
]


@pytest.mark.parametrize(("text", "line"), DEVICE_FAULTS)
def test_faults_of_a_device(tmp_path: Path, text: str, line: str) -> None:
    assert _lines(tmp_path, TENT + ROOM + text) == [f'device[1] "d"{line}']


def test_a_fan_needs_the_volume_of_its_chamber(tmp_path: Path) -> None:
    tent = TENT.replace("volume_l = 500\n", "")
    (line,) = _lines(tmp_path, tent + FAN)
    assert line == (
        'device[1] "d".chamber = "tent": What a fan changes depends on the volume; add volume_l '
        "to that chamber."
    )
    heater = DEVICE + 'kind = "heater"\npower_w = 15\n'
    assert _lines(tmp_path, tent + heater) == []


def test_a_device_in_the_only_room(tmp_path: Path) -> None:
    (line,) = _lines(tmp_path, ROOM + FAN.replace('"tent"', '"room"'))
    assert line == (
        'device[1] "d".chamber = "room": That is a room; a device works in a [[chamber]] with a '
        "stage."
    )


@pytest.mark.parametrize(
    ("text", "lines"),
    [
        pytest.param(
            TENT + FAN + FAN,
            ['device.name = "d": Two have this name; give each its own.'],
            id="two of one name",
        ),
        pytest.param(
            '[[chamber]]\nname = 5\nstage = "fruiting"\n' + FAN,
            ["chamber[1].name = 5: Write a text in quotation marks."],
            id="its chamber may be the one that can't be read",
        ),
        pytest.param(
            TENT + FAN.replace('"tent"', "5"),
            ['device[1] "d".chamber = 5: Write a text in quotation marks.'],
            id="a number for a chamber",
        ),
        pytest.param(
            TENT + '[device]\nname = "d"\n',
            ["device: Write each as a section of its own that begins with [[device]]."],
            id="one bracket too few",
        ),
        pytest.param(
            'device = ["fan"]\n' + TENT,
            ['device[1] = "fan": Write each as a section of its own that begins with [[device]].'],
            id="a text for a device",
        ),
        pytest.param(
            TENT
            + 'squeeze_g = 0\nvisits = ["x", 5, "08:00"]\n'
            + FAN
            + 'on = "x"\nwindows = [1]\n',
            [
                'chamber[1] "tent".squeeze_g = 0: Give more than 0.',
                f'chamber[1] "tent".visits[1] = "x": {A_TIME}',
                f'chamber[1] "tent".visits[2] = 5: {A_TIME}',
                f'device[1] "d".windows[1] = 1: {A_WINDOW}',
                'device[1] "d".on = "x": Write a number and a unit, such as 30 s, 5 min or 2 h.',
            ],
            id="no fault hides another",
        ),
    ],
)
def test_faults_between_and_beside(tmp_path: Path, text: str, lines: list[str]) -> None:
    assert _lines(tmp_path, text) == lines


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ('humidity.on_delay = "1 s"', 'chamber[1] "tent".patience.humidity.on_delay'),
        ('humidity.priority = "urgent"', "Write one of low, medium, high."),
        ("humidity.deadband = -1", "Give 0 or more."),
        ('battery.on_delay = "1 min"', "There is no such key; take it out."),
        ('co2.realarm = "1 min"', "Give 5 min to 24 h."),
    ],
)
def test_faults_of_patience(written: str, said: str, tmp_path: Path) -> None:
    path = tmp_path / "house.toml"
    path.write_text(f'[[chamber]]\nname = "tent"\nstage = "fruiting"\npatience.{written}\n')
    assert any(said in str(fault) for fault in check(path, {}))


def test_what_is_outdoors_has_no_stage(tmp_path: Path) -> None:
    path = tmp_path / "house.toml"
    path.write_text('[[chamber]]\nname = "tent"\nstage = "fruiting"\noutdoors = true\n')
    (fault,) = check(path, {})
    assert "take out stage, or outdoors" in str(fault)
    path.write_text('[[chamber]]\nname = "balcony"\noutdoors = true\n')
    assert load(path, {}).house().chambers["balcony"].outdoors
