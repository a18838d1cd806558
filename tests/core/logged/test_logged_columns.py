"""Which column is what."""

from collections.abc import Sequence

import pytest

from chamberwatch.core import cells
from chamberwatch.core.errors import RefusedError
from chamberwatch.core.logged.columns import AskedColumns, Columns, columns_of, times_of
from chamberwatch.core.watch.reading import Quantity

T, RH, CO2, P, V = Quantity
WHEN = "2026-01-20 12:00"


def found(
    names: Sequence[str],
    rows: Sequence[Sequence[str]],
    asked: AskedColumns | None = None,
    decimal: str = ".",
) -> Columns:
    return columns_of(names, rows, asked or AskedColumns(), decimal)


@pytest.mark.parametrize(
    ("name", "figures", "quantity", "unit"),
    [
        pytest.param("Temperature", "20.5", T, "°C", id="by its figures"),
        pytest.param("Temperature", "68.5", T, "°F", id="by its figures, °F"),
        pytest.param("Temperature(°F)", "40", T, "°F", id="unit in the name"),
        pytest.param("T (C)", "20.5", T, "°C", id="short"),
        pytest.param("Temp °C", "20.5", T, "°C", id="unit behind"),
        pytest.param("temp_c", "20.5", T, "°C", id="unit as a word"),
        pytest.param("Temperatur", "20.5 °F", T, "°F", id="unit in the cells"),
        pytest.param("Température [°C]", "20.5", T, "°C", id="French"),
        pytest.param("Sensor 1 (°C)", "20.5", T, "°C", id="by its unit"),
        pytest.param("RH %", "80", RH, "%", id="RH"),
        pytest.param("%RH", "80", RH, "%", id="unit for a name"),
        pytest.param("Luftfeuchtigkeit", "80", RH, "%", id="German"),
        pytest.param("Humedad relativa", "0.8", RH, "fraction", id="Spanish, a share"),
        pytest.param("CO2", "800", CO2, "ppm", id="CO2"),
        pytest.param("CO₂ (ppm)", "800", CO2, "ppm", id="CO2, small two"),
        pytest.param("Pressure [hPa]", "1013", P, "hPa", id="pressure"),
        pytest.param("Batterie", "2.9", V, "V", id="battery"),
    ],
)
def test_columns(name: str, figures: str, quantity: Quantity, unit: str) -> None:
    told = found(("time", name), [(WHEN, figures), (WHEN, ""), (WHEN,)])
    (column,) = told.values
    assert (column.place, column.quantity, column.unit) == (1, quantity, unit)
    assert (told.times, told.left_out, told.unsure) == ((0,), (), ())


@pytest.mark.parametrize(
    ("name", "figures", "why"),
    [
        pytest.param("Dew Point (°C)", "17.0", "(dew) not measured in the air", id="dew point"),
        pytest.param("Taupunkt", "17.0", "(dewpoint) not measured", id="Taupunkt"),
        pytest.param("eCO2", "800", "(eco2) not measured", id="eCO2"),
        pytest.param("Light (lux)", "800", "not known here; its first value is 800", id="light"),
        pytest.param("Remark", "", "its name is not known here", id="an empty one"),
        pytest.param("Level (%)", "80", "not known here", id="a share of what"),
        pytest.param("Temperature", "n/a", "it holds no numbers", id="no numbers"),
        pytest.param("Temperature", "fine", "it holds no numbers", id="words"),
        pytest.param("Battery (%)", "80", "not a unit of battery", id="battery in %"),
    ],
)
def test_what_is_left_out(name: str, figures: str, why: str) -> None:
    told = found(("time", name), [(WHEN, figures)])
    assert told.values == ()
    ((left, reason),) = told.left_out
    assert left == name
    assert why in reason


def test_the_second_of_two_is_left_out() -> None:
    told = found(("time", "T1 temp (°C)", "T2 temp (°C)"), [(WHEN, "20", "21")])
    assert [column.place for column in told.values] == [1]
    assert told.left_out == (
        ("T2 temp (°C)", "the temperature is taken from another column already"),
    )


@pytest.mark.parametrize("figures", ["38", "500"])
def test_a_unit_that_can_not_be_told_is_asked_for(figures: str) -> None:
    told = found(("time", "Temp"), [(WHEN, figures)])
    assert told.values == ()
    (question,) = told.unsure
    assert question.startswith("In which unit is “Temp”? Say --unit 'temperature=°C' or ")
    units = AskedColumns(units={T: "°F"})
    assert found(("time", "Temp"), [(WHEN, figures)], units).values[0].unit == "°F"


def test_columns_that_were_named() -> None:
    names = ("time", "A", "B (°C)", "CO2")
    rows = [(WHEN, "80", "20", "800")]
    asked = AskedColumns({RH: "a", T: "column 3"})
    told = found(names, rows, asked)
    assert [(c.place, c.quantity, c.unit) for c in told.values] == [(1, RH, "%"), (2, T, "°C")]
    assert found(names, rows, AskedColumns({T: "b"})).values[0].place == 2
    with pytest.raises(RefusedError, match=r"no column “C”\. It has: time, A, B"):
        found(names, rows, AskedColumns({T: "C"}))


@pytest.mark.parametrize(
    ("names", "row", "times"),
    [
        pytest.param(("T", "Timestamp"), ("20", WHEN), (1,), id="one"),
        pytest.param(("Time", "Date", "T"), ("12:00", "2026-01-20", "20"), (1, 0), id="two"),
        pytest.param(("Made", "Time", "T"), (WHEN, WHEN, "20"), (1,), id="named"),
        pytest.param(("Time", "Time UTC", "T"), (WHEN, WHEN, "20"), (1,), id="UTC first"),
        pytest.param(("A", "B", "T"), (WHEN, WHEN, "20"), (0,), id="the first"),
        pytest.param(("id", "ts", "T"), ("123456789", "1768910400", "20"), (1,), id="seconds"),
        pytest.param(("Uhrzeit", "Datum"), ("12:00", "20.01.2026"), (1, 0), id="German"),
    ],
)
def test_the_time(names: Sequence[str], row: Sequence[str], times: tuple[int, ...]) -> None:
    assert times_of(names, [row], ()) == times


def test_the_time_as_it_was_named() -> None:
    assert times_of(("a", "b", "c"), [("x", "y", "z")], ("c", "a")) == (2, 0)
    with pytest.raises(RefusedError, match="No column holds a time with its date"):
        times_of(("a", "b"), [("12:00", "20"), ("", "")], ())


def test_a_column_says_whose_a_row_is() -> None:
    told = found(("time", "Sensor", "T"), [(WHEN, "1", "20")])
    assert told.sensor == 1
    assert not told.own
    told = found(("time", "Sensor", "Probe"), [(WHEN, "20.5 °C", "1"), (WHEN,)])
    assert told.sensor == 2
    assert [(column.place, column.quantity) for column in told.values] == [(1, T)]


def test_a_file_of_our_own() -> None:
    names = (
        cells.TIME,
        cells.SENSOR,
        cells.VALUES[T],
        cells.VALUES[RH],
        cells.SENT[T],
        cells.TIME_FROM,
    )
    told = found(names, [])
    assert told.own
    assert (told.times, told.sensor, told.time_from, told.sent) == ((0,), 1, 5, {T: 4})
    assert [(c.place, c.quantity, c.unit) for c in told.values] == [(2, T, "°C"), (3, RH, "%")]
