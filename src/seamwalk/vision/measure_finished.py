"""From what is visible of a patch to its finished shape, and patches of one kind together.

The outermost patches of a bare top still show their seam allowance.  The binding's seam will run
1/4 in inside the raw edge, so the finished patch is what lies inside that line: a square on the
edge loses 1/4 in of one side, a triangle with its long side on the edge becomes smaller in all
three.
"""

from collections import defaultdict
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from shapely import Polygon

from seamwalk.geometry.polygon import oriented, ring_of, signed_area
from seamwalk.geometry.polyline import corners
from seamwalk.geometry.projective import Points
from seamwalk.model.sizes import Shape
from seamwalk.model.top import Top
from seamwalk.trade import SEAM_ALLOWANCE_IN
from seamwalk.units import CM_PER_IN, Units, format_inches
from seamwalk.vision.shapes import dimensions, finished_sides, name_shape


@dataclass(frozen=True, slots=True)
class ClassSettings:
    """When two patches are meant to be the same."""

    alike_in: float = 0.09
    """Dimensions of well-made equal patches differ by less than this, inches."""
    join_in: float = 0.19
    """A few patches off by up to this are meant to be the common size, inches."""
    few: float = 0.34
    """… if they are fewer than this share of the common ones."""
    stub_in: float = 0.12
    """Sides shorter than this are left by the allowance, not cut, inches."""


@dataclass(frozen=True, slots=True, eq=False)
class FinishedShape:
    """One patch, as visible and as it will be when bound.

    Attributes
    ----------
    corners : (N, 2) float64
        Visible corners, in the polygon's order from its first corner.
    finished : (M, 2) float64
        Finished corners; M equals N except where the allowance adds or hides a side.
    raw_edges : int
        Visible sides on the raw edge.
    """

    name: Shape
    corners: Points
    finished: Points
    raw_edges: int


@dataclass(frozen=True, slots=True)
class PatchClass:
    """Patches of one shape and size.

    Attributes
    ----------
    name : str
        Shape and size, like ``square 3``.
    shape : str
        What its members are meant to be; one sewn too narrow is still meant as a square.
    dims_in : tuple of float
        Finished dimensions on the grain.
    """

    name: str
    shape: Shape
    dims_in: tuple[float, ...]

    def sides_in(self, shape: FinishedShape, grain_in: float) -> NDArray[np.float64]:
        """Return the finished sides of a member, in the order of its finished corners."""
        return finished_sides(self.shape, shape.finished, self.dims_in, grain_in)


def finished_shapes(top: Top, settings: ClassSettings | None = None) -> list[FinishedShape]:
    """Return the finished shape of each patch, in the top's order."""
    settings = settings or ClassSettings()
    inner = None
    if top.raw_edges:
        inner = top.outline.buffer(-SEAM_ALLOWANCE_IN, join_style="mitre")
        shapely.prepare(inner)
    edge = top.outline.exterior
    out = []
    for patch in top.patches:
        ring = ring_of(patch.polygon)
        turning = corners(ring)
        seen = ring[turning] if len(turning) >= 3 else ring
        middles = shapely.points((seen + np.roll(seen, -1, axis=0)) / 2)
        raw = int((shapely.distance(middles, edge) < 0.05).sum())
        done = seen
        if inner is not None and not inner.covers(patch.polygon):
            done = _inside(patch.polygon, inner, seen, settings)
        out.append(FinishedShape(name_shape(done), seen, done, raw))
    return out


def _inside(
    polygon: Polygon, inner: shapely.Geometry, seen: Points, settings: ClassSettings
) -> Points:
    """Return the corners of the patch inside the binding's seam, starting near its first."""
    parts = [
        g for g in shapely.get_parts(polygon & inner) if isinstance(g, Polygon) and g.area > 0
    ]
    if not parts:
        return seen
    ring = oriented(ring_of(max(parts, key=lambda g: g.area)))
    if signed_area(seen) < 0:
        ring = ring[::-1]
    turning = corners(ring)
    if len(turning) < 3:
        return seen
    done = _without_stubs(ring[turning], settings.stub_in)
    reach = [
        np.hypot(*(np.roll(done, -k, axis=0)[: len(seen)] - seen[: len(done)]).T).sum()
        for k in range(len(done))
    ]
    return np.roll(done, -int(np.argmin(reach)), axis=0)


def _without_stubs(ring: Points, stub_in: float) -> Points:
    """Return the ring with every side shorter than `stub_in` run out to a point."""
    p = ring
    while len(p) > 3:
        d = np.roll(p, -1, axis=0) - p
        size = np.hypot(d[:, 0], d[:, 1])
        k = int(np.argmin(size))
        if size[k] >= stub_in:
            break
        before, after = d[k - 1], d[(k + 1) % len(p)]
        cross = before[0] * after[1] - before[1] * after[0]
        q = p[(k + 1) % len(p)]
        met = (p[k] + q) / 2
        if abs(cross) > 0.1 * np.hypot(*before) * np.hypot(*after):
            w = q - p[k]
            met = p[k] + before * ((w[0] * after[1] - w[1] * after[0]) / cross)
        p = p.copy()
        p[k] = met
        p = np.delete(p, (k + 1) % len(p), axis=0)
    return p


def classes(
    shapes: list[FinishedShape],
    grain_in: float,
    units: Units,
    settings: ClassSettings | None = None,
) -> list[PatchClass]:
    """Return each patch's class, in the order given.

    The commonest size of a shape first takes all patches close to it, so that a patch sewn too
    small shows as an odd one of its kind rather than as a kind of its own.
    """
    settings = settings or ClassSettings()
    found: list[PatchClass] = [PatchClass("", "other", ())] * len(shapes)
    groups: dict[tuple[Shape, int], list[int]] = defaultdict(list)
    dims = []
    for k, s in enumerate(shapes):
        # Squares and rectangles are told apart by what most of a kind are, not one by one.
        kind: Shape = "rectangle" if s.name == "square" else s.name
        dims.append(dimensions(kind, s.finished))
        groups[kind, len(dims[k])].append(k)
    for members in groups.values():
        values = np.array([dims[k] for k in members])
        group = _grouped(values, settings)
        for g in range(int(group.max()) + 1):
            of_group = np.flatnonzero(group == g).tolist()
            middle = np.median(values[of_group], axis=0)
            names = [shapes[members[place]].name for place in of_group]
            meant = max(sorted(set(names)), key=names.count)
            if meant == "square":
                middle = middle.mean(keepdims=True)
            size = tuple(max(grain_in, round(v / grain_in) * grain_in) for v in middle.tolist())
            meant_class = PatchClass(f"{meant} {_size_text(size, units)}", meant, size)
            for place in of_group:
                found[members[place]] = meant_class
    return found


def _grouped(values: NDArray[np.float64], settings: ClassSettings) -> NDArray[np.int64]:
    """Return a group number for each row of dimensions (N, D)."""
    tree = cKDTree(values)
    near = [tree.query_ball_point(v, settings.alike_in, p=np.inf) for v in values]
    crowd = np.array([len(row) for row in near])
    group = np.full(len(values), -1, dtype=np.int64)
    number = 0
    order: list[int] = np.lexsort((np.arange(len(values)), -crowd)).tolist()
    for seed in order:
        if group[seed] >= 0:
            continue
        centre = np.median(values[near[seed]], axis=0)
        for member in tree.query_ball_point(centre, settings.join_in, p=np.inf):
            apart = np.abs(values[member] - centre).max() > settings.alike_in
            own_kind = crowd[member] > max(2, settings.few * crowd[seed])
            if group[member] < 0 and not (apart and own_kind):
                group[member] = number
        group[seed] = number
        number += 1
    return group


def _size_text(size: tuple[float, ...], units: Units) -> str:
    if units == "cm":
        return " x ".join(f"{v * CM_PER_IN:.1f}".removesuffix(".0") for v in size) + " cm"
    return " x ".join(format_inches(v) for v in size)
