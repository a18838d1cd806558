"""Values as they stand in cells."""

from datetime import UTC, datetime, timedelta, timezone

import pytest

from chamberwatch.core.cells import FORMULA, plain_text, utc_text

EASTERN = timezone(timedelta(hours=-5))


@pytest.mark.parametrize(
    ("moment", "text"),
    [
        pytest.param(datetime(2026, 1, 20, 12, tzinfo=UTC), "2026-01-20T12:00:00Z", id="utc"),
        pytest.param(datetime(2026, 1, 20, 7, tzinfo=EASTERN), "2026-01-20T12:00:00Z", id="zone"),
        pytest.param(
            datetime(2026, 1, 20, 12, 0, 0, 250_000, UTC),
            "2026-01-20T12:00:00.250000Z",
            id="fraction",
        ),
    ],
)
def test_times(moment: datetime, text: str) -> None:
    assert utc_text(moment) == text
    assert datetime.fromisoformat(text) == moment


@pytest.mark.parametrize("begins", FORMULA)
def test_no_text_is_a_formula(begins: str) -> None:
    assert plain_text(f"{begins}1+2") == f"'{begins}1+2"


@pytest.mark.parametrize("text", ["", "two bags", "a=b", "'quoted'"])
def test_other_texts_stay(text: str) -> None:
    assert plain_text(text) == text
