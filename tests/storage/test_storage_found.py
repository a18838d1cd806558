"""What was found in the readings, in the database."""

from dataclasses import replace
from datetime import datetime, timedelta

from chamberwatch.core.watch.found import Exchange, Found, Kind
from chamberwatch.service.books import Span
from chamberwatch.storage.book import SqlBooks

MINUTE = timedelta(minutes=1)


def whole(noon: datetime) -> Found:
    return Found(
        0,
        "tent",
        Kind.MISTING,
        noon,
        noon + MINUTE,
        action=7,
        confirmed=True,
        humidity_before_pct=78.2,
        humidity_after_pct=91.5,
        vapour_gain_g_per_m3=2.25,
        co2_before_ppm=810.0,
        co2_after_ppm=805.0,
        held=timedelta(minutes=11, seconds=30),
        amount=12.5,
    )


def test_what_was_found_comes_back_as_it_was(books: SqlBooks, noon: datetime) -> None:
    bare = Found(0, "tent", Kind.VENTING, noon - MINUTE, noon)
    with books.write() as book:
        kept = [book.found.add(whole(noon)), book.found.add(bare)]
    assert [replace(f, id=0) for f in kept] == [whole(noon), bare]
    with books.read() as book:
        assert [book.found.get(f.id) for f in kept] == kept
        assert book.found.get(99) is None


def test_a_new_state_takes_the_place_of_the_old(books: SqlBooks, noon: datetime) -> None:
    with books.write() as book:
        kept = book.found.add(Found(0, "tent", Kind.MISTING, noon, noon + MINUTE))
        other = book.found.add(Found(0, "tent", Kind.MISTING, noon - MINUTE, noon))
        later = replace(kept, confirmed=False, held=timedelta(hours=2))
        book.found.save(later)
    with books.read() as book:
        assert book.found.get(kept.id) == later
        assert book.found.get(other.id) == other


def test_a_span_is_half_open_and_of_one_chamber(books: SqlBooks, noon: datetime) -> None:
    with books.write() as book:
        kept = [
            book.found.add(Found(0, name, Kind.MISTING, noon + n * MINUTE, noon + n * MINUTE))
            for name, n in (("tent", 5), ("tent", 0), ("tub", 1), ("tent", 2))
        ]
        span = Span(noon, noon + 5 * MINUTE)
        assert book.found.within("tent", span) == [kept[1], kept[3]]
        assert book.found.within("cupboard", span) == []


def test_air_changes_come_back_as_they_were(books: SqlBooks, noon: datetime) -> None:
    good = Exchange(
        0,
        "tent",
        noon,
        noon + 90 * MINUTE,
        vented=False,
        per_h=0.8,
        low=0.5,
        high=1.2,
        r2=0.98,
        end_ppm=1400.0,
        inlet_ppm=520.0,
        inlet_measured=True,
        source_g_per_h=0.4,
    )
    refused = Exchange(0, "tent", noon - MINUTE, noon, vented=True, refusal="Too short.")
    with books.write() as book:
        kept = [book.exchanges.add(good), book.exchanges.add(refused)]
    assert [replace(e, id=0) for e in kept] == [good, refused]
    with books.read() as book:
        assert book.exchanges.within("tent", Span(noon - MINUTE, noon + MINUTE)) == kept[::-1]
        assert book.exchanges.within("tent", Span(noon - MINUTE, noon)) == [kept[1]]
        assert book.exchanges.within("tub", Span(noon - MINUTE, noon + MINUTE)) == []
