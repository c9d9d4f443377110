"""Made-up sets of strokes for tests and measurements of the router.

Every generator returns strokes in the top frame, inches, with the outer edge and the seams as
travel.  Sizes are given so that required strokes can be counted beforehand.
"""

import math

import numpy as np

from seamwalk.geometry.curve import Arc, Curve, Line, Point
from seamwalk.model.stitching import Stroke, StrokeId, StrokeKind


def stroke(
    name: str,
    a: Point,
    b: Point,
    kind: StrokeKind = "motif",
    *,
    required: bool = True,
    rise: float = 0.0,
) -> Stroke:
    """Return a straight stroke, or an arc of the given rise."""
    curve = Curve((Arc.by_rise(a, b, rise) if rise else Line(a, b),))
    return Stroke(StrokeId(name), curve, kind, required, motif=kind if required else "")


def grid_lines(
    columns: int, rows: int, side: float = 4.0, *, ditches: bool, required: bool = False
) -> list[Stroke]:
    """Return the seams and the outer edge of a grid of squares, cut at each junction."""
    out = []
    for j in range(rows + 1):
        for i in range(columns):
            kind: StrokeKind = "edge" if j in (0, rows) else "ditch"
            if kind == "edge" or ditches:
                a, b = (i * side, j * side), ((i + 1) * side, j * side)
                out.append(stroke(f"h{i},{j}", a, b, kind, required=required))
    for i in range(columns + 1):
        for j in range(rows):
            kind = "edge" if i in (0, columns) else "ditch"
            if kind == "edge" or ditches:
                a, b = (i * side, j * side), (i * side, (j + 1) * side)
                out.append(stroke(f"v{i},{j}", a, b, kind, required=required))
    return out


def arches(columns: int, rows: int, side: float = 4.0) -> list[Stroke]:
    """Return a grid with four arcs in each square, each over a side: 4·columns·rows required."""
    out = grid_lines(columns, rows, side, ditches=True)
    rise = side / 5
    for j in range(rows):
        for i in range(columns):
            x0, y0, x1, y1 = i * side, j * side, (i + 1) * side, (j + 1) * side
            ring = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
            for k in range(4):
                name = f"a{i},{j},{k}"
                out.append(stroke(name, ring[k], ring[(k + 1) % 4], rise=rise))
    return out


def on_point(columns: int, rows: int, side: float = 4.0) -> list[Stroke]:
    """Return arches in squares set on their corners; halves at the border stay empty."""
    out: list[Stroke] = []
    s = side / math.sqrt(2)
    across, down = 2 * columns * s, 2 * rows * s
    seams: set[tuple[Point, Point]] = set()

    def at(x: float, y: float) -> Point:
        return (x * s, y * s)

    for j in range(2 * rows - 1):
        for i in range(2 * columns - 1):
            if (i + j) % 2:
                continue
            ring = [at(i + 1, j), at(i + 2, j + 1), at(i + 1, j + 2), at(i, j + 1)]
            for k in range(4):
                a, b = ring[k], ring[(k + 1) % 4]
                out.append(stroke(f"a{i},{j},{k}", a, b, rise=side / 5))
                seams.add((min(a, b), max(a, b)))
    for k, (a, b) in enumerate(sorted(seams)):
        out.append(stroke(f"d{k}", a, b, "ditch", required=False))
    corners = [(0.0, 0.0), (across, 0.0), (across, down), (0.0, down)]
    for k in range(4):
        out.append(stroke(f"e{k}", corners[k], corners[(k + 1) % 4], "edge", required=False))
    return out


def leaves(columns: int, rows: int, side: float = 4.0) -> list[Stroke]:
    """Return a leaf along each seam: an arc on each side, seams as travel."""
    out = grid_lines(columns, rows, side, ditches=True)
    for s in list(out):
        if s.kind == "ditch":
            for k, rise in enumerate((side / 6, -side / 6)):
                out.append(stroke(f"{s.id}/{k}", s.curve.start, s.curve.end, rise=rise))
    return out


def irregular(patches: int, rng: np.random.Generator, extent: float | None = None) -> list[Stroke]:
    """Return a random planar piecing: a jittered triangulation with edges left out at random.

    About half of the seams are required ditches, the rest travel; some patches get an arc from
    one corner to another.  About ``2 * patches`` seams in all.
    """
    from scipy.spatial import Delaunay

    n = max(2, round(math.sqrt(patches / 2)))
    extent = extent or 4.0 * n
    step = extent / n
    grid = np.array([(i, j) for i in range(n + 1) for j in range(n + 1)], dtype=np.float64)
    inner = ((grid > 0) & (grid < n)).all(axis=1)
    points = grid * step
    points[inner] += rng.uniform(-0.35, 0.35, (int(inner.sum()), 2)) * step
    out: list[Stroke] = []
    seen: set[tuple[int, int]] = set()
    xy: list[Point] = [(x, y) for x, y in points.tolist()]
    corner_of = {0.0, extent}
    for t, triangle in enumerate(Delaunay(points).simplices.tolist()):
        for k in range(3):
            a, b = sorted((triangle[k], triangle[(k + 1) % 3]))
            if (a, b) in seen:
                continue
            seen.add((a, b))
            margin = any(xy[a][d] == xy[b][d] and xy[a][d] in corner_of for d in (0, 1))
            if margin:
                out.append(stroke(f"e{a},{b}", xy[a], xy[b], "edge", required=False))
            elif rng.random() < 0.75:
                want = bool(rng.random() < 0.5)
                out.append(stroke(f"d{a},{b}", xy[a], xy[b], "ditch", required=want))
        if rng.random() < 0.5:
            a, b = triangle[0], triangle[1]
            rise = float(rng.choice([-1, 1])) * math.dist(xy[a], xy[b]) * 0.15
            out.append(stroke(f"m{t}", xy[a], xy[b], rise=rise))
    return out


def rounds(
    patches: int, rng: np.random.Generator, *, motif: float = 0.5, ditch: float = 0.15
) -> list[Stroke]:
    """Return irregular patches with arcs along all inner seams of some of them: closed rounds.

    Cells of points that have been moved to their cells' middles a few times (Lloyd); `motif` is
    the share of patches with arcs, `ditch` that of seams that must be sewn.  About 3 required
    strokes a patch.
    """
    from scipy.spatial import Voronoi

    side = 4.0 * math.sqrt(patches)
    spots = rng.uniform(0, side, (patches, 2))
    cells: list[np.ndarray] = []
    for _ in range(3):
        # Mirror images make the cells end at the border.
        mirrored = [spots * (-1, 1), spots * (1, -1), (2 * side, 0) + spots * (-1, 1)]
        mirrored.append((0, 2 * side) + spots * (1, -1))
        diagram = Voronoi(np.vstack([spots, *mirrored]))
        cells = [
            diagram.vertices[diagram.regions[diagram.point_region[i]]] for i in range(patches)
        ]
        # Corners in order round the cell.
        cells = [
            c[np.argsort(np.arctan2(*(c - p).T[::-1]))] for c, p in zip(cells, spots, strict=True)
        ]
        spots = np.array([c.mean(axis=0) for c in cells])
    rings: list[list[Point]] = []
    shared: dict[tuple[Point, Point], int] = {}
    for cell in cells:
        corners = [(float(x), float(y)) for x, y in np.clip(cell, 0, side).round(4)]
        ring = [c for k, c in enumerate(corners) if c != corners[k - 1]]
        rings.append(ring)
        for a, b in zip(ring, ring[1:] + ring[:1], strict=True):
            shared[min(a, b), max(a, b)] = shared.get((min(a, b), max(a, b)), 0) + 1
    out: list[Stroke] = []
    for k, ((a, b), times) in enumerate(sorted(shared.items())):
        if times == 2:
            out.append(stroke(f"d{k}", a, b, "ditch", required=bool(rng.random() < ditch)))
        else:
            out.append(stroke(f"e{k}", a, b, "edge", required=False))
    for i, ring in enumerate(rings):
        if rng.random() < motif:
            for k, (a, b) in enumerate(zip(ring, ring[1:] + ring[:1], strict=True)):
                if shared[min(a, b), max(a, b)] == 2:
                    out.append(stroke(f"m{i},{k}", a, b, rise=math.dist(a, b) * 0.15))
    return out
