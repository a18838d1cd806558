import json
import math
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Final

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from chamberwatch.core.errors import BadPayloadError, SettingsError
from chamberwatch.core.watch.reading import PLAUSIBLE, Quantity
from chamberwatch.mqtt.payload import LARGEST, Field, PayloadReader, Source
from chamberwatch.mqtt.topics import OwnTopics
from chamberwatch.service.ports import Reader, Said
from tests.make import NOON
from tests.mqtt.letters import (
    TOPIC,
    json_reader,
    letter,
    number_reader,
    reference,
    source,
)

T, RH, CO2 = Quantity.TEMPERATURE, Quantity.HUMIDITY, Quantity.CO2
POINTERS: Final = reference("json-pointer-rfc6901.json")


def said(quantity: Quantity, value: float, time: datetime | None = None) -> Said:
    return Said("middle", quantity, value, time)


def refusal(reader: PayloadReader, payload: object) -> str:
    """Return why nothing of it could be read."""
    with pytest.raises(BadPayloadError) as caught:
        reader.read_all(letter(payload))
    return str(caught.value)


# ------------------------------------------------------------------ number


@pytest.mark.parametrize(
    ("payload", "value"),
    [
        pytest.param(b"21.5", 21.5, id="plain"),
        pytest.param(b" 21.5\r\n", 21.5, id="white space"),
        pytest.param(b'"21.5"', 21.5, id="in quotes"),
        pytest.param(b"\xef\xbb\xbf21.5", 21.5, id="byte order mark"),
        pytest.param(b"-0.5e1", -5.0, id="exponent"),
    ],
)
def test_a_number(payload: bytes, value: float) -> None:
    assert number_reader(T).read(letter(payload)) == [said(T, value)]


def test_a_number_in_another_unit() -> None:
    assert number_reader(T, "°F").read(letter(b"70.7")) == [said(T, 21.5)]


@pytest.mark.parametrize(
    ("payload", "part"),
    [
        pytest.param(b"", "is empty", id="empty"),
        pytest.param(b" \n", "is empty", id="blank"),
        pytest.param(b"unavailable", '"unavailable" is not a number', id="word"),
        pytest.param(b"null", "not a number", id="null"),
        pytest.param(b"true", "not a number", id="bool"),
        pytest.param(b"nan", "not a number", id="nan"),
        pytest.param(b'"', "not a number", id="one quote"),
        pytest.param(b"\xff\xfe2", "not UTF-8 text (byte 1)", id="bytes"),
        pytest.param(b"850", "temperature 850 °C is outside -40 to 85 °C", id="implausible"),
        pytest.param(b"1" * (LARGEST + 1), "65537 bytes; send at most 65536", id="too large"),
    ],
)
def test_no_number(payload: bytes, part: str) -> None:
    assert part in refusal(number_reader(T), payload)


# ------------------------------------------------------------------ json


def test_json_gives_all_quantities_one_time() -> None:
    reader = json_reader("/at", temperature="/air/t", humidity="/air/rh", co2="/gas/0")
    payload = {"at": "2026-01-20T11:00:00Z", "air": {"t": 18, "rh": "91.5"}, "gas": [850]}
    hour_ago = NOON - timedelta(hours=1)
    values, reasons = reader.read_all(letter(payload))
    assert values == [
        said(T, 18.0, hour_ago),
        said(RH, 91.5, hour_ago),
        said(CO2, 850.0, hour_ago),
    ]
    assert reasons == []


@pytest.mark.parametrize("at", [pytest.param(at, id=at) for at in POINTERS["numbers"]])
def test_pointers_of_the_standard(at: str) -> None:
    values = json_reader(co2=at).read(letter(POINTERS["document"]))
    assert values == [said(CO2, POINTERS["numbers"][at])]


@pytest.mark.parametrize("at", [pytest.param(at, id=at or "empty") for at in POINTERS["others"]])
def test_pointers_of_the_standard_to_no_number(at: str) -> None:
    what = POINTERS["others"][at]
    assert f"{what} is not a number" in refusal(json_reader(co2=at), POINTERS["document"])


def test_the_whole_document_may_be_the_value() -> None:
    assert json_reader(temperature="").read(letter(b"21.5")) == [said(T, 21.5)]


@pytest.mark.parametrize(
    "payload",
    [
        pytest.param({"t": 18.0}, id="missing"),
        pytest.param({"t": 18.0, "rh": None}, id="null"),
    ],
)
def test_a_quantity_the_sensor_is_silent_on_is_left_out(payload: object) -> None:
    values, reasons = json_reader(temperature="/t", humidity="/rh").read_all(letter(payload))
    assert values == [said(T, 18.0)]
    assert reasons == []


@pytest.mark.parametrize(
    "payload",
    [
        pytest.param({}, id="nothing"),
        pytest.param({"t": None, "rh": None}, id="nulls"),
        pytest.param([1, 2], id="list"),
        pytest.param("text", id="text"),
        pytest.param(7, id="number"),
    ],
)
def test_silence_on_everything_is_told(payload: object) -> None:
    told = refusal(json_reader(temperature="/t", humidity="/rh"), payload)
    assert told == (
        "The message says nothing of temperature (middle, at '/t'), humidity (middle, at '/rh'); "
        "look at the sensor."
    )


def test_behind_the_end_of_a_list_is_nothing() -> None:
    assert "says nothing of" in refusal(json_reader(co2="/-"), [1, 2])


@pytest.mark.parametrize(
    ("bad", "part"),
    [
        pytest.param(b"true", "true is not a number", id="bool"),
        pytest.param(b"NaN", "NaN is not a finite", id="nan"),
        pytest.param(b"-Infinity", "-Infinity is not a finite", id="infinity"),
        pytest.param(b'"wet"', '"wet" is not a number', id="word"),
        pytest.param(b"140", "humidity 140 % is outside 0 to 105 %", id="implausible"),
        pytest.param(b"9" * 400, "not a finite number", id="huge"),
        pytest.param(b"{}", "an object is not a number", id="object"),
    ],
)
def test_one_bad_value_does_not_spoil_the_other(bad: bytes, part: str) -> None:
    payload = b'{"t": 18.0, "rh": ' + bad + b"}"
    values, reasons = json_reader(temperature="/t", humidity="/rh").read_all(letter(payload))
    assert values == [said(T, 18.0)]
    assert [reason.startswith("middle, humidity: ") for reason in reasons] == [True]
    assert part in reasons[0]


def test_all_bad_is_one_refusal_with_each_reason() -> None:
    told = refusal(json_reader(temperature="/t", humidity="/rh"), {"t": True, "rh": 140})
    assert "temperature: true is not a number" in told
    assert "humidity 140 %" in told


@pytest.mark.parametrize(
    ("payload", "part"),
    [
        pytest.param(b"{'t': 1}", "not JSON (Expecting property name", id="not json"),
        pytest.param(b'{"t": 1', "line 1 column 8", id="cut off"),
        pytest.param(b"[" * 60_000, "too deeply", id="deep"),
        pytest.param(b'{"t":' * 10_000, "too deeply", id="deep objects"),
        pytest.param(b"9" * 5000, "too long", id="endless number"),
    ],
)
def test_no_json(payload: bytes, part: str) -> None:
    assert part in refusal(json_reader(temperature="/t"), payload)


@pytest.mark.parametrize(
    "payload",
    [
        pytest.param({"t": 18.0}, id="missing"),
        pytest.param({"t": 18.0, "at": None}, id="null"),
    ],
)
def test_a_message_may_lack_its_time(payload: object) -> None:
    assert json_reader("/at", temperature="/t").read(letter(payload)) == [said(T, 18.0)]


@pytest.mark.parametrize(
    ("time", "part"),
    [
        pytest.param("2026-01-20T12:00:00", "no offset from UTC", id="naive"),
        pytest.param(31, "before 1980", id="clock never set"),
        pytest.param({}, "not a time", id="object"),
    ],
)
def test_a_value_at_a_wrong_time_is_refused(time: object, part: str) -> None:
    assert part in refusal(json_reader("/at", temperature="/t"), {"t": 18.0, "at": time})


# ------------------------------------------------------------------ several sensors


def two_on_one_topic() -> PayloadReader:
    return PayloadReader(
        [
            source("json", {T: Field("/top/t")}, "top"),
            source("json", {T: Field("/block/t", "K")}, "block"),
        ]
    )


def test_sensors_may_share_a_topic() -> None:
    values = two_on_one_topic().read(letter({"top": {"t": 18.0}, "block": {"t": 294.65}}))
    assert values == [Said("top", T, 18.0, None), Said("block", T, 21.5, None)]


def test_a_sensor_absent_from_a_shared_message_is_no_fault() -> None:
    values, reasons = two_on_one_topic().read_all(letter({"block": {"t": 294.65}}))
    assert values == [Said("block", T, 21.5, None)]
    assert reasons == []


def test_what_they_share_is_refused_once() -> None:
    assert refusal(two_on_one_topic(), b"{").count("not JSON") == 1


def test_sensors_that_share_a_topic_may_write_differently() -> None:
    reader = PayloadReader(
        [source("number", {T: Field("")}, "top"), source("json", {RH: Field("/rh")}, "middle")]
    )
    values, reasons = reader.read_all(letter(b"21.5"))
    assert values == [Said("top", T, 21.5, None)]
    assert reasons == []


@pytest.mark.parametrize(
    ("topic", "sensors"),
    [
        pytest.param("tent/top/air", ["one", "level", "all"], id="exact"),
        pytest.param("tent/low/air", ["level", "all"], id="level"),
        pytest.param("room", ["all"], id="all"),
    ],
)
def test_wildcards_choose_the_sensors(topic: str, sensors: Sequence[str]) -> None:
    reads = {T: Field("")}
    reader = PayloadReader(
        [
            source("number", reads, "one", "tent/top/air"),
            source("number", reads, "level", "tent/+/air"),
            source("number", reads, "all", "#"),
        ]
    )
    assert [s.sensor for s in reader.read(letter(b"18", topic))] == sensors


def test_a_topic_of_no_sensor_is_told() -> None:
    reader = number_reader(T)
    with pytest.raises(BadPayloadError, match=r"No sensor is set up for the topic \$SYS/uptime"):
        reader.read_all(letter(b"18", "$SYS/uptime"))


def test_invented_topics_do_not_fill_the_memory(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("chamberwatch.mqtt.payload.TOPICS_REMEMBERED", 10)
    reader = PayloadReader([source("number", {T: Field("")}, topic="#")])
    for number in range(100):
        assert len(reader.read(letter(b"18", f"tent/{number}"))) == 1
    assert len(reader._of_topic) <= 10


# ------------------------------------------------------------------ settings


@pytest.mark.parametrize(
    ("wrong", "part"),
    [
        pytest.param(source("json", {T: Field("t")}), "begins with /", id="pointer"),
        pytest.param(source("json", {T: Field("/~2")}), "~0", id="escape"),
        pytest.param(
            source("json", {T: Field("/t")}, time_at="at"), "time at = at", id="time pointer"
        ),
        pytest.param(source("number", {T: Field("", "%")}), "use one of °C", id="unit"),
        pytest.param(
            source("number", {T: Field(""), RH: Field("")}), "exactly one quantity", id="two"
        ),
        pytest.param(source("senml", {}), "at least one quantity", id="none"),
        pytest.param(
            source("number", {T: Field("")}, topic="a/#/b"), "last level", id="topic filter"
        ),
    ],
)
def test_settings_that_cannot_be_are_told(wrong: Source, part: str) -> None:
    with pytest.raises(SettingsError) as caught:
        PayloadReader([wrong])
    assert part in str(caught.value)
    assert "sensor middle" in str(caught.value)


# ------------------------------------------------------------------ whatever comes

ANYTHING: Final = PayloadReader(
    [
        source("number", {T: Field("", "°F")}, "a"),
        source("json", {T: Field("/t"), RH: Field("/rh"), CO2: Field("/-")}, "b", time_at="/at"),
        source("json", {CO2: Field("")}, "c", time_at=""),
        source("senml", {T: Field("t"), RH: Field("rh")}, "d"),
    ]
)
LEAVES: Final = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.floats(),
    st.text(max_size=8),
    st.sampled_from(["t", "rh"]),
)
DOCUMENTS: Final = st.recursive(
    LEAVES,
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(st.sampled_from(["t", "rh", "at", "x_", "é"]), inner)
    ),
    max_leaves=12,
)
LABELS: Final = ["bn", "bt", "bu", "bv", "bver", "n", "u", "v", "vs", "vb", "s", "t", "ut", "z_"]
PACKS: Final = st.lists(st.dictionaries(st.sampled_from(LABELS), LEAVES), max_size=5)


UNHURRIED: Final = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])


def taken_in_or_refused(payload: bytes) -> None:
    """Read it; what comes through the door is sound, and every reason can be stored."""
    try:
        values, reasons = ANYTHING.read_all(letter(payload))
    except BadPayloadError as error:
        values, reasons = (), (str(error),)
    assert values or reasons
    for value in values:
        low, high = PLAUSIBLE[value.quantity]
        assert math.isfinite(value.value)
        assert low <= value.value <= high
        assert value.time is None or value.time.utcoffset() == timedelta(0)
    for reason in reasons:
        assert reason.encode()


@UNHURRIED
@given(st.binary(max_size=200))
def test_any_bytes_are_read_or_refused(payload: bytes) -> None:
    taken_in_or_refused(payload)


@UNHURRIED
@given(DOCUMENTS)
def test_any_json_is_read_or_refused(document: object) -> None:
    taken_in_or_refused(json.dumps(document).encode())


@UNHURRIED
@given(PACKS)
def test_any_pack_is_read_or_refused(pack: object) -> None:
    taken_in_or_refused(json.dumps(pack).encode())


def test_the_reader_is_what_the_intake_needs() -> None:
    reader: Reader = number_reader(T)
    assert reader.read_all(letter(b"18", TOPIC))[0] == [said(T, 18.0)]


def test_own_messages_are_neither_values_nor_rejects() -> None:
    own = OwnTopics("chamberwatch")
    reader = PayloadReader([source("number", {T: Field("")}, topic="#")], own)
    assert reader.read_all(letter(b'{"at_work": true}', "chamberwatch/status")) == ((), ())
    assert [said.value for said in reader.read(letter(b"18", "chamberwatch/tent/air"))] == [18.0]
