from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chamberwatch.core.errors import SettingsError
from chamberwatch.settings import duration
from chamberwatch.settings.duration import CURE, LONG_CURE, length, long_length

OUT_OF_RANGE = "Give more than nothing and no more than a year."


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("30 s", 30),
        ("30s", 30),
        ("1 sec", 1),
        ("1 second", 1),
        ("90 seconds", 90),
        ("5 min", 300),
        ("1 minute", 60),
        ("2 minutes", 120),
        ("1.5 h", 5400),
        ("1 hour", 3600),
        ("2 hours", 7200),
        ("1 d", 86_400),
        ("1 day", 86_400),
        ("366 days", 366 * 86_400),
        ("  10  MIN ", 600),
        ("0.5 s", 0.5),
    ],
)
def test_lengths_as_a_person_writes_them(text: str, seconds: float) -> None:
    assert duration(text) == length(text) == timedelta(seconds=seconds)


@pytest.mark.parametrize(
    ("text", "cure"),
    [
        ("", CURE),
        ("30", CURE),
        ("min", CURE),
        ("-5 min", CURE),
        ("5 m", CURE),
        ("5 weeks", CURE),
        ("1e3 s", CURE),
        (".5 h", CURE),
        ("1 h 30 min", CURE),
        ("0 s", OUT_OF_RANGE),
        ("0.0 h", OUT_OF_RANGE),
        ("367 days", OUT_OF_RANGE),
        ("9" * 400 + " h", OUT_OF_RANGE),
    ],
)
def test_others_are_refused_with_the_cure(text: str, cure: str) -> None:
    with pytest.raises(SettingsError) as caught:
        duration(text)
    (fault,) = caught.value.faults
    assert (fault.file, fault.key, fault.value) == ("command line", "a length of time", text)
    assert fault.cure == cure


@pytest.mark.parametrize("given_value", [None, 5, 5.0, True, ["5 min"]])
def test_only_a_text_is_a_length(given_value: object) -> None:
    with pytest.raises(ValueError, match="Write a number and a unit"):
        length(given_value)


def test_a_length_stays_one() -> None:
    assert length(timedelta(minutes=5)) == timedelta(minutes=5)


@given(st.text())
def test_any_text_is_a_length_or_refused(text: str) -> None:
    try:
        found = duration(text)
    except SettingsError:
        return
    assert timedelta(0) < found <= timedelta(days=366)


@pytest.mark.parametrize(
    ("text", "days"),
    [
        ("1 day", 1),
        ("90 days", 90),
        ("1 week", 7),
        ("26 weeks", 182),
        ("1 year", 366),
        ("2Y", 732),
        ("1.5 years", 549),
        ("100 years", 36_600),
    ],
)
def test_long_lengths_as_a_person_writes_them(text: str, days: int) -> None:
    assert long_length(text) == timedelta(days=days)
    assert long_length(timedelta(days=days)) == timedelta(days=days)


@pytest.mark.parametrize("text", ["", "90", "3 months", "48 h", "1 year 2 weeks", "-1 day", None])
def test_a_long_length_of_another_kind(text: object) -> None:
    with pytest.raises(ValueError, match="Write days, weeks or years") as caught:
        long_length(text)
    assert str(caught.value) == LONG_CURE


@pytest.mark.parametrize("text", ["0 days", "101 years", "9" * 400 + " weeks"])
def test_a_long_length_out_of_range(text: str) -> None:
    with pytest.raises(ValueError, match="no more than 100 years"):
        long_length(text)
