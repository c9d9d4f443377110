"""Small tops of exact sizes, and a plain reading of their shapes, for the motif tests."""

import math
from collections.abc import Callable, Iterable, Sequence
from itertools import pairwise

import numpy as np
from shapely import Polygon, union_all

from seamwalk.geometry.polyline import corners
from seamwalk.model.sizes import Angle, Finished, Length, PatchSize, Shape, Sizes, TopSize
from seamwalk.model.top import Junction, JunctionId, Patch, PatchId, Seam, SeamId, Top

Ring = Sequence[tuple[float, float]]
GRAIN = 1e6  # places are the same below a millionth of an inch


def top_from(rings: Iterable[Ring]) -> Top:
    """Return the planar map of patches that tile a simple shape; every vertex is a junction."""
    turned = []
    for ring in rings:
        area = sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in pairwise([*ring, ring[0]]))
        turned.append(list(ring) if area > 0 else list(reversed(ring)))
    ids: dict[tuple[int, int], int] = {}
    xy: list[tuple[float, float]] = []

    def node(p: tuple[float, float]) -> int:
        key = (round(p[0] * GRAIN), round(p[1] * GRAIN))
        if key not in ids:
            ids[key] = len(xy)
            xy.append((float(p[0]), float(p[1])))
        return ids[key]

    loops = [[node(p) for p in ring] for ring in turned]
    at = np.array(xy)
    full = []
    for loop in loops:
        out: list[int] = []
        for a, b in pairwise([*loop, loop[0]]):
            d = at[b] - at[a]
            q = at - at[a]
            t = q @ d / (d @ d)
            off = np.abs(q @ np.array([-d[1], d[0]])) / math.hypot(*d)
            on = np.flatnonzero((off < 1e-6) & (t > 1e-9) & (t < 1 - 1e-9))
            out += [a, *(int(k) for k in on[np.argsort(t[on])])]
        full.append(out)
    right: dict[tuple[int, int], int] = {}
    for patch, loop in enumerate(full):
        for a, b in pairwise([*loop, loop[0]]):
            right[a, b] = patch
    seams: list[Seam] = []
    of: dict[int, list[SeamId]] = {k: [] for k in range(len(full))}
    for (a, b), patch in right.items():
        other = right.get((b, a))
        if other is not None and a > b:
            continue
        seam = SeamId(len(seams))
        seams.append(
            Seam(
                seam,
                (JunctionId(a), JunctionId(b)),
                (xy[a], xy[b]),
                None if other is None else PatchId(other),
                PatchId(patch),
            )
        )
        for p in (patch, other):
            if p is not None:
                of[p].append(seam)
    patches = tuple(
        Patch(PatchId(k), Polygon([xy[i] for i in loop]), tuple(of[k]))
        for k, loop in enumerate(full)
    )
    outline = union_all([p.polygon.buffer(0) for p in patches])
    assert isinstance(outline, Polygon)
    outline = Polygon(outline.exterior)
    junctions = tuple(Junction(JunctionId(k), p) for k, p in enumerate(xy))
    assert len(junctions) - len(seams) + len(patches) == 1
    return Top(outline, junctions, tuple(seams), patches)


def sizes_of(top: Top) -> Sizes:
    """Return shapes and classes as a plain reading of the finished outlines."""
    from seamwalk.motifs.area import lay_out

    area = lay_out(top)
    out = []
    names: dict[tuple[str, tuple[float, ...]], str] = {}
    for patch in top.patches:
        outline = area.outlines.get(patch.id)
        ring = np.asarray(patch.polygon.exterior.coords)[:-1] if outline is None else outline.ring
        at = ring[corners(ring)]
        sides = np.hypot(*(np.roll(at, -1, axis=0) - at).T)
        shape = _shape(at, sides)
        key = (shape, tuple(sorted(round(float(s) * 2) / 2 for s in sides)))
        name = names.setdefault(key, f"{shape} {max(key[1]):g}")
        lengths = tuple(Length(float(s), 0.03) for s in sides)
        finished = Finished(tuple(float(s) for s in sides), 0.0, "right")
        raw = sum(s.kind == "edge" for s in top.seams if s.id in patch.seams)
        out.append(PatchSize(patch.id, shape, name, lengths, finished, raw))
    x0, y0, x1, y1 = top.outline.bounds
    w, h = Length(x1 - x0, 0.1), Length(y1 - y0, 0.1)
    d = Length(math.hypot(x1 - x0, y1 - y0), 0.1)
    right = Angle(90.0, 0.1)
    return Sizes(tuple(out), TopSize(w, h, (w, h, w, h), (d, d), (right, right, right, right)))


def _shape(at: np.ndarray, sides: np.ndarray) -> Shape:
    n = len(at)
    back, ahead = np.roll(at, 1, axis=0) - at, np.roll(at, -1, axis=0) - at
    cos = (back * ahead).sum(axis=1) / np.hypot(*back.T) / np.hypot(*ahead.T)
    right = np.abs(cos) < 0.05
    if n == 3:
        if not right.any():
            return "triangle"
        level = np.abs(ahead[:, 0] * ahead[:, 1]).argmin()
        return "half-square triangle" if right[level] else "quarter-square triangle"
    if n == 4 and right.all():
        return "square" if np.ptp(sides) < 0.06 * sides.max() else "rectangle"
    if n == 4:
        return "diamond" if np.ptp(sides) < 0.06 * sides.max() else "trapezoid"
    return "hexagon" if n == 6 else "other"


def box(x0: float, y0: float, x1: float, y1: float) -> Ring:
    """Return a rectangle's ring."""
    return [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]


def grid(columns: int, rows: int, side: float = 3.0, allowance: float = 0.25) -> Top:
    """Return squares of finished side `side`, the outer ones with their seam allowance."""
    xs = [-allowance if i == 0 else i * side for i in range(columns)]
    xs.append(columns * side + allowance)
    ys = [-allowance if i == 0 else i * side for i in range(rows)]
    ys.append(rows * side + allowance)
    return _at_origin(
        [box(xs[i], ys[j], xs[i + 1], ys[j + 1]) for j in range(rows) for i in range(columns)]
    )


def uneven_grid(xs: Sequence[float], ys: Sequence[float]) -> Top:
    """Return the grid of the given lines; the outermost are raw edges."""
    return top_from(box(a, c, b, d) for c, d in pairwise(ys) for a, b in pairwise(xs))


def pinwheels(columns: int, rows: int, side: float = 4.0) -> Top:
    """Return squares cut along alternating diagonals into half-square triangles, bare."""
    rings: list[Ring] = []
    for j in range(rows):
        for i in range(columns):
            a, b, c, d = box(i * side, j * side, (i + 1) * side, (j + 1) * side)
            rings += [[a, b, c], [a, c, d]] if (i + j) % 2 == 0 else [[a, b, d], [b, c, d]]
    return _bare(rings, columns * side, rows * side)


def on_point(columns: int, rows: int, side: float = 6.0) -> Top:
    """Return squares on point with side and corner setting triangles, bare."""
    d = side * math.sqrt(2)
    rings: list[Ring] = []
    for j in range(2 * rows + 1):
        for i in range(columns + 1):
            x, y = (i + 0.5 * (j % 2)) * d, j * d / 2
            rings.append([(x, y - d / 2), (x + d / 2, y), (x, y + d / 2), (x - d / 2, y)])
    return _bare(rings, columns * d, rows * d)


def hexagons(columns: int, rows: int, side: float = 2.5) -> Top:
    """Return hexagons with a point up, cut through their middles, bare."""
    w = side * math.sqrt(3)
    turns = [math.radians(60 * k) for k in range(6)]
    rings: list[Ring] = []
    for j in range(rows + 1):
        for i in range(columns + 1):
            x, y = (i + 0.5 * (j % 2)) * w, j * side * 1.5
            rings.append([(x + side * math.sin(t), y - side * math.cos(t)) for t in turns])
    return _bare(rings, columns * w, rows * 1.5 * side)


def bordered(columns: int, rows: int, side: float = 3.0, border: float = 4.0) -> Top:
    """Return a grid of squares inside a border with butted corners."""
    w, h = columns * side, rows * side
    b = border + 0.25
    rings: list[Ring] = [
        box(i * side, j * side, (i + 1) * side, (j + 1) * side)
        for j in range(rows)
        for i in range(columns)
    ]
    rings += [
        box(-b, -b, w + b, 0),
        box(-b, h, w + b, h + b),
        box(-b, 0, 0, h),
        box(w, 0, w + b, h),
    ]
    return _at_origin(rings)


def _at_origin(rings: Sequence[Ring]) -> Top:
    x = min(p[0] for r in rings for p in r)
    y = min(p[1] for r in rings for p in r)
    return top_from([[(p[0] - x, p[1] - y) for p in r] for r in rings])


def _bare(rings: Sequence[Ring], w: float, h: float) -> Top:
    """Cut the rings by the finished size and add the seam allowance outside it.

    A patch with a side on the edge runs on into the allowance, square to the edge; one that only
    touches the edge with a point ends there.
    """
    frame = Polygon(box(0, 0, w, h))
    out: list[Ring] = []
    for ring in rings:
        part = Polygon(ring).intersection(frame)
        if not isinstance(part, Polygon) or part.area < 1e-6:
            continue
        at = [(round(float(x), 9), round(float(y), 9)) for x, y in part.exterior.coords[:-1]]
        at = [p for k, p in enumerate(at) if math.dist(p, at[k - 1]) > 1e-6]
        grown: list[tuple[float, float]] = []
        for k, p in enumerate(at):
            before, after = at[k - 1], at[(k + 1) % len(at)]
            ways = [n for q in (before, after) if (n := _outward(p, q, w, h)) is not None]
            corner = min(p[0], w - p[0]) < 1e-6 and min(p[1], h - p[1]) < 1e-6
            if corner:
                grown.append(
                    tuple(
                        v + math.copysign(0.25, v - 0.5 * s)
                        for v, s in zip(p, (w, h), strict=True)
                    )
                )
            elif len(ways) == 2:
                grown.append((p[0] + ways[0][0] + ways[1][0], p[1] + ways[0][1] + ways[1][1]))
            elif len(ways) == 1:
                raw = (p[0] + ways[0][0], p[1] + ways[0][1])
                grown += [p, raw] if _outward(p, after, w, h) else [raw, p]
            else:
                grown.append(p)
        out.append(grown)
    return _at_origin(out)


def _outward(
    p: tuple[float, float], q: tuple[float, float], w: float, h: float
) -> tuple[float, float] | None:
    """Return the way out across the seam allowance if p to q runs along the finished edge."""
    for axis, size in ((0, w), (1, h)):
        for edge, step in ((0.0, -0.25), (size, 0.25)):
            if abs(p[axis] - edge) < 1e-6 and abs(q[axis] - edge) < 1e-6:
                return (step, 0.0) if axis == 0 else (0.0, step)
    return None


DESIGNS: dict[str, Callable[[], Top]] = {
    "grid": lambda: grid(6, 5),
    "uneven": lambda: uneven_grid([0, 3.25, 9.25, 11.25, 17.5], [0, 4.25, 6.25, 12.5]),
    "pinwheels": lambda: pinwheels(6, 4),
    "on point": lambda: on_point(3, 3),
    "hexagons": lambda: hexagons(5, 4),
    "bordered": lambda: bordered(6, 6),
}


def moved(top: Top, place: Callable[[tuple[float, float]], tuple[float, float]]) -> Top:
    """Return the top with every junction put where `place` says."""
    at = {j.xy: place(j.xy) for j in top.junctions}
    patches = []
    for p in top.patches:
        ring = [at[float(x), float(y)] for x, y in p.polygon.exterior.coords[:-1]]
        patches.append(Patch(p.id, Polygon(ring), p.seams, p.fabric))
    a, b = place((0.0, 0.0)), place((1.0, 0.0))
    c = place((0.0, 1.0))
    turn = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
    seams = []
    for s in top.seams:
        left, right = (s.left, s.right) if turn > 0 else (s.right, s.left)
        points = tuple(at[q] for q in s.points)
        seams.append(Seam(s.id, s.ends, points, left, right, s.confidence, s.inferred))
    outline = union_all([p.polygon for p in patches])
    assert isinstance(outline, Polygon)
    return Top(
        Polygon(outline.exterior),
        tuple(Junction(j.id, at[j.xy]) for j in top.junctions),
        tuple(seams),
        tuple(patches),
        top.raw_edges,
    )


def sewn(top: Top, rng: np.random.Generator, sigma_in: float = 1 / 24) -> Top:
    """Return the top with every junction off by a piecing error (normal, at most 3 sigma)."""
    places = np.array([j.xy for j in top.junctions])
    error = np.clip(rng.normal(0, sigma_in, places.shape), -0.12, 0.12)
    # The end of a seam in the allowance goes where the seam goes.
    gap = np.hypot(*np.moveaxis(places[:, None] - places[None], -1, 0))
    for k, row in enumerate(gap):
        near = int(np.flatnonzero(row < 0.4)[0])
        if near != k:
            error[k] = error[near] + rng.normal(0, sigma_in / 8, 2)
    at = {
        j.xy: (j.xy[0] + float(dx), j.xy[1] + float(dy))
        for j, (dx, dy) in zip(top.junctions, error, strict=True)
    }
    at.setdefault((0.0, 0.0), (0.0, 0.0))
    at.setdefault((1.0, 0.0), (1.0, 0.0))
    at.setdefault((0.0, 1.0), (0.0, 1.0))
    return moved(top, lambda p: at[p])
