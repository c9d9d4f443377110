"""Tops as polygons, drawn into label maps with jagged borders; truth is the polygons."""

import itertools

import numpy as np
import shapely
from scipy.ndimage import gaussian_filter
from shapely import Polygon

from seamwalk.geometry.lens import Lens
from seamwalk.model.picture import FlatPicture, Rectification, View
from seamwalk.model.top import Top


def grid(rows, columns, side, rng=None, sigma=0.0):
    """Return squares; with `rng`, junctions are off by `sigma`."""
    at = np.array([[(j * side, i * side) for j in range(columns + 1)] for i in range(rows + 1)])
    at = at.astype(float)
    if rng is not None:
        at += rng.normal(0, sigma, at.shape)
    return [
        Polygon([at[i, j], at[i, j + 1], at[i + 1, j + 1], at[i + 1, j]])
        for i in range(rows)
        for j in range(columns)
    ]


def pinwheels(rows, columns, side, rng=None, sigma=0.0):
    """Return half-square triangles, four and eight of which meet at the junctions."""
    out = []
    for k, square in enumerate(grid(rows, columns, side, rng, sigma)):
        a, b, c, d = square.exterior.coords[:4]
        i, j = divmod(k, columns)
        halves = [(a, b, c), (a, c, d)] if (i + j) % 2 else [(a, b, d), (b, c, d)]
        out += [Polygon(h) for h in halves]
    return out


def bricks(rows, columns, width, height):
    """Return rectangles set off by half from row to row: every junction a T."""
    out = []
    for i in range(rows):
        cuts = [0.0, *np.arange(1, columns) * width, columns * width]
        if i % 2:
            cuts = [0.0, *(np.arange(columns) + 0.5) * width, columns * width]
        out += [
            shapely.box(a, i * height, b, (i + 1) * height) for a, b in itertools.pairwise(cuts)
        ]
    return out


def hexagons(rows, columns, side):
    """Return hexagons trimmed to a straight outer edge."""
    high = side * np.sqrt(3)
    turn = np.arange(6) * np.pi / 3
    frame = shapely.box(0, high / 2, (columns - 1) * 1.5 * side, (rows - 1) * high)
    cells = [
        Polygon(
            np.column_stack([np.cos(turn), np.sin(turn)]) * side
            + [j * 1.5 * side, i * high + (j % 2) * high / 2]
        )
        for i in range(rows)
        for j in range(columns)
    ]
    parts = [c.intersection(frame) for c in cells]
    return [p for p in parts if p.area > 1e-6]


def draw(polygons, ppi, *, jagged_px=0.0, seed=0, margin_in=1.0):
    """Return labels (H, W) and the picture's origin, inches.

    Borders wander by a standard deviation of `jagged_px` along each axis.
    """
    x0, y0, x1, y1 = shapely.total_bounds(polygons)
    origin = (x0 - margin_in, y0 - margin_in)
    width = int(np.ceil((x1 - x0 + 2 * margin_in) * ppi))
    height = int(np.ceil((y1 - y0 + 2 * margin_in) * ppi))
    rows, cols = np.mgrid[:height, :width].astype(float)
    rng = np.random.default_rng(seed)
    for axis in (rows, cols):
        if jagged_px:
            wander = gaussian_filter(rng.normal(size=axis.shape), 1.5)
            axis += wander / wander.std() * jagged_px
    x, y = origin[0] + (cols + 0.5) / ppi, origin[1] + (rows + 0.5) / ppi
    labels = np.zeros((height, width), np.int32)
    for k, p in enumerate(polygons, start=1):
        a, b, c, d = p.bounds
        part = (
            slice(max(int((b - origin[1]) * ppi) - 12, 0), int((d - origin[1]) * ppi) + 12),
            slice(max(int((a - origin[0]) * ppi) - 12, 0), int((c - origin[0]) * ppi) + 12),
        )
        labels[part][shapely.contains_xy(p, x[part], y[part])] = k
    return labels, origin


def straight_down(ppi=30.0, centre=(20.0, 20.0), modes=()):
    """Return a camera 100 in above the cloth."""
    focal = 100.0 * ppi
    to_plane = np.array([[100.0, 0, centre[0]], [0, 100.0, centre[1]], [0, 0, 1.0]])
    view = View(Lens(focal, (1500.0, 1500.0)), to_plane)
    return Rectification(view, tuple(modes), "card", 6.0, 0.1)


def flat(labels, ppi, origin=(0.0, 0.0), rgb=None):
    """Return a flat picture of the labels' size; every label its own grey without `rgb`."""
    if rgb is None:
        rgb = np.repeat(((labels * 37) % 256).astype(np.uint8)[..., None], 3, axis=2)
    return FlatPicture(rgb, labels > 0, ppi, origin, straight_down())


def assert_tiles(top: Top):
    """The strongest predicate: a valid map whose parts fit each other exactly."""
    polygons = [p.polygon for p in top.patches]
    assert all(p.is_valid and not p.interiors for p in [*polygons, top.outline])
    # GEOS's own check of coverages: shared edges match vertex by vertex, no overlaps.
    assert shapely.coverage_is_valid(polygons)
    assert abs(sum(p.area for p in polygons) - top.outline.area) < 1e-9 * top.outline.area
    assert len(top.junctions) - len(top.seams) + len(top.patches) == 1
    place = {j.id: j.xy for j in top.junctions}
    rings = {p.id: set(p.polygon.exterior.coords) for p in top.patches}
    for s in top.seams:
        assert (place[s.ends[0]], place[s.ends[1]]) == (s.points[0], s.points[-1])
        middle = np.mean(s.points[:2], axis=0)
        d = np.subtract(s.points[1], s.points[0])
        d /= np.hypot(*d)
        for side, sign in ((s.right, 1), (s.left, -1)):
            probe = shapely.Point(middle + sign * 1e-6 * np.array([-d[1], d[0]]))
            if side is None:
                assert not top.outline.contains(probe)
            else:
                patch = next(p for p in top.patches if p.id == side)
                assert patch.polygon.contains(probe)
                assert s.id in patch.seams
                assert set(s.points) <= rings[side]


def junction_errors(top: Top, polygons):
    """Return for each true vertex how far the nearest junction is, inches."""
    true = np.unique(np.round(shapely.get_coordinates(polygons), 6), axis=0)
    found = np.array([j.xy for j in top.junctions])
    return np.hypot(*(true[:, None] - found[None]).transpose(2, 0, 1)).min(axis=1)
