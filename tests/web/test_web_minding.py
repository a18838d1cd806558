"""Cautions on the page: shown until somebody gives a name, and again when there is more."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import Container, EntryKind, Start
from chamberwatch.core.watch.reminder import Call, Reminder, State
from chamberwatch.service.growing.places import Place
from chamberwatch.service.growing.told import Telling
from chamberwatch.service.views import ReminderNow
from chamberwatch.storage.book import open_books
from chamberwatch.web.app import create_app
from tests.make import at
from tests.web.desk_fakes import Played
from tests.web.growing_fakes import growing

K = EntryKind


class Visitor:
    """Looks at the page of a tent in a living room, and answers its forms."""

    def __init__(self, folder: Path, played: Played) -> None:
        self.played = played
        self.books = open_books(f"sqlite:///{folder / 'minding.db'}", played.clock.now())
        self.growing = growing(self.books, played.clock)
        desk = replace(played.desk, growing=self.growing)
        self.client = TestClient(
            create_app(desk), base_url="http://localhost", follow_redirects=False
        )

    def open_bags(self, count: int) -> None:
        for _ in range(count):
            start = Start("grey-oyster", Container.BAG)
            batch = self.growing.record.start(start, Place("tent"), at(-9000), "", "page")
            self.growing.record.tell(batch.id, Telling(K.OPENED, at(-30)), "page")

    def ask_for(self, call: Call, key: str) -> None:
        """Let a task stand among the reminders of the tent."""
        task = Reminder(9, "tent", call, key, State.UNACKNOWLEDGED, active=True)
        shown = self.played.history.now("tent")
        self.played.put(replace(shown, reminders=(ReminderNow(task, "a task", "do it"),)))

    def text(self) -> str:
        return self.client.get("/").text

    def seen(self, caution: str, who: str, once: str = "a-mark-of-the-form") -> int:
        form = {"caution": caution, "who": who, "once": once}
        return self.client.post("/minded", data=form).status_code


@pytest.fixture
def visitor(tmp_path: Path, played: Played) -> Iterator[Visitor]:
    made = Visitor(tmp_path, played)
    yield made
    made.books.close()


def test_two_open_bags_are_no_news(visitor: Visitor) -> None:
    visitor.open_bags(2)
    assert "mind the spores" not in visitor.text()


def test_a_third_is_minded_until_somebody_has_seen_it(visitor: Visitor) -> None:
    visitor.open_bags(3)
    text = visitor.text()
    assert "Tent: 3 open batches where people live: mind the spores" in text
    assert "Lenhart &amp; Cole 1993" in text
    assert visitor.seen("spores-tent-3", "Ann") == 303
    assert "mind the spores" not in visitor.text()
    visitor.open_bags(1)
    assert "Tent: 4 open batches" in visitor.text()


def test_mould_is_minded_too(visitor: Visitor) -> None:
    visitor.open_bags(1)
    visitor.growing.record.tell(1, Telling(K.CONTAMINATED), "page")
    assert "Batch 1 (grey oyster) is contaminated: bag it" in visitor.text()
    assert visitor.seen("contaminated-1-1", "Ann") == 303
    assert "bag it" not in visitor.text()


def test_what_is_outdoors_is_minded_beside_the_first_chamber(visitor: Visitor) -> None:
    start = Start("shiitake", Container.LOG)
    visitor.growing.record.start(start, None, at(-9000), "", "page")
    visitor.growing.record.tell(1, Telling(K.CONTAMINATED), "page")
    assert visitor.text().count("<strong>Batch 1 (shiitake) is contaminated: bag it") == 1
    # A page of one chamber is about that one.
    assert "bag it" not in visitor.client.get("/chamber/tent").text
    assert visitor.seen("contaminated-1-1", "Ann") == 303
    assert "bag it" not in visitor.text()


@pytest.mark.parametrize(
    ("caution", "who", "status"),
    [
        pytest.param("spores-tent-3", "   ", 422, id="no name"),
        pytest.param("spores-shed-3", "Ann", 404, id="no such caution"),
        pytest.param("contaminated-1-1", "Ann", 404, id="a healthy batch"),
        pytest.param("contaminated-" + "9" * 30 + "-1", "Ann", 404, id="an absurd number"),
    ],
)
def test_what_is_refused(visitor: Visitor, caution: str, who: str, status: int) -> None:
    visitor.open_bags(3)
    assert visitor.seen(caution, who) == status
    assert "mind the spores" in visitor.text()


def test_nothing_is_minded_where_no_record_is_kept(played: Played) -> None:
    client = TestClient(create_app(played.desk), base_url="http://localhost")
    assert "Seen by" not in client.get("/").text
    form = {"caution": "spores-tent-3", "who": "Ann", "once": "a-mark-of-the-form"}
    assert client.post("/minded", data=form).status_code == 422


def test_a_task_is_done_from_the_page(visitor: Visitor) -> None:
    """White through, opened with a tap; picked with a weight."""
    start = Start("grey-oyster", Container.BAG)
    record = visitor.growing.record
    batch = record.start(start, Place("tent", "top"), at(-30_000), "", "page")
    record.tell(batch.id, Telling(K.WHITE, at(-60)), "page")
    visitor.ask_for(Call.OPEN, f"open-{batch.id}")
    assert 'aria-label="Opened just now: batch 1"' in visitor.text()
    form = {"batch": "1", "kind": "opened", "once": "one-mark-of-it"}
    assert visitor.client.post("/grew", data=form).headers["location"] == "/?said=grew"
    assert record.batch(1).stage is Stage.PINNING
    picked = {"batch": "1", "kind": "harvested", "weight": "1 lb 5 oz", "once": "another-mark"}
    assert visitor.client.post("/grew", data=picked).status_code == 303
    assert [round(h.weight_g) for h in record.batch(1).harvests] == [595]


@pytest.mark.parametrize(
    ("form", "status"),
    [
        pytest.param({"batch": "9", "kind": "opened"}, 404, id="no such batch"),
        pytest.param({"batch": "1", "kind": "harvested", "weight": "much"}, 422, id="no weight"),
        pytest.param({"batch": "1", "kind": "harvested"}, 422, id="none at all"),
        pytest.param({"batch": "1", "kind": "started"}, 422, id="no telling"),
    ],
)
def test_what_a_batch_refuses(visitor: Visitor, form: dict[str, str], status: int) -> None:
    visitor.open_bags(1)
    told = len(visitor.growing.record.entries(1))
    answer = visitor.client.post("/grew", data={**form, "once": "a-mark-of-the-form"})
    assert answer.status_code == status
    assert len(visitor.growing.record.entries(1)) == told
