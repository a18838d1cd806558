"""Who asks what may never answer is answered soon."""

import threading

import pytest

from chamberwatch.service.patiently import Patiently
from tests.brokers import DEADLINE_S, wait_until


def test_what_answers_is_passed_on() -> None:
    answers = iter([" is away", " is back"])
    look = Patiently(lambda at: at + next(answers), "late", DEADLINE_S)
    assert look("it") == "it is away"
    assert look("it") == "it is back"


def test_what_hangs_is_said_to_and_asked_once_until_it_answers() -> None:
    go_on, looks = threading.Event(), list[threading.Thread]()

    def hanging(_: str) -> str:
        looks.append(threading.current_thread())
        assert go_on.wait(DEADLINE_S)
        return "it is back"

    look = Patiently(hanging, "it does not answer", 0.01)
    assert [look("") for _ in range(3)] == ["it does not answer"] * 3
    wait_until(lambda: bool(looks), "the look has begun")
    assert len(looks) == 1
    go_on.set()
    wait_until(lambda: not looks[0].is_alive(), "the look has come to its end")
    wait_until(lambda: look("") == "it is back", "it is asked anew")
    assert len(looks) > 1


def test_what_goes_wrong_is_raised_where_it_was_asked_for() -> None:
    def broken(_: str) -> str:
        raise OSError("gone")

    with pytest.raises(OSError, match="gone"):
        Patiently(broken, "late", DEADLINE_S)("")
