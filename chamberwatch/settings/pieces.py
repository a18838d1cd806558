"""A settings file cut into its sections, so that one can change while all others stay.

A section is what stands below one header, with the headers of its own parts: a `[[sensor]]` and
its `[sensor.reads.humidity]`. Comments above a header belong to it where an empty line parts them
from what stands before.
"""

import re
import tomllib
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

HEADER: Final = re.compile(r"[ \t]*(\[\[?)[ \t]*([A-Za-z0-9_-]+)([ \t]*\.[^\]#]*)?[ \t]*\]")


@dataclass(frozen=True, slots=True)
class Piece:
    """One section as it is written.

    Attributes:
        text: all of it, with the comments before it.
        root: first part of its header; empty: what stands before all headers.
        listed: it is an entry of a list, [[root]].
    """

    text: str
    root: str = ""
    listed: bool = False


def pieces(text: str) -> list[Piece]:
    """Cut a file that is sound; joined together the pieces are the file again."""
    heads = [(start, head) for start, head in _heads(text) if _sound(text[:start])]
    starts = [end_of_content(text[:start]) for start, _ in heads]
    cuts = [*starts, len(text)]
    found = [Piece(text[: cuts[0]])]
    for (start, end), (_, head) in zip(pairwise(cuts), heads, strict=True):
        part = head[3] is not None
        if part and found[-1].root == head[2]:
            found[-1] = Piece(found[-1].text + text[start:end], head[2], found[-1].listed)
        else:
            found.append(Piece(text[start:end], head[2], head[1] == "[[" and not part))
    return found


def end_of_content(text: str) -> int:
    """Return where the last value of a piece, and the comments that cling to it, end."""
    lines = text.splitlines(keepends=True)
    last = len(lines)
    while last and _idle(lines[last - 1]):
        last -= 1
    while last < len(lines) and lines[last].strip():
        last += 1
    return sum(len(line) for line in lines[:last])


def _heads(text: str) -> list[tuple[int, re.Match[str]]]:
    place, found = 0, []
    for line in text.splitlines(keepends=True):
        if head := HEADER.match(line):
            found.append((place, head))
        place += len(line)
    return found


def _sound(before: str) -> bool:
    """Tell whether a header can follow: else it would stand inside a list or a long text."""
    try:
        tomllib.loads(before)
    except tomllib.TOMLDecodeError:
        return False
    return True


def _idle(line: str) -> bool:
    return not line.strip() or line.lstrip().startswith("#")
