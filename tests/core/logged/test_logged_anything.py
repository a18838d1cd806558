"""Files that nobody thought of: none breaks it, and what is written plainly is read rightly."""

from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chamberwatch.core.errors import RefusedError
from chamberwatch.core.logged import words
from chamberwatch.core.logged.columns import AskedColumns
from chamberwatch.core.logged.log import Asked, LogReader, Row, understood
from chamberwatch.core.logged.shape import LOOKED_AT, Shape, cells_of
from chamberwatch.core.logged.survey import Survey, surveyed
from chamberwatch.core.watch.reading import PLAUSIBLE, Quantity

BERLIN = ZoneInfo("Europe/Berlin")

pieces = st.one_of(
    st.sampled_from(
        """time Date Zeit T RH CO2 °C % ppm 2026-01-20 20.01.2026 01/02/2026 12:00 24:00 12:00:00Z
        1768910400 1768910400000 99999999999999 20.5 20,5 1.204,5 1,204 -0 1e309 nan -- " "" '
        = ( ) + 5 Jan Foo , ; | \\ ² ٣""".split()  # noqa: SIM905 - a list to be read
    ),
    st.sampled_from([",", ";", "\t", "|", " ", "\x00", "\u2212", "\u00a0"]),
    st.text(max_size=4),
)
lines = st.lists(pieces, max_size=12).map("".join).map(lambda line: line.replace("\n", " "))
asked = st.builds(
    Asked,
    st.just(AskedColumns()),
    st.sampled_from([None, UTC]),
    st.sampled_from(["", "iso", "epoch", "day-first", "month-first", "%d.%m.%Y", "%", "%q%"]),
    st.sampled_from(["", ";", ","]),
    st.sampled_from(["", ".", ","]),
    st.sampled_from([None, 0, 1, 50]),
)


def read(text: Sequence[str], said: Asked) -> tuple[Survey, list[Row]]:
    def rows(shape: Shape) -> Iterator[Sequence[str]]:
        return (cells_of(line, shape.delimiter) for line in text[shape.first :])

    log = understood(text[:LOOKED_AT], rows, said, BERLIN)
    survey, reader = Survey(), LogReader(log, {None: "top"})
    if log.unsure:
        return survey, []
    found = list(surveyed(enumerate(rows(log.shape)), reader, survey))
    for told in (
        words.layout(log, "UTF-8"),
        words.taken(log),
        words.found(survey, BERLIN),
        words.troubles(survey, reader.times.twice, BERLIN),
    ):
        assert all(isinstance(each, str) for pair in told for each in pair)
    return survey, found


@given(st.lists(lines, max_size=8), asked)
def test_nothing_breaks_it(text: list[str], said: Asked) -> None:
    try:
        survey, rows = read(text, said)
    except RefusedError:
        return
    for reading in (reading for row in rows for reading in row.readings):
        low, high = PLAUSIBLE[reading.quantity]
        assert low <= reading.value <= high
        assert reading.time.tzinfo is UTC
    assert survey.readings == sum(len(row.readings) for row in rows)


@given(
    st.sampled_from(["%Y-%m-%d %H:%M:%S", "%d.%m.%Y %H:%M:%S", "%m/%d/%Y %I:%M:%S %p"]),
    st.sampled_from([";", "\t", ","]),
    st.booleans(),
    st.integers(0, 500_000),
    st.integers(20, 3600),
    st.lists(st.integers(-390, 400).map(lambda n: n / 10), min_size=60, max_size=60),
    st.booleans(),
)
def test_what_is_written_plainly_is_read_rightly(
    form: str,
    delimiter: str,
    comma: bool,
    start_min: int,
    step_s: int,
    values: list[float],
    falling: bool,
) -> None:
    """Local times over any change of the clock, steps up to an hour, in either direction."""
    begins = datetime(2026, 1, 1, tzinfo=UTC) + timedelta(minutes=start_min)
    told = [(begins + timedelta(seconds=n * step_s), value) for n, value in enumerate(values)]
    if falling:
        told.reverse()
    text = ["When" + delimiter + "Temperature (°C)"]
    for time, value in told:
        number = f"{value:.2f}"
        if comma:
            number = f'"{value:.2f}"'.replace(".", ",")
        text.append(f"{time.astimezone(BERLIN):{form}}{delimiter}{number}")
    said = Asked(time_format="month-first" if "/" in form else "")
    survey, rows = read(text, said)
    assert survey.unread == 0
    found = [(r.time, r.value) for row in rows for r in row.readings]
    # An hour of which only the second coming is in the file can't be told from the first.
    inside = [pair for pair in told if not _doubled(pair[0])]
    assert [pair for pair in found if not _doubled(pair[0])] == inside
    if not (_doubled(told[0][0]) or _doubled(told[-1][0])):
        assert found == told


def _doubled(time: datetime) -> bool:
    local = time.astimezone(BERLIN)
    return local.utcoffset() != local.replace(fold=1 - local.fold).utcoffset()


def test_seconds_that_are_no_numbers() -> None:
    survey, _ = read(["ts;T (°C)", "1768910400;20", "1768910460;20", "total;"], Asked())
    assert (survey.rows, survey.faults) == (2, [(2, "“total” is not a number of seconds")])
    assert {*survey.figures} == {Quantity.TEMPERATURE}


@pytest.mark.parametrize("text", [["²;³", "٣;٤"], ["", "", ""], ["\ufeff"]])
def test_figures_of_other_kinds(text: list[str]) -> None:
    with pytest.raises(RefusedError):
        read(text, Asked())
