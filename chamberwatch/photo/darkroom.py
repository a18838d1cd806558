"""Where uploads are developed, one at a time: a large one takes as much memory as all the rest."""

import threading
from typing import Final

from chamberwatch.core.errors import RefusedError
from chamberwatch.service.growing.photos import MOST_BYTES, Developed

_NEW_KINDS: Final = frozenset(
    {b"heic", b"heix", b"hevc", b"heim", b"heis", b"mif1", b"msf1", b"avif"}
)

TOO_BIG: Final = f"A photo may have {MOST_BYTES // 2**20} MB at most. Send a smaller copy."
NEWER: Final = (
    "This photo is a HEIC or AVIF, which can't be read here. Let the camera save JPEG, or save a "
    "copy as JPEG, and send that."
)


class Darkroom:
    """Develops uploads, one at a time. Safe from any thread."""

    def __init__(self) -> None:
        """Stand ready."""
        self._one = threading.Lock()

    def develop(self, upload: bytes) -> Developed:
        """Return a picture and a small one of it.

        Raises:
            RefusedError: it is no picture we take, or too large; the text says what to do.
        """
        if len(upload) > MOST_BYTES:
            raise RefusedError(TOO_BIG)
        if upload[4:8] == b"ftyp" and upload[8:12] in _NEW_KINDS:
            raise RefusedError(NEWER)
        # The library takes 2 MB, and many a house never sends a photo.
        from chamberwatch.photo.developing import developed

        with self._one:
            return developed(upload)
