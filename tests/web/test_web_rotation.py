"""The plan of starts, over the API."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from chamberwatch.web.growing_plan_shapes import MOST_SPECIES
from tests.web.desk_fakes import Played
from tests.web.plan_fakes import WISH, Grower, wishing

ROTATION = "/api/v1/rotation"
ASKED: dict[str, Any] = {
    "species": "grey-oyster",
    "kg_per_week": [0.4, 0.6],
    "batch_dry_g": 500,
}


@pytest.fixture
def ann(tmp_path: Path, played: Played) -> Iterator[Grower]:
    with wishing(tmp_path, played, WISH) as made:
        yield made


def test_the_plan_for_the_settings(ann: Grower) -> None:
    said = ann.visitor.get(ROTATION).json()
    planned = ann.growing.rotating.plan()
    plan = planned.plan
    assert said["wanted"] == [
        {"species": "grey-oyster", "kg_per_week": {"low": 0.4, "high": 0.6}, "batch_dry_g": 500.0}
    ]
    # Bags that bring 0.5 kg each: 0.8 to 1.2 of them a week. By Little's law they fill so many
    # places: in the store for 12 to 21 days, so 16.5 on average; open for pins and growth, 7 to
    # 12 days, and two more flushes, each 7 to 14 later, so 21 to 40, 30.5 on average.
    assert said["starts_per_week"] == {"grey-oyster": {"low": 0.8, "high": 1.2}}
    assert said["slots"] == {
        "grey-oyster": {
            "store": {"low": round(0.8 * 16.5 / 7, 2), "high": round(1.2 * 16.5 / 7, 2)},
            "fruiting": {"low": round(0.8 * 30.5 / 7, 2), "high": round(1.2 * 30.5 / 7, 2)},
        }
    }
    assert [start["on"] for start in said["starts"]] == [s.on.isoformat() for s in plan.starts]
    first, start = said["starts"][0], plan.starts[0]
    assert (first["fruit_at"]["chamber"], first["fruit_at"]["shelf"]) == start.fruit_at
    flushes = first["harvests"]
    assert len(flushes) == 3
    assert sum(flush["kg"]["high"] for flush in flushes) == pytest.approx(0.5, abs=0.01)
    assert all(len(flush["low"]) == len("2026-01-20") for flush in flushes)
    assert [week["monday"] for week in said["weeks"]] == [w.monday.isoformat() for w in plan.weeks]
    assert len(said["weeks"]) == 12
    week, expected = said["weeks"][-1], plan.weeks[-1]
    assert week["kg"] == {"low": round(expected.kg_low, 2), "high": round(expected.kg_high, 2)}
    assert week["by_species"].keys() == {"grey-oyster"}
    assert said["made"] == planned.made.isoformat()
    assert said["meets"] is plan.meets
    assert [gives["why"] for gives in said["gives"]] == [gives.why for gives in plan.gives]
    assert said["words"] == list(planned.words)
    assert said["helps"] == list(plan.helps)


def test_what_is_shown_is_one_plan(ann: Grower) -> None:
    """A start that is made leaves the list; all else stays as it was planned."""
    first = ann.visitor.get(ROTATION).json()
    ann.later(1)
    ann.start(1)
    then = ann.visitor.get(ROTATION).json()
    assert then["starts"] == first["starts"][1:]
    assert {**then, "starts": first["starts"]} == first


def test_another_wish_keeps_nothing(ann: Grower) -> None:
    before = ann.visitor.get(ROTATION).json()
    much = {**ASKED, "kg_per_week": [5, 6]}
    other = {**ASKED, "species": "shiitake", "kg_per_week": [0.1, 0.2], "batch_dry_g": 860}
    tried = ann.visitor.post(ROTATION, json={"wanted": [much, other], "weeks": 5})
    assert tried.status_code == 200
    said = tried.json()
    assert [wish["species"] for wish in said["wanted"]] == ["grey-oyster", "shiitake"]
    assert len(said["weeks"]) == 5
    # 5 kg a week from a small tent: it says what gives, and what would help.
    assert said["meets"] is False
    assert {gives["species"] for gives in said["gives"]} >= {"grey-oyster"}
    assert all(gives["missing_kg"] > 0.0 and gives["why"] for gives in said["gives"])
    assert ann.visitor.get(ROTATION).json() == before


@pytest.mark.parametrize("weeks", [1, 26])
def test_how_far_ahead(ann: Grower, weeks: int) -> None:
    assert len(ann.visitor.get(ROTATION, params={"weeks": weeks}).json()["weeks"]) == weeks


@pytest.mark.parametrize("weeks", ["0", "27", "x", "2.5"])
def test_too_far_ahead(ann: Grower, weeks: str) -> None:
    assert ann.visitor.get(ROTATION, params={"weeks": weeks}).status_code == 422


@pytest.mark.parametrize(
    ("body", "status", "detail"),
    [
        pytest.param({"wanted": []}, 422, "", id="nothing"),
        pytest.param({"wanted": [ASKED] * (MOST_SPECIES + 1)}, 422, "", id="too much"),
        pytest.param({"wanted": [ASKED, ASKED]}, 422, "twice. Make them one.", id="twice"),
        pytest.param(
            {"wanted": [{**ASKED, "kg_per_week": [0.6, 0.4]}]},
            422,
            "0.6 is above 0.4. Swap them.",
            id="swapped",
        ),
        pytest.param({"wanted": [{**ASKED, "kg_per_week": [0.0, 0.4]}]}, 422, "", id="none"),
        pytest.param({"wanted": [{**ASKED, "kg_per_week": [1e-6, 0.4]}]}, 422, "", id="a crumb"),
        pytest.param(
            {"wanted": [{**ASKED, "kg_per_week": [90, 100], "batch_dry_g": 10}]},
            422,
            "takes 9000 batches a week or more, and a plan takes 100",
            id="a flood",
        ),
        pytest.param({"wanted": [{**ASKED, "kg_per_week": [0.4]}]}, 422, "", id="one end"),
        pytest.param({"wanted": [{**ASKED, "batch_dry_g": 0}]}, 422, "", id="no substrate"),
        pytest.param({"wanted": [{**ASKED, "wet_g": 5}]}, 422, "", id="another key"),
        pytest.param({"wanted": [ASKED], "weeks": 27}, 422, "", id="too far"),
        pytest.param(
            {"wanted": [{**ASKED, "species": "enoki"}]}, 422, "efficiency_pct", id="no figures"
        ),
        pytest.param(
            {"wanted": [{**ASKED, "species": "morel"}]}, 404, "no species “morel”", id="unknown"
        ),
    ],
)
def test_wishes_that_are_refused(
    ann: Grower, body: dict[str, Any], status: int, detail: str
) -> None:
    answer = ann.visitor.post(ROTATION, json=body)
    assert answer.status_code == status
    assert answer.headers["content-type"] == "application/problem+json"
    assert detail in answer.json()["detail"]


def test_nothing_wanted(tmp_path: Path, played: Played) -> None:
    with wishing(tmp_path, played) as made:
        answer = made.visitor.get(ROTATION)
        assert answer.status_code == 422
        assert "Add a [[rotation]] to the settings" in answer.json()["detail"]
        assert made.visitor.post(ROTATION, json={"wanted": [ASKED]}).status_code == 200


def test_the_plan_stands_in_the_calendar(ann: Grower) -> None:
    ann.growing.rotating.renew()
    planned = ann.growing.rotating.starts()
    feed = ann.visitor.get("/api/v1/calendar.ics").text
    for start in planned:
        assert f"DTSTART;VALUE=DATE:{start.on:%Y%m%d}" in feed
    assert feed.count("UID:start-grey-oyster-") == len(planned) > 1
