"""How a seam is drawn: how sure it is shows in dashes and in colour, each enough by itself.

The less sure, the more it catches the eye: thin and blue where a seam was seen, dashes of orange
where it is likely, thick dots of yellow where it was hardly seen or only inferred.  Casings, one
light or one dark and one light, keep all three apart from any cloth.
"""

from dataclasses import dataclass
from typing import Literal

from seamwalk.model.top import Seam
from seamwalk.sheets.drawing import InkLine, Item, Pen
from seamwalk.sheets.palette import BLUE, INK, ORANGE, WHITE, YELLOW, Colour

Sureness = Literal["sure", "likely", "unsure"]
"""Class of a seam by its confidence."""


@dataclass(frozen=True, slots=True)
class SeamStyleSettings:
    """Limits of the classes, and how each is drawn, in widths of the picture's text (its em)."""

    sure: float = 0.9
    """From this confidence on a seam counts as seen, 0 to 1: fewer than one in ten are wrong,
    so that nobody needs to look again."""
    likely: float = 0.6
    """From this on it is likely; below, one in three or more are wrong."""
    line: float = 0.11
    """Width of the line of a seam that was seen."""
    likely_line: float = 0.16
    """Width of a likely one …"""
    unsure_line: float = 0.25
    """… and of an unsure one: dots are smaller than dashes and need it."""
    dash: tuple[float, float] = (6.0, 3.0)
    """Dash and gap of a likely seam, in widths of its line."""
    dot: tuple[float, float] = (1.0, 1.4)
    """Dot and gap of an unsure one: square dots, never taken for dashes."""
    dark: float = 0.045
    """How far the dark casing of dashes and dots shows on each side."""
    light: float = 0.08
    """How far the light casing shows outside all that."""


SEAM_STYLE = SeamStyleSettings()


def sureness(seam: Seam, settings: SeamStyleSettings = SEAM_STYLE) -> Sureness:
    """Return the class of a seam; one that was only inferred is never better than unsure."""
    if seam.inferred or seam.confidence < settings.likely:
        return "unsure"
    return "sure" if seam.confidence >= settings.sure else "likely"


def seam_pens(
    kind: Sureness, em: float, colour: Colour = BLUE, settings: SeamStyleSettings = SEAM_STYLE
) -> tuple[Pen, ...]:
    """Return the pens of one class, to be drawn in their order: casings, then the line.

    Parameters
    ----------
    em : float
        Size of the picture's text, inches on the drawing.
    colour : Colour
        Of a sure line: seams and the raw edge differ.
    """
    s = settings
    if kind == "sure":
        w = s.line * em
        return Pen(WHITE, w + 2 * s.light * em), Pen(colour, w)
    share, (on, off), bright = {
        "likely": (s.likely_line, s.dash, ORANGE),
        "unsure": (s.unsure_line, s.dot, YELLOW),
    }[kind]
    w = share * em
    dark = w + 2 * s.dark * em
    return Pen(WHITE, dark + 2 * s.light * em), Pen(INK, dark), Pen(bright, w, (on * w, off * w))


def seam_items(seam: Seam, em: float, settings: SeamStyleSettings = SEAM_STYLE) -> list[Item]:
    """Return the line of one seam with its casings."""
    curve = seam.curve
    colour = INK if seam.kind == "edge" else BLUE
    *casings, line = seam_pens(sureness(seam, settings), em, colour, settings)
    return [*(InkLine(curve, pen, "casing") for pen in casings), InkLine(curve, line, seam.kind)]
