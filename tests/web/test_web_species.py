"""The species over the API."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.species import SpeciesTable
from chamberwatch.settings.species import shipped_species
from chamberwatch.storage.book import open_books
from chamberwatch.web.app import create_app
from tests.make import at
from tests.web.desk_fakes import Played
from tests.web.growing_fakes import growing

SPECIES = "/api/v1/species"


@pytest.fixture
def table() -> SpeciesTable:
    return replace(shipped_species(), own=frozenset({"shiitake"}))


@pytest.fixture
def visitor(played: Played, table: SpeciesTable, tmp_path: Path) -> Iterator[TestClient]:
    books = open_books(f"sqlite:///{tmp_path / 'cw.db'}", at(0))
    desk = replace(played.desk, growing=growing(books, played.clock, table=table))
    yield TestClient(create_app(desk), base_url="http://localhost")
    books.close()


def test_all_of_them_and_which_are_ones_own(visitor: TestClient, table: SpeciesTable) -> None:
    answer = visitor.get(SPECIES)
    said = answer.json()["species"]
    assert [each["name"] for each in said] == list(table.species)
    assert [each["name"] for each in said if each["own"]] == ["shiitake"]
    again = visitor.get(SPECIES, headers={"If-None-Match": answer.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")


def test_every_figure_with_all_views(visitor: TestClient, table: SpeciesTable) -> None:
    said = visitor.get(f"{SPECIES}/grey-oyster").json()
    known = table.get("grey-oyster")
    assert (said["title"], said["latin"]) == ("Grey oyster", "Pleurotus ostreatus")
    assert [stage["stage"] for stage in said["stages"]] == list(known.stages)
    pinning = next(stage for stage in said["stages"] if stage["stage"] == "pinning")
    stated = known.stages[Stage.PINNING].co2_ppm
    assert stated is not None
    assert len(stated.views) > 1
    co2 = pinning["co2_ppm"]
    assert (co2["unit"], co2["low"], co2["high"]) == ("ppm", stated.low, stated.high)
    assert co2["reason"] == stated.reason != ""
    assert [(v["low"], v["high"], v["mark"], v["note"]) for v in co2["views"]] == [
        (view.low, view.high, view.mark, view.note) for view in stated.views
    ]
    titles = {view["source"] for view in co2["views"]}
    assert {table.sources[v.source] if v.source else None for v in stated.views} == titles
    assert said["efficiency_pct"]["unit"] == "%"
    assert said["efficiency_pct"]["views"][0]["source"].startswith("Jaramillo")


def test_no_such_species(visitor: TestClient) -> None:
    answer = visitor.get(f"{SPECIES}/truffle")
    assert (answer.status_code, answer.json()["type"]) == (404, "/problems#unknown-name")
    assert "Known: grey-oyster" in answer.json()["detail"]


def test_where_no_record_is_kept(client: TestClient) -> None:
    for address in (SPECIES, f"{SPECIES}/shiitake"):
        answer = client.get(address)
        assert (answer.status_code, answer.json()["type"]) == (422, "/problems#refused")
