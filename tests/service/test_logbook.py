"""What people did, and what it answers."""

from datetime import timedelta

import pytest

from chamberwatch.core.errors import RefusedError, UnknownNameError
from chamberwatch.core.watch.action import Amounts, Deed
from chamberwatch.core.watch.reminder import Call, State
from tests.make import NOON
from tests.service.machine import Bench


@pytest.fixture
def dry(bench: Bench) -> Bench:
    bench.minutes_of("humidity", 76.0, 5)
    return bench


def test_a_deed_is_kept_and_answers_its_reminder(dry: Bench) -> None:
    action = dry.logbook.act("tent", Deed.MISTED, NOON, "two squeezes", "link")
    assert action.id > 0
    with dry.sql.read() as book:
        assert book.actions.recent("tent") == [action]
    assert dry.reminder(Call.MIST).state is State.ACKNOWLEDGED


def test_another_deed_answers_nothing(dry: Bench) -> None:
    dry.logbook.act("tent", Deed.NOTED, None, "white pins", "page")
    dry.logbook.act("room", Deed.MISTED, None, "", "page")
    assert dry.reminder(Call.MIST).state is State.UNACKNOWLEDGED


@pytest.mark.parametrize(
    ("shift", "note", "words"),
    [
        pytest.param(timedelta(minutes=8), "", "future", id="future"),
        pytest.param(timedelta(days=-400), "", "look at the year", id="too long ago"),
        pytest.param(timedelta(0), "x" * 2001, "shorten", id="long note"),
    ],
)
def test_a_deed_is_refused(dry: Bench, shift: timedelta, note: str, words: str) -> None:
    with pytest.raises(RefusedError, match=words):
        dry.logbook.act("tent", Deed.MISTED, dry.clock.now() + shift, note, "api")


@pytest.mark.parametrize(
    ("chamber", "most_g"),
    [
        pytest.param("tent", 1000.0, id="half a cubic metre"),
        pytest.param("room", 500.0, id="no volume stated"),
    ],
)
def test_more_than_the_air_could_take_is_a_slip(bench: Bench, chamber: str, most_g: float) -> None:
    kept = bench.logbook.act(chamber, Deed.MISTED, None, "", "api", Amounts(most_g))
    assert kept.amount == most_g
    with pytest.raises(RefusedError, match="could ever take; give grams, one squeeze is about 1"):
        bench.logbook.act(chamber, Deed.MISTED, None, "", "api", Amounts(most_g + 0.1))


def test_unknown_chamber(dry: Bench) -> None:
    with pytest.raises(UnknownNameError, match="Known: tent"):
        dry.logbook.act("cellar", Deed.MISTED, None, "", "api")


def test_seen_once(dry: Bench) -> None:
    number = dry.reminder(Call.MIST).id
    assert dry.logbook.seen(number, 1, "link").state is State.ACKNOWLEDGED
    with pytest.raises(RefusedError, match="Nothing to acknowledge"):
        dry.logbook.seen(number, None, "page")


def test_an_older_episode_is_over(dry: Bench) -> None:
    with pytest.raises(RefusedError, match="newer one"):
        dry.logbook.seen(dry.reminder(Call.MIST).id, 7, "link")


def test_no_such_reminder(dry: Bench) -> None:
    with pytest.raises(UnknownNameError, match="no reminder 99"):
        dry.logbook.seen(99, None, "page")


def test_shelving(dry: Bench) -> None:
    number = dry.reminder(Call.MIST).id
    shelved = dry.logbook.shelve(number, timedelta(minutes=30), "page")
    assert shelved.shelved_until == dry.clock.now() + timedelta(minutes=30)


@pytest.mark.parametrize(
    "length",
    [
        pytest.param(timedelta(0), id="nothing"),
        pytest.param(timedelta(hours=25), id="too long"),
        pytest.param(timedelta(seconds=59), id="too short"),
    ],
)
def test_shelving_has_limits(dry: Bench, length: timedelta) -> None:
    with pytest.raises(RefusedError, match="24 hours"):
        dry.logbook.shelve(dry.reminder(Call.MIST).id, length, "page")


def test_what_is_normal_cannot_be_put_off(bench: Bench) -> None:
    with pytest.raises(RefusedError, match="nothing to put off"):
        bench.logbook.shelve(bench.reminder(Call.VENT).id, timedelta(minutes=5), "page")
