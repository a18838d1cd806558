"""For all tests: a server is started once for them, and none asserts how long anything takes."""

import os
from collections.abc import Iterator

import pytest
from hypothesis import settings

from tests.servers import TestServer, database_server

# What a fresh search finds is for whoever searches; elsewhere the same is tried each time.
settings.register_profile("untimed", deadline=None, derandomize=bool(os.environ.get("CI")))
settings.load_profile("untimed")


@pytest.fixture(scope="session")
def server() -> Iterator[TestServer]:
    """A database server for all tests of this run; who leaves something odd in it empties it."""
    with database_server() as started:
        yield started
