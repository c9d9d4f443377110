"""From loose pieces of fabric to a planar map.

A design says which polygons of fabric lie where.  This module finds what a map needs: every
junction (T-junctions too), every seam with its two neighbours, and rings that name every junction
on their sides.  It works on positions alone and keeps the ideal positions; piecing error is laid
on the junctions afterwards, so neighbours never part.
"""

import itertools
from collections import defaultdict
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from seamwalk.geometry.arc_fit import sampled_arc
from seamwalk.model.top import Junction, JunctionId, Patch, PatchId, Seam, SeamId, Top

Points = NDArray[np.float64]

SAME_PLACE_IN = 1e-6
"""Ideal corners nearer than this are one junction, inches: far below any piece, far above
rounding."""


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece of fabric in a design.

    Attributes
    ----------
    corners : tuple of (x, y)
        Ideal convex outline, inches, x right, y down.
    role : str
        What the design uses it for: ``light``, ``dark``, ``border`` …; pieces of one role are
        cut from one fabric.
    sweeps : tuple of float
        For each side, from one corner to the next, by how much it turns, radians, x towards y
        positive: 0 straight, else a circular arc.  Empty when all are straight.
    """

    corners: tuple[tuple[float, float], ...]
    role: str
    sweeps: tuple[float, ...] = ()

    @property
    def curved(self) -> bool:
        """True when a side is an arc."""
        return any(self.sweeps)


@dataclass(frozen=True, slots=True, eq=False)
class PlanarMap:
    """Junction positions and the rings of junctions round each patch.

    Attributes
    ----------
    at : (V, 2) float64
        Junction positions, inches.
    rings : tuple of tuple of int
        Junctions round each patch, x turned towards y, so that the patch lies on the right.
    corners : tuple of tuple of int
        The junctions of each ring where the ideal outline turns.
    fabrics : tuple of str
        One word for each patch.
    sweeps : dict
        By how much each edge (a, b) that is an arc turns, radians; both ways are listed, with
        opposite signs.  Edges not listed are straight.
    """

    at: Points
    rings: tuple[tuple[int, ...], ...]
    corners: tuple[tuple[int, ...], ...]
    fabrics: tuple[str, ...]
    sweeps: dict[tuple[int, int], float] = field(default_factory=dict)

    @property
    def edges(self) -> dict[tuple[int, int], tuple[int | None, int | None]]:
        """Return (left, right) patch of every edge (a, b), each edge once, in a fixed order."""
        right: dict[tuple[int, int], int] = {}
        for k, ring in enumerate(self.rings):
            for a, b in itertools.pairwise([*ring, ring[0]]):
                if (a, b) in right:
                    raise ValueError(f"patches {right[a, b]} and {k} overlap along a seam")
                right[a, b] = k
        out: dict[tuple[int, int], tuple[int | None, int | None]] = {}
        for (a, b), k in right.items():
            if (b, a) not in out:
                out[a, b] = (right.get((b, a)), k)
        return out

    @property
    def outline(self) -> tuple[int, ...]:
        """Return the junctions round the outside, x turned towards y, from the upper left.

        Raises
        ------
        ValueError
            If the outside is not one ring: the pieces leave a hole or fall apart.
        """
        follow = {a: b for (a, b), (left, _) in self.edges.items() if left is None}
        outside = sum(left is None for left, _ in self.edges.values())
        start = min(follow, key=lambda j: float(self.at[j].sum()))
        ring = [start]
        while (j := follow[ring[-1]]) != start:
            ring.append(j)
            if len(ring) > outside:
                break
        if len(ring) != outside:
            raise ValueError("the pieces do not form one sheet without holes")
        return tuple(ring)


def joined(pieces: tuple[Piece, ...]) -> PlanarMap:
    """Return the map that the pieces form, with every junction on every side.

    Raises
    ------
    ValueError
        If pieces overlap or leave holes.

    Notes
    -----
    Brute force over corners near each side, O(V · sides) in numpy: milliseconds for a thousand
    pieces.
    """
    sides = [_sides(p) for p in pieces]
    rings = [ring for ring, _ in sides]
    at, labels = _snapped(np.concatenate(rings))
    ids = np.split(labels, np.cumsum([len(r) for r in rings])[:-1])
    corners = tuple(tuple(int(i) for i in r) for r in ids)
    sweeps = {
        way: turn
        for ring, (_, turns) in zip(corners, sides, strict=True)
        if turns
        for a, b, sweep in zip(ring, (*ring[1:], ring[0]), turns, strict=True)
        if sweep
        for way, turn in (((a, b), sweep), ((b, a), -sweep))
    }
    full = tuple(
        tuple(
            j
            for a, b in itertools.pairwise([*ring, ring[0]])
            for j in ((a,) if (a, b) in sweeps else (a, *_on_side(at, a, b)))
        )
        for ring in corners
    )
    out = PlanarMap(at, full, corners, tuple(p.role for p in pieces), sweeps)
    area = sum(Polygon(at[list(r)]).area for r in full)
    whole = Polygon(at[list(out.outline)]).area
    if abs(area - whole) > 1e-6 * whole:
        raise ValueError("the pieces do not tile the top")
    return out


def top_of(planar: PlanarMap, *, raw_edges: bool) -> Top:
    """Return the map as a `Top` in its own frame: upper left of the bounding box at 0, 0."""
    at = planar.at - planar.at.min(axis=0)
    xy = [(float(x), float(y)) for x, y in at]
    seams: list[Seam] = []
    drawn: dict[tuple[int, int], tuple[tuple[float, float], ...]] = {}
    round_patch: dict[int, dict[tuple[int, int], SeamId]] = defaultdict(dict)
    for k, ((a, b), (left, right)) in enumerate(planar.edges.items()):
        sweep = planar.sweeps.get((a, b), 0.0)
        drawn[a, b] = (xy[a], xy[b])
        if sweep:
            on_arc = sampled_arc(xy[a], xy[b], sweep)[1:-1]
            drawn[a, b] = (xy[a], *((float(x), float(y)) for x, y in on_arc), xy[b])
        drawn[b, a] = drawn[a, b][::-1]
        seams.append(
            Seam(
                SeamId(k),
                (JunctionId(a), JunctionId(b)),
                drawn[a, b],
                None if left is None else PatchId(left),
                None if right is None else PatchId(right),
                sweep_rad=sweep,
            )
        )
        if left is not None:
            round_patch[left][b, a] = SeamId(k)
        if right is not None:
            round_patch[right][a, b] = SeamId(k)

    def outline(ring: tuple[int, ...]) -> Polygon:
        ways = itertools.pairwise([*ring, ring[0]])
        return Polygon([p for way in ways for p in drawn[way][:-1]])

    patches = tuple(
        Patch(
            PatchId(k),
            outline(ring),
            tuple(round_patch[k][e] for e in itertools.pairwise([*ring, ring[0]])),
            fabric,
        )
        for k, (ring, fabric) in enumerate(zip(planar.rings, planar.fabrics, strict=True))
    )
    return Top(
        outline(planar.outline),
        tuple(Junction(JunctionId(k), p) for k, p in enumerate(xy)),
        tuple(seams),
        patches,
        raw_edges,
    )


def _turning(ring: Points) -> Points:
    """Return the ring's true corners, x turned towards y."""
    before, after = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    keep = np.abs(cross) > SAME_PLACE_IN * np.hypot(*before.T)
    out: Points = ring[keep]
    x, y = out.T
    area = float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum())
    return out if area > 0 else np.flip(out, axis=0)


def _sides(piece: Piece) -> tuple[Points, tuple[float, ...]]:
    """Return a piece's true corners, x turned towards y, and how much each side turns.

    Raises
    ------
    ValueError
        If a piece with curved sides runs the other way round.
    """
    ring = np.asarray(piece.corners, dtype=np.float64)
    if not piece.curved:
        return _turning(ring), ()
    x, y = ring.T
    if float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum()) <= 0:
        raise ValueError("a piece with curved sides runs the wrong way round")
    before, after = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    bent = np.array(piece.sweeps) != 0
    keep = (np.abs(cross) > SAME_PLACE_IN * np.hypot(*before.T)) | bent | np.roll(bent, 1)
    return ring[keep], tuple(s for s, k in zip(piece.sweeps, keep, strict=True) if k)


def _snapped(points: Points) -> tuple[Points, NDArray[np.intp]]:
    """Return unique positions and, for each point, which one it is."""
    order = np.lexsort((points[:, 1], points[:, 0]))
    labels = np.full(len(points), -1, dtype=np.intp)
    at: list[Points] = []
    recent: list[int] = []
    for i in order:
        p = points[i]
        recent = [k for k in recent if p[0] - at[k][0] <= SAME_PLACE_IN]
        hit = next((k for k in recent if abs(at[k][1] - p[1]) <= SAME_PLACE_IN), None)
        if hit is None:
            hit = len(at)
            at.append(p)
            recent.append(hit)
        labels[i] = hit
    return np.array(at), labels


def _on_side(at: Points, a: int, b: int) -> list[int]:
    """Return the junctions strictly between `a` and `b` on the straight way, in order."""
    way = at[b] - at[a]
    n = float(np.hypot(*way))
    rel = at - at[a]
    along = rel @ way / n
    across = np.abs(rel[:, 0] * way[1] - rel[:, 1] * way[0]) / n
    hit = np.flatnonzero(
        (across < SAME_PLACE_IN) & (along > SAME_PLACE_IN) & (along < n - SAME_PLACE_IN)
    )
    return [int(i) for i in hit[np.argsort(along[hit])]]
