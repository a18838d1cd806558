"""From a drawing to a picture that a phone shows; the only module that knows resvg."""

import logging
from pathlib import Path
from typing import Final

log = logging.getLogger(__name__)

FAMILY: Final = "DejaVu Sans"
_FONTS: Final = ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf")
FOLDERS: Final = (
    "/usr/share/fonts/truetype/dejavu",
    "/usr/share/fonts/dejavu-sans-fonts",
    "/usr/share/fonts/dejavu",
    "/usr/share/fonts/TTF",
    "/usr/local/share/fonts",
)

NO_LIBRARY: Final = (
    "Messages carry no pictures: the part that makes them is missing. Install it: "
    "pip install 'chamberwatch[images]'."
)
NO_FONT: Final = (
    "Messages carry no pictures: there is no font to write in them. Install one: "
    "sudo apt install fonts-dejavu-core."
)


class Painter:
    """Makes PNG of SVG, where this machine can."""

    def __init__(self, folders: tuple[str, ...] = FOLDERS) -> None:
        """Look for what it needs.

        Args:
            folders: where fonts may lie.
        """
        self._fonts = _fonts(folders)
        self.missing = _missing(self._fonts)
        """What it lacks, with the cure; empty where it can paint."""

    def paint(self, drawing: str) -> bytes | None:
        """Return a drawing as PNG; None where this machine can't, or can't this one."""
        if self.missing:
            return None
        import resvg_py

        try:
            return bytes(
                resvg_py.svg_to_bytes(
                    svg_string=drawing,
                    skip_system_fonts=True,
                    font_files=list(self._fonts),
                    font_family=FAMILY,
                    sans_serif_family=FAMILY,
                )
            )
        except Exception as error:  # noqa: BLE001 - a picture must never cost the message
            log.warning("A picture could not be made (%s); the message goes without.", error)
            return None


def _fonts(folders: tuple[str, ...]) -> tuple[str, ...]:
    for folder in folders:
        files = tuple(Path(folder) / name for name in _FONTS)
        if all(file.is_file() for file in files):
            return tuple(map(str, files))
    return ()


def _missing(fonts: tuple[str, ...]) -> str:
    try:
        import resvg_py  # noqa: F401 - only whether it is there
    except ImportError:
        return NO_LIBRARY
    return "" if fonts else NO_FONT
