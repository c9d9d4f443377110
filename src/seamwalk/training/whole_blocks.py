"""All kinds of blocks with their shares."""

from collections.abc import Callable

import numpy as np

from seamwalk.training.block_grammar import grid_block
from seamwalk.training.pieces import Pieces
from seamwalk.training.round_blocks import fan, on_ground, pieced_rings
from seamwalk.training.star_blocks import (
    diamond_star,
    framed_star,
    kaleidoscope,
    squares_in_squares,
)
from seamwalk.training.strip_blocks import crazy, large_panel, log_cabin, strings, strips

Block = Callable[[np.random.Generator], Pieces]
"""A block of the unit square, made up anew at each call."""

BLOCKS: dict[str, tuple[Block, float]] = {
    "grid of units": (grid_block, 0.46),
    "log cabin": (log_cabin, 0.11),
    "strings": (strings, 0.05),
    "strips": (strips, 0.05),
    "squares in squares": (squares_in_squares, 0.03),
    "kaleidoscope": (kaleidoscope, 0.03),
    "framed star": (framed_star, 0.1),
    "diamond star": (diamond_star, 0.03),
    "on ground": (on_ground, 0.05),
    "fan": (fan, 0.025),
    "pieced rings": (pieced_rings, 0.015),
    "crazy": (crazy, 0.05),
    "large panel": (large_panel, 0.03),
}
"""Each kind of block with its share; common ones of real quilts are commonest. From memory."""
