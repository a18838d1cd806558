"""Signed links: made, read back, altered, old."""

import hashlib
import threading
from datetime import timedelta

import pytest
from itsdangerous import URLSafeSerializer

from chamberwatch.core.errors import LinkError
from chamberwatch.service.ports import Answering, Links
from chamberwatch.web.access import (
    KEY_NAME,
    SALT,
    KeptLinks,
    OldLinkError,
    SignedLinks,
    digest,
    sign_key,
)
from tests.fakes import HandClock
from tests.web.desk_fakes import FakeBooks

KEY = "k" * 43


@pytest.fixture
def clock() -> HandClock:
    return HandClock()


@pytest.fixture
def links(clock: HandClock) -> SignedLinks:
    return SignedLinks(KEY, "http://tent.example/", clock)


def token_of(links: Links, answering: Answering = Answering.MISTED) -> str:
    return links.link(12, 3, answering).removeprefix("http://tent.example/do/")


@pytest.mark.parametrize("answering", list(Answering))
def test_a_link_says_what_it_was_made_for(
    links: SignedLinks, clock: HandClock, answering: Answering
) -> None:
    token = token_of(links, answering)
    assert "/" not in token
    assert links.opened(token, clock.now()) == (12, 3, answering)


@pytest.mark.parametrize(
    ("age", "good"),
    [
        pytest.param(timedelta(0), True, id="new"),
        pytest.param(timedelta(days=2), True, id="two-days"),
        pytest.param(timedelta(days=2, seconds=1), False, id="older"),
        pytest.param(-timedelta(minutes=10), True, id="clock-set-back-a-little"),
        pytest.param(-timedelta(hours=3), False, id="from-the-future"),
    ],
)
def test_a_link_lives_two_days_on_the_given_clock(
    links: SignedLinks, clock: HandClock, age: timedelta, good: bool
) -> None:
    token, now = token_of(links), clock.now() + age
    if good:
        assert links.opened(token, now)[0] == 12
    else:
        with pytest.raises(OldLinkError, match="Open the page"):
            links.opened(token, now)


def _flipped(token: str, at: int) -> str:
    return token[:at] + ("A" if token[at] != "A" else "B") + token[at + 1 :]


def test_any_altered_character_is_noticed(links: SignedLinks, clock: HandClock) -> None:
    token = token_of(links)
    # The last character of a base64 text may carry unused bits; all others count.
    for at in range(len(token) - 1):
        with pytest.raises(LinkError, match="Nothing was changed"):
            links.opened(_flipped(token, at), clock.now())


@pytest.mark.parametrize(
    "token",
    [
        pytest.param("", id="nothing"),
        pytest.param("x", id="no-signature"),
        pytest.param("é.è", id="not-ascii"),
        pytest.param("a" * 600, id="long"),
    ],
)
def test_what_is_no_link(links: SignedLinks, clock: HandClock, token: str) -> None:
    with pytest.raises(LinkError):
        links.opened(token, clock.now())


@pytest.mark.parametrize(
    "said",
    [
        pytest.param([], id="a-list"),
        pytest.param({"r": 1, "e": 1, "a": "seen"}, id="no-time"),
        pytest.param({"r": 1, "e": 1, "a": "dance", "t": 1}, id="unknown-answer"),
        pytest.param({"r": 1, "e": 1, "a": "seen", "t": 10**30}, id="absurd-time"),
    ],
)
def test_well_signed_nonsense(links: SignedLinks, clock: HandClock, said: object) -> None:
    signer = URLSafeSerializer(
        KEY,
        salt=SALT,
        signer_kwargs={"digest_method": hashlib.sha256, "key_derivation": "hmac"},
    )
    token = signer.dumps(said)
    with pytest.raises(LinkError):
        links.opened(str(token), clock.now())


def test_another_key_does_not_open_it(links: SignedLinks, clock: HandClock) -> None:
    other = SignedLinks("o" * 43, "http://tent.example", clock)
    with pytest.raises(LinkError):
        other.opened(token_of(links), clock.now())


def test_the_key_is_made_once_and_kept() -> None:
    books = FakeBooks()
    key = sign_key(books)
    assert len(key) >= 43
    assert (sign_key(books), books.kept.texts) == (key, {KEY_NAME: key})
    assert books.writes == 1
    assert sign_key(FakeBooks()) != key


def test_of_two_that_make_the_key_one_wins() -> None:
    books, keys = FakeBooks(), []
    together = threading.Barrier(4)

    def make() -> None:
        together.wait()
        keys.append(sign_key(books))

    threads = [threading.Thread(target=make) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert set(keys) == set(books.kept.texts.values())


def test_the_key_of_links_is_looked_up_once(clock: HandClock) -> None:
    books = FakeBooks()
    links = KeptLinks(books, clock)
    token = token_of(SignedLinks(sign_key(books), "http://tent.example", clock))
    assert links.opened(token, clock.now())[0] == 12
    books.kept.texts.clear()
    assert links.opened(token, clock.now())[0] == 12
    assert books.writes == 1


def test_what_is_kept_of_a_link_tells_nothing(links: SignedLinks) -> None:
    token = token_of(links)
    assert len(digest(token)) == 64
    assert digest(token) != digest(token + "x")
    assert token not in digest(token)
