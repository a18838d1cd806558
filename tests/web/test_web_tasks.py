"""What can be done today, over the API."""

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from chamberwatch.core.growing.batch import EntryKind
from tests.core.growing.timed import TABLE
from tests.web.desk_fakes import Played
from tests.web.plan_fakes import Asked, Grower, grower

TASKS = "/api/v1/tasks"
K = EntryKind


@pytest.fixture
def ann(tmp_path: Path, played: Played) -> Iterator[Grower]:
    with grower(tmp_path, played, TABLE) as made:
        yield made


def test_what_can_be_done_today(ann: Grower) -> None:
    ann.start(-30)
    ann.tell(1, K.OPENED, -15)
    ann.tell(1, K.PINNED, -10)
    ann.start(-13)
    ann.start(-3, "bottom")  # nothing to do yet
    ann.plan.planned = [
        Asked("shiitake", date(2026, 1, 20), 1, ("tent", "bottom")),
        Asked("shiitake", date(2026, 1, 20), 2, ("tent", "bottom")),
        Asked("shiitake", date(2026, 1, 27), 3),
    ]
    answer = ann.visitor.get(TASKS)
    tasks = answer.json()["tasks"]
    assert [task["key"] for task in tasks] == [
        "harvest-1-1",
        "open-2",
        "start-shiitake-2026-01-20",
    ]
    harvest, opening, start = tasks
    (said,) = (t for t in ann.growing.duties.tasks() if t.task.key == "harvest-1-1")
    # Pins came on the 10th; ripe 4 to 7 days later (Stamets 2000, ch. 21).
    assert harvest == {
        "key": "harvest-1-1",
        "kind": "harvest",
        "batch": 1,
        "species": "grey-oyster",
        "chamber": "tent",
        "shelf": "top",
        "times": 1,
        "low": "2026-01-14T12:00:00Z",
        "high": "2026-01-17T12:00:00Z",
        "overdue": True,
        "own_batches": 0,
        "source": "S00",
        "title": said.title,
        "body": said.body,
    }
    assert (opening["kind"], opening["overdue"]) == ("open", False)
    assert (start["batch"], start["species"], start["times"]) == (None, "shiitake", 2)
    assert (start["chamber"], start["shelf"]) == ("tent", "bottom")
    assert start["low"] == "2026-01-19T23:00:00Z"  # the day as it is in Berlin


def test_what_was_done_is_gone_and_so_is_the_tag(ann: Grower) -> None:
    ann.start(-13)
    first = ann.visitor.get(TASKS)
    assert [task["kind"] for task in first.json()["tasks"]] == ["open"]
    asked = {"If-None-Match": first.headers["etag"]}
    assert ann.visitor.get(TASKS, headers=asked).status_code == 304
    ann.tell(1, K.OPENED, -0.1)
    after = ann.visitor.get(TASKS, headers=asked)
    assert (after.status_code, after.json()) == (200, {"tasks": []})


@pytest.mark.parametrize("address", [TASKS, "/api/v1/rotation", "/api/v1/calendar.ics"])
def test_without_a_growing_record(client: TestClient, address: str) -> None:
    answer = client.get(address)
    assert answer.status_code == 422
    assert answer.json()["detail"].startswith("No growing record is kept here.")
