"""Words put together to sentences."""


def begun(words: str) -> str:
    """Return words as a sentence begins with them."""
    return words[:1].upper() + words[1:]


def within(words: str) -> str:
    """Return words as they stand within a sentence, such as the common name of a species."""
    return words[:1].lower() + words[1:]
