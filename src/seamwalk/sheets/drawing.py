"""One drawing for every kind of paper and screen.

A sheet or overlay is composed once, as a `Drawing`: exact curves with a pen, filled shapes and
labels, in inches, y down.  Pictures, SVG and PDF are made from that, so they cannot disagree.
Items are painted in their order, labels over all lines and fills.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.curve import Curve, Point
from seamwalk.geometry.projective import Points
from seamwalk.sheets.palette import INK, Colour

Anchor = Literal["left", "middle", "right"]


@dataclass(frozen=True, slots=True)
class Pen:
    """How a line is drawn.

    Attributes
    ----------
    width_in : float
        Width of the line, inches on the drawing.
    dash_in : tuple of float
        Lengths of stroke and gap in turn, inches; empty for a solid line.
    casing : Colour or None
        Colour of a wider solid line underneath, so that the line reads on any ground.
    casing_in : float
        How far the casing shows on each side, inches.
    """

    colour: Colour
    width_in: float
    dash_in: tuple[float, ...] = ()
    casing: Colour | None = None
    casing_in: float = 0.0


@dataclass(frozen=True, slots=True)
class InkLine:
    """A curve drawn with a pen."""

    curve: Curve
    pen: Pen
    layer: str = ""


@dataclass(frozen=True, slots=True)
class Fill:
    """A filled ring of points, inches.

    Attributes
    ----------
    ring : tuple of Point
        Corners in order, the first not repeated.
    edge : Pen or None
        Outline.
    opacity : float
        0 (not there) to 1.
    """

    ring: tuple[Point, ...]
    colour: Colour
    edge: Pen | None = None
    opacity: float = 1.0
    layer: str = ""


@dataclass(frozen=True, slots=True)
class Label:
    """One line of text.

    Attributes
    ----------
    at : Point
        Where the anchor lies, inches; vertically the middle of a capital letter.
    size_in : float
        The em, inches.
    turn_deg : float
        0 reads to the right; 90 is turned so that it reads downwards.
    ground : Colour or None
        Box behind the text.
    rim : Colour or None
        Outline of that box.
    """

    text: str
    at: Point
    size_in: float
    colour: Colour = INK
    bold: bool = False
    anchor: Anchor = "middle"
    turn_deg: Literal[0, 90, 270] = 0
    ground: Colour | None = None
    rim: Colour | None = None
    layer: str = ""


Item = InkLine | Fill | Label


@dataclass(frozen=True, slots=True)
class Drawing:
    """What to draw, in painting order.

    Attributes
    ----------
    extent_in : (float, float, float, float)
        Left, top, right, bottom.
    """

    extent_in: tuple[float, float, float, float]
    items: tuple[Item, ...]

    @property
    def width_in(self) -> float:
        """Width, inches."""
        return self.extent_in[2] - self.extent_in[0]

    @property
    def height_in(self) -> float:
        """Height, inches."""
        return self.extent_in[3] - self.extent_in[1]

    @property
    def strokes(self) -> tuple[InkLine, ...]:
        """The lines among the items."""
        return tuple(i for i in self.items if isinstance(i, InkLine))

    @property
    def fills(self) -> tuple[Fill, ...]:
        """The filled shapes among the items."""
        return tuple(i for i in self.items if isinstance(i, Fill))

    @property
    def labels(self) -> tuple[Label, ...]:
        """The texts among the items."""
        return tuple(i for i in self.items if isinstance(i, Label))


def box(x0: float, y0: float, x1: float, y1: float) -> tuple[Point, ...]:
    """Return the corners of an upright rectangle, clockwise from its upper left."""
    return ((x0, y0), (x1, y0), (x1, y1), (x0, y1))


@dataclass(frozen=True, slots=True, eq=False)
class Projection:
    """Where the plane of a drawing lies in a picture.

    Attributes
    ----------
    px_from_in, in_from_px : callable
        Points (N, 2) to points (N, 2); any smooth map and its inverse.
    px_per_in : float
        Turns widths of lines and sizes of text into pixels, the same all over the picture.
    """

    px_from_in: Callable[[NDArray[np.float64]], Points]
    in_from_px: Callable[[NDArray[np.float64]], Points]
    px_per_in: float

    @classmethod
    def flat(cls, origin_in: Point, px_per_in: float) -> "Projection":
        """Return the plain scale with `origin_in` at the picture's outer upper-left corner."""
        origin = np.array(origin_in)
        return cls(
            lambda p: (p - origin) * px_per_in - 0.5,
            lambda p: (p + 0.5) / px_per_in + origin,
            px_per_in,
        )
