"""Words put together to sentences, and what words from outside must not bring along."""

import re
from collections.abc import Sequence
from typing import Final

# Embeddings, overrides and isolates of Unicode's bidirectional algorithm (UAX #9, section 2). No
# language needs them to be written: letters have a direction of their own.
_TURNING: Final = re.compile("[\u202a-\u202e\u2066-\u2069]")
# The controls of ECMA-48, but line break and tab.
_CONTROL: Final = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f]+")


def straight(words: str) -> str:
    """Return words without what turns round all that stands behind them.

    A name may come from anybody's keyboard or sensor, and stand within a sentence of ours.
    """
    return words if words.isascii() else _TURNING.sub("", words)


def plain(words: str) -> str:
    """Return words without what does something to a terminal, a calendar or a phone.

    Control characters become a blank; line breaks and tabs stay.
    """
    return _CONTROL.sub(" ", straight(words))


def begun(words: str) -> str:
    """Return words as a sentence begins with them."""
    return words[:1].upper() + words[1:]


def within(words: str) -> str:
    """Return words as they stand within a sentence, such as the common name of a species."""
    return words[:1].lower() + words[1:]


def listed(words: Sequence[str]) -> str:
    """Return words as a list within a sentence: “a”, “a and b”, “a, b and c”."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"
