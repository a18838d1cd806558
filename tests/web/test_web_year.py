"""A year of a weekly starter, told through the API by somebody who does what the list of the day
says: it ends with a plan, yields and windows that add up.

How long each stage takes and how much comes is drawn (fixed seed) inside what the species table
states for grey oyster; the grower and his bags are invented.
"""

import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any, Final

import pytest
from fastapi.testclient import TestClient

from chamberwatch.service.board import Board
from chamberwatch.settings import load, shipped_species
from chamberwatch.storage.book import open_books
from chamberwatch.web.app import create_app
from chamberwatch.web.desk import Desk
from chamberwatch.wiring.growing import grow
from tests.fakes import HandClock
from tests.web.desk_fakes import Played

SETTINGS = """
[site]
timezone = "Europe/Lisbon"
[[chamber]]
name = "tent"
volume_l = 900
stage = "fruiting"
shelves = ["one", "two", "three", "four", "five", "six", "seven"]
shelf_holds = 2
open_at_most = 9
[[rotation]]
species = "grey-oyster"
kg_per_week = [0.35, 0.5]
batch_dry_g = 450
"""
DAYS: Final = 365
DRY_G: Final = 450.0
SHELVES: Final = ("one", "two", "three", "four", "five", "six", "seven")
FULL: Final = 14
"""Batches that the shelves hold."""


@dataclass
class Bag:
    """What a bag will do, whether anybody looks or not: in days of its own stages."""

    white_on: int
    pins: int
    ripe: int
    rest: int
    flushes: list[float]
    opened_on: int | None = None
    next_ripe: int | None = None


@dataclass
class Grower:
    """Comes by once a day and does what the list says, if the bag agrees."""

    visitor: TestClient
    clock: HandClock
    rounds: Callable[[], None]
    chance: random.Random
    bags: dict[int, Bag] = field(default_factory=dict)
    picked: list[tuple[int, float]] = field(default_factory=list)
    started: list[int] = field(default_factory=list)

    def ask(self, address: str) -> dict[str, Any]:
        answer = self.visitor.get(f"/api/v1/{address}")
        assert answer.status_code == 200, answer.text
        found: dict[str, Any] = answer.json()
        return found

    def say(self, address: str, **said: object) -> dict[str, Any]:
        answer = self.visitor.post(f"/api/v1/{address}", json=said)
        assert answer.status_code == 201, answer.text
        found: dict[str, Any] = answer.json()
        return found

    def day(self, today: int) -> None:
        self.rounds()
        for task in self.ask("tasks")["tasks"]:
            self.do(task, today)

    def do(self, task: dict[str, Any], today: int) -> None:
        number = task["batch"]
        if task["kind"] == "start the next":
            for _ in range(task["times"]):
                self.start(today, task)
        elif task["kind"] == "open" and today >= self.bags[number].white_on:
            bag = self.bags[number]
            bag.opened_on, bag.next_ripe = today, today + bag.pins + bag.ripe
            self.say(f"batches/{number}/entries", kind="opened")
        elif task["kind"] == "harvest":
            self.pick(number, today)
        elif task["kind"] == "clear out":
            self.say(f"batches/{number}/entries", kind="spent")

    def start(self, today: int, task: dict[str, Any]) -> None:
        draw = self.chance.uniform
        total_g = DRY_G * draw(0.76, 1.07)
        bag = Bag(
            white_on=today + round(draw(14, 19)),
            pins=round(draw(3, 5)),
            ripe=round(draw(4, 7)),
            rest=round(draw(8, 13)),
            flushes=[total_g * share for share in (0.55, 0.29, 0.16)],
        )
        told = self.say(
            "batches",
            species=task["species"],
            container="sealed bag",
            dry_g=DRY_G,
            chamber=task["chamber"] or "tent",
            shelf=task["shelf"] or self.room(),
        )
        self.bags[told["batch"]["id"]] = bag
        self.started.append(today)

    def room(self) -> str:
        """Return a shelf with room."""
        living = self.ask("batches?living=true")["batches"]
        on = [batch["shelf"] for batch in living]
        return next(shelf for shelf in SHELVES if on.count(shelf) < 2)

    def pick(self, number: int, today: int) -> None:
        bag = self.bags[number]
        if bag.next_ripe is None or today < bag.next_ripe or not bag.flushes:
            return
        weight_g = round(bag.flushes.pop(0), 0)
        bag.next_ripe = today + bag.rest
        self.say("harvests", batch=number, weight_g=weight_g)
        self.picked.append((today, weight_g))


@pytest.fixture
def grower(tmp_path: Path) -> Iterator[Grower]:
    path = tmp_path / "chamberwatch.toml"
    path.write_text(SETTINGS, encoding="utf-8")
    clock = HandClock()
    clock.wall = datetime(2025, 9, 1, 17, 0, tzinfo=UTC)
    books = open_books(f"sqlite:///{tmp_path / 'year.db'}", clock.now())
    growing = grow(load(path, {}), shipped_species(), books, clock, Board(0.0))
    desk: Desk = replace(Played().desk, clock=clock, books=books, growing=growing)
    with TestClient(create_app(desk), base_url="http://localhost") as visitor:
        yield Grower(visitor, clock, growing.rotating.renew, random.Random(7))  # noqa: S311 - an invented year, no secret
    books.close()


def test_a_year_adds_up(grower: Grower) -> None:
    for today in range(DAYS):
        grower.day(today)
        living = grower.ask("batches?living=true")["batches"]
        assert len(living) <= FULL
        grower.clock.turn(minutes=24 * 60)

    # No weight is lost, and yields are what was weighed over what was filled in.
    harvests = grower.ask("harvests")
    assert harvests["total"]["g"] == sum(weight for _, weight in grower.picked)
    crops = grower.ask("yields?by=batch")
    assert sum(row["fresh"]["g"] for row in crops["crops"]) == pytest.approx(
        harvests["total"]["g"]
    )
    (row,) = grower.ask("yields?by=species")["rows"]
    assert 76.0 <= row["efficiency_pct"]["mean"] <= 107.0

    # It kept the crop moving: after the first harvest hardly a week without one, and about as
    # much as was wished for.
    first = grower.picked[0][0]
    weeks = [
        sum(weight for day, weight in grower.picked if monday <= day < monday + 7)
        for monday in range(first, DAYS - 7, 7)
    ]
    assert sum(week == 0.0 for week in weeks) <= len(weeks) // 10
    assert 350.0 <= sum(weeks) / len(weeks) <= 520.0
    assert max(after - before for before, after in pairwise(grower.started)) <= 21

    # What is due of those under way is narrowed by those that are over.
    living = grower.ask("batches?living=true")["batches"]
    dues = [due for b in living for due in grower.ask(f"batches/{b['id']}")["dues"]]
    assert dues
    assert max(due["own_batches"] for due in dues) >= 10

    # And there is a plan for what comes next, which respects the shelves.
    plan = grower.ask("rotation?weeks=12")
    assert len(plan["weeks"]) == 12
    assert plan["starts"]
    now = grower.clock.now()
    for start in plan["starts"]:
        assert datetime.fromisoformat(start["on"]).date() >= (now - timedelta(days=4)).date()
