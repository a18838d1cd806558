"""What is said of messages themselves."""

from datetime import UTC

import pytest

from chamberwatch.core import post_words
from tests.make import NOON, at

SENT = "Sent at 12:00 to see whether this address can be reached. Nothing is to be done."
PICTURE = " The picture shows the last six hours, as it goes with a reminder."
NO_LINKS = " Reminders to this address come without links, since web.address is not set."


@pytest.mark.parametrize(
    ("links", "picture", "body"),
    [
        (True, False, SENT),
        (True, True, SENT + PICTURE),
        (False, False, SENT + NO_LINKS),
        (False, True, SENT + PICTURE + NO_LINKS),
    ],
)
def test_a_test_message(links: bool, picture: bool, body: str) -> None:
    words = post_words.trial(NOON, UTC, links=links, picture=picture)
    assert (words.title, words.body) == ("chamberwatch: a test message", body)


@pytest.mark.parametrize(
    ("count", "again", "said"),
    [
        (
            1,
            "12:40",
            (
                "A message to phone has not gone out yet: tried since 12:00; no answer. "
                "It is tried again at 12:40."
            ),
        ),
        (
            3,
            "",
            (
                "3 messages to phone have not gone out yet: tried since 12:00; no answer. "
                "It is tried again now."
            ),
        ),
    ],
)
def test_on_its_way(count: int, again: str, said: str) -> None:
    failing = post_words.failing(NOON, at(30), UTC, "no answer")
    assert post_words.on_its_way("phone", count, failing, again) == said


def test_what_did_not_arrive() -> None:
    assert post_words.given_up("phone", ["Tent: mist now", "Tent: vent now"], "no answer") == (
        "Given up, since they say nothing new any more, were to phone: “Tent: mist now”, “Tent: "
        "vent now”. The last reason: no answer."
    )
    assert post_words.perhaps("phone", ["Tent: mist now"]) == (
        "May have arrived at phone or not, since chamberwatch was stopped while sending: “Tent: "
        "mist now”."
    )


def test_only_the_first_are_named() -> None:
    said = post_words.perhaps("phone", ["a", "b", "c", "d", "e"])
    assert said.endswith(": “a”, “b”, “c” and 2 more.")
