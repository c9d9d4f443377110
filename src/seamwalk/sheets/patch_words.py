"""What a patch measures, in the few numbers a person would say.

A patch found in a photo may have more corners than it was cut with: two junctions where there
should be one leave a stub of a side, a wandering seam a slight bend.  For reading at a glance
stubs are run out to a point and bends drawn straight; `sides` in the files stay as they are.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.cut_corners import main_corners
from seamwalk.geometry.polygon import inner_angles_deg, ring_of, side_lengths
from seamwalk.geometry.projective import Points
from seamwalk.model.sizes import PatchSize, Shape
from seamwalk.model.top import Patch
from seamwalk.sheets.size_text import same, short_length
from seamwalk.units import Units


@dataclass(frozen=True, slots=True)
class PlainSettings:
    """What does not count as a side or a corner when a patch is read at a glance."""

    angle_deg: float = 7.0
    """Angles of squares and their halves may differ by this, degrees: 1/8 in over the 1 in of a
    small one."""
    even: float = 0.15
    """Sides of an even hexagon differ by less than this share of their mean."""
    out_of_row_in: float = 0.5
    """More plain sides than four are told by their extent if the patch leaves less than this
    of its bounding box, inches: a border with a jog."""


PLAIN = PlainSettings()

OVER_ALL = " over all"
"""Ends the words for a shape that only its extent is told of."""


_CORNERS: dict[Shape, int] = {
    "square": 4,
    "half-square triangle": 3,
    "quarter-square triangle": 3,
}


def measured_words(
    size: PatchSize, patch: Patch, units: Units, settings: PlainSettings = PLAIN
) -> str:
    """Return what the patch measures as it lies on the page, without a unit.

    Width × height of squares, rectangles and of right triangles that lie along the page; sides
    of other shapes; the extent of a shape with many odd sides; the radius of curved sides.  Empty
    where no corner was found, and for a square or triangle that has a corner too many: its list
    of sides would puzzle.
    """
    if size.curves:
        return _curved_words(size, patch, units)
    p, sides = _measured(size, patch, settings)
    if not size.sides or len(p) != _CORNERS.get(size.shape, len(p)):
        return ""
    if len(p) == 4 and (_opposite_sides_agree(sides, units) or _is_rectangle(p, settings)):
        d = np.abs(p[1] - p[0])
        pairs = [_range(sides[[k, k + 2]], units) for k in (0, 1)]
        return " × ".join(pairs[::-1] if d[1] > d[0] else pairs)
    if len(p) == 3 and _is_half_a_square(p, settings):
        first, second = _width_and_height(p, sides)
        return f"{short_length(first, units)} × {short_length(second, units)}"
    if len(p) == 6 and size.shape == "hexagon" and np.ptp(sides) < settings.even * sides.mean():
        return f"sides {_range(sides, units)}"
    if len(p) > 4 or _nearly_its_box(p, settings):
        w, h = (short_length(float(v), units) for v in np.ptp(p, axis=0))
        return f"{w} × {h}{OVER_ALL}"
    return " · ".join(short_length(float(v), units) for v in sides)


def _curved_words(size: PatchSize, patch: Patch, units: Units) -> str:
    """Return the radius of a quarter circle; else the extent and the radii of the curves."""
    radii = np.array([c.radius.value_in for c in size.curves])
    if size.shape == "quarter circle":
        return f"{_range(radii, units)} radius"
    x0, y0, x1, y1 = patch.polygon.bounds
    extent = f"{short_length(x1 - x0, units)} × {short_length(y1 - y0, units)}"
    return f"{extent}{OVER_ALL}, curved, {_range(radii, units)} radius"


def in_one_number(
    size: PatchSize, patch: Patch, units: Units, settings: PlainSettings = PLAIN
) -> str:
    """Return the mean side of a square, or short side of half a square; else nothing."""
    if not size.sides or size.curves:
        return ""
    p, sides = _measured(size, patch, settings)
    if len(p) == 4 and _is_rectangle(p, settings):
        even = sides
    elif len(p) == 3 and _is_half_a_square(p, settings):
        even = np.array(_width_and_height(p, sides))
    else:
        return ""
    return short_length(float(even.mean()), units) if np.ptp(even) < same(units) else ""


def _measured(
    size: PatchSize, patch: Patch, settings: PlainSettings
) -> tuple[Points, NDArray[np.float64]]:
    """Return the plain corners and the sides between them, as measured where these are whole."""
    p = main_corners(ring_of(patch.polygon))
    if len(p) == len(size.sides):
        return p, np.array([side.value_in for side in size.sides])
    return p, side_lengths(p)


def _range(sides: NDArray[np.float64], units: Units) -> str:
    """Sides in one number, their mean, where they agree, else from the shortest to the longest."""
    if np.ptp(sides) < same(units):
        return short_length(float(sides.mean()), units)
    return (
        f"{short_length(float(sides.min()), units)} to {short_length(float(sides.max()), units)}"
    )


def _is_rectangle(p: Points, settings: PlainSettings) -> bool:
    return bool((np.abs(inner_angles_deg(p) - 90) < settings.angle_deg).all())


def _opposite_sides_agree(sides: NDArray[np.float64], units: Units) -> bool:
    return all(abs(sides[k] - sides[k + 2]) < same(units) for k in (0, 1))


def _nearly_its_box(p: Points, settings: PlainSettings) -> bool:
    """Tell whether a long four-sided patch, like a border, is a rectangle but for a little."""
    x, y = p[:, 0], p[:, 1]
    area = abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1))) / 2
    w, h = (float(v) for v in np.ptp(p, axis=0))
    return len(p) == 4 and (w * h - area) < settings.out_of_row_in * min(w, h) < 0.2 * w * h


def _is_half_a_square(p: Points, settings: PlainSettings) -> bool:
    angles = np.sort(inner_angles_deg(p))
    return bool((np.abs(angles - [45, 45, 90]) < settings.angle_deg).all())


def _width_and_height(p: Points, sides: NDArray[np.float64]) -> tuple[float, float]:
    """Two sides at the right angle; with the long side along the page, its extent."""
    k = int(np.argmax(sides))
    d = np.abs(p[(k + 1) % 3] - p[k])
    if min(d) > 0.2 * max(d):
        legs = float(sides[(k + 1) % 3]), float(sides[(k + 2) % 3])
        e = np.abs(p[(k + 2) % 3] - p[(k + 1) % 3])
        return legs if e[0] > e[1] else (legs[1], legs[0])
    w, h = np.ptp(p, axis=0)
    return float(w), float(h)
