"""Log cabins, squares on point, hexagons."""

import math

import numpy as np
from shapely import Polygon, box

from seamwalk.scenes.designs.grids import SCRAPS
from seamwalk.scenes.designs.pattern import Layout, Pattern, choose, moved, rect
from seamwalk.scenes.planar_map import Piece


def log_cabin(layout: Layout, rng: np.random.Generator) -> Pattern:
    """Return log cabins: a centre, then rounds of strips, light on two sides and dark on two.

    The block is seven strips across: a centre of one strip's width and three rounds.
    """
    del rng
    b, pieces = layout.block_in, list[Piece]()
    u = b / 7
    block = [rect(3 * u, 3 * u, u, u, "accent")]
    x0, y0, x1, y1 = 3 * u, 3 * u, 4 * u, 4 * u
    for k in range(3):
        light, dark = ("light" if k % 2 else "background"), ("dark" if k % 2 else "medium")
        block.append(rect(x0, y0 - u, x1 - x0, u, light))
        y0 -= u
        block.append(rect(x1, y0, u, y1 - y0, light))
        x1 += u
        block.append(rect(x0, y1, x1 - x0, u, dark))
        y1 += u
        block.append(rect(x0 - u, y0, u, y1 - y0, dark))
        x0 -= u
    turns = ((0, 1), (3, 2))
    for row in range(layout.rows):
        for col in range(layout.columns):
            pieces += moved(block, (col * b, row * b), turns[row % 2][col % 2], b)
    return Pattern(tuple(pieces), layout.columns * b, layout.rows * b)


def on_point(layout: Layout, rng: np.random.Generator) -> Pattern:
    """Return squares on point with alternate squares and setting triangles.

    ``columns`` and ``rows`` count the squares that stand corner to corner; the centre measures
    columns · block · √2 by rows · block · √2.
    """
    del rng
    d = layout.block_in * math.sqrt(2)
    h, pieces = d / 2, list[Piece]()

    def diamond(cx: float, cy: float, role: str) -> Piece:
        return Piece(((cx, cy - h), (cx + h, cy), (cx, cy + h), (cx - h, cy)), role)

    width, height = layout.columns * d, layout.rows * d
    for row in range(layout.rows):
        for col in range(layout.columns):
            role = "dark" if (row + col) % 2 == 0 else "medium"
            pieces.append(diamond(col * d + h, row * d + h, role))
    for row in range(1, layout.rows):
        for col in range(1, layout.columns):
            pieces.append(diamond(col * d, row * d, "light"))
    for col in range(1, layout.columns):
        x = col * d
        pieces.append(Piece(((x - h, 0), (x + h, 0), (x, h)), "background"))
        pieces.append(Piece(((x - h, height), (x, height - h), (x + h, height)), "background"))
    for row in range(1, layout.rows):
        y = row * d
        pieces.append(Piece(((0, y - h), (h, y), (0, y + h)), "background"))
        pieces.append(Piece(((width, y - h), (width, y + h), (width - h, y)), "background"))
    corners = (
        ((0, 0), (h, 0), (0, h)),
        ((width, 0), (width, h), (width - h, 0)),
        ((width, height), (width - h, height), (width, height - h)),
        ((0, height), (0, height - h), (h, height)),
    )
    pieces += [Piece(c, "background") for c in corners]
    return Pattern(tuple(pieces), width, height)


def hexagons(layout: Layout, rng: np.random.Generator) -> Pattern:
    """Return hexagons, points up, their outer edge cut straight.

    ``block_in`` is the width over flats.  The cut runs through the middle of the outer rows and
    a quarter of a hexagon inside its columns' centre lines, so that no splinter is left.
    """
    w = layout.block_in
    side = w / math.sqrt(3)
    step = 1.5 * side
    x0, x1 = 0.25 * w, (layout.columns - 0.25) * w
    y0, y1 = 0.0, (layout.rows - 1) * step
    window, pieces = box(x0, y0, x1, y1), list[Piece]()
    for row in range(layout.rows):
        for col in range(-1, layout.columns + 2):
            cx, cy = (col + 0.5 * (row % 2)) * w, row * step
            ring = [
                (cx + side * math.sin(math.pi * k / 3), cy - side * math.cos(math.pi * k / 3))
                for k in range(6)
            ]
            cut = Polygon(ring).intersection(window)
            if isinstance(cut, Polygon) and cut.area > 1e-6 * w * w:
                xy = tuple((float(x) - x0, float(y)) for x, y in cut.exterior.coords[:-1])
                pieces.append(Piece(xy, choose(rng, SCRAPS)))
    return Pattern(tuple(pieces), x1 - x0, y1 - y0, trimmed=True)
