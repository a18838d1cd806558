"""A service that never ends its answer takes one thread, and nothing is sent twice for it."""

import threading

from chamberwatch.notify.patience import STILL_HANGS, TOO_LONG, Patience
from chamberwatch.service.ports import Outcome

WELL = Outcome(ok=True)
END_S = 10.0


def test_what_ends_in_time_is_told_as_it_is() -> None:
    patience = Patience(END_S)
    assert patience.call("a", lambda: WELL) == WELL
    assert patience.call("a", lambda: TOO_LONG) == TOO_LONG


class Slow:
    """A service that answers when it is let go."""

    def __init__(self, outcome: Outcome) -> None:
        self.outcome = outcome
        self.let_go = threading.Event()
        self.asked = 0
        self.begun = threading.Event()
        self.ended = threading.Event()

    def send(self) -> Outcome:
        self.asked += 1
        self.begun.set()
        self.let_go.wait(END_S)
        self.ended.set()
        return self.outcome


def _left(slow: Slow) -> Patience:
    patience = Patience(0.05)
    assert patience.call("a", slow.send) == TOO_LONG
    assert slow.begun.wait(END_S)
    return patience


def _end(slow: Slow, patience: Patience) -> None:
    slow.let_go.set()
    left = patience._left
    assert left is not None
    assert left.done.wait(END_S)


def test_nothing_more_is_sent_while_it_hangs() -> None:
    slow = Slow(WELL)
    patience = _left(slow)
    for message in ("a", "b"):
        assert patience.call(message, slow.send) == STILL_HANGS
    assert slow.asked == 1
    _end(slow, patience)


def test_what_went_well_after_all_is_not_sent_again() -> None:
    slow = Slow(WELL)
    patience = _left(slow)
    _end(slow, patience)
    assert patience.call("a", slow.send) == WELL
    assert slow.asked == 1
    assert patience.call("a", slow.send) == WELL
    assert slow.asked == 2


def test_what_failed_after_all_is_sent_again() -> None:
    slow = Slow(Outcome(ok=False, reason="no"))
    patience = _left(slow)
    _end(slow, patience)
    assert patience.call("a", lambda: WELL) == WELL


def test_another_message_is_sent_once_it_has_ended() -> None:
    slow = Slow(WELL)
    patience = _left(slow)
    _end(slow, patience)
    assert patience.call("b", slow.send) == WELL
    assert slow.asked == 2
