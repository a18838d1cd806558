"""Photos: what is known of them in the database, and their files in a folder beside it."""

import os
from datetime import datetime
from pathlib import Path

import pytest
from sqlalchemy.exc import IntegrityError

from chamberwatch.core.errors import StorageError
from chamberwatch.core.growing.batch import Container, Entry, EntryKind, Start
from chamberwatch.core.growing.photo import Photo
from chamberwatch.storage.book import SqlBooks
from chamberwatch.storage.photo_files import PhotoFolder, photo_folder

PHOTO = Photo(0, 0, "ab12", (1600, 1200), (320, 240), 250_000)


def test_what_is_known_of_photos(books: SqlBooks, noon: datetime) -> None:
    with books.write() as book:
        for _ in range(2):
            start = Entry(
                0, 0, EntryKind.STARTED, noon, noon, "page", start=Start("any", Container.BAG)
            )
            book.growing.start(start)
        first, second = book.photos.add(1, PHOTO), book.photos.add(1, PHOTO)
        book.photos.add(2, PHOTO)
    assert (first.id, first.entry, first.size, first.small) == (1, 1, (1600, 1200), (320, 240))
    with books.read() as book:
        assert book.photos.of(1) == [first, second]
        assert book.photos.of(7) == []
        assert book.photos.get(1) == first
        assert book.photos.get(9) is None
        assert book.photos.named("ab12")
        assert not book.photos.named("cd34")


def test_a_removed_one_keeps_its_row_and_its_first_time(books: SqlBooks, noon: datetime) -> None:
    with books.write() as book:
        start = Entry(
            0, 0, EntryKind.STARTED, noon, noon, "page", start=Start("any", Container.BAG)
        )
        book.growing.start(start)
        kept = book.photos.add(1, PHOTO)
        book.photos.remove(kept.id, noon)
        book.photos.remove(kept.id, noon.replace(hour=20))
        gone = book.photos.get(kept.id)
        assert gone is not None
        assert gone.removed == noon
        assert book.photos.of(1) == []
        assert not book.photos.named("ab12")


def test_a_photo_belongs_to_an_entry(books: SqlBooks) -> None:
    with pytest.raises(IntegrityError), books.write() as book:
        book.photos.add(9, PHOTO)


# ------------------------------------------------------------------ files


def test_files_are_there_wholly_or_not_at_all(tmp_path: Path) -> None:
    folder = photo_folder(tmp_path)
    assert folder.folder == tmp_path / "photos"
    assert folder.read("a.jpg") is None
    folder.drop("a.jpg")
    folder.keep("a.jpg", b"first")
    folder.keep("a.jpg", b"second")
    assert folder.read("a.jpg") == b"second"
    assert [each.name for each in folder.folder.iterdir()] == ["a.jpg"]
    assert folder.folder.stat().st_mode & 0o077 == 0
    assert (folder.folder / "a.jpg").stat().st_mode & 0o077 == 0
    folder.drop("a.jpg")
    assert folder.read("a.jpg") is None


def test_a_file_that_could_not_be_written_leaves_nothing(tmp_path: Path) -> None:
    folder = PhotoFolder(tmp_path / "photos")
    (tmp_path / "photos" / "a.jpg").mkdir(parents=True)
    (tmp_path / "photos" / "a.jpg" / "in the way").touch()
    with pytest.raises(StorageError, match="can't be written"):
        folder.keep("a.jpg", b"bytes")
    assert [each.name for each in folder.folder.iterdir()] == ["a.jpg"]


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read everything")
def test_a_folder_that_we_may_not_read_says_so(tmp_path: Path) -> None:
    folder = PhotoFolder(tmp_path / "photos")
    folder.keep("a.jpg", b"bytes")
    folder.folder.chmod(0)
    try:
        with pytest.raises(StorageError, match="can't be read"):
            folder.read("a.jpg")
    finally:
        folder.folder.chmod(0o700)


def test_a_name_that_is_a_folder_says_what_is_wrong(tmp_path: Path) -> None:
    folder = PhotoFolder(tmp_path / "photos")
    (tmp_path / "photos" / "a.jpg").mkdir(parents=True)
    with pytest.raises(StorageError, match="can't be read"):
        folder.read("a.jpg")
    with pytest.raises(StorageError, match="can't be taken away"):
        folder.drop("a.jpg")
