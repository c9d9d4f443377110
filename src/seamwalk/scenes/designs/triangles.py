"""Designs with triangles: half squares, geese, stars, squares in squares."""

import numpy as np

from seamwalk.scenes.designs.pattern import Layout, Pattern, half_squares, moved, rect
from seamwalk.scenes.planar_map import Piece


def pinwheel(layout: Layout, rng: np.random.Generator) -> Pattern:
    """Return pinwheels: four half-square triangles turning round the block's centre."""
    del rng
    b, pieces = layout.block_in, list[Piece]()
    quarter = half_squares(0, 0, b / 2, ("light", "dark"), "\\")
    for row in range(layout.rows):
        for col in range(layout.columns):
            for k, (x, y) in enumerate(((0, 0), (1, 0), (1, 1), (0, 1))):
                at = (col * b + x * b / 2, row * b + y * b / 2)
                pieces += moved(quarter, at, k, b / 2)
    return Pattern(tuple(pieces), layout.columns * b, layout.rows * b)


def goose(x: float, y: float, width: float, roles: tuple[str, str]) -> list[Piece]:
    """Return one flying goose, twice as wide as high, pointing up: goose, then the two skies."""
    h = width / 2
    a, b, c, d, e = (x, y), (x + h, y), (x + width, y), (x + width, y + h), (x, y + h)
    return [Piece((b, d, e), roles[0]), Piece((a, b, e), roles[1]), Piece((b, c, d), roles[1])]


def flying_geese(layout: Layout, rng: np.random.Generator) -> Pattern:
    """Return columns of flying geese with plain strips between; two geese to a block."""
    del rng
    b, pieces = layout.block_in, list[Piece]()
    strip = round(b / 3 * 2) / 2
    step = b + strip
    height = layout.rows * b
    for col in range(layout.columns):
        for k in range(2 * layout.rows):
            unit = goose(0, 0, b, ("dark" if k % 2 else "medium", "light"))
            pieces += moved(unit, (col * step, k * b / 2))
        if col < layout.columns - 1:
            pieces.append(rect(col * step + b, 0, strip, height, "background"))
    return Pattern(tuple(pieces), layout.columns * step - strip, height)


def star(layout: Layout, rng: np.random.Generator) -> Pattern:
    """Return stars on a grid of fours: centre square, eight half-square points, four corners."""
    del rng
    b, pieces = layout.block_in, list[Piece]()
    u = b / 4
    side = [
        *half_squares(u, 0, u, ("background", "dark"), "\\"),
        *half_squares(2 * u, 0, u, ("background", "dark"), "/"),
    ]
    # The two background halves of a side are one goose: sky above, points below.
    goose_sky = Piece(((u, 0), (3 * u, 0), (2 * u, u)), "background")
    points = [p for p in side if p.role == "dark"]
    block = [rect(u, u, 2 * u, 2 * u, "medium")]
    for k in range(4):
        block += moved([goose_sky, *points, rect(0, 0, u, u, "background")], (0, 0), k, b)
    for row in range(layout.rows):
        for col in range(layout.columns):
            pieces += moved(block, (col * b, row * b))
    return Pattern(tuple(pieces), layout.columns * b, layout.rows * b)


def square_in_square(layout: Layout, rng: np.random.Generator) -> Pattern:
    """Return squares on point inside squares, plain blocks between."""
    del rng
    b, pieces = layout.block_in, list[Piece]()
    h = b / 2
    block = [Piece(((h, 0), (b, h), (h, b), (0, h)), "dark")]
    for k in range(4):
        block += moved([Piece(((0, 0), (h, 0), (0, h)), "light")], (0, 0), k, b)
    for row in range(layout.rows):
        for col in range(layout.columns):
            at = (col * b, row * b)
            plain = [rect(0, 0, b, b, "medium")]
            pieces += moved(block if (row + col) % 2 == 0 else plain, at)
    return Pattern(tuple(pieces), layout.columns * b, layout.rows * b)
