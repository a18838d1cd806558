"""Pictures for the tests, drawn here: no photo of anybody is kept with the code."""

import io
import random

from PIL import Image, ImageDraw
from PIL.ExifTags import GPS, IFD, Base

PLACE = (48.0, 51.0, 29.6)
"""Degrees, minutes and seconds that must not come out again."""
CAMERA = "Invented Camera 7"
WORDS = "a secret comment of the camera"


def drawn(width: int = 800, height: int = 600) -> Image.Image:
    """Return a picture of a bag with mushrooms: a sky, a bag, three caps."""
    image = Image.new("RGB", (width, height), (206, 204, 196))
    draw = ImageDraw.Draw(image)
    draw.rectangle((width * 0.3, height * 0.4, width * 0.7, height * 0.95), fill=(250, 249, 240))
    for x in (0.38, 0.5, 0.62):
        box = (width * (x - 0.09), height * 0.25, width * (x + 0.09), height * 0.45)
        draw.pieslice(box, 180, 360, fill=(120, 104, 92))
        draw.rectangle(
            (width * (x - 0.02), height * 0.34, width * (x + 0.02), height * 0.42), fill="white"
        )
    return image


def noisy(width: int, height: int) -> Image.Image:
    """Return a picture that no JPEG makes small."""
    chance = random.Random(3)  # noqa: S311 - noise, no secret
    return Image.frombytes("RGB", (width, height), chance.randbytes(width * height * 3))


def encoded(image: Image.Image, kind: str = "JPEG", **how: object) -> bytes:
    """Return a picture as the bytes of a file."""
    out = io.BytesIO()
    image.save(out, kind, **how)
    return out.getvalue()


def with_tags(orientation: int = 1) -> Image.Exif:
    """Return what a phone writes beside a picture: where, when, with what, which side is up."""
    tags = Image.Exif()
    tags[Base.Make] = CAMERA
    tags[Base.DateTime] = "2026:01:20 12:00:00"
    tags[Base.Orientation] = orientation
    tags.get_ifd(IFD.GPSInfo).update(
        {
            GPS.GPSLatitudeRef: "N",
            GPS.GPSLatitude: PLACE,
            GPS.GPSLongitudeRef: "E",
            GPS.GPSLongitude: (2.0, 21.0, 40.2),
        }
    )
    return tags


def from_a_phone(orientation: int = 1, image: Image.Image | None = None) -> bytes:
    """Return a JPEG with everything in it that must be left out."""
    return encoded(
        image or drawn(),
        exif=with_tags(orientation),
        comment=WORDS.encode(),
        xmp=b"<x:xmpmeta xmlns:x='adobe:ns:meta/'>exif:GPSLatitude 48,51.5N</x:xmpmeta>",
        quality=90,
    )
