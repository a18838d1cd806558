"""From a drawing to a picture."""

import sys
from pathlib import Path

import pytest

from chamberwatch.notify.picture import FOLDERS, NO_FONT, NO_LIBRARY, Painter

pytest.importorskip("resvg_py", reason="the extra “images” is not installed")

FONTS = any((Path(folder) / "DejaVuSans.ttf").is_file() for folder in FOLDERS)
needs_font = pytest.mark.skipif(not FONTS, reason="no font: sudo apt install fonts-dejavu-core")

DRAWING = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="40" height="20">'
    '<rect width="40" height="20" fill="#fff"/>{}</svg>'
)
TEXT = '<text x="2" y="15" font-size="14">80</text>'


@needs_font
def test_a_drawing_becomes_a_png_of_its_size() -> None:
    painter = Painter()
    assert painter.missing == ""
    png = painter.paint(DRAWING.format(""))
    assert png is not None
    assert png.startswith(b"\x89PNG\r\n\x1a\n")
    assert (int.from_bytes(png[16:20]), int.from_bytes(png[20:24])) == (40, 20)


@needs_font
def test_letters_are_drawn() -> None:
    painter = Painter()
    assert painter.paint(DRAWING.format(TEXT)) != painter.paint(DRAWING.format(""))


@needs_font
def test_what_is_no_drawing_is_no_picture(caplog: pytest.LogCaptureFixture) -> None:
    assert Painter().paint("<svg") is None
    assert "the message goes without" in caplog.text


def test_without_a_font_there_is_none(tmp_path: Path) -> None:
    painter = Painter((str(tmp_path),))
    assert painter.missing == NO_FONT
    assert painter.paint(DRAWING.format("")) is None


def test_without_the_library_there_is_none(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "resvg_py", None)
    painter = Painter()
    assert painter.missing == NO_LIBRARY
    assert painter.paint(DRAWING.format("")) is None
