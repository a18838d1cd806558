"""A photo beside a note: what is known of it. The picture itself lies in a file."""

from dataclasses import dataclass
from datetime import datetime

Size = tuple[int, int]
"""Width and height. [px]"""


@dataclass(frozen=True, slots=True)
class Photo:
    """One photo.

    Attributes:
        id: given by the book; 0 before it is stored.
        entry: id of the note that it belongs to.
        digest: of its bytes (SHA-256, in hexadecimal); its files are named by it.
        size: of the picture. [px]
        small: of the small one beside it. [px]
        stored: bytes of the picture.
        removed: when somebody took it away for good, with its files; None: it is there.
    """

    id: int
    entry: int
    digest: str
    size: Size
    small: Size
    stored: int
    removed: datetime | None = None

    @property
    def mark(self) -> str:
        """Return what tells it from any other, also from one of the same number elsewhere."""
        return self.digest[:16]
