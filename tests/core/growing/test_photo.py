"""What is known of a photo."""

from chamberwatch.core.growing.photo import Photo


def test_photos_of_one_number_are_told_apart_by_what_they_show() -> None:
    one, other = (
        Photo(1, 7, each * 32, (1600, 1200), (240, 180), 90_000) for each in ("ab", "cd")
    )
    assert one.mark == "ab" * 8
    assert one.mark != other.mark
