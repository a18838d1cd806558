"""Thousands of requests made from the API's own description, to a whole house.

Nothing in the house stands in for a part of ours. Whoever has no leave gets nothing and changes no
byte of the book; whoever has gets an answer as it is described, whatever was asked.
"""

import hashlib
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Final

import pytest
import schemathesis
from hypothesis import HealthCheck, given, settings
from schemathesis import Case
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from chamberwatch.service.tokens import Tokens
from chamberwatch.web.app import create_app
from tests.browser.houses import House, whole
from tests.web.desk_fakes import dry_tent

pytestmark = pytest.mark.long

DESCRIBED: Final = schemathesis.openapi.from_dict(create_app(dry_tent().desk).openapi())
# A plan takes seconds, and has tests of its own.
CASES: Final = DESCRIBED.exclude(path="/api/v1/rotation").as_strategy()
CHECKS: Final = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
]
HERE: Final = "http://localhost"
REQUESTS: Final = 1000
MANY: Final = settings(
    max_examples=REQUESTS,
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=list(HealthCheck),
)
Told = Callable[[str, object], None]


@pytest.fixture(params=["without a passcode", "behind a passcode"])
def house(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[House]:
    with whole(tmp_path) as built:
        if request.param == "behind a passcode":
            built.guard()
        yield built


def digest(folder: Path) -> str:
    """Return what stands for every byte of the files of a house."""
    found = hashlib.sha256()
    for file in sorted(each for each in folder.rglob("*") if each.is_file()):
        if not file.name.endswith("-shm"):  # who reads is marked in it
            found.update(file.name.encode() + file.read_bytes())
    return found.hexdigest()


def token(house: House) -> str:
    """Make a token; those that were made before are revoked, since their number is bounded."""
    tokens = Tokens(house.machine.books, house.clock)
    for each in tokens.all():
        if each.revoked is None:
            tokens.revoke(each.id)
    return tokens.make("a visitor")[1]


def statuses(seen: Counter[int]) -> str:
    """Write how often each status was answered."""
    return ", ".join(f"{status}: {count}" for status, count in sorted(seen.items()))


def test_with_leave_every_answer_is_as_it_is_described(
    house: House, record_property: Told
) -> None:
    seen: Counter[int] = Counter()

    @MANY
    @given(case=CASES)
    def ask(case: Case[Any]) -> None:
        case.cookies.clear()
        headers = {"Authorization": f"Bearer {token(house)}"} if house.cookie else {}
        answer = case.call(base_url=HERE, app=house.app, headers=headers)
        seen[answer.status_code] += 1
        assert answer.status_code != 401
        case.validate_response(answer, checks=CHECKS)

    ask()
    record_property("told", f"{seen.total()} requests, answered {statuses(seen)}")
    house.settle()


@pytest.mark.parametrize("house", ["behind a passcode"], indirect=True)
def test_without_leave_no_byte_changes(
    house: House, tmp_path: Path, record_property: Told
) -> None:
    house.settle()
    before, seen = digest(tmp_path), Counter[int]()

    @MANY
    @given(case=CASES)
    def ask(case: Case[Any]) -> None:
        case.headers.pop("Authorization", None)
        case.cookies.clear()
        answer = case.call(base_url=HERE, app=house.app)
        seen[answer.status_code] += 1
        assert answer.status_code in {401, 403}
        assert digest(tmp_path) == before

    ask()
    record_property("told", f"{seen.total()} requests, answered {statuses(seen)}")
