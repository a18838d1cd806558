from datetime import UTC, datetime, timedelta
from typing import Any, Final

import pytest

from chamberwatch.core.errors import BadPayloadError
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.mqtt.payload import REASONS_AT_MOST, Field, PayloadReader
from chamberwatch.mqtt.senml import Received, Record, resolve
from chamberwatch.service.ports import Said
from tests.make import NOON
from tests.mqtt.letters import letter, reference, senml_reader, source

T, RH, CO2, BAT = Quantity.TEMPERATURE, Quantity.HUMIDITY, Quantity.CO2, Quantity.BATTERY
PACKS: Final = reference("senml-rfc8428.json")
NOW: Final = Received(NOON, retained=False)
WIRE: Final = "urn:dev:ow:10e2073a01080063"


def resolved(pack: object, received: Received = NOW) -> list[Record]:
    return resolve(pack, received)


def only(pack: object) -> Record:
    (record,) = resolved(pack)
    return record


# ------------------------------------------------------------------ the standard's own examples


def test_a_single_datapoint_5_1_1() -> None:
    assert resolved(PACKS["5.1.1"]) == [Record(WIRE, "Cel", None, 23.1)]


def test_multiple_datapoints_now_5_1_2() -> None:
    assert resolved(PACKS["5.1.2 now"]) == [
        Record(f"{WIRE}:voltage", "V", None, 120.1),
        Record(f"{WIRE}:current", "A", None, 1.2),
    ]


def test_multiple_datapoints_in_time_5_1_2() -> None:
    """Current at Tue Jun 8 18:01:16.001 UTC 2010 and at each second of the five before."""
    start = datetime(2010, 6, 8, 18, 1, 16, 1000, tzinfo=UTC)
    name = "urn:dev:ow:10e2073a0108006:"
    assert resolved(PACKS["5.1.2 timed"]) == [
        Record(f"{name}voltage", "V", start, 120.1),
        *(
            Record(f"{name}current", "A", start - timedelta(seconds=5 - i), round(1.2 + i / 10, 1))
            for i in range(6)
        ),
    ]


def test_multiple_measurements_resolve_as_5_1_4_shows() -> None:
    records = resolved(PACKS["5.1.3"])
    assert records == resolved(PACKS["5.1.4"])
    assert len(records) == 13
    assert records[0].time == datetime(2011, 10, 31, 13, 24, 24, tzinfo=UTC)


def test_multiple_data_types_5_1_5() -> None:
    records = resolved(PACKS["5.1.5"])
    assert records[0] == Record(f"{WIRE}:temp", "Cel", None, 23.1)
    assert [r.value for r in records[1:]] == [None, None, None]
    assert [r.fault.split(" has ")[1] for r in records[1:]] == [
        f"{label} instead of v; send the number as v." for label in ("vs", "vb", "vd")
    ]


def test_a_collection_of_resources_5_1_6() -> None:
    """The last record has the base name of the third and the base time of the first."""
    time = datetime(2011, 10, 31, 16, 27, 9, tzinfo=UTC)
    assert resolved(PACKS["5.1.6"]) == [
        Record("2001:db8::2/temperature", "Cel", time, 25.2),
        Record("2001:db8::2/humidity", "%RH", time, 30.0),
        Record("2001:db8::1/temperature", "Cel", time, 12.3),
        Record("2001:db8::1/humidity", "%RH", time, 67.0),
    ]


def test_a_record_of_base_fields_alone_is_no_measurement_5_1_7() -> None:
    assert resolved(PACKS["5.1.7"]) == [
        Record(f"{WIRE}:temp", "Cel", None, 23.1),
        Record(f"{WIRE}:heat", "/", None, 1.0),
        Record(f"{WIRE}:fan", "/", None, 0.0),
    ]


# ------------------------------------------------------------------ resolving


@pytest.mark.parametrize(
    ("fields", "expected"),
    [
        pytest.param({}, None, id="no time at all"),
        pytest.param({"t": 0}, None, id="zero is roughly now"),
        pytest.param({"bt": 5, "t": -5}, None, id="a sum of zero too"),
        pytest.param({"t": -90}, NOON - timedelta(seconds=90), id="past"),
        pytest.param({"t": 2.5}, NOON + timedelta(seconds=2.5), id="future"),
        pytest.param({"bt": -60, "t": -30}, NOON - timedelta(seconds=90), id="sum"),
        pytest.param({"bt": 1_768_910_400}, NOON, id="absolute base"),
        pytest.param({"t": 1_768_910_400}, NOON, id="absolute"),
        pytest.param(
            {"bt": 1_768_910_400, "t": -60}, NOON - timedelta(minutes=1), id="absolute sum"
        ),
    ],
)
def test_times(fields: dict[str, float], expected: datetime | None) -> None:
    assert only([{"n": "t", "v": 18, **fields}]).time == expected


def test_the_last_relative_time_and_the_first_absolute() -> None:
    """RFC 8428, section 4.5.3: 2**28 s parts them; as a date it lies in 1978."""
    relative = only([{"n": "t", "v": 18, "t": 2**28 - 1}])
    assert relative.time == NOON + timedelta(seconds=2**28 - 1)
    assert "before 1980" in only([{"n": "t", "v": 18, "t": 2**28}]).fault


def test_a_retained_pack_does_not_know_its_now() -> None:
    pack = [{"n": "t", "v": 18, "t": -90}, {"n": "t", "v": 18, "t": 1_768_910_400}]
    times = [r.time for r in resolved(pack, Received(NOON, retained=True))]
    assert times == [None, NOON]


def test_base_fields_hold_until_the_next() -> None:
    pack = [
        {"bn": "a:", "bu": "Cel", "bv": 20, "n": "t", "v": 1},
        {"n": "t", "v": -1.5},
        {"bn": "b:", "bv": 0, "n": "t", "v": 3},
        {"bu": "K", "n": "t", "v": 290},
    ]
    assert [(r.name, r.unit, r.value) for r in resolved(pack)] == [
        ("a:t", "Cel", 21.0),
        ("a:t", "Cel", 18.5),
        ("b:t", "Cel", 3.0),
        ("b:t", "K", 290.0),
    ]


def test_unknown_fields_are_ignored() -> None:
    record = only([{"n": "t", "v": 18, "ut": 60, "s": 4, "note": "hello", "bs": 3}])
    assert record == Record("t", None, None, 18.0)


@pytest.mark.parametrize(
    ("pack", "part"),
    [
        pytest.param({"n": "t", "v": 1}, "list of records", id="one object"),
        pytest.param([], "list of records", id="empty"),
        pytest.param([3], "record 1 is 3", id="no object"),
        pytest.param([{"n": "t", "v": 1}, None], "record 2 is null", id="second no object"),
        pytest.param([{"bver": 11, "n": "t", "v": 1}], "Version 11", id="newer"),
        pytest.param([{"bver": 0, "n": "t", "v": 1}], "Version 0", id="older than all"),
        pytest.param([{"bver": True, "n": "t", "v": 1}], "Version true", id="bool version"),
        pytest.param([{"bver": "10", "n": "t", "v": 1}], 'Version "10"', id="text version"),
        pytest.param([{"n": "t", "v": 1}, {"bver": 12}], "record 2: Version 12", id="later"),
        pytest.param([{"n": "t", "v": 1, "x_": 2}], '"x_" must be understood', id="must know"),
        pytest.param([{"bn": 3, "n": "t", "v": 1}], "bn is 3", id="base name"),
        pytest.param([{"bu": None, "n": "t", "v": 1}], "bu is null", id="base unit"),
        pytest.param([{"bt": "now", "n": "t", "v": 1}], 'bt is "now"', id="base time"),
        pytest.param([{"bv": True, "n": "t", "v": 1}], "bv: true", id="base value"),
    ],
)
def test_no_pack(pack: object, part: str) -> None:
    with pytest.raises(BadPayloadError) as caught:
        resolved(pack)
    assert part in str(caught.value)


@pytest.mark.parametrize(
    ("record", "part"),
    [
        pytest.param({"n": "t"}, "has no v", id="no value"),
        pytest.param({"n": "t", "s": 4}, "has s instead of v", id="sum"),
        pytest.param({"n": "t", "bv": 20}, "has no v", id="base value alone"),
        pytest.param({"n": "t", "v": "18"}, "without quotes", id="quotes"),
        pytest.param({"n": "t", "v": None}, "null is not a number", id="null"),
        pytest.param({"n": "t", "bv": 1e308, "v": 1e308}, "not a finite", id="sum overflows"),
        pytest.param({"n": "t", "v": 18, "t": []}, "t: a list", id="time"),
        pytest.param({"n": "t", "v": 18, "u": 3}, "u is 3", id="unit"),
        pytest.param({"n": 3, "v": 18}, "n is 3", id="name no text"),
        pytest.param({"n": "", "v": 18}, "breaks the rule", id="no name"),
        pytest.param({"n": "-t", "v": 18}, "begin with a letter", id="first character"),
        pytest.param({"n": "t air", "v": 18}, '"t air" breaks the rule', id="blank"),
        pytest.param({"n": "t°", "v": 18}, "breaks the rule", id="sign"),
    ],
)
def test_a_fault_of_one_record_stays_its_own(record: dict[str, Any], part: str) -> None:
    faulty, sound = resolved([record, {"n": "rh", "bv": 0, "v": 91}])
    assert part in faulty.fault
    assert faulty.value is None
    assert (sound.name, sound.value, sound.fault) == ("rh", 91.0, "")


# ------------------------------------------------------------------ as a sensor's message


def test_several_quantities_and_times_of_one_pack() -> None:
    pack = [
        {"bn": "tent:", "bt": 1_768_910_400, "n": "t", "u": "Cel", "v": 18},
        {"n": "rh", "u": "%RH", "v": 91},
        {"n": "t", "u": "Cel", "t": -60, "v": 17.5},
        {"n": "light", "u": "lx", "v": 300},
    ]
    values, reasons = senml_reader(temperature="tent:t", humidity="tent:rh").read_all(letter(pack))
    assert values == [
        Said("middle", T, 18.0, NOON),
        Said("middle", T, 17.5, NOON - timedelta(minutes=1)),
        Said("middle", RH, 91.0, NOON),
    ]
    assert reasons == []


def test_the_record_s_unit_goes_before_the_base_s_and_that_before_the_setting_s() -> None:
    reader = PayloadReader([source("senml", {T: Field("t", "°F")})])
    pack = [
        {"n": "t", "v": 70.7},
        {"bu": "K", "n": "t", "v": 294.65},
        {"n": "t", "u": "Cel", "v": 3},
    ]
    assert [s.value for s in reader.read(letter(pack))] == [21.5, 21.5, 3.0]


def test_units_tell_the_parameters_of_one_name_apart() -> None:
    """RFC 8428, section 5.1.3: humidity, position and battery under one name."""
    values, reasons = senml_reader(humidity=WIRE).read_all(letter(PACKS["5.1.3"]))
    assert [s.value for s in values] == [20.0, 20.3, 20.7, 21.2]
    assert reasons == []


def test_a_name_with_foreign_units_only_is_told() -> None:
    with pytest.raises(BadPayloadError, match="lx is not a unit of temperature"):
        senml_reader(temperature="t").read(letter([{"n": "t", "u": "lx", "v": 300}]))


def test_a_record_without_a_number_is_a_reason() -> None:
    reader = senml_reader(temperature=f"{WIRE}:temp", humidity=f"{WIRE}:open")
    values, reasons = reader.read_all(letter(PACKS["5.1.5"]))
    assert values == [Said("middle", T, 23.1, None)]
    assert reasons == ["middle: SenML record 3: has vb instead of v; send the number as v."]


def test_a_pack_without_our_names_is_refused() -> None:
    with pytest.raises(BadPayloadError, match="nothing of humidity"):
        senml_reader(humidity="rh").read(letter(PACKS["5.1.1"]))


def test_not_every_reason_of_a_long_pack_is_told() -> None:
    pack = [{"n": "t", "v": 18}, *({"n": "t", "v": 1000 + i} for i in range(100))]
    values, reasons = senml_reader(temperature="t").read_all(letter(pack))
    assert len(values) == 1
    assert len(reasons) == REASONS_AT_MOST + 1
    assert reasons[-1] == "And 80 more."
