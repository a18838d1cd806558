"""An address as a QR code (ISO/IEC 18004), drawn as one path of an SVG."""

from dataclasses import dataclass
from itertools import groupby
from typing import Final

import segno

QUIET: Final = 4
"""Empty modules all around. Source: ISO/IEC 18004, section 9.1."""


@dataclass(frozen=True, slots=True)
class Code:
    """A code, ready for a template.

    Attributes:
        side: of the whole square, quiet zone included. [module]
        path: of the dark modules, for `d` of an SVG path; each is one unit wide.
    """

    side: int
    path: str


def code_of(address: str) -> Code:
    """Return the code of an address; a sixth of it may be dirt on the glass (level M)."""
    matrix = segno.make(address, error="m", micro=False, boost_error=False).matrix
    rows = (_row(row, number) for number, row in enumerate(matrix))
    return Code(len(matrix) + 2 * QUIET, "".join(rows))


def _row(row: bytearray, number: int) -> str:
    """Return the dark stretches of a row, each as a rectangle."""
    at, parts = QUIET, []
    for dark, run in groupby(row):
        length = len(list(run))
        if dark:
            parts.append(f"M{at} {number + QUIET}h{length}v1h-{length}z")
        at += length
    return "".join(parts)
