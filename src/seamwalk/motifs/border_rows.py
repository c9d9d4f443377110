"""Rows along a border's sides: lines that share out its width.

A row meets the next side's row on the corner's bisector, or ends on the seam or the binding line
where the side does, there found exactly.
"""

import math
from collections.abc import Mapping

from seamwalk.geometry.curve import Point
from seamwalk.model.top import PatchId
from seamwalk.motifs.border_sides import BorderSide, heading
from seamwalk.motifs.outlines import Outline
from seamwalk.motifs.strips import Strip, strip_of

Row = tuple[Point, Point]
"""Where a row's line starts and ends."""


def rows_of(
    side: BorderSide,
    gaps: int,
    outlines: Mapping[PatchId, Outline],
    *,
    turning: tuple[bool, bool] = (False, False),
) -> list[Row]:
    """Return the lines of rows that cut a side's width into equal parts, the outermost first.

    Parameters
    ----------
    gaps : int
        How many parts.
    turning : (bool, bool)
        At which end the rows turn a corner: there they go on to where they meet the next side's;
        else they end on the seam.
    """
    first = last = _along(outlines[side.patches[0]], side)
    if len(side.patches) > 1:
        last = _along(outlines[side.patches[-1]], side)
    rows: list[Row] = []
    for k in range(1, gaps):
        share = k / gaps
        ends = first.row(share)[0], last.row(share)[1]
        corners = (_between(side.outer[e], side.inner[e], share) for e in (0, 1))
        start, end = (
            corner if turns else own
            for corner, own, turns in zip(corners, ends, turning, strict=True)
        )
        rows.append((start, end))
    return rows


def _along(outline: Outline, side: BorderSide) -> Strip:
    """Return a piece of a border's side as a strip that runs its way."""
    strip = strip_of(outline)
    assert strip is not None  # a border's pieces have four straight sides
    off = math.remainder(
        heading((strip.left.start, strip.left.end)) - side.heading_rad, 2 * math.pi
    )
    return strip if abs(off) < math.pi / 2 else strip.turned()


def _between(a: Point, b: Point, share: float) -> Point:
    return (a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share)


def shortened(start: Point, end: Point, before: float, after: float) -> Row:
    """Return a line's ends moved towards its middle."""
    length = math.dist(start, end)
    return (
        _between(start, end, before / length) if before else start,
        _between(end, start, after / length) if after else end,
    )
