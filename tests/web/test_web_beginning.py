"""The first steps on *Set-up*: which there are, which are done, and when they are over."""

from collections.abc import Iterable, Sequence
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from chamberwatch.core.errors import SettingsError
from chamberwatch.service.views import AddressNow
from chamberwatch.storage.book import open_books
from chamberwatch.web.pages.beginning import Step, over, sensors_of, steps
from tests.web.address_fakes import PHONE, TERMINAL, FakeAddresses
from tests.web.desk_fakes import Played, dry_tent
from tests.web.editing_fakes import FakeEditing
from tests.web.growing_fakes import growing

TITLES = ("The broker", "Place and units", "A chamber", "The room around it", "Sensors")


def begun(played: Played, editing: FakeEditing | None = None) -> dict[str, Step]:
    played.desk = replace(played.desk, editing=editing)
    return {step.title: step for step in steps(played.desk, "/set-up", sensors_of(played.desk))}


def done(found: Iterable[Step]) -> set[str]:
    return {step.title for step in found if step.done}


def test_with_nothing_yet_only_the_broker_is_there() -> None:
    found = begun(Played(), FakeEditing())
    assert tuple(found) == TITLES
    assert done(found.values()) == {"The broker"}
    assert not over(list(found.values()))


def test_a_tent_and_what_it_says_is_enough() -> None:
    found = begun(dry_tent(), FakeEditing())
    assert done(found.values()) == set(TITLES) - {"Place and units"}
    assert over(list(found.values()))


def test_a_batch_is_needed_where_growing_is_recorded(tmp_path: Path) -> None:
    played = dry_tent()
    with closing(open_books(f"sqlite:///{tmp_path / 'cw.db'}", played.clock.now())) as books:
        played.desk = replace(played.desk, growing=growing(books, played.clock))
        found = begun(played, FakeEditing())
    assert found["The first batch"].address == "/growing/start"
    assert not over(list(found.values()))


@pytest.mark.parametrize(
    ("known", "is_done"),
    [
        pytest.param([TERMINAL], False, id="a terminal is no phone"),
        pytest.param([TERMINAL, PHONE], True, id="a phone"),
    ],
)
def test_where_reminders_go_may_wait(known: Sequence[AddressNow], is_done: bool) -> None:
    played = dry_tent()
    played.desk = replace(played.desk, addresses=FakeAddresses(known=list(known)))
    found = begun(played, FakeEditing())
    assert found["Your phone"].done is is_done
    assert over(list(found.values()))


class Unreadable(FakeEditing):
    """A settings file that is at fault."""

    def content(self) -> dict[str, Any]:
        raise SettingsError(())


@pytest.mark.parametrize(
    ("editing", "is_done"),
    [
        pytest.param(FakeEditing({"site": {"altitude_m": 100}}), False, id="no zone stated"),
        pytest.param(FakeEditing({"site": {"timezone": "UTC"}}), True, id="UTC, on purpose"),
        pytest.param(Unreadable(), True, id="a file at fault has other troubles"),
        pytest.param(None, True, id="nothing can be set here"),
    ],
)
def test_the_place_is_asked_for_until_it_is_stated(
    editing: FakeEditing | None, is_done: bool
) -> None:
    assert begun(dry_tent(), editing)["Place and units"].done is is_done
