"""Tops made straight from polygons that meet corner to corner, without tracing a picture."""

from dataclasses import replace

import numpy as np
import shapely
from shapely import Polygon

from seamwalk.geometry.polygon import oriented, ring_of
from seamwalk.geometry.projective import apply
from seamwalk.model.top import Junction, JunctionId, Patch, PatchId, Seam, SeamId, Top


def exact_top(polygons, *, fabrics=None, raw_edges=False, sigma_in=0.005):
    """Return the top of polygons whose corners all lie on corners of their neighbours."""
    rings = [[(float(x), float(y)) for x, y in oriented(ring_of(p))] for p in polygons]
    number = {xy: k for k, xy in enumerate(dict.fromkeys(xy for r in rings for xy in r))}
    seams, owner = {}, {}
    for k, ring in enumerate(rings):
        for a, b in zip(ring, ring[1:] + ring[:1], strict=True):
            # A ring that turns from x towards y has its inside on the right of its way.
            if (b, a) in owner:
                first = seams[owner[b, a]]
                seams[owner[b, a]] = replace(first, left=PatchId(k))
            else:
                owner[a, b] = len(seams)
                ends = (JunctionId(number[a]), JunctionId(number[b]))
                seams[len(seams)] = Seam(SeamId(len(seams)), ends, (a, b), None, PatchId(k))
    outline = Polygon(_outer_ring(list(seams.values())))
    junctions = tuple(Junction(JunctionId(k), xy, sigma_in) for xy, k in number.items())
    patches = tuple(
        Patch(PatchId(k), Polygon(r), (), "" if fabrics is None else fabrics[k])
        for k, r in enumerate(rings)
    )
    return Top(outline, junctions, tuple(seams.values()), patches, raw_edges)


def _outer_ring(seams):
    after = {s.points[0]: s.points[1] for s in seams if s.left is None}
    ring = [min(after)]
    while after[ring[-1]] != ring[0]:
        ring.append(after[ring[-1]])
    return ring


def squares(rows, columns, side, wide=None):
    """Return `rows` x `columns` rectangles, `side` high and `wide` across."""
    wide = side if wide is None else wide
    return [
        shapely.box(j * wide, i * side, (j + 1) * wide, (i + 1) * side)
        for i in range(rows)
        for j in range(columns)
    ]


def sheared(top, skew_deg=0.0, taper_deg=0.0):
    """Return the top leaning so that its upper left angle is 90° + skew, and tapering.

    The taper is the angle between the left and the right edge, wider at the bottom.
    """
    x0, y0, x1, y1 = top.outline.bounds
    lean, half = np.tan(np.radians(skew_deg)), np.tan(np.radians(taper_deg / 2))

    def move(p):
        y = p[:, 1] - (y0 + y1) / 2
        across = (p[:, 0] - (x0 + x1) / 2) / ((x1 - x0) / 2)
        return np.column_stack([p[:, 0] - lean * y + half * across * y, p[:, 1]])

    return top.mapped(move)


def jolted(top, sigma_in, rng):
    """Return the top with every junction off by `sigma_in` along each axis."""
    return top.mapped(lambda p: p + rng.normal(0, sigma_in, p.shape))


def by_homography(top, matrix):
    """Return the top as a camera off by a homography (3, 3) of the cloth would have it."""
    return top.mapped(lambda p: apply(matrix, p))
