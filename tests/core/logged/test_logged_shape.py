"""How files are laid out."""

import pytest

from chamberwatch.core.errors import RefusedError
from chamberwatch.core.logged.shape import cells_of, shape_of, time_like


@pytest.mark.parametrize(
    ("text", "delimiter", "names", "first"),
    [
        pytest.param(
            "time,T,RH\n2026-01-20T12:00Z,20.5,80\n2026-01-20T12:05Z,20.6,81",
            ",",
            ("time", "T", "RH"),
            1,
            id="plain",
        ),
        pytest.param(
            "Datum;T;RH\n20.01.2026 12:00;20,5;80,0\n20.01.2026 12:05;20,6;81,0",
            ";",
            ("Datum", "T", "RH"),
            1,
            id="commas within numbers",
        ),
        pytest.param(
            "Date\tTime\tT\n2026-01-20\t12:00\t20.5", "\t", ("Date", "Time", "T"), 1, id="tabs"
        ),
        pytest.param("time|T\n2026-01-20 12:00|20.5", "|", ("time", "T"), 1, id="bars"),
        pytest.param(
            "Logger 7\n\nSerial,1234\n\ntime,T\n2026-01-20 12:00,20.5",
            ",",
            ("time", "T"),
            5,
            id="a preamble",
        ),
        pytest.param(
            "Exported,2026-01-20 08:00,rows,12\ntime,T\n2026-01-20 12:00,20.5\n"
            "2026-01-20 12:05,20.5",
            ",",
            ("time", "T"),
            2,
            id="a preamble that looks like a row",
        ),
        pytest.param(
            "time;T;RH\n;°C;%\n2026-01-20 12:00;20;80",
            ";",
            ("time", "T (°C)", "RH (%)"),
            2,
            id="units below",
        ),
        pytest.param(
            "2026-01-20 12:00;20;80", ";", ("column 1", "column 2", "column 3"), 0, id="no names"
        ),
        pytest.param(
            "time;T\n2026-01-20 12:00;20;", ";", ("time", "T", "column 3"), 1, id="a loose end"
        ),
        pytest.param("Log\n2026-01-20 12:00;20", ";", ("column 1", "column 2"), 1, id="a title"),
        pytest.param("sep=;\ntime;T\n2026-01-20 12:00;20", ";", ("time", "T"), 2, id="sep"),
        pytest.param(
            'time,"T, inside"\n"2026-01-20 12:00", 20', ",", ("time", "T, inside"), 1, id="quotes"
        ),
        pytest.param("at,T\n1768910400,20.5", ",", ("at", "T"), 1, id="seconds"),
    ],
)
def test_shapes(text: str, delimiter: str, names: tuple[str, ...], first: int) -> None:
    found = shape_of(text.split("\n"), "", None)
    assert (found.delimiter, found.names, found.first) == (delimiter, names, first)


def test_what_is_typed_goes_before() -> None:
    lines = ["a;b", "x,y", "c;d", "2026-01-20 12:00;20", "2026-01-20 12:05;21"]
    found = shape_of(lines, ";", 0)
    assert (found.names, found.first) == (("a", "b"), 3)
    assert shape_of(lines, ";", 2).names == ("c", "d")
    lines[2] = "°C;%"
    assert shape_of(lines, ";", 0).names == ("a", "b")
    del lines[1]
    assert shape_of(lines, ";", 0).names == ("a (°C)", "b (%)")
    assert shape_of(["2026-01-20 12:00;20", "t;T", "2026-01-20 12:05;21"], "", 1).first == 2
    assert shape_of(["time:T", "20.01.2026:20"], ":", None).names == ("time", "T")


def test_what_is_no_table() -> None:
    with pytest.raises(RefusedError, match=r"Say what stands between.*--delimiter.*--skip-lines"):
        shape_of(["Dear diary,", "today the pins came, 3 of them"], "", None)
    with pytest.raises(RefusedError):
        shape_of([], "", None)


def test_lines_that_can_not_be_parted() -> None:
    assert cells_of("", ",") == []
    assert cells_of("x" * 200_000, ",") == []
    assert cells_of('a,"b', ",") == ["a", "b"]


def test_times() -> None:
    assert [c for c in ("2026-01-20", "12:00", "1768910400", "20.5", "x") if time_like(c)] == [
        "2026-01-20",
        "12:00",
        "1768910400",
    ]
