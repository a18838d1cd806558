"""The live stream: told of changes, ended at once, and never too many."""

import asyncio
import threading

import pytest
from fastapi.testclient import TestClient

from chamberwatch.web import live
from chamberwatch.web.app import create_app
from tests.web.desk_fakes import Played, dry_tent


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(live, "EVERY_S", 0.005)


async def _take(listening: live.Listening, beats: list[int], most: int) -> list[str]:
    """Hear a stream whose pulse runs through `beats` and then stays; close it after `most`."""
    left = list(beats)

    def pulse() -> int:
        return left.pop(0) if len(left) > 1 else left[0]

    heard: list[str] = []
    async with asyncio.timeout(10.0):
        async for said in live.stream(listening, pulse):
            heard.append(said)
            if len(heard) == most:
                listening.closing.set()
    return heard


def test_a_change_is_told_and_calm_is_not() -> None:
    listening = live.Listening(threading.Event())
    heard = asyncio.run(_take(listening, [1, 1, 1, 2, 2, 3], 3))
    assert heard == [
        "retry: 3000\nevent: pulse\ndata: 1\n\n",
        "event: pulse\ndata: 2\n\n",
        "event: pulse\ndata: 3\n\n",
    ]
    assert listening.count == 0


def test_in_long_calm_it_says_that_it_is_there() -> None:
    listening = live.Listening(threading.Event())
    heard = asyncio.run(_take(listening, [1], 2))
    assert heard[1] == ": still here\n\n"


def test_who_leaves_is_no_longer_counted() -> None:
    async def leave() -> int:
        listening = live.Listening(threading.Event())
        heard = live.stream(listening, lambda: 1)
        await anext(heard)
        during = listening.count
        await heard.aclose()  # type: ignore[attr-defined]
        assert listening.count == 0
        return during

    assert asyncio.run(leave()) == 1


def test_closing_ends_a_stream_over_the_wire(
    played: Played, monkeypatch: pytest.MonkeyPatch
) -> None:
    app = create_app(played.desk)

    def last_pulse() -> int:
        app.state.closing.set()
        return 5

    monkeypatch.setattr(played.history, "pulse", last_pulse)
    with TestClient(app, base_url="http://localhost") as visitor:
        answer = visitor.get("/live")
    assert answer.headers["content-type"].startswith("text/event-stream")
    assert answer.text == "retry: 3000\nevent: pulse\ndata: 5\n\n"


@pytest.mark.parametrize(
    ("count", "closing"),
    [pytest.param(live.LISTENERS, False, id="full"), pytest.param(0, True, id="closing")],
)
def test_no_more_than_fit(count: int, closing: bool) -> None:
    app = create_app(dry_tent().desk)
    app.state.listening.count = count
    if closing:
        app.state.closing.set()
    with TestClient(app, base_url="http://localhost") as visitor:
        answer = visitor.get("/live")
    assert answer.status_code == 503
    assert "Too many pages are open" in answer.text
