"""Shapes that patches are cut to, and the sizes that pattern makers give for them.

A shape is named from its finished corners.  Its *dimensions* are the few numbers a pattern gives
(one side of a square, width and height of a rectangle, the leg of a half-square triangle); they
fall on the grain, while the other sides follow from them.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from seamwalk.geometry.polygon import inner_angles_deg, side_lengths
from seamwalk.geometry.projective import Points
from seamwalk.model.sizes import Shape

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class ShapeSettings:
    """How far a patch may be from its ideal shape."""

    angle_deg: float = 7.0
    """Angles may differ by this, degrees …"""
    corner_in: float = 0.2
    """… or by as much as corners out of place by this, inches, turn the shortest side …"""
    most_deg: float = 12.0
    """… but never by more: 15° off square is cut on purpose."""
    same_in: float = 0.12
    """Sides differing by less are equal, inches: a seam allowance off by half, twice."""
    same_share: float = 0.04
    """Or by less than this share of the longer one."""


def name_shape(corners: ArrayLike, settings: ShapeSettings | None = None) -> Shape:
    """Return the name of the shape with these corners (N, 2), top frame, inches.

    A right isosceles triangle is a half-square triangle when its legs lie along the top's edges
    and a quarter-square triangle when its long side does: the straight grain is there.
    """
    s = settings or ShapeSettings()
    p = np.asarray(corners, dtype=np.float64)
    angles, sides = inner_angles_deg(p), side_lengths(p)
    turned = np.degrees(s.corner_in / max(float(sides.min()), 1e-9))
    s = replace(s, angle_deg=float(np.clip(turned, s.angle_deg, s.most_deg)))
    if len(p) == 3:
        return _triangle(p, angles, s)
    if (angles > 180).any():
        return "other"
    if len(p) == 4:
        return _four_sided(p, angles, sides, s)
    if len(p) == 6 and _parallel(p, 0, 3, s) and _parallel(p, 1, 4, s) and _parallel(p, 2, 5, s):
        return "hexagon"
    return "other"


def _triangle(p: Points, angles: Floats, s: ShapeSettings) -> Shape:
    right = int(np.argmax(angles))
    others = np.delete(angles, right)
    if abs(angles[right] - 90) > s.angle_deg or (abs(others - 45) > s.angle_deg).any():
        return "triangle"
    across = p[(right + 2) % 3] - p[(right + 1) % 3]
    off_axis = abs((np.degrees(np.arctan2(across[1], across[0])) + 45) % 90 - 45)
    return "quarter-square triangle" if off_axis < 22.5 else "half-square triangle"


def _four_sided(p: Points, angles: Floats, sides: Floats, s: ShapeSettings) -> Shape:
    def same(i: int, j: int) -> bool:
        return bool(
            abs(sides[i] - sides[j]) <= max(s.same_in, s.same_share * max(sides[i], sides[j]))
        )

    first, second = _parallel(p, 0, 2, s), _parallel(p, 1, 3, s)
    if (abs(angles - 90) <= s.angle_deg).all():
        return "square" if _even(sides, s) else "rectangle"
    if first and second:
        return "diamond" if same(0, 1) and same(1, 2) and same(2, 3) else "parallelogram"
    if first or second:
        return "trapezoid"
    if (same(0, 1) and same(2, 3)) or (same(1, 2) and same(3, 0)):
        return "kite"
    return "other"


def _even(sides: Floats, s: ShapeSettings) -> bool:
    """Return whether a right-angled patch is as wide as high."""
    wide, high = (sides[0] + sides[2]) / 2, (sides[1] + sides[3]) / 2
    return bool(abs(wide - high) <= max(s.same_in, s.same_share * max(wide, high)))


def _parallel(p: Points, i: int, j: int, s: ShapeSettings) -> bool:
    """Return whether sides i and j run opposite ways within the tolerance."""
    d = np.roll(p, -1, axis=0) - p
    cross = d[i, 0] * d[j, 1] - d[i, 1] * d[j, 0]
    return bool(abs(np.degrees(np.arctan2(cross, -(d[i] @ d[j])))) <= s.angle_deg)


def dimensions(shape: Shape, corners: ArrayLike) -> tuple[float, ...]:
    """Return the measured numbers that a pattern would give for the shape, inches.

    One for square, half-square triangle (leg), quarter-square triangle (long side), quarter circle
    (radius), diamond and even hexagon (side); shorter, then longer for a rectangle and a kite;
    width and height along the base for all others.
    """
    p = np.asarray(corners, dtype=np.float64)
    sides = side_lengths(p)
    if shape in ("square", "diamond") or _is_even_hexagon(shape, sides):
        return (float(sides.mean()),)
    if shape in ("half-square triangle", "quarter circle"):
        long, legs = _long_and_legs(sides)
        return (float((legs.sum() + long / np.sqrt(2)) / 3),)
    if shape == "quarter-square triangle":
        long, legs = _long_and_legs(sides)
        return (float((long + legs.sum() / np.sqrt(2)) / 2),)
    if shape == "rectangle":
        pair = sorted(((sides[0] + sides[2]) / 2, (sides[1] + sides[3]) / 2))
        return (float(pair[0]), float(pair[1]))
    if shape == "kite":
        order = np.sort(sides)
        return (float(order[:2].mean()), float(order[2:].mean()))
    size = np.ptp(_in_base_frame(p)[0], axis=0)
    return (float(size[0]), float(size[1]))


def finished_sides(
    shape: Shape, corners: ArrayLike, dims: tuple[float, ...], grain_in: float
) -> Floats:
    """Return the finished length of each side, in the order of the corners, shape (N,).

    Parameters
    ----------
    dims : tuple of float
        The shape's finished dimensions, as :func:`dimensions` gives them, on the grain.
    grain_in : float
        Where the other corners fall, for shapes whose dimensions leave them open.
    """
    p = np.asarray(corners, dtype=np.float64)
    sides = side_lengths(p)
    half_square = shape in ("half-square triangle", "quarter-square triangle", "quarter circle")
    if len(dims) == 1 and not half_square:
        return np.full(len(p), float(dims[0]))
    if half_square:
        leg = float(dims[0] / np.sqrt(2) if shape == "quarter-square triangle" else dims[0])
        out = np.full(3, leg)
        out[int(np.argmax(sides))] = leg * np.sqrt(2)
        return out
    if shape == "rectangle":
        first_is_long = sides[0] + sides[2] > sides[1] + sides[3]
        return np.array([dims[1], dims[0]] * 2 if first_is_long else [dims[0], dims[1]] * 2)
    if shape == "kite":
        longer = sides > np.sort(sides)[1:3].mean()
        return np.where(longer, dims[1], dims[0])
    return side_lengths(_on_grain(p, dims, grain_in))


def _long_and_legs(sides: Floats) -> tuple[float, Floats]:
    k = int(np.argmax(sides))
    return float(sides[k]), np.delete(sides, k)


def _is_even_hexagon(shape: Shape, sides: Floats) -> bool:
    return shape == "hexagon" and bool(np.ptp(sides) <= 0.12 * sides.mean())


def _in_base_frame(p: Points) -> tuple[Points, int]:
    """Return the corners with the base along x, and the base's index.

    The base is the longest side along one of the top's edges, else the longest side.
    """
    d = np.roll(p, -1, axis=0) - p
    length = np.hypot(d[:, 0], d[:, 1])
    off_axis = np.abs((np.degrees(np.arctan2(d[:, 1], d[:, 0])) + 45) % 90 - 45)
    base = int(np.argmax(length * np.where(off_axis <= 10, 1.0, 1e-3)))
    u = d[base] / length[base]
    turned: Points = (p - p[base]) @ np.array([[u[0], -u[1]], [u[1], u[0]]])
    return turned, base


def _on_grain(p: Points, dims: tuple[float, ...], grain_in: float) -> Points:
    """Return the corners in the base's frame, stretched to `dims`, each on the grain.

    Across the base an apex may also lie half way between two grain steps, as the middle of an
    odd base does.
    """
    q, _ = _in_base_frame(p)
    low = q.min(axis=0)
    stretched = (q - low) * (np.array(dims) / np.maximum(np.ptp(q, axis=0), 1e-9))
    step = np.array([grain_in / 2, grain_in])
    out: Points = np.round(stretched / step) * step
    return out
