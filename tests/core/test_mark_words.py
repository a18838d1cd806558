"""What the marks on a chart say."""

import pytest

from chamberwatch.core import mark_words
from chamberwatch.core.review.episode import Episode
from chamberwatch.core.watch.reminder import Call, Evidence, Reminder
from tests.make import at, evidence


@pytest.mark.parametrize(
    ("spoke", "ended_min", "expected"),
    [
        pytest.param(evidence(), None, "mist, at 76 %; not over yet", id="it lasts"),
        pytest.param(evidence(), 20, "mist, at 76 %; over after 20 min", id="over"),
        pytest.param(None, 20, "mist; over after 20 min", id="no reading speaks for it"),
    ],
)
def test_reminders(spoke: Evidence | None, ended_min: float | None, expected: str) -> None:
    ended = None if ended_min is None else at(ended_min)
    episode = Episode(1, 3, at(0), ended, evidence=spoke)
    assert mark_words.reminder(Reminder(1, "tent", Call.MIST, ""), episode) == expected
