"""Links as a person (or a preview) opens them."""

from dataclasses import replace
from datetime import timedelta

import pytest
from fastapi.testclient import TestClient

from chamberwatch.core.errors import StorageError
from chamberwatch.core.watch.action import Deed
from chamberwatch.core.watch.reminder import State
from chamberwatch.service.ports import Answering
from chamberwatch.web.access import SignedLinks, digest, sign_key
from tests.make import at
from tests.web.desk_fakes import MIST, MIST_NOW, Played


def link(played: Played, answering: Answering, episode: int = 3, number: int = 1) -> str:
    """Return the path of a link as it stands in a message."""
    links = SignedLinks(sign_key(played.books), "", played.clock)
    return links.link(number, episode, answering)


@pytest.mark.parametrize("method", ["GET", "HEAD"])
@pytest.mark.parametrize("answering", list(Answering))
def test_looking_changes_nothing(
    client: TestClient, played: Played, method: str, answering: Answering
) -> None:
    path = link(played, answering)
    writes, beat = played.books.writes, played.history.beat
    for _ in range(3):
        answer = client.request(method, path)
        assert answer.status_code == 200
    assert played.logbook.told == []
    assert played.history.beat == beat
    assert played.books.kept.used == set()
    assert played.books.kept.answers == {}
    assert played.books.writes == writes


def test_the_page_says_what_it_is_about_and_asks(client: TestClient, played: Played) -> None:
    page = client.get(link(played, Answering.MISTED)).text
    assert "Tent: mist now" in page
    assert "Humidity 76 % and falling" in page
    assert page.count("<button") == 1
    assert ">Misted</button>" in page


@pytest.mark.parametrize(
    ("answering", "told"),
    [
        pytest.param(Answering.SEEN, ("seen", 1, 3, "link"), id="seen"),
        pytest.param(
            Answering.MISTED, ("act", "tent", Deed.MISTED, None, "", "link"), id="misted"
        ),
        pytest.param(
            Answering.VENTED, ("act", "tent", Deed.VENTED, None, "", "link"), id="vented"
        ),
        pytest.param(
            Answering.REFILLED, ("act", "tent", Deed.REFILLED, None, "", "link"), id="refilled"
        ),
        pytest.param(
            Answering.LATER, ("shelve", 1, timedelta(minutes=30), "link"), id="half-an-hour"
        ),
    ],
)
def test_the_button_does_it_once(
    client: TestClient, played: Played, answering: Answering, told: tuple[object, ...]
) -> None:
    path = link(played, answering)
    done = client.post(path)
    assert done.status_code == 200
    assert "Noted" in done.text or "Put off" in done.text
    again = client.post(path)
    assert again.status_code == 410
    assert "Nothing was done a second time" in again.text
    assert client.get(path).status_code == 410
    assert played.logbook.told == [told]


@pytest.mark.parametrize("method", ["GET", "POST"])
def test_an_old_link_is_kindly_refused(client: TestClient, played: Played, method: str) -> None:
    path = link(played, Answering.MISTED)
    played.clock.turn(minutes=2 * 24 * 60 + 1)
    answer = client.request(method, path)
    assert answer.status_code == 410
    assert "older than two days" in answer.text
    assert 'href="/"' in answer.text
    assert played.logbook.told == []


@pytest.mark.parametrize("method", ["GET", "POST"])
@pytest.mark.parametrize("cut", [pytest.param(-5, id="cut-off"), pytest.param(4, id="shortened")])
def test_an_altered_link_is_kindly_refused(
    client: TestClient, played: Played, method: str, cut: int
) -> None:
    path = link(played, Answering.MISTED)
    broken = path[:cut] if cut < 0 else path[: len("/do/") + cut]
    answer = client.request(method, broken)
    assert answer.status_code == 400
    assert "does not arrive as it was sent" in answer.text
    assert 'href="/"' in answer.text
    assert played.logbook.told == []


@pytest.mark.parametrize("answering", [Answering.SEEN, Answering.LATER])
@pytest.mark.parametrize(
    "now",
    [
        pytest.param(replace(MIST, episode=4), id="asked-anew"),
        pytest.param(replace(MIST, state=State.NORMAL, active=False), id="over"),
    ],
)
def test_a_reminder_that_moved_on_has_nothing_to_answer(
    client: TestClient, played: Played, answering: Answering, now: object
) -> None:
    path = link(played, answering)
    assert isinstance(now, type(MIST))
    played.history.remember(replace(MIST_NOW, reminder=replace(now, moved=at(-2))))
    for answer in (client.get(path), client.post(path)):
        assert answer.status_code == 200
        assert "What the message told of is over" in answer.text
        assert "12:58" in answer.text
        assert "<button" not in answer.text
    assert played.logbook.told == []
    assert played.books.kept.used == set()


def test_a_deed_counts_even_when_the_reminder_moved_on(client: TestClient, played: Played) -> None:
    path = link(played, Answering.MISTED)
    over = replace(MIST, state=State.NORMAL, active=False, moved=None)
    played.history.remember(replace(MIST_NOW, reminder=over))
    assert "is over" in client.get(path).text
    assert client.post(path).status_code == 200
    assert played.logbook.told == [("act", "tent", Deed.MISTED, None, "", "link")]


def test_a_reminder_that_is_gone(client: TestClient, played: Played) -> None:
    answer = client.get(link(played, Answering.SEEN, number=77))
    assert answer.status_code == 410
    assert "not kept any more" in answer.text


def test_seen_by_another_meanwhile(client: TestClient, played: Played) -> None:
    path = link(played, Answering.SEEN)
    played.logbook.seen(1, 3, "page")
    answer = client.post(path)
    assert answer.status_code == 409
    assert "nothing to acknowledge" in answer.text


def test_two_taps_at_once(
    client: TestClient, played: Played, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = link(played, Answering.MISTED)
    kept = played.books.kept
    # The other tap comes between looking and doing.
    token = path.removeprefix("/do/")

    def looked(digest: str) -> bool:
        kept.used.add(digest)
        return False

    monkeypatch.setattr(kept, "link_used", looked)
    assert client.post(path).status_code == 410
    assert digest(token) in kept.used
    assert played.logbook.told == []


def test_a_database_in_trouble(client: TestClient, played: Played) -> None:
    played.logbook.breaks = StorageError("The disk is full. Make room.")
    answer = client.post(link(played, Answering.MISTED))
    assert answer.status_code == 503
    assert "Make room" in answer.text
