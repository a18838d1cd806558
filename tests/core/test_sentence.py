"""Words as a sentence begins with them, and as they stand within one."""

import pytest

from chamberwatch.core.sentence import begun, within


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
