"""Tops pieced from drawn blocks, T junctions included; only patches and outline matter."""

import math

import shapely
from shapely import Polygon, affinity

from seamwalk.model.top import Patch, PatchId, Top

SLIVER = 1e-6


def top_of(pieces, *, raw_edges=False):
    """Return the top of (polygon, fabric) pairs."""
    patches = tuple(Patch(PatchId(k), p, (), f) for k, (p, f) in enumerate(pieces))
    outline = shapely.union_all([p.buffer(SLIVER, join_style="mitre") for p, _ in pieces])
    outline = outline.buffer(-SLIVER, join_style="mitre").simplify(SLIVER)
    return Top(outline, (), (), patches, raw_edges)


def block(*pieces):
    """Return (polygon, fabric) pairs from (fabric, x, y, x, y, …)."""
    return [(Polygon(list(zip(p[1::2], p[2::2], strict=True))), p[0]) for p in pieces]


def rect(fabric, x, y, w=1, h=1):
    return (fabric, x, y, x + w, y, x + w, y + h, x, y + h)


def posed(pieces, side, *, turns=0, mirrored=False):
    """Return a square block mirrored left to right, then turned x towards y, within its side."""
    m = side / 2
    out = []
    for p, f in pieces:
        q = affinity.scale(p, -1, 1, origin=(m, m)) if mirrored else p
        # Shapely turns x towards y for positive angles, as the page does with y down.
        out.append((affinity.rotate(q, 90 * turns, origin=(m, m)), f))
    return out


def moved(pieces, dx, dy):
    return [(affinity.translate(p, dx, dy), f) for p, f in pieces]


def scaled(pieces, factor):
    return [(affinity.scale(p, factor, factor, origin=(0, 0)), f) for p, f in pieces]


def tiled(blocks, columns, rows, width, height=None, *, sash=0.0):
    """Return blocks side by side: a list of pieces, or a function of (column, row)."""
    height = width if height is None else height
    out = []
    for row in range(rows):
        for col in range(columns):
            pieces = blocks(col, row) if callable(blocks) else blocks
            out += moved(pieces, col * (width + sash), row * (height + sash))
    return out


def sashing(columns, rows, side, sash):
    """Return strips between blocks and cornerstones where they cross."""
    step, out = side + sash, []
    for row in range(rows):
        for col in range(columns):
            x, y = col * step, row * step
            if col < columns - 1:
                out += block(rect("sash", x + side, y, sash, side))
            if row < rows - 1:
                out += block(rect("sash", x, y + side, side, sash))
            if col < columns - 1 and row < rows - 1:
                out += block(rect("stone", x + side, y + side, sash, sash))
    return out


def bordered(pieces, width):
    """Return the pieces with four strips round them: sides first, then top and bottom."""
    x0, y0, x1, y1 = shapely.total_bounds([p for p, _ in pieces])
    w, h, b = x1 - x0, y1 - y0, width
    return [
        *pieces,
        *block(
            rect("border", x0 - b, y0, b, h),
            rect("border", x1, y0, b, h),
            rect("border", x0 - b, y0 - b, w + 2 * b, b),
            rect("border", x0 - b, y1, w + 2 * b, b),
        ),
    ]


def on_point(pieces, side, columns, rows):
    """Return blocks point to point, with alternate blocks between and setting triangles."""
    d = side * math.sqrt(2)
    frame = shapely.box(0, 0, columns * d, rows * d)
    out = []
    for i in range(-1, 2 * rows):
        for j in range(-1, columns + 1):
            x, y = (j + (i % 2) / 2) * d + d / 2, i * d / 2 + d / 2
            cell = shapely.box(-side / 2, -side / 2, side / 2, side / 2)
            cell = affinity.translate(affinity.rotate(cell, 45, origin=(0, 0)), x, y)
            inside = shapely.set_precision(cell & frame, SLIVER)
            if inside.area < 0.9 * side**2:
                if inside.area > 0.01 * side**2:
                    out.append((inside, "setting"))
                continue
            for p, f in pieces:
                q = affinity.translate(p, -side / 2, -side / 2)
                out.append((affinity.translate(affinity.rotate(q, 45, origin=(0, 0)), x, y), f))
    return out
