"""From strokes to a network of pieces that meet exactly at nodes.

Strokes come from many hands: a seam line laid by one rule, a leaf by another, the edge of the top
by a third.  Here their ends become shared nodes, a ditch or edge that another stroke leaves half
way is cut there, a stroke with a sharp corner is cut at the corner (the needle stops there
anyway, so a thread may as well start there), and a ditch given twice is taken once.

The result is exact: the first and last point of each piece equal its nodes' coordinates bit for
bit.  Numbers and names depend on geometry alone, never on the order in which strokes arrive,
except that the parts of a stroke are named after the stroke.
"""

import dataclasses
import itertools
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.curve import Arc, Curve, Line, Point
from seamwalk.geometry.curve import Piece as Section
from seamwalk.geometry.projective import Points
from seamwalk.model.route import Network, NodeId, Piece, PieceId
from seamwalk.model.stitching import Stroke


@dataclass(frozen=True, slots=True)
class NetworkSettings:
    """How strokes are joined into a network.

    Attributes
    ----------
    snap_in : float
        Ends this close are one node, inches: far below a thread's width (0.01 in), far above
        the rounding of double precision over a king-size top (1e-12 in).
    corner_deg : float
        A stroke is cut where it turns by more than this, degrees: beyond what is steered through
        without stopping (common practice, no source).
    """

    snap_in: float = 1e-6
    corner_deg: float = 30.0


DEFAULT = NetworkSettings()


@dataclass(frozen=True, slots=True)
class _Part:
    """A stretch of a stroke between two nodes, nodes still numbered."""

    stroke: Stroke
    curve: Curve
    u: int
    v: int


def network(strokes: Sequence[Stroke], settings: NetworkSettings = DEFAULT) -> Network:
    """Return the network of `strokes`.

    Parameters
    ----------
    strokes : sequence of Stroke
        Top frame, inches; ids unique.
    settings : NetworkSettings
        Tolerances.

    Returns
    -------
    Network
        Nodes ``n1`` … in reading order (rows from the top, each from the left).  A piece has its
        stroke's id when it is the whole stroke, else the id with ``.1``, ``.2`` … along it.

    Raises
    ------
    ValueError
        If two strokes share an id.

    Notes
    -----
    O(n log n) in strokes.  Crossings are left as crossings: nobody can turn off there.
    """
    if len({s.id for s in strokes}) != len(strokes):
        raise ValueError("stroke ids must be unique")
    whole = [(s, c) for s in strokes for c in _cut_at_corners(s.curve, settings.corner_deg)]
    if not whole:
        return Network({}, {})
    ends = np.array([p for _, c in whole for p in (c.start, c.end)], dtype=np.float64)
    at, where = _snapped(ends, settings.snap_in)
    parts = [
        _Part(stroke, curve, int(at[2 * i]), int(at[2 * i + 1]))
        for i, (stroke, curve) in enumerate(whole)
    ]
    parts = _cut_at_nodes(parts, where, settings.snap_in)
    points: list[Point] = [(x, y) for x, y in where.tolist()]
    parts = [_pinned(p, points) for p in parts if not _is_nothing(p, settings.snap_in)]
    parts = _without_twins(parts, settings.snap_in)
    return _named(parts, points)


def _cut_at_corners(curve: Curve, corner_deg: float) -> list[Curve]:
    """Return the parts of `curve` between its sharp corners."""
    if len(curve.pieces) == 1:
        return [curve]
    limit = math.radians(corner_deg) + 1e-9
    sections = [s for s in curve.pieces if s.length > 0] or list(curve.pieces[:1])
    out: list[list[Section]] = [[sections[0]]]
    for before, after in itertools.pairwise(sections):
        turn = math.remainder(after.heading_rad(0.0) - before.heading_rad(1.0), 2 * math.pi)
        if abs(turn) > limit:
            out.append([])
        out[-1].append(after)
    return [Curve(tuple(s)) for s in out]


def _snapped(ends: Points, snap_in: float) -> tuple[NDArray[np.intp], Points]:
    """Return for each end (M, 2) its node's number (M,), and the nodes' coordinates (N, 2).

    A node lies on the least of its ends in (x, y), so that order does not matter.
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components
    from scipy.spatial import cKDTree

    places, of_end = np.unique(ends, axis=0, return_inverse=True)
    of_end = of_end.reshape(-1)
    pairs = cKDTree(places).query_pairs(snap_in, output_type="ndarray")
    ones = np.ones(len(pairs), dtype=np.int8)
    graph = coo_array((ones, (pairs[:, 0], pairs[:, 1])), shape=(len(places), len(places)))
    count, group = connected_components(graph, directed=False)
    first = np.full(count, len(places))
    np.minimum.at(first, group, np.arange(len(places)))
    return group[of_end].astype(np.intp), places[first]


def _cut_at_nodes(parts: list[_Part], where: Points, snap_in: float) -> list[_Part]:
    """Return `parts` with every ditch and edge cut at the nodes that lie inside it."""
    from shapely import STRtree, box, points

    owner: list[int] = []
    index: list[int] = []
    sections: list[Section] = []
    for i, part in enumerate(parts):
        if part.stroke.kind == "motif":
            continue
        for k, section in enumerate(part.curve.pieces):
            owner.append(i)
            index.append(k)
            sections.append(section)
    if not sections:
        return parts
    reach = np.array([_reach(s) for s in sections]) + np.array([-1, -1, 1, 1]) * snap_in
    tree = STRtree(np.asarray(points(where)))
    hit_section, hit_node = tree.query(box(*reach.T))
    cuts: dict[int, list[tuple[int, float, int]]] = {}
    for s, n in zip(hit_section.tolist(), hit_node.tolist(), strict=True):
        part = parts[owner[s]]
        if n in (part.u, part.v):
            continue
        t = _fraction_at(sections[s], (float(where[n, 0]), float(where[n, 1])), snap_in)
        if t is not None:
            # An inner vertex belongs to two sections; count it as the start of the later one.
            place = (index[s], t) if t < 1 else (index[s] + 1, 0.0)
            cuts.setdefault(owner[s], []).append((*place, n))
    out: list[_Part] = []
    for i, part in enumerate(parts):
        if i in cuts:
            out += _cut(part, sorted(set(cuts[i])))
        else:
            out.append(part)
    return out


def _reach(section: Section) -> tuple[float, float, float, float]:
    """Return a box (x0, y0, x1, y1) that holds the section; for arcs perhaps a larger one."""
    xs, ys = [section.start[0], section.end[0]], [section.start[1], section.end[1]]
    if isinstance(section, Arc):
        # The tangents at the ends of a short arc meet outside it; longer arcs take the circle.
        cx, cy = section.centre
        r = section.radius
        if abs(section.sweep_rad) < 0.9 * math.pi:
            mx, my = section.at(0.5)
            far = 1 / math.cos(section.sweep_rad / 2)
            xs.append(cx + (mx - cx) * far)
            ys.append(cy + (my - cy) * far)
        else:
            xs += [cx - r, cx + r]
            ys += [cy - r, cy + r]
    return min(xs), min(ys), max(xs), max(ys)


def _fraction_at(section: Section, point: Point, snap_in: float) -> float | None:
    """Return where along the section `point` lies, 0 to 1, or None when it lies off it."""
    if isinstance(section, Line):
        (x0, y0), (x1, y1) = section.start, section.end
        dx, dy = x1 - x0, y1 - y0
        n = math.hypot(dx, dy)
        if n == 0:
            return None
        along = ((point[0] - x0) * dx + (point[1] - y0) * dy) / n
        off = ((point[1] - y0) * dx - (point[0] - x0) * dy) / n
    else:
        cx, cy = section.centre
        start = math.atan2(section.start[1] - cy, section.start[0] - cx)
        turn = math.atan2(point[1] - cy, point[0] - cx) - start
        if section.sweep_rad < 0:
            turn = -turn
        slack = snap_in / section.radius
        turn = (turn + slack) % (2 * math.pi) - slack
        n = section.length
        along = turn * section.radius
        off = math.dist(point, section.centre) - section.radius
    if abs(off) > snap_in or not -snap_in <= along <= n + snap_in:
        return None
    if along <= snap_in:
        return 0.0
    return 1.0 if along >= n - snap_in else along / n


def _cut(part: _Part, cuts: Sequence[tuple[int, float, int]]) -> list[_Part]:
    """Return `part` cut at (section, fraction, node), given in order along it."""
    last = (len(part.curve.pieces) - 1, 1.0, part.v)
    out: list[_Part] = []
    k0, t0, n0 = 0, 0.0, part.u
    for k1, t1, n1 in [*cuts, last]:
        if n1 == n0 and len(out) > 0 and (k1, t1) == (k0, t0):
            continue
        sections: list[Section] = []
        for k in range(k0, min(k1, len(part.curve.pieces) - 1) + 1):
            lo, hi = (t0 if k == k0 else 0.0), (t1 if k == k1 else 1.0)
            if hi > lo:
                section = part.curve.pieces[k]
                sections.append(section if (lo, hi) == (0.0, 1.0) else section.part(lo, hi))
        if sections:
            out.append(_Part(part.stroke, Curve(tuple(sections)), n0, n1))
        k0, t0, n0 = k1, t1, n1
    return out


def _is_nothing(part: _Part, snap_in: float) -> bool:
    """Return whether the part starts and ends at one node without going anywhere."""
    return part.u == part.v and part.curve.length <= 4 * snap_in


def _pinned(part: _Part, points: Sequence[Point]) -> _Part:
    """Return the part with its first and last point exactly on its nodes."""
    u, v = points[part.u], points[part.v]
    sections = list(part.curve.pieces)
    if sections[0].start != u:
        sections[0] = dataclasses.replace(sections[0], start=u)
    if sections[-1].end != v:
        sections[-1] = dataclasses.replace(sections[-1], end=v)
    return dataclasses.replace(part, curve=Curve(tuple(sections)))


def _without_twins(parts: list[_Part], snap_in: float) -> list[_Part]:
    """Return `parts` with ditches (and edges) of equal geometry taken once.

    The required one stays, or the first.
    """
    groups: dict[tuple[str, int, int], list[int]] = {}
    for i, part in enumerate(parts):
        if part.stroke.kind != "motif":
            key = (part.stroke.kind, min(part.u, part.v), max(part.u, part.v))
            groups.setdefault(key, []).append(i)
    dropped: set[int] = set()
    for group in groups.values():
        kept: list[tuple[float, Point]] = []
        for i in sorted(group, key=lambda i: not parts[i].stroke.required):
            curve = parts[i].curve
            if len(group) > 1:
                n, middle = curve.length, _middle(curve)
                # Both measures tie down lines and arcs between the same two nodes.
                if any(
                    abs(n - m) <= 4 * snap_in and math.dist(middle, p) <= 4 * snap_in
                    for m, p in kept
                ):
                    dropped.add(i)
                    continue
                kept.append((n, middle))
    return [p for i, p in enumerate(parts) if i not in dropped]


def _middle(curve: Curve) -> Point:
    """Return the point half way along."""
    left = curve.length / 2
    for section in curve.pieces:
        n = section.length
        if left <= n:
            return section.at(left / n) if n else section.start
        left -= n
    return curve.end


def _named(parts: Iterable[_Part], points: Sequence[Point]) -> Network:
    """Return the network with readable names."""
    parts = list(parts)
    used = {n for p in parts for n in (p.u, p.v)}
    # Rows of a thousandth of an inch, so that a row of junctions reads from left to right.
    order = sorted(used, key=lambda n: (round(points[n][1], 3), points[n]))
    names = {n: NodeId(f"n{k}") for k, n in enumerate(order, start=1)}
    per_stroke: dict[str, int] = {}
    for p in parts:
        per_stroke[p.stroke.id] = per_stroke.get(p.stroke.id, 0) + 1
    taken = {s for s, n in per_stroke.items() if n == 1}
    numbered: dict[str, int] = {}
    pieces: dict[PieceId, Piece] = {}
    for p in parts:
        name = str(p.stroke.id)
        if per_stroke[name] > 1:
            while True:
                numbered[name] = k = numbered.get(name, 0) + 1
                if f"{name}.{k}" not in taken:
                    break
            name = f"{name}.{k}"
            taken.add(name)
        piece = Piece(PieceId(name), names[p.u], names[p.v], p.curve, p.stroke)
        pieces[piece.id] = piece
    return Network({names[n]: points[n] for n in order}, pieces)
