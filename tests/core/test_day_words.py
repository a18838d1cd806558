"""What several batches ask for today, in one message."""

from chamberwatch.core.day_words import SAID_IN_FULL, together
from chamberwatch.core.wording import Message


def test_one_alone_stays_as_it_is() -> None:
    said = Message("Open batch 3", "It is white all over.")
    assert together([said]) == said


def test_several_are_one_message_in_their_order() -> None:
    said = [Message("Open batch 3", "It is white."), Message("Pick batch 1", "Today.")]
    assert together(said) == Message(
        "2 things the crop asks for today", "Open batch 3. It is white.\nPick batch 1. Today."
    )


def test_what_is_too_much_for_a_phone_stays_on_the_list() -> None:
    said = [Message(f"Pick batch {n}", "Today.") for n in range(SAID_IN_FULL + 2)]
    body = together(said).body.splitlines()
    assert len(body) == SAID_IN_FULL + 1
    assert body[-1] == "And 2 more on today's list."
