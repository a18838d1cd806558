"""Files understood as a whole, their rows, and what is said of them."""

from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from zoneinfo import ZoneInfo

import pytest

from chamberwatch.core.errors import RefusedError
from chamberwatch.core.logged import words
from chamberwatch.core.logged.columns import AskedColumns
from chamberwatch.core.logged.log import Asked, Log, LogReader, Row, understood
from chamberwatch.core.logged.shape import LOOKED_AT, Shape, cells_of
from chamberwatch.core.logged.survey import KEPT, Survey, surveyed
from chamberwatch.core.logged.times import Twice
from chamberwatch.core.watch.reading import Quantity, Reading

T, RH, CO2, P, V = Quantity
BERLIN = ZoneInfo("Europe/Berlin")
WINTER = timezone(timedelta(hours=1))
OWN = (
    "time_utc,sensor,temperature_c,humidity_pct,temperature_sent_c,time_from\n"
    "2026-01-20T12:00:00Z,top,20.5,80.0,19.5,sensor\n"
    "2026-01-20T12:00:00.25Z,low,,81.0,,arrival\n"
    "2026-01-20T12:01:00Z,low,20.0"
)


def log_of(text: str, asked: Asked | None = None) -> tuple[Log, list[list[str]]]:
    """Return how a text is understood, and all of its rows."""
    lines = text.split("\n")
    read: list[list[str]] = []

    def rows(shape: Shape) -> Iterator[Sequence[str]]:
        for line in lines[shape.first :]:
            read.append(cells_of(line, shape.delimiter))
            yield read[-1]

    log = understood(lines[:LOOKED_AT], rows, asked or Asked(), BERLIN)
    return log, [cells_of(line, log.shape.delimiter) for line in lines[log.shape.first :]]


def read(
    text: str,
    asked: Asked | None = None,
    sensors: dict[str | None, str] | None = None,
    latest: datetime | None = None,
) -> tuple[Survey, list[Row], LogReader]:
    log, rows = log_of(text, asked)
    reader, survey = LogReader(log, sensors or {None: "top"}, latest), Survey()
    found = list(surveyed(enumerate(rows, log.shape.first + 1), reader, survey))
    return survey, found, reader


# ------------------------------------------------------------------ understanding


@pytest.mark.parametrize(
    ("text", "written", "zone"),
    [
        pytest.param("time,T\n2026-01-20 12:00,20.5", "year-first", BERLIN, id="iso"),
        pytest.param("time,T\n20.01.2026 12:00,20.5", "day-first", BERLIN, id="day first"),
        pytest.param("time,T\n01/20/2026 12:00,20.5", "month-first", BERLIN, id="month first"),
        pytest.param("Time (UTC),T\n01/20/2026 12:00,20", "month-first", UTC, id="UTC"),
        pytest.param(
            '"Date Time, GMT+01:00",T\n01/20/2026 12:00,20', "month-first", WINTER, id="GMT+1"
        ),
        pytest.param("Time (UTC+99),T\n2026-01-20 12:00,20", "year-first", BERLIN, id="no zone"),
        pytest.param("ts,T\n1768910400,20\n1768910460,20", "epoch", BERLIN, id="seconds"),
        pytest.param(OWN, "year-first", BERLIN, id="our own"),
    ],
)
def test_forms(text: str, written: str, zone: tzinfo) -> None:
    log, _ = log_of(text)
    assert (log.form.written, log.form.zone, log.unsure) == (written, zone, ())
    assert not log.form.falling


def test_the_newest_first() -> None:
    assert log_of("time,T\n2026-01-21 12:00,20\n2026-01-20 12:00,20")[0].form.falling


def test_what_was_typed_goes_before() -> None:
    asked = Asked(AskedColumns(), UTC, "month-first", ";", ",", 1)
    log, _ = log_of("note\ntime;T\n03/04/2026 12:00;20,125", asked)
    assert (log.form.written, log.form.zone, log.decimal, log.unsure) == (
        "month-first",
        UTC,
        ",",
        (),
    )


def test_day_and_month_are_asked_for_where_nothing_tells_them() -> None:
    log, _ = log_of("time,T\n03/04/2026 12:00,20.5\n03/05/2026 12:00,20.5")
    (question,) = log.unsure
    assert "--time-format day-first or --time-format month-first" in question
    assert log.form.written == ""


def test_a_row_far_below_may_tell_them() -> None:
    many = "\n".join("03/04/2026 12:00,20.5" for _ in range(LOOKED_AT))
    log, _ = log_of(f"time,T\n{many}\n03/20/2026 12:00,20.5")
    assert (log.form.written, log.unsure) == ("month-first", ())


def test_dates_in_two_orders() -> None:
    first = "time,T\n03/04/2026 12:00,20\n2026-03-04 12:00,20"
    with pytest.raises(RefusedError, match=r"“2026-03-04 12:00”.*--time-format"):
        log_of(first)


def test_decimals_are_asked_for() -> None:
    log, _ = log_of("time;CO2 (ppm)\n2026-01-20 12:00;1,204")
    (question,) = log.unsure
    assert "--decimal ," in question


# ------------------------------------------------------------------ rows


def test_rows_become_readings() -> None:
    survey, rows, _ = read(
        "time;T;RH;CO2\n20.01.2026 12:00;20,5;80;\n20.01.2026 12:05;20,6;;900\n;;;\n"
    )
    at, later = (datetime(2026, 1, 20, 11, n, tzinfo=UTC) for n in (0, 5))
    assert rows == [
        Row((Reading(at, "top", T, 20.5), Reading(at, "top", RH, 80.0))),
        Row((Reading(later, "top", T, 20.6), Reading(later, "top", CO2, 900.0))),
    ]
    assert (survey.rows, survey.readings, survey.first, survey.last) == (2, 4, at, later)
    assert survey.sensors == {"top": 4}
    figures = survey.figures[T]
    assert (figures.count, figures.least, figures.most) == (2, 20.5, 20.6)
    assert figures.mean == pytest.approx(20.55)


def test_rows_that_can_not_be_read_are_counted() -> None:
    survey, rows, _ = read(
        "time;T;RH\n2026-01-20 12:00;20;80\nEnd;;\n2026-01-20 12:01;warm;80\n"
        "2026-01-20 12:02;;\n2026-01-20 12:03\n"
    )
    assert len(rows) == survey.rows == 1
    assert survey.faults == [
        (3, "“End” is no time written year-first"),
        (4, "“warm” is not a number, in column “T”"),
        (5, "no value in any of the columns"),
        (6, "no value in any of the columns"),
        (7, "a quote is never closed"),
    ]
    assert survey.unread == 5


def test_values_that_can_not_be_right_are_refused() -> None:
    survey, rows, _ = read(
        "time;T;RH (%)\n2026-01-20 12:00;20;180\n2026-01-21 12:00;20;80",
        latest=datetime(2026, 1, 20, 12, tzinfo=UTC),
    )
    first, second = rows
    assert [reading.quantity for reading in first.readings] == [T]
    assert "humidity 180 % is outside 0 to 105 %" in first.refused[0]
    assert first.excerpt == "2026-01-20 12:00;20;180"
    assert second == Row(
        (),
        ("2026-01-21T11:00:00Z lies ahead of our time; look at --zone and --time-format",),
        "2026-01-21 12:00;20;80",
    )
    assert (survey.refused, [line for line, _ in survey.rejects]) == (2, [2, 3])


def test_only_the_first_few_are_remembered() -> None:
    rows = "\n".join(f"2026-01-20 12:{n:02d};20;180\n2026-01-20 12:{n:02d};x;" for n in range(9))
    survey, _, _ = read(f"time;T (°C);RH (%)\n{rows}")
    assert (survey.unread, survey.refused, survey.rows) == (9, 9, 9)
    assert len(survey.faults) == len(survey.rejects) == len(survey.examples) == KEPT


def test_a_file_of_our_own_keeps_all_it_says() -> None:
    survey, rows, _ = read(OWN, sensors={"top": "top", "low": "cellar"})
    (first, second, third) = (row.readings for row in rows)
    at = datetime(2026, 1, 20, 12, tzinfo=UTC)
    assert first == (Reading(at, "top", T, 20.5), Reading(at, "top", RH, 80.0))
    assert [reading.raw for reading in first] == [19.5, None]
    assert (second[0].sensor, second[0].timed) == ("cellar", False)
    assert (third[0].timed, third[0].raw) == (True, None)
    assert survey.named == {"top": 1, "low": 2}


def test_rows_of_others_are_left_out() -> None:
    survey, rows, reader = read(OWN, sensors={"top": "top"})
    assert len(rows) == 1
    assert survey.others == {"low": 2}
    assert reader.named(["2026-01-20"]) is None


# ------------------------------------------------------------------ in words


def test_what_was_understood_in_words() -> None:
    log, _ = log_of("Datum;T (°C);Taupunkt\n20.01.2026 12:00;20,5;18,0")
    assert dict(words.layout(log, "UTF-8")) == {
        "laid out": "columns parted by “;”, a comma before decimals, rows from line 2 on, UTF-8",
        "time": "“Datum”, the day first, on the clocks of Europe/Berlin where no zone is named",
    }
    assert list(words.taken(log)) == [
        ("temperature", "“T (°C)” in °C"),
        ("left out", "“Taupunkt”: by its name (dewpoint) not measured in the air"),
    ]


@pytest.mark.parametrize(
    ("text", "asked", "told"),
    [
        ("ts\tT\n1768910400\t20", Asked(), "“ts”, seconds since 1970"),
        (
            "ts:T\n20.01.2026:20",
            Asked(AskedColumns(times=("ts",)), delimiter=":", time_format="%d.%m.%Y"),
            "as %d.%m.%Y, on",
        ),
        ("ts,T\n03/04/2026 12:00,20", Asked(), "in an order that can't be told"),
    ],
)
def test_times_in_words(text: str, asked: Asked, told: str) -> None:
    log, _ = log_of(text, asked)
    shown = dict(words.layout(log, "UTF-8"))
    assert told in shown["time"]
    assert "a point before decimals" in shown["laid out"]


def test_what_a_file_comes_to_in_words() -> None:
    survey, _, reader = read(
        "time;T;RH (%)\n2026-01-20 12:00;20.5;80\n2026-01-20 13:00;21.5;180\nEnd;;"
    )
    assert list(words.found(survey, BERLIN)) == [
        ("span", "2026-01-20 12:00 to 2026-01-20 13:00, on the site's clock"),
        ("temperature", "2 readings, 20.50 °C to 21.50 °C, mean 21.00 °C"),
        ("humidity", "1 reading, 80.0 % to 80.0 %, mean 80.0 %"),
        ("goes to", "sensor top: 3 of them"),
    ]
    told = list(words.troubles(survey, reader.times.twice, BERLIN))
    assert told[0] == ("can't be read", "1 row:")
    assert told[1] == ("", "line 4: “End” is no time written year-first")
    assert told[2] == ("can't be right", "1 value:")
    assert words.example(survey.examples[0][0].time, BERLIN) == "2026-01-20 12:00:00"


def test_nothing_in_words() -> None:
    assert list(words.found(Survey(), BERLIN)) == []
    assert list(words.troubles(Survey(), Twice(), BERLIN)) == []


def test_many_troubles_in_words() -> None:
    survey = Survey(
        unread=1200,
        faults=[(1, "a")],
        refused=8,
        rejects=[(2, "b")],
        others={"attic": 3},
    )
    assert list(words.troubles(survey, Twice(), BERLIN)) == [
        ("can't be read", "1,200 rows; the first 1:"),
        ("", "line 1: a"),
        ("can't be right", "8 values; the first 1:"),
        ("", "line 2: b"),
        ("", "That is most of them: look at the units, and say them with --unit."),
        ("left out", "3 rows of “attic”, which is not asked for"),
    ]


@pytest.mark.parametrize(
    ("twice", "told"),
    [
        pytest.param(
            Twice(12, 6, {datetime(2026, 10, 25, tzinfo=UTC).date()}),
            "on 2026-10-25 an hour came twice: 12 rows taken for its first coming, 6 for its "
            "second, by their order.",
            id="twice",
        ),
        pytest.param(
            Twice(1, 0, {datetime(2026, 10, 25, tzinfo=UTC).date()}),
            "on 2026-10-25 an hour came twice: 1 row taken for its first coming, 0 for its "
            "second, by their order. If the clock was not put back, say its --zone in hours.",
            id="once",
        ),
        pytest.param(
            Twice(skipped=12),
            "12 rows of an hour that Europe/Berlin skipped. The logger may not follow summer "
            "time: then say its hours from UTC, such as --zone +1.",
            id="never",
        ),
    ],
)
def test_changes_of_the_clock_in_words(twice: Twice, told: str) -> None:
    assert list(words.troubles(Survey(), twice, BERLIN)) == [("clock", told)]
