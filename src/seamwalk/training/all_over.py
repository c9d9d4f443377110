"""Tops without blocks: one shape repeated, strips, bricks, scraps.

Each pattern fills about width × height inches with about `count` pieces; upper left near 0, 0.
"""

import math
from collections.abc import Callable

import numpy as np
import shapely

from seamwalk.training.block_grammar import checker, rectangles
from seamwalk.training.lattices import hexagons, shells, triangles
from seamwalk.training.pieces import (
    STRIPS,
    Pieces,
    placed,
    reclassed,
    scaled,
    shifted,
    trimmed,
    turned,
)
from seamwalk.training.strip_tops import (
    bricks,
    columns,
    geese_columns,
    improvised,
    packed_squares,
    waves,
)

AllOver = Callable[[np.random.Generator, float, float, int], Pieces]


def one_patch(rng: np.random.Generator, width: float, height: float, count: int) -> Pieces:
    """Return squares in rows: two fabrics, scraps, or rounds of colour about the middle."""
    ratio = 1.0 if rng.random() < 0.8 else float(rng.uniform(1.1, 2.0))
    side = math.sqrt(width * height / count / ratio)
    n, m = max(2, round(width / side / ratio)), max(2, round(height / side))
    out = checker(n, m)
    way = rng.random()
    x, y = np.divmod(np.arange(n * m), n)[::-1]
    if way < 0.45:
        out = reclassed(out, STRIPS + np.arange(len(out)))
    elif way < 0.65:
        d = np.abs(x - n // 2) + np.abs(y - m // 2)
        out = reclassed(out, (d % int(rng.integers(4, 10))).astype(np.int64))
    out = Pieces(out.points, out.counts, out.classes, np.arange(len(out)))
    out = placed(out, (0, 0), (width, height))
    if rng.random() < 0.15:
        # On point: the same squares standing on their corners, trimmed to a rectangle.
        side = math.sqrt(width * height / count) * math.sqrt(2)
        a, b = max(2, round(width / side)), max(2, round(height / side))
        x, y = np.divmod(np.arange((a + b + 2) ** 2), a + b + 2)[::-1]
        squares = rectangles(x, y, x + 1.0, y + 1.0, (x + y) % 2)
        squares = shifted(squares, (-(a + b + 2) // 2, -(a + b + 2) // 2))
        squares = scaled(turned(squares, math.pi / 4), side / math.sqrt(2))
        middle = shapely.box(-a * side / 2, -b * side / 2, a * side / 2, b * side / 2)
        return trimmed(squares, middle)
    return out


def coloured(rng: np.random.Generator, pieces: Pieces) -> Pieces:
    """Return a pattern of few classes with each class in several, by place or by chance."""
    own = np.unique(pieces.classes)
    if len(own) > 4 or rng.random() < 0.2:
        return pieces
    middle = (pieces.low + pieces.high) / 2
    unit = float(np.median((pieces.high - pieces.low).max(axis=1)))
    n = int(rng.integers(2, 12))
    way = str(rng.choice(["scraps", "rounds", "bands", "rows"], p=[0.55, 0.17, 0.14, 0.14]))
    if way == "scraps":
        group = rng.integers(0, int(rng.integers(2, 60)), int(pieces.homes.max()) + 1)[
            pieces.homes
        ]
    elif way == "rounds":
        away = middle - middle.mean(axis=0)
        group = (np.hypot(*away.T) / unit).astype(np.int64) % n
    else:
        lean = 0.0 if way == "rows" else float(rng.uniform(0.5, 1.0))
        group = ((middle[:, 1] + lean * middle[:, 0]) / unit).astype(np.int64) % n
    return reclassed(pieces, STRIPS + group * len(own) + np.searchsorted(own, pieces.classes))


ALL_OVERS: dict[str, tuple[AllOver, float]] = {
    "one patch": (one_patch, 0.22),
    "hexagons": (hexagons, 0.14),
    "triangles and diamonds": (triangles, 0.14),
    "shells": (shells, 0.05),
    "bricks": (bricks, 0.12),
    "columns": (columns, 0.13),
    "geese columns": (geese_columns, 0.1),
    "packed squares": (packed_squares, 0.1),
    "improvised": (improvised, 0.1),
    "waves": (waves, 0.04),
}
"""Each pattern with its share. From memory."""
