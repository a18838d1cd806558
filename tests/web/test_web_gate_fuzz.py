"""Requests made from the API's own description: without leave nothing comes of any of them."""

import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, given, settings
from schemathesis import Case
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from chamberwatch.web.app import create_app
from tests.web.desk_fakes import dry_tent
from tests.web.guarded_fakes import HERE, Guarded, guarded

DESCRIBED = schemathesis.openapi.from_dict(create_app(dry_tent().desk).openapi())
CASES = DESCRIBED.as_strategy()
# The desk plans nothing: a plan takes its time, and has tests of its own.
PLANNED = DESCRIBED.exclude(path="/api/v1/rotation").as_strategy()
CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
]
# The same requests at each run; tests/faults/test_any_request.py tries many more.
SHORT = settings(
    max_examples=100,
    deadline=None,
    derandomize=True,
    suppress_health_check=list(HealthCheck),
)


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Guarded]:
    with guarded(tmp_path_factory.mktemp("guarded")) as made:
        yield made


def kept(file: Path) -> list[str]:
    with sqlite3.connect(file) as opened:
        found = list(opened.iterdump())
    opened.close()
    return found


@SHORT
@given(case=CASES)
def test_without_leave_nothing_comes_of_it(whole: Guarded, case: Case[Any]) -> None:
    case.headers.pop("Authorization", None)
    case.cookies.clear()
    before, told = kept(whole.file), len(whole.played.logbook.told)
    answer = case.call(base_url=HERE, app=whole.app)
    assert answer.status_code == 401
    assert answer.headers["content-type"] == ["application/problem+json"]
    assert kept(whole.file) == before
    assert len(whole.played.logbook.told) == told


@SHORT
@given(case=PLANNED)
def test_with_leave_it_answers_as_it_is_described(whole: Guarded, case: Case[Any]) -> None:
    # Made anew each time: among what is tried is that it revokes itself.
    token, secret = whole.tokens.make("a visitor")
    case.cookies.clear()
    headers = {"Authorization": f"Bearer {secret}"}
    try:
        answer = case.call(base_url=HERE, app=whole.app, headers=headers)
    finally:
        whole.tokens.revoke(token.id)
    assert answer.status_code < 500
    assert answer.status_code != 401
    case.validate_response(answer, checks=CHECKS)


@pytest.fixture(scope="module")
def open_one(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Guarded]:
    with guarded(tmp_path_factory.mktemp("open"), passcode=None) as made:
        yield made


@SHORT
@given(case=PLANNED)
def test_without_a_passcode_it_answers_as_it_is_described(
    open_one: Guarded, case: Case[Any]
) -> None:
    case.cookies.clear()
    answer = case.call(base_url=HERE, app=open_one.app)
    assert answer.status_code != 401
    case.validate_response(answer, checks=CHECKS)
