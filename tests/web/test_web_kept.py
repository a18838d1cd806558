"""Static files: how long they may be kept, and which of them are sent packed."""

import gzip
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from starlette.applications import Starlette

from chamberwatch.web.kept import A_YEAR, Kept, takes_gzip
from chamberwatch.web.rendering import STATIC, vendored

PLAIN = b"const many = 'words';\n" * 50


@pytest.fixture
def visitor(tmp_path: Path) -> Iterator[TestClient]:
    (tmp_path / "big.js").write_bytes(PLAIN)
    (tmp_path / "big.js.gz").write_bytes(gzip.compress(PLAIN))
    (tmp_path / "small.js").write_bytes(PLAIN)
    app = Starlette()
    app.mount("/static", Kept(directory=tmp_path))
    with TestClient(app) as made:
        yield made


@pytest.mark.parametrize(
    ("address", "kept"),
    [
        pytest.param("/static/big.js?v=1", A_YEAR, id="marked"),
        pytest.param("/static/big.js", "no-cache", id="unmarked"),
    ],
)
def test_how_long_it_is_kept(visitor: TestClient, address: str, kept: str) -> None:
    assert visitor.get(address).headers["cache-control"] == kept


@pytest.mark.parametrize(
    ("name", "headers", "coding"),
    [
        pytest.param("big.js", {"accept-encoding": "gzip, br"}, "gzip", id="packed"),
        pytest.param("big.js", {"accept-encoding": "identity"}, None, id="plain is wanted"),
        pytest.param("big.js", {"accept-encoding": "gzip", "range": "bytes=0-9"}, None, id="part"),
        pytest.param("small.js", {"accept-encoding": "gzip"}, None, id="no packed one"),
    ],
)
def test_which_is_sent_packed(
    visitor: TestClient, name: str, headers: dict[str, str], coding: str | None
) -> None:
    answer = visitor.get(f"/static/{name}?v=1", headers=headers)
    assert answer.headers.get("content-encoding") == coding
    assert answer.headers["content-type"].startswith("text/javascript")
    assert answer.headers.get("vary") == ("Accept-Encoding" if name == "big.js" else None)
    assert answer.content == (PLAIN[:10] if "range" in headers else PLAIN)


@pytest.mark.parametrize(
    ("accepted", "taken"),
    [
        pytest.param("", False, id="nothing said"),
        pytest.param("gzip", True, id="gzip"),
        pytest.param("br;q=1.0, GZIP;q=0.5", True, id="less liked"),
        pytest.param("gzip;q=0", False, id="refused"),
        pytest.param("gzip; q=0.0", False, id="refused with decimals"),
        pytest.param("x-gzip", True, id="its old name"),
        pytest.param("br, deflate", False, id="others"),
    ],
)
def test_who_takes_gzip(accepted: str, taken: bool) -> None:
    assert takes_gzip(accepted) is taken


def test_what_was_not_fetched_has_no_address() -> None:
    assert vendored("never-fetched.js") == ""


def test_what_was_fetched_has_a_marked_address_and_is_small() -> None:
    vendor = STATIC / "vendor"
    if not (vendor / "echarts.min.js").is_file():
        pytest.skip("the charts were not fetched: python deploy/web/build_hook.py")
    assert vendored("echarts.min.js").startswith("/static/vendor/echarts.min.js?v=")
    assert (vendor / "echarts.min.js.gz").stat().st_size < 400_000
