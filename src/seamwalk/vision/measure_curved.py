"""Patches with curved sides: what they are called, and how long and how round the sides are.

A curved side has three numbers: from corner to corner (the chord c), along the seam, and the
radius.  All follow from the chord and the rise h of the arc over it.

References
----------
Circle segments r = c²/(8h) + h/2, θ = 4·atan(2h/c): Machinery's Handbook, 31st ed., pp. 50, 79.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from seamwalk.geometry.projective import Points
from seamwalk.model.sizes import Angle, Length, Shape, SideCurve
from seamwalk.model.top import Patch, Seam, SeamId
from seamwalk.vision.measure_doubt import NINETY_FIVE, Doubt
from seamwalk.vision.measure_finished import FinishedShape

QUARTER_DEG = (70.0, 115.0)
"""The arc of a quarter circle turns by 90°; one that runs on under the binding by up to 10° more,
an inch's radius by 14°, and sewing opens or closes it by as much."""

HALF_SQUARES: tuple[Shape, ...] = ("half-square triangle", "quarter-square triangle")
"""What the corners of a quarter circle look like."""


@dataclass(frozen=True, slots=True)
class Curved:
    """One side of a patch that is an arc.

    Attributes
    ----------
    side : int
        From visible corner `side` to the next.
    sweep_rad : float
        In the outline's order; positive when the side bulges out of the patch.
    bow_sigma_in : float
        Standard deviation of its middle across it, inches; 0 where that is not known.
    """

    side: int
    sweep_rad: float
    bow_sigma_in: float


def curved_sides(patch: Patch, corners: Points, seams: dict[SeamId, Seam]) -> tuple[Curved, ...]:
    """Return the sides of a patch that are one arc from corner to corner.

    Parameters
    ----------
    corners : (N, 2) float64
        Visible corners, in the outline's order.
    """
    arcs = [seams[s] for s in patch.seams if seams[s].sweep_rad]
    if not arcs:
        return ()
    at = {(x, y): k for k, (x, y) in enumerate(corners.tolist())}
    # Along an outline that turns from x towards y the patch lies on the right.
    on_right = patch.polygon.exterior.is_ccw
    out = []
    for seam in arcs:
        i, j = (at.get(p) for p in (seam.points[0], seam.points[-1]))
        if i is None or j is None:
            continue
        bulge = seam.sweep_rad if seam.right == patch.id else -seam.sweep_rad
        forwards = (seam.right == patch.id) == on_right
        first, last = (i, j) if forwards else (j, i)
        if (first + 1) % len(corners) == last:
            out.append(Curved(first, bulge, seam.bow_sigma_in))
    return tuple(sorted(out, key=lambda c: c.side))


def curved_name(shape: FinishedShape, patch: Patch, seams: dict[SeamId, Seam]) -> Shape:
    """Return the shape's name, other than its corners' where one of its seams is an arc."""
    arcs = [seams[s] for s in patch.seams if seams[s].sweep_rad]
    if not arcs:
        return shape.name
    (seam, *more) = arcs
    bulge = seam.sweep_rad if seam.right == patch.id else -seam.sweep_rad
    low, high = (math.radians(v) for v in QUARTER_DEG)
    if not more and shape.name in HALF_SQUARES and low < bulge < high:
        return "quarter circle"
    return "curved"


def side_curves(
    sides: Sequence[tuple[Length, ...]],
    curved: Sequence[tuple[Curved, ...]],
    shapes: Sequence[FinishedShape],
    doubt: Doubt,
) -> list[tuple[SideCurve, ...]]:
    """Return the curves of each patch's sides, given the measured sides from corner to corner."""
    return [
        tuple(_curve(mine[c.side], c, shape, doubt) for c in arcs)
        for mine, arcs, shape in zip(sides, curved, shapes, strict=True)
    ]


def _curve(chord: Length, curved: Curved, shape: FinishedShape, doubt: Doubt) -> SideCurve:
    n = len(shape.corners)
    ends = shape.corners[[curved.side, (curved.side + 1) % n]]
    c = chord.value_in
    h = c / 2 * math.tan(abs(curved.sweep_rad) / 4)
    # The rise is the middle's distance from the mean of the ends, and scales with the chord.
    own = curved.bow_sigma_in or doubt.default_sigma
    sigma_c = chord.plus_minus_in / NINETY_FIVE
    sigma_h = math.sqrt(
        own**2 + float((doubt.sigma_at(ends) ** 2).sum()) / 4 + (h / c * sigma_c) ** 2
    )
    return SideCurve(
        curved.side,
        _doubted(_along, c, h, sigma_c, sigma_h),
        _doubted(_radius, c, h, sigma_c, sigma_h),
        curved.sweep_rad < 0,
    )


def _radius(c: float, h: float) -> float:
    return c * c / (8 * h) + h / 2


def _along(c: float, h: float) -> float:
    return _radius(c, h) * 4 * math.atan(2 * h / c)


def _doubted(
    value: Callable[[float, float], float], c: float, h: float, sigma_c: float, sigma_h: float
) -> Length:
    """Return the value with its ± by how it changes with chord and rise."""
    step = 1e-4 * c
    by_c = (value(c + step, h) - value(c - step, h)) / (2 * step)
    by_h = (value(c, h + step) - value(c, h - step)) / (2 * step)
    return Length(value(c, h), NINETY_FIVE * math.hypot(by_c * sigma_c, by_h * sigma_h))


def between_tangents(angles: tuple[Angle, ...], curved: Sequence[Curved]) -> tuple[Angle, ...]:
    """Return a patch's inner angles, those at the ends of arcs taken to the arcs' tangents.

    A tangent leaves its chord by half the sweep.
    """
    if not curved:
        return angles
    more = np.zeros(len(angles))
    for c in curved:
        more[[c.side, (c.side + 1) % len(angles)]] += math.degrees(c.sweep_rad) / 2
    return tuple(
        Angle(a.value_deg + float(m), a.plus_minus_deg) for a, m in zip(angles, more, strict=True)
    )
