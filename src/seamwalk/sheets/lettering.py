"""Letters that look the same on every machine.

All sheets and pictures use the Bitstream Vera faces that come inside reportlab, never a font of
the system.  Vera has ± × ° but no eighths, so fractions are written 1/8.
"""

from functools import cache, lru_cache
from importlib import resources
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from PIL.ImageFont import FreeTypeFont

REGULAR = "Vera"
BOLD = "VeraBd"

CAP_HEIGHT = 0.729
"""Height of a capital over the em in Bitstream Vera: 1493 of 2048 units."""

_MEASURED_AT_PX = 200
"""Widths are measured at this size and scaled: hinting no longer matters."""


def face_file(bold: bool) -> str:
    """Return the path of the face's TrueType file."""
    name = f"{BOLD if bold else REGULAR}.ttf"
    return str(resources.files("reportlab").joinpath("fonts", name))


@cache
def face(size_px: int, bold: bool = False) -> "FreeTypeFont":
    """Return the face at `size_px` pixels to the em, for Pillow."""
    from PIL import ImageFont

    return ImageFont.truetype(face_file(bold), size_px)


@lru_cache(maxsize=4096)
def _ems(text: str, bold: bool) -> float:
    return float(face(_MEASURED_AT_PX, bold).getlength(text)) / _MEASURED_AT_PX


def width(text: str, size: float, bold: bool = False) -> float:
    """Return the width of one line of `text`, in the unit of `size` (the em)."""
    return _ems(text, bold) * size


def wrapped(text: str, size: float, room: float, bold: bool = False) -> list[str]:
    """Return `text` broken at spaces into lines no wider than `room` (unit of `size`).

    A single word wider than the room stands alone on its line.
    """
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and width(longer, size, bold) <= room:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines
