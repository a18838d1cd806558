"""What do you see? The steps, the causes, what is kept, and what can't be."""

import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from chamberwatch.core.growing.batch import EntryKind
from chamberwatch.core.growing.sign_table import SIGNS
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.service.growing.told import Telling
from chamberwatch.web.app import create_app
from tests.make import at
from tests.web.log_fakes import Logged, logged


@pytest.fixture
def made(tmp_path: Path) -> Iterator[Logged]:
    with logged(tmp_path) as given:
        yield given


@pytest.fixture
def client(made: Logged) -> Iterator[TestClient]:
    app = create_app(made.played.desk)
    with TestClient(app, base_url="http://localhost", follow_redirects=False) as visitor:
        yield visitor


def plain(html: str) -> str:
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", html)).split())


def test_batches_are_offered_by_chamber(made: Logged, client: TestClient) -> None:
    made.growing.record.tell(1, Telling(EntryKind.MOVED, chamber="shelf"), "page")
    page = plain(client.get("/look").text)
    assert "Dark shelf batch 1 Grey oyster resting, flush 1" in page
    made.growing.record.tell(1, Telling(EntryKind.MOVED), "page")
    assert "In no chamber batch 1" in plain(client.get("/look").text)
    made.growing.record.tell(1, Telling(EntryKind.SPENT), "page")
    assert "No batch is recorded, or none lives." in plain(client.get("/look").text)


def test_every_sign_has_a_drawing_of_its_own(client: TestClient) -> None:
    page = client.get("/look?general=true").text
    drawn = re.findall(r'<svg class="sketch".*?</svg>', page, re.DOTALL)
    assert len(drawn) == len(set(drawn)) == len(SIGNS)
    for sign in SIGNS.values():
        assert sign.title in page


def test_a_batch_is_offered_what_its_species_can_show(client: TestClient) -> None:
    page = client.get("/look?batch=1").text
    assert "Long stems" in page
    assert "Antlers in place of caps" not in page


def test_causes_are_joined_to_the_air_of_the_days_before(made: Logged, client: TestClient) -> None:
    with made.books.write() as book:
        book.readings.add(
            [Reading(at(-n * 20.0), "middle", Quantity.CO2, 1600.0) for n in range(1, 200)]
        )
    page = plain(client.get("/look?batch=1&sign=long-stems").text)
    assert "The air speaks for it: CO₂ was above 1000 ppm" in page
    assert "What to do:" in page
    assert "Source:" in page


@pytest.mark.parametrize("sign", list(SIGNS))
def test_in_general_every_sign_says_what_to_do(client: TestClient, sign: str) -> None:
    page = plain(client.get(f"/look?sign={sign}").text)
    for cause in SIGNS[sign].causes:
        assert cause.title in page
        assert cause.do in page
    assert ("Bag it where it stands" in page) is SIGNS[sign].contamination
    assert "Note it to batch" not in page


def test_it_is_noted_once(made: Logged, client: TestClient) -> None:
    before = len(made.growing.record.entries(1))
    form = {"batch": "1", "sign": "blotch", "once": "a-mark-of-a-form", "note": " two caps "}
    first = client.post("/look", data=form)
    again = client.post("/look", data=form)
    assert first.headers["location"] == "/look?batch=1&said=noted"
    assert again.headers["location"] == "/look?batch=1&said=twice"
    entries = made.growing.record.entries(1)
    assert len(entries) == before + 1
    assert (entries[-1].sign, entries[-1].note[:9]) == ("blotch", "two caps ")
    assert "Noted to the batch" in client.get(first.headers["location"]).text


@pytest.mark.parametrize(
    ("query", "status"),
    [
        pytest.param("?batch=9", 404, id="no batch"),
        pytest.param("?batch=1&sign=wings", 404, id="no sign"),
        pytest.param("?sign=wings", 404, id="no sign at all"),
        pytest.param("?batch=1&sign=coral-heads", 404, id="of another species"),
        pytest.param("?batch=one", 422, id="words"),
    ],
)
def test_what_cant_be_is_refused(client: TestClient, query: str, status: int) -> None:
    assert client.get(f"/look{query}").status_code == status
