"""Makes of an upload a JPEG of our own: upright, small, silent about where and when it was taken.

What is stored are the pixels alone, put into a fresh picture: no tag, comment, profile or second
picture of the upload can come along.
"""

import io
import struct
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

from PIL import Image, ImageOps
from PIL.ImageFile import ImageFile
from PIL.JpegImagePlugin import JpegImageFile

from chamberwatch.core.errors import RefusedError
from chamberwatch.service.growing.photos import Developed, Picture

TAKEN: Final = ("JPEG", "PNG", "WEBP")
LARGEST_PX: Final = 1600
SMALL_PX: Final = 320
AIM_BYTES: Final = 300_000
QUALITIES: Final = (84, 74, 62, 50)
"""The first that comes below `AIM_BYTES` is taken, else the last."""

MOST_PIXELS: Final = 51_000_000
"""Whatever it is; phones go up to 50 million."""

MOST_BYTES_HELD: Final = 100 * 2**20
"""While a picture is read: about as much again as the whole program has."""

# What reading one costs, measured with libjpeg-turbo, libwebp and Pillow. [bytes a pixel]
_WEBP_BYTES_PX: Final = 16
_WHOLE_BYTES_PX: Final = 6
"""Of what is read whole and made smaller then."""

TOO_MANY: Final = (
    "This picture has too many pixels to be read here. Take it with fewer, or send a smaller copy."
)
NO_PICTURE: Final = (
    "This is no picture that can be read, or only a part of one. Send a JPEG, PNG or WebP."
)

# Whatever a damaged or a malicious file makes the library stumble over.
_STUMBLES: Final = (
    OSError,
    SyntaxError,
    ValueError,
    TypeError,
    ArithmeticError,
    LookupError,
    EOFError,
    MemoryError,
    struct.error,
)


def developed(upload: bytes) -> Developed:
    """Return a picture and a small one of it.

    Raises:
        RefusedError: it is no picture we take, or of too many pixels; the text says what to do.
    """
    with _read(upload) as pixels:
        return Developed(_picture(pixels, LARGEST_PX), _picture(pixels, SMALL_PX))


@contextmanager
def _read(upload: bytes) -> Iterator[Image.Image]:
    """Open an upload as upright, plain pixels."""
    try:
        with Image.open(io.BytesIO(upload), formats=TAKEN) as opened:
            _check_size(opened)
            plain = _plain(ImageOps.exif_transpose(_fewer(opened)))
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise RefusedError(TOO_MANY) from None
    except _STUMBLES as exc:
        raise RefusedError(NO_PICTURE) from exc
    with plain:
        yield plain


def _check_size(opened: ImageFile) -> None:
    pixels = opened.width * opened.height
    if pixels > MOST_PIXELS or _held_bytes(opened) > MOST_BYTES_HELD:
        raise RefusedError(TOO_MANY)


def _held_bytes(opened: ImageFile) -> float:
    """Return what memory it takes to read a picture."""
    pixels = opened.width * opened.height
    if opened.format == "WEBP":
        return pixels * _WEBP_BYTES_PX
    if not isinstance(opened, JpegImageFile):
        return pixels * _WHOLE_BYTES_PX
    if "progressive" in opened.info:
        # Nothing of it can be left out while it is read: the coefficients of all its parts are
        # kept to the end, 2 bytes each, of colours often only every other one.
        parts: list[int] = [h * v for _, h, v, _ in opened.layer]
        return float(pixels * 2.0 * sum(parts) / max(parts))
    # Only every second, fourth or eighth pixel is read.
    times = max(1, max(opened.size) // LARGEST_PX)
    return pixels * _WHOLE_BYTES_PX / min(8, 1 << (times.bit_length() - 1)) ** 2


def _fewer(opened: ImageFile) -> Image.Image:
    """Return a picture of hardly more pixels than needed, without ever holding two large ones."""
    times = max(opened.size) // LARGEST_PX
    if times > 1:
        # Of a JPEG only every second, fourth or eighth pixel is then read at all.
        opened.draft("RGB", (opened.width // times, opened.height // times))
    opened.load()
    left = max(opened.size) // LARGEST_PX
    if left < 2:
        return opened
    if opened.mode in _NOT_MIXED:
        return opened.resize(
            (opened.width // left, opened.height // left), Image.Resampling.NEAREST
        )
    return opened.reduce(left)


# Their pixels are no amounts of light that could be averaged.
_NOT_MIXED: Final = frozenset({"1", "P", "PA"})


def _plain(picture: Image.Image) -> Image.Image:
    """Return the pixels in a fresh picture: what it had beside them stays behind."""
    seen = picture.convert("RGBA") if picture.has_transparency_data else picture.convert("RGB")
    paper = Image.new("RGB", seen.size, "white")
    paper.paste(seen, mask=seen if seen.mode == "RGBA" else None)
    return paper


def _picture(pixels: Image.Image, largest_px: int) -> Picture:
    made = pixels.copy()
    made.thumbnail((largest_px, largest_px), Image.Resampling.LANCZOS)
    data = b""
    for quality in QUALITIES:
        out = io.BytesIO()
        made.save(out, "JPEG", quality=quality, optimize=True, progressive=True)
        data = out.getvalue()
        if len(data) <= AIM_BYTES:
            break
    return Picture(data, made.size)
