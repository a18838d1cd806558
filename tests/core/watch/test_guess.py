"""What a number of an unknown message may be, by its name and its figure."""

import pytest

from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.core.watch.guess import (
    Guess,
    Leaf,
    guess,
    guess_all,
    hangs_in,
    named_after,
    sends,
    tells_time,
    words_of,
)
from chamberwatch.core.watch.reading import PLAUSIBLE, Quantity, in_words
from tests.make import ROOM, TENT

T, H, C, P, B = Quantity


def leaf(name: str, value: float, unit: str | None = None, topic: str = "garden/2") -> Leaf:
    path = tuple(part for part in name.split("/") if part)
    return Leaf(f"/{name}" if name else "", value, path, tuple(topic.split("/")), unit)


@pytest.mark.parametrize(
    ("name", "value", "quantity", "unit", "kept"),
    [
        pytest.param("temperature", 17.9, T, "°C", 17.9, id="temperature"),
        pytest.param("temp", 64.0, T, "°F", 17.777778, id="64-is-no-room-in-celsius"),
        pytest.param("t", 17.9, T, "°C", 17.9, id="t"),
        pytest.param("T1", 17.9, T, "°C", 17.9, id="numbered"),
        pytest.param("airTempC", 36.0, T, "°C", 36.0, id="camel-with-unit"),
        pytest.param("temp_f", 36.0, T, "°F", 2.222222, id="unit-in-the-name"),
        pytest.param("TEMPERATURE", 291.0, T, "K", 17.85, id="kelvin"),
        pytest.param("kelvin", 291.0, T, "K", 17.85, id="unit-as-name"),
        pytest.param("air/t", 17.9, T, "°C", 17.9, id="nested"),
        pytest.param("temperature/value", 17.9, T, "°C", 17.9, id="value-below-its-name"),
        pytest.param("temperature/0", 17.9, T, "°C", 17.9, id="first-of-a-list"),
        pytest.param("humidity", 81.2, H, "%", 81.2, id="humidity"),
        pytest.param("rh", 0.812, H, "fraction", 81.2, id="as-a-fraction"),
        pytest.param("hum", 100.0, H, "%", 100.0, id="hum"),
        pytest.param("h", 55.0, H, "%", 55.0, id="h"),
        pytest.param("relHum_pct", 55.0, H, "%", 55.0, id="per-cent-in-the-name"),
        pytest.param("CO2", 840.0, C, "ppm", 840.0, id="co2"),
        pytest.param("co2_ppm", 840.0, C, "ppm", 840.0, id="co2-with-unit"),
        pytest.param("ppm", 840.0, C, "ppm", 840.0, id="ppm-alone"),
        pytest.param("carbon_dioxide", 0.2, C, "%", 2000.0, id="co2-in-per-cent"),
        pytest.param("pressure", 1003.2, P, "hPa", 100_320.0, id="pressure"),
        pytest.param("p", 100_320.0, P, "Pa", 100_320.0, id="pascal"),
        pytest.param("baro", 100.3, P, "kPa", 100_300.0, id="kilopascal"),
        pytest.param("pressure_mbar", 1003.2, P, "mbar", 100_320.0, id="mbar"),
        pytest.param("battery", 2950.0, B, "mV", 2.95, id="battery"),
        pytest.param("bat_v", 2.95, B, "V", 2.95, id="volts-in-the-name"),
        pytest.param("voltage", 3.3, B, "V", 3.3, id="voltage"),
        pytest.param("cell", 2950.0, B, "mV", 2.95, id="cell-alone"),
    ],
)
def test_what_is_sure(name: str, value: float, quantity: Quantity, unit: str, kept: float) -> None:
    found = guess(leaf(name, value))
    assert found.likely is not None
    assert (found.likely.quantity, found.likely.unit) == (quantity, unit)
    assert found.likely.kept == pytest.approx(kept)
    assert found.why == ""


@pytest.mark.parametrize(
    ("name", "value", "choices", "why"),
    [
        pytest.param(
            "temp", 37.0, [(T, "°C"), (T, "°F")], "It may be 37 °C or 37 °F. Say which.", id="37"
        ),
        pytest.param("dew_point_temp", 14.0, [(T, "°C")], "By its name (dew)", id="dew-point"),
        pytest.param("soil/temp", 14.0, [(T, "°C")], "By its name (soil)", id="soil-above"),
        pytest.param("target_humidity", 90.0, [(H, "%")], "By its name (target)", id="wish"),
        pytest.param("eCO2", 500.0, [(C, "ppm")], "By its name (eco2)", id="eco2"),
        pytest.param(
            "battery", 87.0, [], "A battery is read in V or mV", id="battery-in-per-cent"
        ),
        pytest.param(
            "temp", 640.0, [], "No sensor beside a chamber says temperature 640", id="hot"
        ),
        pytest.param("co2", 12.0, [], "No sensor beside a chamber says CO2 12", id="no-co2"),
        pytest.param("rssi", -61.0, [], "Neither its name nor its figure", id="radio"),
        pytest.param("", 1.0, [], "Neither its name nor its figure", id="switch"),
        pytest.param("tvoc", 20.0, [], "Neither its name nor its figure", id="other-gases"),
        pytest.param(
            "x", 64.0, [(T, "°F"), (H, "%"), (P, "kPa")], "Its name is not known here", id="x"
        ),
        pytest.param("", 14.0, [(T, "°C"), (H, "%"), (B, "V")], "It has no name", id="bare"),
        pytest.param("value", 840.0, [(C, "ppm"), (P, "hPa"), (B, "mV")], "Its name", id="value"),
    ],
)
def test_what_a_person_has_to_say(
    name: str, value: float, choices: list[tuple[Quantity, str]], why: str
) -> None:
    found = guess(leaf(name, value))
    assert found.likely is None
    assert [(c.quantity, c.unit) for c in found.choices] == choices
    assert found.why.startswith(why)


@pytest.mark.parametrize(
    ("topic", "name", "quantity"),
    [
        pytest.param("garden/tent/co2", "", C, id="last-level"),
        pytest.param("garden/co2/tent", "", C, id="any-level"),
        pytest.param("tent/top/CO2", "value", C, id="value-on-it"),
        pytest.param("co2/tent", "rssi", None, id="a-name-of-its-own-comes-first"),
        pytest.param("soil/co2", "", None, id="the-topic-says-it-is-not-the-air"),
        pytest.param("7/8", "", None, id="levels-of-digits"),
    ],
)
def test_a_topic_names_a_bare_number(topic: str, name: str, quantity: Quantity | None) -> None:
    found = guess(leaf(name, 840.0, topic=topic))
    assert (found.likely.quantity if found.likely else None) == quantity


@pytest.mark.parametrize(
    ("name", "value", "unit", "sure", "why"),
    [
        pytest.param("temp", 20.6, "Cel", T, "", id="named"),
        pytest.param("x", 20.6, "Cel", T, "", id="the-unit-alone"),
        pytest.param("x", 44.0, "%RH", H, "", id="relative-humidity"),
        pytest.param("x", 0.44, "/", None, "Its name is not known here", id="two-have-it"),
        pytest.param("rh", 0.44, "/", H, "", id="two-have-it-and-the-name-says"),
        pytest.param("temp", 20.6, "lx", None, "lx is not a unit of temperature", id="strange"),
        pytest.param("temp", 900.0, "Cel", None, "No sensor beside a chamber", id="hot"),
        pytest.param("x", 900.0, "Cel", None, "Neither its name", id="hot-and-nameless"),
        pytest.param("soil", 20.6, "Cel", None, "Neither its name", id="not-the-air"),
    ],
)
def test_a_unit_that_is_stated(
    name: str, value: float, unit: str, sure: Quantity | None, why: str
) -> None:
    found = guess(leaf(name, value, unit))
    assert (found.likely.quantity if found.likely else None) == sure
    assert found.why.startswith(why)
    assert bool(why) == (sure is None)


def test_whatever_is_offered_can_be_read() -> None:
    for value in (0.0, 0.5, 17.9, 64.0, 300.0, 840.0, 2950.0, 100_320.0):
        for choice in guess(leaf("", value)).choices:
            low, high = PLAUSIBLE[choice.quantity]
            assert low <= choice.kept <= high


def test_a_quantity_is_taken_from_the_first_that_is_sure() -> None:
    first, second, humid = guess_all(
        [leaf("temp_c", 18.0), leaf("temp_f", 64.4), leaf("rh", 80.0)]
    )
    assert first.likely is not None
    assert humid.likely is not None
    assert second.likely is None
    assert second.why == "The temperature is taken from /temp_c already."
    assert [c.unit for c in second.choices] == ["°F"]
    assert Guess("json", (first, second, humid)).likely() == (first, humid)


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("airTempC", ("air", "temp", "c")),
        ("AIR_TEMP-2", ("air", "temp", "2")),
        ("CO2Level", ("co2", "level")),
        ("pm25", ("pm25",)),
        ("", ()),
        ("°", ()),
    ],
)
def test_names_fall_into_words(name: str, words: tuple[str, ...]) -> None:
    assert words_of(name) == words


@pytest.mark.parametrize(
    ("name", "time"),
    [
        *(("time", True), ("ts", True), ("measuredAt", True), ("time_utc", True)),
        *(("temp", False), ("", False), ("sometimes", False)),
    ],
)
def test_names_of_times(name: str, time: bool) -> None:
    assert tells_time(name) is time


# ------------------------------------------------------------------ proposals and words


@pytest.mark.parametrize(
    ("topic", "taken", "name"),
    [
        pytest.param("garden/2/climate", (), "garden-2-climate", id="plain"),
        pytest.param("Garden/Grün/T", (), "garden-gr-n-t", id="only-what-names-hold"),
        pytest.param("a", ("a", "a-2"), "a-3", id="taken"),
        pytest.param("/", (), "sensor", id="nothing-left"),
        pytest.param("x" * 60, (), "x" * 41, id="long"),
        pytest.param("x" * 60, ("x" * 41,), "x" * 39 + "-2", id="long-and-taken"),
    ],
)
def test_a_name_for_the_sensor(topic: str, taken: tuple[str, ...], name: str) -> None:
    assert named_after(topic, taken) == name


@pytest.mark.parametrize(
    ("topic", "place"),
    [
        pytest.param("garden/tent/climate", ("tent", "air"), id="chamber"),
        pytest.param("garden/Tent/TOP/t", ("tent", "top"), id="chamber-and-shelf"),
        pytest.param("tent/core", ("tent", "core"), id="core"),
        pytest.param("top/tent", ("tent", "air"), id="a-shelf-stands-behind-its-chamber"),
        pytest.param("room/x", ("room", "air"), id="room"),
        pytest.param("garden/2", None, id="nowhere"),
    ],
)
def test_where_a_topic_says_it_hangs(topic: str, place: tuple[str, str] | None) -> None:
    assert hangs_in(topic, (TENT, ROOM, Chamber("x2", "X"))) == place


@pytest.mark.parametrize(
    ("guessed", "words"),
    [
        pytest.param(
            Guess("json", guess_all([leaf("humidity", 81.2), leaf("temperature", 17.9)])),
            "sends humidity 81.2, temperature 17.9: whose is it?",
            id="sure",
        ),
        pytest.param(
            Guess("json", guess_all([leaf("rssi", -61.0), leaf("co2", 840.0)])),
            "sends CO2 840: whose is it?",
            id="beside-others",
        ),
        pytest.param(
            Guess("json", guess_all([leaf("temp", 37.0), leaf("rh", 0.6), leaf("soil_rh", 9.0)])),
            "sends temperature 37, humidity 0.6: whose is it?",
            id="beside-one-whose-unit-is-open",
        ),
        pytest.param(
            Guess("number", guess_all([leaf("", 64.0)])),
            "sends 64: what is it, and whose?",
            id="one-open",
        ),
        pytest.param(
            Guess("json", guess_all([leaf("temp", 37.0), leaf("b", 18.0)])),
            "sends 2 numbers that may be of the air: what are they, and whose?",
            id="several-open",
        ),
        pytest.param(
            Guess("json", guess_all([leaf("bright", 64.0)])),
            "sends a number with a name that is not known here.",
            id="one-strange",
        ),
        pytest.param(
            Guess("json", guess_all([leaf("bright", 64.0), leaf("b", 18.0)])),
            "sends 2 numbers with names that are not known here.",
            id="several-strange",
        ),
        pytest.param(
            Guess("", why="It is empty."), "sends what can't be used here: it is empty.", id="not"
        ),
    ],
)
def test_the_question(guessed: Guess, words: str) -> None:
    assert sends(guessed) == words


def test_quantities_within_a_sentence() -> None:
    assert [in_words(quantity) for quantity in (H, C)] == ["humidity", "CO2"]
