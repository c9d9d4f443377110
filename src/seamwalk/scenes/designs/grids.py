"""Designs made of squares and rectangles on a grid."""

import numpy as np

from seamwalk.scenes.designs.pattern import Layout, Pattern, choose, moved, rect
from seamwalk.scenes.planar_map import Piece

SCRAPS = tuple(f"scrap {k}" for k in range(1, 15))


def nine_patch(layout: Layout, rng: np.random.Generator) -> Pattern:
    """Return nine-patch blocks, every other block with light and dark exchanged."""
    del rng
    b, pieces = layout.block_in, list[Piece]()
    u = b / 3
    for row in range(layout.rows):
        for col in range(layout.columns):
            pair = ("dark", "light") if (row + col) % 2 == 0 else ("light", "medium")
            for i in range(9):
                y, x = divmod(i, 3)
                pieces.append(rect(col * b + x * u, row * b + y * u, u, u, pair[i % 2]))
    return Pattern(tuple(pieces), layout.columns * b, layout.rows * b)


def scrappy(layout: Layout, rng: np.random.Generator) -> Pattern:
    """Return plain squares, each from a scrap."""
    b = layout.block_in
    pieces = [
        rect(col * b, row * b, b, b, choose(rng, SCRAPS))
        for row in range(layout.rows)
        for col in range(layout.columns)
    ]
    return Pattern(tuple(pieces), layout.columns * b, layout.rows * b)


def rail_fence(layout: Layout, rng: np.random.Generator) -> Pattern:
    """Return blocks of three strips, every other block turned by a quarter."""
    del rng
    b, pieces = layout.block_in, list[Piece]()
    strips = [rect(0, k * b / 3, b, b / 3, r) for k, r in enumerate(("light", "medium", "dark"))]
    for row in range(layout.rows):
        for col in range(layout.columns):
            pieces += moved(strips, (col * b, row * b), (row + col) % 2, b)
    return Pattern(tuple(pieces), layout.columns * b, layout.rows * b)


def sashed(layout: Layout, rng: np.random.Generator) -> Pattern:
    """Return plain blocks parted by sashing strips with cornerstones where the strips cross.

    Sashing is a quarter of the block, rounded to 1/2 in, and runs round the outside too.
    """
    b = layout.block_in
    s = max(0.5, round(b / 4 * 2) / 2)
    step, pieces = b + s, list[Piece]()
    for row in range(layout.rows + 1):
        for col in range(layout.columns + 1):
            x, y = col * step, row * step
            pieces.append(rect(x, y, s, s, "accent"))
            if col < layout.columns:
                pieces.append(rect(x + s, y, b, s, "background"))
            if row < layout.rows:
                pieces.append(rect(x, y + s, s, b, "background"))
            if col < layout.columns and row < layout.rows:
                pieces.append(rect(x + s, y + s, b, b, choose(rng, ("dark", "medium", "light"))))
    return Pattern(tuple(pieces), layout.columns * step + s, layout.rows * step + s)


def mixed_sizes(layout: Layout, rng: np.random.Generator) -> Pattern:
    """Return blocks of one size cut into plain, halves, fours, strips or a square and two bars."""
    b, pieces = layout.block_in, list[Piece]()
    h, t = b / 2, b / 3
    cuts = [
        [rect(0, 0, b, b, "a")],
        [rect(0, 0, h, b, "a"), rect(h, 0, h, b, "b")],
        [
            rect(0, 0, h, h, "a"),
            rect(h, 0, h, h, "b"),
            rect(0, h, h, h, "c"),
            rect(h, h, h, h, "d"),
        ],
        [rect(0, 0, t, b, "a"), rect(t, 0, t, b, "b"), rect(2 * t, 0, t, b, "c")],
        [rect(0, 0, b, t, "a"), rect(0, t, t, b - t, "b"), rect(t, t, b - t, b - t, "c")],
    ]
    for row in range(layout.rows):
        for col in range(layout.columns):
            words = rng.permutation(np.array(SCRAPS[:9]))
            names = dict(zip("abcd", (str(w) for w in words), strict=False))
            block = [Piece(p.corners, names[p.role]) for p in cuts[int(rng.integers(len(cuts)))]]
            pieces += moved(block, (col * b, row * b), int(rng.integers(4)), b)
    return Pattern(tuple(pieces), layout.columns * b, layout.rows * b)
