"""Words as a sentence begins with them, and as they stand within one."""

import pytest

from chamberwatch.core.sentence import begun, listed, within


@pytest.mark.parametrize(
    ("words", "first", "inside"),
    [
        ("Grey oyster", "Grey oyster", "grey oyster"),
        ("grey oyster", "Grey oyster", "grey oyster"),
        ("Äste im Garten", "Äste im Garten", "äste im Garten"),
        ("3 bags", "3 bags", "3 bags"),
        ("A", "A", "a"),
        ("", "", ""),
    ],
)
def test_only_the_first_letter_changes(words: str, first: str, inside: str) -> None:
    assert (begun(words), within(words)) == (first, inside)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), ""),
        (("Tent",), "Tent"),
        (("Tent", "Tub"), "Tent and Tub"),
        (("Tent", "Tub", "Shelf"), "Tent, Tub and Shelf"),
    ],
)
def test_words_as_a_list(words: tuple[str, ...], said: str) -> None:
    assert listed(words) == said
