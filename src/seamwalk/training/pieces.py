"""Loose pieces of cloth on the table: outlines and classes as flat arrays, moved all at once."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

Points = NDArray[np.float64]
Ints = NDArray[np.int64]
Piece = tuple[Points, int]
"""Outline (n, 2) and class of one piece."""

STRIPS = 40
"""First class of strips and scraps: each may get a fabric of its own."""

FRAME = 10_000
"""First class of what lies between and round blocks."""

LEAST_IN2 = 1e-6
"""Area under which a piece is rounding error, square inches."""


@dataclass(frozen=True, slots=True, eq=False)
class Pieces:
    """Many pieces, as they lie.

    Attributes
    ----------
    points : (P, 2) float64
        Corners of all pieces, one outline after another.
    counts : (n,) int64
        Corners of each piece.
    classes : (n,) int64
        What the design uses each piece for; pieces of one class may get one fabric.
    homes : (n,) int64
        The block each piece belongs to.
    """

    points: Points
    counts: Ints
    classes: Ints
    homes: Ints

    def __len__(self) -> int:
        return len(self.counts)

    @property
    def starts(self) -> Ints:
        """First point of each piece (n,)."""
        return np.cumsum(self.counts) - self.counts

    @property
    def rings(self) -> list[Points]:
        """Outline of each piece."""
        return np.split(self.points, np.cumsum(self.counts)[:-1])

    @property
    def low(self) -> Points:
        """Upper left of each piece's box (n, 2)."""
        out: Points = np.minimum.reduceat(self.points, self.starts)
        return out

    @property
    def high(self) -> Points:
        """Lower right of each piece's box (n, 2)."""
        out: Points = np.maximum.reduceat(self.points, self.starts)
        return out

    @property
    def areas(self) -> Points:
        """Signed area of each piece (n,): positive where x turns towards y."""
        after = self.points[following(self.counts)]
        cross = self.points[:, 0] * after[:, 1] - self.points[:, 1] * after[:, 0]
        out: Points = 0.5 * np.add.reduceat(cross, self.starts)
        return out

    @property
    def widths(self) -> Points:
        """Area over the longer side of its box, of each piece (n,): a strip's own width."""
        out: Points = np.abs(self.areas) / (self.high - self.low).max(axis=1)
        return out


def following(counts: Ints) -> Ints:
    """Return, for each corner of flat outlines, the index of the next of the same outline."""
    out = np.arange(1, int(counts.sum()) + 1)
    ends = np.cumsum(counts)
    out[ends - 1] = ends - counts
    return out


def of(pieces: Sequence[Piece]) -> Pieces:
    """Return single pieces as `Pieces` of block 0."""
    return Pieces(
        np.concatenate([np.asarray(ring, dtype=np.float64) for ring, _ in pieces]),
        np.array([len(ring) for ring, _ in pieces], dtype=np.int64),
        np.array([c for _, c in pieces], dtype=np.int64),
        np.zeros(len(pieces), dtype=np.int64),
    )


def together(parts: Iterable[Pieces], *, own_homes: bool = False) -> Pieces:
    """Return all pieces in one; with `own_homes` each part is a block of its own."""
    several = list(parts)
    homes = [
        np.full(len(p), k, dtype=np.int64) if own_homes else p.homes for k, p in enumerate(several)
    ]
    return Pieces(
        np.concatenate([p.points for p in several]),
        np.concatenate([p.counts for p in several]),
        np.concatenate([p.classes for p in several]),
        np.concatenate(homes),
    )


def placed(
    pieces: Pieces,
    corner: tuple[float, float],
    size: tuple[float, float],
    quarter_turns: int = 0,
    mirrored: bool = False,
) -> Pieces:
    """Return pieces of the unit square laid in the box at `corner` of `size`.

    They are mirrored left to right first, then turned x towards y by quarters.
    """
    x, y = pieces.points.T
    if mirrored:
        x = 1 - x
    for _ in range(quarter_turns % 4):
        x, y = 1 - y, x
    at = np.stack([x * size[0] + corner[0], y * size[1] + corner[1]], axis=1)
    return Pieces(at, pieces.counts, pieces.classes, pieces.homes)


def turned(pieces: Pieces, angle_rad: float) -> Pieces:
    """Return the pieces turned about 0, 0, x towards y."""
    c, s = math.cos(angle_rad), math.sin(angle_rad)
    x, y = pieces.points.T
    at = np.stack([c * x - s * y, s * x + c * y], axis=1)
    return Pieces(at, pieces.counts, pieces.classes, pieces.homes)


def shifted(pieces: Pieces, shift: tuple[float, float]) -> Pieces:
    """Return the pieces moved by `shift`."""
    return Pieces(pieces.points + np.array(shift), pieces.counts, pieces.classes, pieces.homes)


def scaled(pieces: Pieces, factor: float) -> Pieces:
    """Return the pieces `factor` times as large."""
    return Pieces(pieces.points * factor, pieces.counts, pieces.classes, pieces.homes)


def chosen(pieces: Pieces, keep: NDArray[np.bool_]) -> Pieces:
    """Return the pieces where `keep` (n,) holds."""
    corners = np.repeat(keep, pieces.counts)
    return Pieces(
        pieces.points[corners], pieces.counts[keep], pieces.classes[keep], pieces.homes[keep]
    )


def reclassed(pieces: Pieces, classes: Ints) -> Pieces:
    """Return the pieces with other classes (n,)."""
    return Pieces(pieces.points, pieces.counts, classes, pieces.homes)


def trimmed(pieces: Pieces, shape: shapely.Polygon) -> Pieces:
    """Return what of the pieces lies within `shape`; a piece cut in two becomes two."""
    x0, y0, x1, y1 = shape.bounds
    whole_box = abs(shape.area - (x1 - x0) * (y1 - y0)) < 1e-9 * shape.area
    low, high = pieces.low, pieces.high
    tiny = 1e-7
    out = (high[:, 0] < x0 + tiny) | (high[:, 1] < y0 + tiny)
    out |= (low[:, 0] > x1 - tiny) | (low[:, 1] > y1 - tiny)
    inside = (low[:, 0] >= x0 - tiny) & (low[:, 1] >= y0 - tiny)
    inside &= (high[:, 0] <= x1 + tiny) & (high[:, 1] <= y1 + tiny)
    rings = pieces.rings
    unsure = ~out if not whole_box else ~out & ~inside
    if not whole_box:
        shapely.prepare(shape)
        k = np.flatnonzero(unsure)
        unsure[k] = ~shapely.contains_properly(shape, [shapely.Polygon(rings[i]) for i in k])
        inside = ~out & ~unsure
    parts = [chosen(pieces, inside)] if inside.any() else []
    for i in np.flatnonzero(unsure):
        polygon = shapely.Polygon(rings[i])
        cut = shapely.clip_by_rect(polygon, x0, y0, x1, y1) if whole_box else polygon & shape
        rest = [
            (shapely.get_coordinates(g)[:-1], int(pieces.classes[i]))
            for g in shapely.get_parts(cut)
            if g.geom_type == "Polygon" and g.area > LEAST_IN2
        ]
        if rest:
            p = of(rest)
            parts.append(Pieces(p.points, p.counts, p.classes, p.homes + int(pieces.homes[i])))
    return together(parts)


def box(x0: float, y0: float, x1: float, y1: float) -> Points:
    """Return the outline of an upright rectangle."""
    return np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], dtype=np.float64)


def ring(*corners: tuple[float, float]) -> Points:
    """Return an outline of these corners."""
    return np.array(corners, dtype=np.float64)


def arc(
    centre: tuple[float, float], radius: float, start_deg: float, end_deg: float, count: int = 11
) -> Points:
    """Return `count` points of an arc, degrees x towards y."""
    t = np.radians(np.linspace(start_deg, end_deg, count))
    return np.stack([centre[0] + radius * np.cos(t), centre[1] + radius * np.sin(t)], axis=1)
