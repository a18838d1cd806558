"""The amounts people were last told, over a restart."""

import json
from dataclasses import fields
from datetime import timedelta

import pytest

from chamberwatch.core.watch.reminder import Call
from chamberwatch.service.advised import Advised, dumps, loads
from tests.make import NOON

TOLD = {
    ("tent", Call.MIST): Advised(NOON, into_air_g=4.0, standing_g=12.0, taken=True),
    ("tent", Call.VENT): Advised(NOON, vent_minutes=5.0, reachable=False),
}


def test_what_is_young_comes_back() -> None:
    old = {("tent", Call.DRY_OFF): Advised(NOON - timedelta(days=2))}
    assert loads(dumps({**TOLD, **old}, NOON)) == TOLD
    assert loads(None) == {}


def test_all_of_it_is_kept() -> None:
    (row,) = json.loads(dumps({("tent", Call.MIST): Advised(NOON)}, NOON))
    assert row.keys() == {"chamber", "call", *(each.name for each in fields(Advised))}


@pytest.mark.parametrize("missing", ["taken", "standing_g"])
def test_what_a_former_version_did_not_keep_is_as_usual(missing: str) -> None:
    rows = json.loads(dumps(TOLD, NOON))
    for row in rows:
        del row[missing]
    read = loads(json.dumps(rows))
    assert read.keys() == TOLD.keys()
    advised = read["tent", Call.MIST]
    assert advised.into_air_g == 4.0
    assert getattr(advised, missing) == getattr(Advised(NOON), missing)


@pytest.mark.parametrize(
    "text",
    [
        pytest.param("no text of ours", id="no JSON"),
        pytest.param("7", id="a number"),
        pytest.param("[7]", id="a row that is none"),
        pytest.param('[{"chamber": "tent"}]', id="no call"),
        pytest.param('[{"chamber": "tent", "call": "dance", "at": "2026-01-20"}]', id="unknown"),
        pytest.param('[{"call": "mist", "at": "2026-01-20"}]', id="no chamber"),
        pytest.param('[{"chamber": "tent", "call": "mist", "at": 7}]', id="no time"),
        pytest.param(
            '[{"chamber": "tent", "call": "mist", "at": "2026-01-20", "into_air_g": "much"}]',
            id="no amount",
        ),
    ],
)
def test_what_cannot_be_read_is_nothing(text: str) -> None:
    assert loads(text) == {}
