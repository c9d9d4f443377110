"""Designs with curved seams."""

import math

import numpy as np

from seamwalk.scenes.designs.pattern import Layout, Pattern, moved
from seamwalk.scenes.planar_map import Piece

RADIUS_SHARE = 0.7
"""Radius of the quarter circle as a share of its unit's side: usual units have two thirds to
three quarters (common practice, no source)."""


def quarter_circle(side_in: float, radius_in: float, roles: tuple[str, str]) -> list[Piece]:
    """Return a square unit with a quarter circle about its upper left corner, then the rest."""
    b, r = side_in, radius_in
    quarter = Piece(((0, 0), (r, 0), (0, r)), roles[0], (0.0, math.pi / 2, 0.0))
    rest = Piece(
        ((r, 0), (b, 0), (b, b), (0, b), (0, r)), roles[1], (0.0, 0.0, 0.0, 0.0, -math.pi / 2)
    )
    return [quarter, rest]


def drunkards_path(layout: Layout, rng: np.random.Generator) -> Pattern:
    """Return quarter-circle units, four to a block, their circles now meeting, now parting.

    Two kinds of units change places like a chequerboard's fields, so that no seam lies between
    two pieces of one role.
    """
    del rng
    unit, pieces = layout.block_in / 2, list[Piece]()
    kinds = [
        quarter_circle(unit, RADIUS_SHARE * unit, roles)
        for roles in (("dark", "light"), ("accent", "medium"))
    ]
    # Quarter turns of the four units of a block: a full circle in some, a winding road in others.
    settings = (((0, 2), (2, 0)), ((2, 3), (1, 0)), ((1, 3), (3, 1)))
    for row in range(2 * layout.rows):
        for col in range(2 * layout.columns):
            turns = settings[(row // 2 + col // 2) % len(settings)]
            pieces += moved(
                kinds[(row + col) % 2], (col * unit, row * unit), turns[row % 2][col % 2], unit
            )
    return Pattern(tuple(pieces), layout.columns * layout.block_in, layout.rows * layout.block_in)
