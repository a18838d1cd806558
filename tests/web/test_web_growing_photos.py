"""Photos beside notes: what is uploaded, what is stored and shown, and what is turned away."""

import io
import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import httpx2
import pytest
from fastapi.testclient import TestClient
from PIL import Image
from PIL.ExifTags import IFD

from chamberwatch.service.growing.photos import MOST_BYTES
from chamberwatch.web.app import create_app
from chamberwatch.web.door import BODY_LIMIT, PHOTO_LIMIT
from tests.photo.pictures import CAMERA, PLACE, WORDS, drawn, encoded, from_a_phone
from tests.web.growing_scenes import GrowingPlayed, one
from tests.web.growing_visitor import Visitor, wrong
from tests.web.guarded_fakes import Guarded

NOTE = "/growing/batches/1/note"


@pytest.fixture
def played(tmp_path: Path) -> Iterator[GrowingPlayed]:
    made = one(tmp_path)
    yield made
    made.sql.close()


@pytest.fixture
def visitor(played: GrowingPlayed) -> Visitor:
    return Visitor(played)


def send(visitor: Visitor, upload: bytes | None, **fields: str) -> httpx2.Response:
    """Send the form of a note as a browser does."""
    name = "IMG 0042.jpg" if upload else ""
    return visitor.client.post(
        NOTE,
        data={"once": visitor.once(), **fields},
        files={"photo": (name, upload or b"", "application/octet-stream")},
    )


def stored(tmp_path: Path) -> list[Path]:
    return sorted((tmp_path / "photos").glob("*")) if (tmp_path / "photos").exists() else []


def test_a_note_with_a_photo(visitor: Visitor, tmp_path: Path) -> None:
    answer = send(visitor, from_a_phone(6), note="the first pins", ago="30")
    assert answer.headers["location"] == "/growing/batches/1?said=noted"
    told = visitor.last(1)
    assert (told.kind.value, told.note) == ("noted", "the first pins")
    page = visitor.get("/growing/batches/1")
    assert re.search(
        r'<img src="/growing/photos/1/small\?v=[0-9a-f]{16}" '
        r'width="240" height="320" loading="lazy" '
        r'alt="Photo of today 17:00: the first pins">',
        page,
    )
    (mark,) = re.findall(r"photos/1/small\?v=([0-9a-f]{16})", page)
    whole = visitor.client.get(f"/growing/photos/1?v={mark}")
    small = visitor.client.get(f"/growing/photos/1/small?v={mark}")
    for query in ("", "?v=", "?v=0123456789abcdef"):
        again = visitor.client.get(f"/growing/photos/1{query}")
        assert again.headers["cache-control"] == "private, no-cache"
    for answer, size in ((whole, (600, 800)), (small, (240, 320))):
        assert answer.headers["content-type"] == "image/jpeg"
        assert answer.headers["cache-control"] == "private, max-age=31536000, immutable"
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert Image.open(io.BytesIO(answer.content)).size == size
    assert len(stored(tmp_path)) == 2
    shown = visitor.get("/growing/photos/1/page")
    assert "<q>the first pins</q>" in shown
    assert f'src="/growing/photos/1?v={mark}"' in shown


def test_nothing_of_where_it_was_taken_is_stored_or_sent(visitor: Visitor, tmp_path: Path) -> None:
    upload = from_a_phone()
    assert Image.open(io.BytesIO(upload)).getexif().get_ifd(IFD.GPSInfo)[2] == PLACE
    send(visitor, upload)
    sent = [visitor.client.get(f"/growing/photos/1{end}").content for end in ("", "/small")]
    for data in (*sent, *(file.read_bytes() for file in stored(tmp_path))):
        assert dict(Image.open(io.BytesIO(data)).getexif()) == {}
        for secret in (b"Exif", b"GPS", CAMERA.encode(), WORDS.encode(), b"IMG 0042"):
            assert secret not in data
    # Nor in the database: the name of the file is the phone's business.
    for file in tmp_path.glob("cw.db*"):
        assert b"IMG 0042" not in file.read_bytes()


def test_a_note_alone_and_a_photo_alone(visitor: Visitor) -> None:
    assert send(visitor, None, note="smells fresh").status_code == 303
    assert visitor.last(1).note == "smells fresh"
    assert send(visitor, encoded(drawn(), "PNG")).status_code == 303
    assert visitor.last(1).note == ""
    # A browser without a file field at all, such as a script.
    plain = visitor.client.post(NOTE, data={"once": visitor.once(), "note": "plain"})
    assert plain.status_code == 303


@pytest.mark.parametrize(
    ("upload", "fields", "field", "words"),
    [
        pytest.param(None, {}, "noted-note", "Write a note, or choose a photo", id="neither"),
        pytest.param(b"no picture", {}, "noted-photo", "no picture that can be", id="text"),
        pytest.param(
            b"\0\0\0\x18ftypheic" + b"\0" * 99, {}, "noted-photo", "Let the camera save JPEG",
            id="HEIC",
        ),
        pytest.param(
            b"\xff" * (MOST_BYTES + 1), {}, "noted-photo", "12 MB at most", id="a little too large"
        ),
        pytest.param(encoded(drawn()), {"day": "2027-01-01"}, "noted-day", "future", id="future"),
        pytest.param(
            encoded(drawn()), {"note": "n" * 2001}, "noted-note", "shorten it", id="a long note"
        ),
        pytest.param(encoded(drawn()), {"ago": "x"}, "noted-ago", "whole minutes", id="no time"),
    ],
)  # fmt: skip
def test_what_is_refused_comes_back_as_typed(
    visitor: Visitor,
    tmp_path: Path,
    upload: bytes | None,
    fields: dict[str, str],
    field: str,
    words: str,
) -> None:
    answer = send(visitor, upload, **{"note": "" if upload is None else "two pins", **fields})
    assert answer.status_code == 422
    page = unescape(answer.text)
    assert words in wrong(page, field)
    assert fields.get("note", "two pins" if upload else "") in page
    if upload is not None and field != "noted-photo":
        assert "Choose the photo again" in wrong(page, "noted-photo")
    assert stored(tmp_path) == []
    assert visitor.last(1).kind.value != "noted"


def test_a_double_tap_keeps_one(visitor: Visitor) -> None:
    for said in ("noted", "twice"):
        answer = visitor.client.post(
            NOTE, data={"once": "the-same-mark"}, files={"photo": ("a.jpg", encoded(drawn()))}
        )
        assert answer.headers["location"].endswith(said)
    assert len(visitor.played.grown.record.entries(1)) == 5


def test_a_photo_is_taken_away_for_good(visitor: Visitor, tmp_path: Path) -> None:
    send(visitor, from_a_phone(), note="with a face in it")
    where = visitor.sent("/growing/photos/1/remove")
    assert where == "/growing/batches/1?said=removed"
    assert stored(tmp_path) == []
    for address in ("", "/small", "/page"):
        assert visitor.client.get(f"/growing/photos/1{address}").status_code == 404
    page = visitor.get(where)
    assert "with a face in it" in page
    assert "<img" not in page
    assert visitor.client.post("/growing/photos/1/remove").status_code == 404


def test_without_a_place_for_photos_notes_are_taken(tmp_path: Path) -> None:
    played = one(tmp_path)
    object.__setattr__(played.desk, "photos", None)
    visitor = Visitor(played)
    page = visitor.get("/growing/batches/1")
    assert 'type="file"' not in page
    assert 'id="noted" method="post" action="/growing/batches/1/tell"' in page
    visitor.sent("/growing/batches/1/tell", kind="noted", note="plain")
    assert visitor.last(1).note == "plain"
    page = visitor.refused("/growing/batches/1/tell", kind="noted", note=" ")
    assert wrong(page, "noted-note") == "Write the note."
    played.sql.close()


# ------------------------------------------------------------------ how much is carried in


def test_too_much_is_turned_away_by_its_length(visitor: Visitor) -> None:
    answer = visitor.client.post(
        NOTE,
        content=b"x" * (PHOTO_LIMIT + 1),
        headers={"content-type": "multipart/form-data; boundary=b"},
    )
    assert answer.status_code == 413
    assert "12 MB at most" in answer.text


def test_a_body_that_does_not_state_its_length_is_turned_away(visitor: Visitor) -> None:
    def pieces() -> Iterator[bytes]:
        yield b"--b\r\n"
        yield b"x" * 100

    answer = visitor.client.post(
        NOTE, content=pieces(), headers={"content-type": "multipart/form-data; boundary=b"}
    )
    assert answer.status_code == 413


@pytest.mark.parametrize(
    "address", ["/growing/batches/1/tell", "/growing/start", "/growing/entries/1"]
)
def test_other_forms_are_as_small_as_ever(visitor: Visitor, address: str) -> None:
    answer = visitor.client.post(address, data={"note": "n" * BODY_LIMIT})
    assert answer.status_code == 413
    assert "64 KiB" in answer.text


def test_a_body_that_is_no_form_is_refused(visitor: Visitor) -> None:
    answer = visitor.client.post(
        NOTE, content=b"garbage", headers={"content-type": "multipart/form-data; boundary=b"}
    )
    assert answer.status_code in (400, 422)


# ------------------------------------------------------------------ who may


@pytest.mark.parametrize(
    "address",
    ["/growing", "/growing/photos/1", "/growing/photos/1/small", "/growing/batches/1"],
)
def test_who_is_not_logged_in_sees_nothing(house: Guarded, address: str) -> None:
    answer = house.visitor().get(address)
    assert answer.status_code == 303
    assert answer.headers["location"].startswith("/enter")


def test_who_is_not_logged_in_sends_nothing(house: Guarded) -> None:
    answer = house.visitor().post(
        NOTE, data={"once": "a-mark-of-ours"}, files={"photo": ("a.jpg", from_a_phone())}
    )
    assert answer.status_code == 303
    assert answer.headers["location"].startswith("/enter")


def test_another_site_sends_nothing(played: GrowingPlayed) -> None:
    client = TestClient(create_app(played.desk), base_url="http://localhost")
    answer = client.post(
        NOTE,
        data={"once": "a-mark-of-ours", "note": "x"},
        headers={"origin": "http://evil.example"},
    )
    assert answer.status_code == 403


def test_a_token_takes_no_photo_away(house: Guarded) -> None:
    _, secret = house.tokens.make("the lamp in the hall")
    with house.visitor(bearer=secret) as client:
        answer = client.post("/growing/photos/1/remove")
    assert answer.status_code == 403
    assert "can&#39;t take a photo away" in answer.text
