"""A desk that is set, and a visitor on this machine."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from chamberwatch.web.app import create_app
from tests.web.desk_fakes import Played, dry_tent
from tests.web.guarded_fakes import PI, Guarded, guarded

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


@pytest.fixture
def house(tmp_path: Path) -> Iterator[Guarded]:
    """Return a desk behind a passcode."""
    with guarded(tmp_path) as made:
        yield made


@pytest.fixture
def open_house(tmp_path: Path) -> Iterator[Guarded]:
    """Return the same while no passcode is set."""
    with guarded(tmp_path, passcode=None) as made:
        yield made


@pytest.fixture
def network(tmp_path: Path) -> Iterator[TestClient]:
    """Return a visitor from the home network, to a desk that states its address."""
    with guarded(tmp_path, address="http://tent.example") as made:
        yield made.visitor(base=f"http://{PI}:8642", host="192.0.2.7")
