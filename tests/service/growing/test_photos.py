"""Photos beside notes: both are kept or neither, and what is taken away is gone."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

import pytest

from chamberwatch.core.errors import RefusedError, StorageError, UnknownNameError
from chamberwatch.core.growing.batch import Container, EntryKind, Start
from chamberwatch.service.growing.photos import Developed, Photos, Picture
from chamberwatch.service.growing.places import Place
from chamberwatch.service.growing.told import Telling
from chamberwatch.storage.book import SqlBooks, open_books
from tests.fakes import HandClock
from tests.make import at
from tests.web.growing_fakes import growing

NOTE = Telling(EntryKind.NOTED, note="the first pins")


@dataclass
class Files:
    """Pictures in memory; what was done is remembered."""

    kept: dict[str, bytes] = field(default_factory=dict)
    full: bool = False
    asked: Callable[[], None] = lambda: None

    def keep(self, name: str, data: bytes) -> None:
        if self.full:
            raise StorageError("The disk is full.")
        self.asked()
        self.kept[name] = data

    def read(self, name: str) -> bytes | None:
        return self.kept.get(name)

    def drop(self, name: str) -> None:
        self.kept.pop(name, None)


class Plain:
    """Takes everything as it comes."""

    def develop(self, upload: bytes) -> Developed:
        if not upload:
            raise RefusedError("This is no picture.")
        return Developed(Picture(upload, (1600, 1200)), Picture(upload[:1], (320, 240)))


@pytest.fixture
def books(tmp_path: Path) -> Iterator[SqlBooks]:
    opened = open_books(f"sqlite:///{tmp_path / 'cw.db'}", at(0))
    yield opened
    opened.close()


@pytest.fixture
def files() -> Files:
    return Files()


@pytest.fixture
def photos(books: SqlBooks, files: Files) -> Photos:
    clock = HandClock()
    record = growing(books, clock).record
    record.start(Start("grey-oyster", Container.BAG), Place("tent"), at(-9000), "", "page")
    return Photos(books, record, files, Plain(), clock)


def test_a_photo_is_kept_with_its_note(photos: Photos, files: Files, books: SqlBooks) -> None:
    developed = photos.develop(b"pixels")
    assert files.kept == {}, "nothing is kept before it is told"

    def no_row_yet() -> None:
        with books.read() as book:
            assert book.photos.of(1) == []

    files.asked = no_row_yet
    photos.add(1, NOTE, developed, "page")
    ((entry, (photo,)),) = photos.of(1).items()
    told = photos.record.entry(entry)
    assert (told.kind, told.note, told.batch) == (EntryKind.NOTED, "the first pins", 1)
    assert photos.get(photo.id) == photo
    assert (photo.size, photo.small, photo.stored) == ((1600, 1200), (320, 240), 6)
    assert photos.picture(photo.id, small=False) == b"pixels"
    assert photos.picture(photo.id, small=True) == b"p"


@pytest.mark.parametrize(
    ("batch", "note"),
    [
        pytest.param(1, replace(NOTE, at=at(600)), id="in the future"),
        pytest.param(1, replace(NOTE, note="n" * 2001), id="too long"),
        pytest.param(9, NOTE, id="no such batch"),
    ],
)
def test_what_is_refused_leaves_no_file(
    photos: Photos, files: Files, batch: int, note: Telling
) -> None:
    with pytest.raises((RefusedError, UnknownNameError)):
        photos.add(batch, note, photos.develop(b"pixels"), "page")
    assert files.kept == {}
    assert photos.of(1) == {}
    assert len(photos.record.entries(1)) == 1


def test_a_refusal_does_not_take_the_file_of_another(photos: Photos, files: Files) -> None:
    photos.add(1, NOTE, photos.develop(b"pixels"), "page")
    with pytest.raises(RefusedError):
        photos.add(1, replace(NOTE, at=at(600)), photos.develop(b"pixels"), "page")
    assert len(files.kept) == 2


def test_a_full_disk_keeps_no_note(photos: Photos, files: Files) -> None:
    files.full = True
    with pytest.raises(StorageError):
        photos.add(1, NOTE, photos.develop(b"pixels"), "page")
    assert len(photos.record.entries(1)) == 1


def test_what_is_taken_away_is_gone_and_its_note_stays(photos: Photos, files: Files) -> None:
    photos.add(1, NOTE, photos.develop(b"pixels"), "page")
    entry = photos.remove(1)
    assert files.kept == {}
    assert photos.of(1) == {}
    assert photos.record.entry(entry).note == "the first pins"
    for ask in (
        lambda: photos.get(1),
        lambda: photos.picture(1, small=True),
        lambda: photos.remove(1),
    ):
        with pytest.raises(UnknownNameError, match="no photo 1"):
            ask()


def test_the_same_picture_twice_stays_until_both_are_gone(photos: Photos, files: Files) -> None:
    for _ in range(2):
        photos.add(1, NOTE, photos.develop(b"pixels"), "page")
    photos.remove(1)
    assert photos.picture(2, small=False) == b"pixels"
    photos.remove(2)
    assert files.kept == {}


def test_a_lost_file_says_where_it_may_be(photos: Photos, files: Files) -> None:
    photos.add(1, NOTE, photos.develop(b"pixels"), "page")
    files.kept.clear()
    with pytest.raises(UnknownNameError, match="backup"):
        photos.picture(1, small=False)
