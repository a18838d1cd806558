"""The chart over HTTP: small JSON, the same as CSV, packed, and not sent twice."""

import asyncio
import csv
import gzip
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import timedelta

import pytest
from fastapi.testclient import TestClient
from starlette.types import Message

from chamberwatch.core.errors import UnknownNameError
from chamberwatch.service.books import Span
from chamberwatch.service.chart import BandThen, Chart, ChartLine, Mark, MarkKind
from chamberwatch.web.app import PACKED_FROM, create_app
from tests.make import NOON, at
from tests.web.desk_fakes import Played

URL = "/api/v1/chambers/tent/chart"
LINES = (
    ChartLine(
        "humidity_pct",
        "%",
        (1768910000.0, 1768910900.25, 1768911800.0),
        (81.04, None, 83.0),
        (84.96, None, 85.25),
        (90.0, None, 91.049),
    ),
    ChartLine("co2_ppm", "ppm", (1768910000.0,), (899.5,), (900.2,), (None,)),
)


@dataclass
class FakeCharting:
    """Draws the same whatever is asked, and remembers what was."""

    asked: list[tuple[str, tuple[str, ...], Span, int]] = field(default_factory=list)

    def chart(
        self, chamber: str, quantities: Sequence[str], span: Span, points: int = 1000
    ) -> Chart:
        if chamber != "tent":
            raise UnknownNameError("There is no such chamber.")
        self.asked.append((chamber, tuple(quantities), span, points))
        return Chart(
            chamber,
            span,
            timedelta(minutes=15),
            LINES,
            (BandThen("humidity_pct", at(-60), at(0), 80.0, 95.0, 70.0, None, "batch 6"),),
            (
                Mark(MarkKind.DEED, at(-30), None, "misted", "misted, 12 g"),
                Mark(MarkKind.REMINDER, at(-40), at(-30), "mist", "mist; over after 10 min"),
            ),
            (Span(at(-900), at(-420)),),
        )


@pytest.fixture
def charting() -> FakeCharting:
    return FakeCharting()


@pytest.fixture
def asker(played: Played, charting: FakeCharting) -> Iterator[TestClient]:
    desk = replace(played.desk, charting=charting)
    with TestClient(create_app(desk), base_url="http://localhost") as visitor:
        yield visitor


def test_a_chart_is_small_json(asker: TestClient, charting: FakeCharting) -> None:
    query = {
        "from": "2026-01-19T12:00:00Z",
        "to": "2026-01-20T13:00:00+01:00",
        "points": "300",
        "quantities": "humidity_pct, co2_ppm",
    }
    answer = asker.get(URL, params=query).json()
    assert charting.asked == [
        ("tent", ("humidity_pct", "co2_ppm"), Span(NOON - timedelta(days=1), NOON), 300)
    ]
    assert answer == {
        "chamber": "tent",
        "from": "2026-01-19T12:00:00Z",
        "to": "2026-01-20T12:00:00Z",
        "step_s": 900,
        "lines": [
            {
                "quantity": "humidity_pct",
                "unit": "%",
                "at": [1768910000, 1768910900, 1768911800],
                "least": [81.0, None, 83.0],
                "mean": [85.0, None, 85.3],
                "most": [90.0, None, 91.0],
            },
            {
                "quantity": "co2_ppm",
                "unit": "ppm",
                "at": [1768910000],
                "least": [900],
                "mean": [900],
                "most": [None],
            },
        ],
        "bands": [
            {
                "quantity": "humidity_pct",
                "from": "2026-01-20T11:00:00Z",
                "to": "2026-01-20T12:00:00Z",
                "low": 80.0,
                "high": 95.0,
                "harm_low": 70.0,
                "harm_high": None,
                "why": "batch 6",
            }
        ],
        "marks": [
            {
                "kind": "deed",
                "at": "2026-01-20T11:30:00Z",
                "until": None,
                "word": "misted",
                "text": "misted, 12 g",
            },
            {
                "kind": "reminder",
                "at": "2026-01-20T11:20:00Z",
                "until": "2026-01-20T11:30:00Z",
                "word": "mist",
                "text": "mist; over after 10 min",
            },
        ],
        "nights": [["2026-01-19T21:00:00Z", "2026-01-20T05:00:00Z"]],
        "left_out": None,
    }


def test_without_a_word_it_is_the_week(asker: TestClient, charting: FakeCharting) -> None:
    assert asker.get(URL).status_code == 200
    _, names, span, points = charting.asked[0]
    assert names == ("temperature_c", "humidity_pct", "co2_ppm", "vpd_kpa", "dew_point_c")
    assert (span, points) == (Span(NOON - timedelta(days=7), NOON), 1000)


def test_the_same_as_csv(asker: TestClient) -> None:
    answer = asker.get(f"{URL}.csv")
    assert answer.headers["content-type"] == "text/csv; charset=utf-8"
    drawn = asker.get(URL).json()["lines"]
    rows = list(csv.reader(io.StringIO(answer.text, newline="")))
    assert rows[0] == ["time", "quantity", "unit", "least", "mean", "most"]
    assert rows[1] == ["2026-01-20T11:53:20Z", "humidity_pct", "%", "81.0", "85.0", "90.0"]
    assert rows[2][3:] == ["", "", ""]
    said = [
        [line["quantity"], *("" if v is None else str(v) for v in values)]
        for line in drawn
        for values in zip(line["least"], line["mean"], line["most"], strict=True)
    ]
    assert [[row[1], *row[3:]] for row in rows[1:]] == said


@pytest.mark.parametrize("ending", ["", ".csv"])
def test_what_has_not_changed_is_not_sent_again(asker: TestClient, ending: str) -> None:
    tag = asker.get(URL + ending).headers["etag"]
    again = asker.get(URL + ending, headers={"If-None-Match": tag})
    assert (again.status_code, again.content, again.headers["etag"]) == (304, b"", tag)


@pytest.mark.parametrize(
    ("url", "status"),
    [
        pytest.param("/api/v1/chambers/attic/chart", 404, id="no chamber"),
        pytest.param(f"{URL}?from=yesterday", 422, id="no time"),
        pytest.param(f"{URL}?points=1", 422, id="no line"),
        pytest.param(f"{URL}?colour=red", 422, id="not known"),
    ],
)
def test_what_cannot_be_answered(asker: TestClient, url: str, status: int) -> None:
    assert asker.get(url).status_code == status


def test_where_nothing_is_drawn(client: TestClient) -> None:
    answer = client.get(URL)
    assert answer.status_code == 422
    assert "Ask the daemon" in answer.json()["detail"]


# ---------------------------------------------------------------- packed


def test_a_large_answer_is_packed_for_who_can_unpack_it(asker: TestClient) -> None:
    with asker.stream("GET", "/static/site.css", headers={"Accept-Encoding": "gzip"}) as packed:
        body = b"".join(packed.iter_raw())
    plain = asker.get("/static/site.css", headers={"Accept-Encoding": "identity"})
    assert packed.headers["content-encoding"] == "gzip"
    assert "Accept-Encoding" in packed.headers["vary"]
    assert gzip.decompress(body) == plain.content
    assert len(body) < len(plain.content) / 2
    assert "content-encoding" not in plain.headers


def test_a_small_answer_is_sent_as_it_is(asker: TestClient) -> None:
    answer = asker.get("/api/v1/chambers", headers={"Accept-Encoding": "gzip"})
    assert len(answer.content) < PACKED_FROM
    assert "content-encoding" not in answer.headers


def test_the_live_stream_is_not_held_back(played: Played) -> None:
    """Packing would keep what is told until there is enough of it."""
    app = create_app(played.desk)
    told: list[Message] = []
    heard_open = False

    async def send(message: Message) -> None:
        nonlocal heard_open
        told.append(message)
        if message.get("body"):
            heard_open |= not app.state.closing.is_set()
            app.state.closing.set()

    async def receive() -> Message:
        await asyncio.sleep(60.0)
        return {"type": "http.disconnect"}

    scope = {
        "type": "http",
        "method": "GET",
        "path": "/live",
        "raw_path": b"/live",
        "query_string": b"",
        "headers": [(b"host", b"localhost"), (b"accept-encoding", b"gzip")],
        "client": ("127.0.0.1", 5000),
        "server": ("localhost", 80),
        "scheme": "http",
        "root_path": "",
    }

    async def ask() -> None:
        async with asyncio.timeout(20.0):
            await app(scope, receive, send)

    asyncio.run(ask())
    names = {name for name, _ in told[0]["headers"]}
    assert b"content-encoding" not in names
    assert heard_open
    assert told[1]["body"].startswith(b"retry: 3000")
