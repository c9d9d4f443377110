"""Tops to be quilted, made up for measuring the router: strokes with their seams and outer edge.

Regular ones stand for what is quilted most: arches in squares, leaves along seam lines, lines
through patches, ditches.  Irregular ones hold nothing that a router could guess.  Sizes are those
of real tops: patches of 4 in until the top is king size, then smaller ones, or as asked for.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from seamwalk.benchmark import route_figures as figures
from seamwalk.benchmark.route_irregular import patchwork, triangles
from seamwalk.benchmark.route_sheet import Sheet
from seamwalk.model.stitching import Stroke

MOST_IN = 108.0
"""Longer side of the largest top, inches: king size (common practice)."""

PATCH_IN = 4.0
"""Side of a patch, inches, on tops that stay below that."""

ASPECTS = (1.0, 1.25, 1.6)
"""Height over width of regular tops, by seed in turn."""


def route_top(
    kind: str, strokes: int, seed: int = 0, side_in: float | None = None
) -> list[Stroke]:
    """Return the strokes of a top.

    Parameters
    ----------
    kind : str
        One of `KINDS`.
    strokes : int
        About how many pieces shall have to be stitched.
    seed : int
        Of what is drawn at random; regular tops have another shape by it.
    side_in : float, optional
        Longer side of the top, inches; without it patches have their own size.
    """
    made = KINDS[kind]
    if isinstance(made, Regular):
        p, q = made.per_block, made.per_row
        blocks = ((q + math.sqrt(q * q + 4 * p * strokes)) / (2 * p)) ** 2
        columns = max(1, round(math.sqrt(blocks / ASPECTS[seed % len(ASPECTS)])))
        sheet, unit_in = Sheet(), made.unit_in
        made.draw(sheet, columns, max(1, round(blocks / columns)))
    else:
        sheet, unit_in = made(strokes, np.random.default_rng([seed, strokes])), PATCH_IN
    side_in = side_in or min(sheet.extent * unit_in, MOST_IN)
    return sheet.strokes(side_in / sheet.extent)


@dataclass(frozen=True, slots=True)
class Regular:
    """A top of equal blocks.

    Attributes
    ----------
    draw : callable
        Draws so many columns and rows of blocks.
    per_block, per_row : float
        n × n blocks have per_block n² − per_row n pieces to be stitched.
    unit_in : float
        What is one on the sheet, inches.
    """

    draw: Callable[[Sheet, int, int], None]
    per_block: float
    per_row: float = 0.0
    unit_in: float = PATCH_IN


KINDS: dict[str, Regular | Callable[[int, np.random.Generator], Sheet]] = {
    "arches": Regular(figures.arches, 4),
    "on point": Regular(figures.on_point, 8),
    "leaves": Regular(figures.leaves, 4, 4),
    "leaves and diagonals": Regular(figures.leaves_and_diagonals, 5, 4),
    "lines": Regular(figures.lines, 4),
    "log cabin": Regular(figures.log_cabin, 37, 5, unit_in=10.5),
    "stars": Regular(figures.stars, 8),
    "block walks": Regular(figures.block_walks, 4),
    "islands": Regular(figures.islands, 4),
    "irregular": patchwork,
    "triangles": triangles,
}
