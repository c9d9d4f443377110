"""The handbook's arithmetic: what to cut for a finished size, and how long the edges come out.

Everything is in inches and follows from one fact, a seam allowance a on every side.  A right
triangle with legs f, offset outwards by a on its three sides, has legs f + a(2 + √2); the one
with hypotenuse f has hypotenuse f + a(2 + 2√2).  With a = 1/4 in these are f + 0.8536 and
f + 1.2071, which the trade rounds up to f + 7/8 and f + 1 1/4.  Diagonals use √2 itself: the
shortened 1.414 is an eighth short at 16 in.

References
----------
Offsetting a polygon's sides: any textbook of plane geometry.  The rounded constants and where
they come from: `seamwalk.trade`.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from seamwalk.trade import (
    GRAIN_IN,
    HALF_SQUARE_EXTRA_IN,
    QUARTER_SQUARE_EXTRA_IN,
    SEAM_ALLOWANCE_IN,
    SIZE_TOLERANCE_IN,
)

USABLE_FABRIC_IN = 40.0
"""Width of quilting cotton that can be counted on, inches: cloth sold as 42 to 44 in wide, less
selvages and shrinkage (three trade pages agree)."""

BINDING_SPARE_IN = 10.0
"""Binding longer than the quilt's edge, for the corners and the join, inches (common practice;
pages range from 8 to 24 in)."""

_ROUNDING = 1e-9
"""Of a grain: what floating point may add to a length that lies on the grain already."""


def rounded_up(length_in: float, grain_in: float = GRAIN_IN) -> float:
    """Return the next multiple of `grain_in` that is not below `length_in`, inches.

    Cut sizes are rounded up, never to the nearest: too large can be trimmed.  The usual grain is
    1/8 in (four trade pages agree; some tables round up to 1/4).
    """
    return math.ceil(length_in / grain_in - _ROUNDING) * grain_in


def unfinished(finished_in: float) -> float:
    """Return a finished length with a seam allowance at both ends, inches."""
    return finished_in + 2 * SEAM_ALLOWANCE_IN


def half_square_extra(allowance_in: float = SEAM_ALLOWANCE_IN) -> float:
    """Return exactly what a square cut once into two triangles needs above the finished side.

    For metric patterns give 6 mm or 7.5 mm in inches.
    """
    return allowance_in * (2 + math.sqrt(2))


def quarter_square_extra(allowance_in: float = SEAM_ALLOWANCE_IN) -> float:
    """Return exactly what a square cut twice into four needs above the finished long side."""
    return allowance_in * (2 + 2 * math.sqrt(2))


def half_square(finished_in: float) -> float:
    """Return the square to cut once corner to corner into two triangles, inches.

    Parameters
    ----------
    finished_in : float
        Finished short side of the triangles, inches.
    """
    return finished_in + HALF_SQUARE_EXTRA_IN


def quarter_square(finished_long_in: float) -> float:
    """Return the square to cut twice corner to corner into four triangles, inches.

    Parameters
    ----------
    finished_long_in : float
        Finished long side of the triangles, inches.
    """
    return finished_long_in + QUARTER_SQUARE_EXTRA_IN


def diagonal(side_in: float) -> float:
    """Return a square's diagonal, inches."""
    return side_in * math.sqrt(2)


def side_setting_square(block_in: float, grain_in: float = GRAIN_IN) -> float:
    """Return the square to cut twice into four side triangles for blocks on point, inches.

    Parameters
    ----------
    block_in : float
        Finished side of the blocks, inches.
    grain_in : float
        Rounded up to a multiple of this.
    """
    return rounded_up(quarter_square(diagonal(block_in)), grain_in)


def corner_setting_square(block_in: float, grain_in: float = GRAIN_IN) -> float:
    """Return the square to cut once into two corner triangles for blocks on point, inches.

    Parameters
    ----------
    block_in : float
        Finished side of the blocks, inches.
    grain_in : float
        Rounded up to a multiple of this.
    """
    return rounded_up(half_square(block_in / math.sqrt(2)), grain_in)


def side_triangles(rows: int, columns: int) -> int:
    """Return how many side triangles a setting on point needs; its corners are always four.

    Parameters
    ----------
    rows, columns : int
        Blocks whose corners touch in a line, counted down and across; at least 1.

    Raises
    ------
    ValueError
        If there is no block.
    """
    if min(rows, columns) < 1:
        raise ValueError("a setting on point needs at least one row and one column")
    return 2 * (rows + columns - 2)


def on_point_size(rows: int, columns: int, block_in: float) -> tuple[float, float]:
    """Return finished width and height of a centre set on point, inches."""
    return columns * diagonal(block_in), rows * diagonal(block_in)


def flying_geese(finished_height_in: float) -> tuple[float, float]:
    """Return the squares to cut for four flying geese at a time: one large, four small, inches.

    Parameters
    ----------
    finished_height_in : float
        Finished height; the width is twice as much.
    """
    return quarter_square(2 * finished_height_in), half_square(finished_height_in)


def square_in_square_corner(centre_in: float) -> float:
    """Return the square to cut once into two corners round a square on point, exact, inches.

    Parameters
    ----------
    centre_in : float
        Finished side of the inner square.
    """
    return half_square(centre_in / math.sqrt(2))


@dataclass(frozen=True, slots=True)
class Cut:
    """What to cut for one more patch.

    Attributes
    ----------
    size_in : (float, float)
        Width and height of the square or rectangle, raw edges, inches.
    cuts : int
        How often it is then cut from corner to corner: 0, 1 or 2.
    """

    size_in: tuple[float, float]
    cuts: int = 0


def cut_for(shape: str, sides_in: Sequence[float], grain_in: float = GRAIN_IN) -> Cut | None:
    """Return what to cut for a patch of this shape and finished size.

    Parameters
    ----------
    shape : str
        As :class:`seamwalk.model.sizes.Shape` names it.
    sides_in : sequence of float
        Finished sides in order, inches.
    grain_in : float
        Squares for triangles are rounded up to a multiple of this.

    Returns
    -------
    Cut or None
        None for shapes that are cut by a template, not from a square or strip.
    """
    if shape in ("square", "rectangle") and len(sides_in) == 4:
        return Cut((unfinished(sides_in[0]), unfinished(sides_in[1])))
    if shape == "half-square triangle" and len(sides_in) == 3:
        side = rounded_up(half_square(min(sides_in)), grain_in)
        return Cut((side, side), 1)
    if shape == "quarter-square triangle" and len(sides_in) == 3:
        side = rounded_up(quarter_square(max(sides_in)), grain_in)
        return Cut((side, side), 2)
    return None


def strips_joined(count: int, cut_width_in: float) -> float:
    """Return the unfinished width of `count` strips sewn side by side and pressed, inches.

    Raises
    ------
    ValueError
        If there is no strip, or its seams would eat it up.
    """
    if count < 1 or cut_width_in <= 2 * SEAM_ALLOWANCE_IN:
        raise ValueError("strips need a width above both their seam allowances")
    return count * cut_width_in - 2 * (count - 1) * SEAM_ALLOWANCE_IN


@dataclass(frozen=True, slots=True)
class BorderLength:
    """How long to cut a border.

    Attributes
    ----------
    length_in : float
        Mean of the measures, inches.
    deviation_in : float
        Of the measure farthest from the mean, inches.
    """

    length_in: float
    deviation_in: float

    @property
    def eases(self) -> bool:
        """Whether every measure is near enough for the border to be eased in."""
        return self.deviation_in <= SIZE_TOLERANCE_IN + _ROUNDING


def border_length(measures_in: Sequence[float]) -> BorderLength:
    """Return the length to cut a border, from measures taken through the middle of the top.

    Edges stretch, so a border follows the middle: either one measure through the centre, or the
    mean of three parallel ones away from the edges (seven trade pages agree).  Side borders come
    first; top and bottom borders are measured with them sewn on.

    Parameters
    ----------
    measures_in : sequence of float
        One or more parallel measures of the same direction, inches.

    Raises
    ------
    ValueError
        If there is no measure.
    """
    if not measures_in:
        raise ValueError("a border needs at least one measure")
    mean = math.fsum(measures_in) / len(measures_in)
    return BorderLength(mean, max(abs(m - mean) for m in measures_in))


def binding_length(width_in: float, height_in: float, spare_in: float = BINDING_SPARE_IN) -> float:
    """Return how much binding a quilt needs, joined, inches: once round and some to spare."""
    return 2 * (width_in + height_in) + spare_in


def strips_needed(length_in: float, usable_in: float = USABLE_FABRIC_IN) -> int:
    """Return how many strips across the fabric give `length_in` in all.

    What the joins between strips take is not in it: about a strip's width for each mitred join
    (common practice), which the spare length of `binding_length` covers.
    """
    return max(0, math.ceil(length_in / usable_in - _ROUNDING))
