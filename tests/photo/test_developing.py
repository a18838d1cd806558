"""What is made of an upload: small, upright, and silent about where, when and with what."""

import io
import subprocess
import sys
import threading
import zlib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image
from PIL.ExifTags import IFD

from chamberwatch.core.errors import RefusedError
from chamberwatch.photo.darkroom import NEWER, TOO_BIG, Darkroom
from chamberwatch.photo.developing import (
    AIM_BYTES,
    LARGEST_PX,
    MOST_BYTES_HELD,
    NO_PICTURE,
    SMALL_PX,
    TOO_MANY,
)
from chamberwatch.service.growing.photos import MOST_BYTES, Developed
from tests.photo.pictures import (
    CAMERA,
    PLACE,
    WORDS,
    drawn,
    encoded,
    from_a_phone,
    noisy,
    with_tags,
)


def develop(upload: bytes) -> Developed:
    return Darkroom().develop(upload)


def opened(data: bytes) -> Image.Image:
    return Image.open(io.BytesIO(data))


def segments(data: bytes) -> set[int]:
    """Return the markers before the pixels of a JPEG (ITU-T T.81, annex B)."""
    found, at = set(), 2
    while data[at] == 0xFF and data[at + 1] != 0xDA:
        found.add(data[at + 1])
        at += 2 + int.from_bytes(data[at + 2 : at + 4], "big")
    return found


APP1_TO_15_AND_COMMENT = {*range(0xE1, 0xF0), 0xFE}


@pytest.mark.parametrize(
    "upload",
    [
        pytest.param(from_a_phone(), id="JPEG"),
        pytest.param(encoded(drawn(), "PNG", exif=with_tags()), id="PNG"),
        pytest.param(encoded(drawn(), "WEBP", exif=with_tags(), xmp=WORDS.encode()), id="WebP"),
    ],
)
def test_nothing_of_where_and_when_is_left(upload: bytes) -> None:
    told = opened(upload).getexif()
    assert told.get_ifd(IFD.GPSInfo)[2] == PLACE, "the upload must hold what shall be lost"
    assert CAMERA.encode() in upload
    made = develop(upload)
    for picture in (made.picture, made.small):
        image = opened(picture.data)
        assert dict(image.getexif()) == {}
        assert image.getexif().get_ifd(IFD.GPSInfo) == {}
        assert set(image.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density",
                                   "progressive", "progression"}  # fmt: skip
        assert segments(picture.data) & APP1_TO_15_AND_COMMENT == set()
        for secret in (CAMERA.encode(), WORDS.encode(), b"Exif", b"GPS", b"2026:01:20", b"xmp"):
            assert secret not in picture.data
        assert image.format == "JPEG"


@pytest.mark.parametrize(
    ("orientation", "size"),
    [
        pytest.param(1, (800, 600), id="as it lies"),
        pytest.param(3, (800, 600), id="upside down"),
        pytest.param(6, (600, 800), id="a quarter to the right"),
        pytest.param(8, (600, 800), id="a quarter to the left"),
    ],
)
def test_it_stands_upright(orientation: int, size: tuple[int, int]) -> None:
    image = drawn()
    image.paste((255, 0, 0), (0, 0, 80, 60))
    made = develop(from_a_phone(orientation, image)).picture
    assert made.size == size
    corners = {
        1: (5, 5), 3: (size[0] - 6, size[1] - 6), 6: (size[0] - 6, 5), 8: (5, size[1] - 6),
    }  # fmt: skip
    red, green, _ = opened(made.data).convert("RGB").getpixel(corners[orientation])  # type: ignore[misc]
    assert red > 200 > 60 > green


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_a_large_one_is_made_small_and_upright(kind: str) -> None:
    # A WebP takes most memory, so it may have fewest pixels.
    times = 6 if kind == "WEBP" else 10
    image = drawn(410 * times, 300 * times)
    image.paste((255, 0, 0), (0, 0, 41 * times, 30 * times))
    made = develop(encoded(image, kind, exif=with_tags(6))).picture
    assert made.size == (1171, 1600)
    red, green, _ = opened(made.data).getpixel((1160, 10))  # type: ignore[misc]
    assert red > 200 > 60 > green


@pytest.mark.parametrize("mode", ["P", "1", "L", "RGBA", "LA"])
def test_large_ones_of_every_kind_of_pixel(mode: str) -> None:
    made = develop(encoded(drawn(3300, 1700).convert(mode), "PNG"))
    assert made.picture.size == (1600, 824)


@pytest.mark.parametrize(
    ("width", "height", "large", "small"),
    [
        pytest.param(4000, 3000, (1600, 1200), (320, 240), id="a phone's"),
        pytest.param(300, 200, (300, 200), (300, 200), id="small: never made larger"),
        pytest.param(5000, 100, (1600, 32), (320, 6), id="a strip"),
        pytest.param(1, 1, (1, 1), (1, 1), id="a point"),
    ],
)
def test_it_is_no_larger_than_needed(
    width: int, height: int, large: tuple[int, int], small: tuple[int, int]
) -> None:
    made = develop(encoded(drawn(width, height)))
    assert (made.picture.size, made.small.size) == (large, small)
    assert max(made.picture.size) <= LARGEST_PX
    assert max(made.small.size) <= SMALL_PX
    assert opened(made.picture.data).size == large
    assert len(made.picture.data) <= AIM_BYTES


def test_a_busy_picture_is_pressed_harder() -> None:
    made = develop(encoded(noisy(900, 700), quality=95)).picture
    assert len(made.data) <= AIM_BYTES * 1.5


@pytest.mark.parametrize(
    "image",
    [
        pytest.param(Image.new("RGBA", (40, 40), (0, 0, 0, 0)), id="see-through"),
        pytest.param(Image.new("LA", (40, 40), (0, 0)), id="see-through grey"),
        pytest.param(Image.new("L", (40, 40), 255), id="grey"),
        pytest.param(Image.new("1", (40, 40), 1), id="black and white"),
        pytest.param(Image.new("P", (40, 40), 0).convert("RGB").quantize(4), id="palette"),
        pytest.param(Image.new("I;16", (40, 40), 65535), id="sixteen bits"),
    ],
)
def test_every_kind_of_pixel_is_taken(image: Image.Image) -> None:
    made = develop(encoded(image, "PNG"))
    assert opened(made.picture.data).mode == "RGB"


def test_what_is_see_through_lies_on_white() -> None:
    made = develop(encoded(Image.new("RGBA", (40, 40), (0, 0, 0, 0)), "PNG"))
    assert min(opened(made.picture.data).getpixel((20, 20))) > 250  # type: ignore[arg-type]


def cmyk() -> bytes:
    return encoded(Image.new("CMYK", (40, 40), (0, 0, 0, 0)))


def bomb() -> bytes:
    """Return a PNG of a few hundred bytes that claims to be 60,000 px wide and high."""
    data = encoded(Image.new("1", (8, 8)), "PNG")
    head = (60_000).to_bytes(4, "big") * 2 + data[24:29]
    return data[:16] + head + zlib.crc32(b"IHDR" + head).to_bytes(4, "big") + data[33:]


def test_print_colours_are_taken() -> None:
    assert opened(develop(cmyk()).picture.data).mode == "RGB"


def wide(pixels: int) -> bytes:
    data = encoded(Image.new("1", (8, 8)), "PNG")
    head = pixels.to_bytes(4, "big") + (1000).to_bytes(4, "big") + data[24:29]
    return data[:16] + head + zlib.crc32(b"IHDR" + head).to_bytes(4, "big") + data[33:]


@pytest.mark.parametrize(
    ("upload", "words"),
    [
        pytest.param(b"", NO_PICTURE, id="nothing"),
        pytest.param(b"GPS" * 400, NO_PICTURE, id="no picture"),
        pytest.param(encoded(drawn(), "GIF"), NO_PICTURE, id="GIF"),
        pytest.param(encoded(drawn(), "TIFF"), NO_PICTURE, id="TIFF"),
        pytest.param(b"%!PS-Adobe-3.0 EPSF-3.0\n", NO_PICTURE, id="a program for printers"),
        pytest.param(b"<svg xmlns='http://www.w3.org/2000/svg'/>", NO_PICTURE, id="SVG"),
        pytest.param(encoded(drawn())[:5000], NO_PICTURE, id="a part of one"),
        pytest.param(b"\0\0\0\x18ftypheic" + b"\0" * 40, NEWER, id="HEIC"),
        pytest.param(b"\0\0\0\x18ftypavif" + b"\0" * 40, NEWER, id="AVIF"),
        pytest.param(bomb(), TOO_MANY, id="bomb"),
        pytest.param(wide(MOST_BYTES_HELD // 6000 + 1), TOO_MANY, id="just too many"),
        pytest.param(b"\xff" * (MOST_BYTES + 1), TOO_BIG, id="too large a file"),
    ],
)
def test_what_is_not_taken_says_what_to_do(upload: bytes, words: str) -> None:
    with pytest.raises(RefusedError) as refused:
        develop(upload)
    assert str(refused.value) == words


def plain(side: int, kind: str = "JPEG", mode: str = "RGB", **how: object) -> bytes:
    return encoded(Image.new(mode, (side, side), 90), kind, **how)


# A side of so many pixels is just taken, and one of the other is not.
HEAVY = [
    pytest.param("JPEG", "RGB", {"progressive": True, "subsampling": 2}, 5900, 6000, id="4:2:0"),
    pytest.param("JPEG", "RGB", {"progressive": True, "subsampling": 0}, 4150, 4250, id="4:4:4"),
    pytest.param("JPEG", "CMYK", {"progressive": True}, 3600, 3700, id="for print"),
    pytest.param("JPEG", "RGB", {}, 7100, 7200, id="not progressive"),
    pytest.param("WEBP", "RGB", {}, 2550, 2600, id="WebP"),
    pytest.param("PNG", "P", {}, 4150, 4250, id="palette"),
    pytest.param("PNG", "RGBA", {}, 4150, 4250, id="PNG"),
]

GROWTH = """
import resource, sys
from pathlib import Path
from chamberwatch.photo.darkroom import Darkroom
import chamberwatch.photo.developing
upload = Path(sys.argv[1]).read_bytes()
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
Darkroom().develop(upload)
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before)
"""


@pytest.mark.parametrize(("kind", "mode", "how", "taken", "refused"), HEAVY)
def test_the_heaviest_that_is_taken_leaves_the_watcher_room(
    tmp_path: Path, kind: str, mode: str, how: dict[str, object], taken: int, refused: int
) -> None:
    with pytest.raises(RefusedError, match="too many pixels"):
        develop(plain(refused, kind, mode, **how))
    upload = tmp_path / "upload"
    upload.write_bytes(plain(taken, kind, mode, **how))
    ran = subprocess.run(
        [sys.executable, "-c", GROWTH, str(upload)], capture_output=True, check=True, text=True
    )
    # The service may hold 320 MB in all, and does with 110 by itself.
    assert int(ran.stdout) * 1024 < 1.5 * MOST_BYTES_HELD


TOUCHED = [from_a_phone(), encoded(drawn(60, 50), "PNG"), encoded(drawn(60, 50), "WEBP")]


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    which=st.integers(0, len(TOUCHED) - 1),
    hurts=st.lists(st.tuples(st.floats(0, 0.999), st.binary(min_size=1, max_size=6)), max_size=5),
    cut=st.floats(0.05, 1.0),
)
def test_no_damaged_file_breaks_anything(
    which: int, hurts: list[tuple[float, bytes]], cut: float
) -> None:
    data = bytearray(TOUCHED[which])
    for where, hurt in hurts:
        at = int(where * len(data))
        data[at : at + len(hurt)] = hurt
    try:
        made = develop(bytes(data[: int(cut * len(data))]))
    except RefusedError:
        return
    assert segments(made.picture.data) & APP1_TO_15_AND_COMMENT == set()


def test_one_at_a_time_and_all_of_them() -> None:
    room, made = Darkroom(), list[Developed]()
    threads = [
        threading.Thread(target=lambda: made.append(room.develop(from_a_phone())))
        for _ in range(4)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(20)
    assert [each.picture.size for each in made] == [(800, 600)] * 4
