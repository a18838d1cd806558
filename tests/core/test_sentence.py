"""Words as a sentence begins with them, and as they stand within one."""

import pytest

from chamberwatch.core.sentence import begun, listed, plain, straight, within


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


@pytest.mark.parametrize("code", [*range(0x202A, 0x202F), *range(0x2066, 0x206A)])
def test_no_name_turns_round_what_stands_behind_it(code: int) -> None:
    assert straight(f"Tent {chr(code)}gnp.") == plain(f"Tent {chr(code)}gnp.") == "Tent gnp."


@pytest.mark.parametrize(
    "words",
    [
        pytest.param("Tent", id="latin"),
        pytest.param("אוהל 3, خيمة", id="letters from right to left"),
        pytest.param(
            "a\N{RIGHT-TO-LEFT MARK}b\N{LEFT-TO-RIGHT MARK}", id="marks that turn nothing"
        ),
        pytest.param("👩\N{ZERO WIDTH JOINER}🌾", id="signs joined"),
        pytest.param("two\nlines,\ta tab", id="lines and tabs"),
    ],
)
def test_words_of_every_language_stay(words: str) -> None:
    assert (straight(words), plain(words)) == (words, words)


@pytest.mark.parametrize("controls", ["\x1b", "\a", "\b\x7f", "\r", "\x00", "\x9b"])
def test_control_characters_become_a_blank(controls: str) -> None:
    assert plain(f"Tent{controls}[2J") == "Tent [2J"
