"""From the bytes of an unknown message to what it may hold; and what a sensor would read of it."""

import json
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chamberwatch.core.watch.reading import Quantity
from chamberwatch.mqtt.guessing import LOOKED_INTO_BYTES, NUMBERS_AT_MOST, Understanding, guess_of
from chamberwatch.service.claiming import Wish
from chamberwatch.service.listening import Heard

CAME = datetime(2026, 1, 20, 18, 0, tzinfo=UTC)
PACK = '[{"bn":"wall/","n":"temp","u":"Cel","v":20.6},{"n":"rh","u":"%RH","v":44}]'
TWO_OF_ONE_NAME = '[{"n":"wall","u":"Cel","v":20.6},{"n":"wall","u":"%RH","v":44}]'
LATER = '[{"n":"t","u":"Cel","v":20.6,"t":-60},{"n":"t","u":"Cel","v":20.9}]'
T, H, C = Quantity.TEMPERATURE, Quantity.HUMIDITY, Quantity.CO2


def heard(payload: bytes, *, topic: str = "garden/2", size: int | None = None) -> Heard:
    size = len(payload) if size is None else size
    return Heard(topic, payload, size, 1, CAME, CAME, False, None)


@pytest.mark.parametrize(
    ("topic", "payload", "kind", "sure"),
    [
        pytest.param("tent/co2", "840", "number", [("", C, 840.0)], id="number"),
        pytest.param("tent/co2", ' "840" \n', "number", [("", C, 840.0)], id="number-in-quotes"),
        pytest.param(
            "garden/2",
            '{"humidity": 81.2, "temperature": 17.9}',
            "json",
            [("/humidity", H, 81.2), ("/temperature", T, 17.9)],
            id="json-in-its-own-order",
        ),
        pytest.param(
            "garden/2",
            '{"air": {"t": "17.9", "a/b~c": {"rh": 81}}, "list": [{"co2": 840}]}',
            "json",
            [("/air/t", T, 17.9), ("/air/a~1b~0c/rh", H, 81.0), ("/list/0/co2", C, 840.0)],
            id="json-nested-with-awkward-keys",
        ),
        pytest.param(
            "garden/2",
            '{"temperature": {"value": 64.2, "unit": "°F"}}',
            "json",
            [("/temperature/value", T, 64.2)],
            id="json-with-a-unit-beside-it",
        ),
        pytest.param(
            "a", PACK, "senml", [("wall/temp", T, 20.6), ("wall/rh", H, 44.0)], id="senml"
        ),
        pytest.param(
            "a", TWO_OF_ONE_NAME, "senml", [("wall", T, 20.6), ("wall", H, 44.0)], id="senml-5.1.3"
        ),
        pytest.param("a", LATER, "senml", [("t", T, 20.9)], id="senml-the-newest-of-a-log"),
    ],
)
def test_what_is_understood(
    topic: str, payload: str, kind: str, sure: list[tuple[str, Quantity, float]]
) -> None:
    found = guess_of(topic, payload.encode(), CAME, retained=False)
    assert (found.payload, found.why) == (kind, "")
    assert [
        (each.leaf.at, each.likely.quantity, each.leaf.value)
        for each in found.likely()
        if each.likely
    ] == sure


@pytest.mark.parametrize(
    ("payload", "why"),
    [
        pytest.param(b"\xff\xfe", "it is no text.", id="bytes"),
        pytest.param(b"  ", "it is empty.", id="empty"),
        pytest.param(b"on", "it is neither a number nor JSON.", id="word"),
        pytest.param(b'{"a": ', "it is neither a number nor JSON.", id="half"),
        pytest.param(b"[" * 100_000, "it is neither a number nor JSON.", id="deep"),
        pytest.param(b'"on"', "it holds no number.", id="text"),
        pytest.param(b"[0, 1]", "no number of it is of the air.", id="strange-list"),
        pytest.param(b'{"a": "b", "c": null, "d": true}', "it holds no number.", id="no-number"),
        pytest.param(b"[]", "it holds no number.", id="nothing"),
        pytest.param(b'{"time": 1768932000}', "it holds no number.", id="only-a-time"),
        pytest.param(b'{"rssi": -61}', "Neither its name nor its figure", id="radio"),
        pytest.param(b'{"rssi": -61, "up": 1}', "no number of it is of the air.", id="radios"),
        pytest.param(b'{"battery": 87}', "A battery is read in V or mV", id="per-cent"),
        pytest.param(b"-9999", "Neither its name nor its figure", id="a-number-for-nothing"),
        pytest.param(b'[{"n":"x","vs":"on"}]', "SenML record 1: has vs", id="senml-text"),
        pytest.param(b'[{"bn":"x"}]', "its pack is empty.", id="senml-without-records"),
        pytest.param(b'[{"n":"x","v":1,"q_":2}]', "SenML record 1: The field", id="senml-unknown"),
    ],
)
def test_what_is_not(payload: bytes, why: str) -> None:
    found = guess_of("garden/2", payload, CAME, retained=False)
    assert found.why.startswith(why)
    assert found.likely() == ()


@pytest.mark.parametrize(
    ("stamp", "retained", "at", "why"),
    [
        pytest.param(CAME.isoformat(), False, "/time", "", id="now"),
        pytest.param(int(CAME.timestamp() * 1000), False, "/time", "", id="milliseconds"),
        pytest.param((CAME + timedelta(minutes=1)).isoformat(), False, "/time", "", id="a-bit-on"),
        pytest.param(
            (CAME + timedelta(hours=1)).isoformat(), False, None, "The time at /time lies ahead",
            id="ahead",
        ),
        pytest.param(
            (CAME - timedelta(hours=3)).isoformat(), False, None, "The time at /time lies far",
            id="behind",
        ),
        pytest.param(
            (CAME - timedelta(hours=3)).isoformat(), True, "/time", "", id="an-old-one-may-be-old"
        ),
        pytest.param("2026-01-20T18:00:00", False, None, "The time", id="without-a-zone"),
        pytest.param(88_421, False, None, "The time 88421.0 is before", id="seconds-since-on"),
        pytest.param("noon", False, None, '"noon" is not a time', id="word"),
    ],
)  # fmt: skip
def test_its_own_time(stamp: object, retained: bool, at: str | None, why: str) -> None:
    payload = json.dumps({"time": stamp, "temp": 17.9}).encode()
    found = guess_of("garden/2", payload, CAME, retained=retained)
    assert found.time_at == at
    assert found.time_why.startswith(why)
    assert bool(found.time_why) == bool(why)


def test_the_first_good_time_is_taken() -> None:
    payload = json.dumps({"at": "x", "ts": CAME.isoformat(), "time": 7, "temp": 17.9}).encode()
    found = guess_of("garden/2", payload, CAME, retained=False)
    assert (found.time_at, found.time_why) == ("/ts", "")
    # What comes behind a good time is not taken for another, but for a number it may be.
    assert "/time" in [each.leaf.at for each in found.numbers]


def test_a_message_without_end_is_looked_into_only_so_far() -> None:
    payload = json.dumps({f"temp{n}": 18 for n in range(10_000)}).encode()
    found = guess_of("garden/2", payload, CAME, retained=False)
    assert len(found.numbers) == NUMBERS_AT_MOST
    assert len(found.likely()) == 1


@given(st.binary(max_size=200) | st.text(max_size=200).map(str.encode))
@settings(max_examples=300)
def test_nothing_that_is_sent_raises(payload: bytes) -> None:
    found = guess_of("garden/2", payload, CAME, retained=False)
    assert found.why or found.numbers


JSON = st.recursive(
    st.none() | st.booleans() | st.floats() | st.text(max_size=5) | st.integers(),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(
            st.sampled_from(["temp", "rh", "n", "v", "bn", "bt", "u", "time", "unit", "t", "vs"]),
            inner,
            max_size=5,
        )
    ),
    max_leaves=20,
)


@given(JSON)
@settings(max_examples=300)
def test_no_json_raises_and_what_is_sure_is_read(document: object) -> None:
    """Whatever is proposed is what the reader of the intake reads."""
    payload = json.dumps(document).encode()
    found = guess_of("garden/2", payload, CAME, retained=False)
    reads = {e.likely.quantity: (e.leaf.at, e.likely.unit) for e in found.likely() if e.likely}
    if not reads:
        return
    wish = Wish("x", "garden/2", found.payload, "tent", "air", reads, found.time_at)
    would = Understanding().would_read(wish, payload, CAME)
    assert {said.quantity for said in would.said} == set(reads)


# ------------------------------------------------------------------ for the service


def test_a_message_that_was_cut_is_not_guessed_at() -> None:
    found = Understanding().guess(heard(b'{"temp": 17.9}', size=70_000))
    assert found.why == "it has 70000 bytes, too many for a look into it."
    assert Understanding().guess(heard(b'{"temp": 17.9}')).likely() != ()


@pytest.mark.parametrize(
    ("reads", "said", "reason"),
    [
        pytest.param({T: ("/t", "°F")}, [(T, 17.777778)], "", id="converted"),
        pytest.param({T: ("/t", "°F"), H: ("/no", "%")}, [(T, 17.777778)], "", id="one-is-silent"),
        pytest.param({H: ("/t", "%")}, [(H, 64.0)], "", id="as-told"),
        pytest.param({T: ("/t", "K")}, [], "temperature 64 K", id="out-of-range"),
        pytest.param({T: ("/t", "lx")}, [], "lx is not a unit", id="no-unit"),
    ],
)
def test_what_would_be_read(
    reads: dict[Quantity, tuple[str, str]], said: list[tuple[Quantity, float]], reason: str
) -> None:
    wish = Wish("x", "garden/2", "json", "tent", "air", reads)
    would = Understanding().would_read(wish, b'{"t": 64}', CAME)
    assert [(each.quantity, each.value) for each in would.said] == said
    assert any(reason in each for each in would.reasons) or not reason


def test_filters_take_in_as_at_the_broker() -> None:
    assert Understanding().takes_in("garden/+", "garden/2")
    assert not Understanding().takes_in("garden/+", "garden/2/climate")


@pytest.mark.parametrize(
    "payload",
    [
        pytest.param('{"temp": {"value": 20.5, "unit": "\\ud800"}}', id="unit"),
        pytest.param('{"temp\\ud800": 20.5, "temp": 20.5}', id="key"),
        pytest.param('{"\\ud800": {"temp": 20.5}}', id="key-above"),
        pytest.param('{"time\\ud800": 1, "time": "\\ud800", "temp": 20.5}', id="time"),
        pytest.param('[{"n": "temp", "u": "\\ud800", "v": 20.5}]', id="senml-unit"),
        pytest.param('[{"n": "temp\\ud800", "u": "Cel", "v": 20.5}]', id="senml-name"),
    ],
)
def test_half_a_character_is_written_as_its_number(payload: str) -> None:
    guess = guess_of("a", payload.encode(), CAME, retained=False)
    assert "d800" in repr(guess)
    written = [guess.payload, guess.why, guess.time_why, guess.time_at or ""]
    for each in guess.numbers:
        written += [each.leaf.at, each.leaf.unit or "", each.why, *each.leaf.names]
    "".join(written).encode()


def test_a_long_message_is_not_looked_into() -> None:
    text = json.dumps({"temperature": 20.5, "more": "x" * LOOKED_INTO_BYTES})
    guess = Understanding().guess(heard(text.encode()))
    assert guess.numbers == ()
    assert guess.why == f"it has {len(text)} bytes, too many for a look into it."
