"""Words put together to sentences."""

from collections.abc import Sequence


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
