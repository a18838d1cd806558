"""A desk that is set, and a visitor on this machine."""

from collections.abc import Iterator

import pytest
from fastapi.testclient import TestClient

from chamberwatch.web.app import create_app
from tests.web.desk_fakes import Played, dry_tent

HERE = "http://localhost"


@pytest.fixture
def played() -> Played:
    """Return a tent that is too dry."""
    return dry_tent()


@pytest.fixture
def client(played: Played) -> Iterator[TestClient]:
    """Return a visitor who doesn't follow redirects and sees a 500 as one."""
    with TestClient(
        create_app(played.desk),
        base_url=HERE,
        follow_redirects=False,
        raise_server_exceptions=False,
    ) as visitor:
        yield visitor
