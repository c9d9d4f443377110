"""One shape repeated on a lattice: hexagons, triangles, diamonds, cubes, clamshells."""

import math

import numpy as np
import shapely

from seamwalk.training.pieces import (
    Ints,
    Pieces,
    Points,
    arc,
    of,
    ring,
    scaled,
    shifted,
    together,
    trimmed,
)


def copies(pieces: Pieces, shifts: Points) -> Pieces:
    """Return the pieces at each of the shifts (k, 2); each copy is a block of its own."""
    k = len(shifts)
    points = (shifts[:, None] + pieces.points[None]).reshape(-1, 2)
    homes = np.repeat(np.arange(k), len(pieces))
    return Pieces(points, np.tile(pieces.counts, k), np.tile(pieces.classes, k), homes)


def _grid(columns: int, rows: int) -> tuple[Ints, Ints]:
    """Return column and row of every place, row by row."""
    y, x = np.divmod(np.arange(columns * rows), columns)
    return x, y


def _trim(pieces: Pieces, width: float, height: float) -> Pieces:
    return trimmed(pieces, shapely.box(0, 0, width, height))


def hexagons(rng: np.random.Generator, width: float, height: float, count: int) -> Pieces:
    """Return hexagons, whole or in halves; the edge left in zigzag or trimmed."""
    r = math.sqrt(width * height / count / (1.5 * math.sqrt(3)))
    t = np.radians(np.arange(6) * 60)
    h = np.stack([np.cos(t), np.sin(t)], axis=1)
    way = rng.random()
    if way < 0.6:
        one = of([(h, 0)])
    elif way < 0.8:
        one = of([(h[:4], 0), (h[[3, 4, 5, 0]], 1)])
    else:
        one = of(
            [
                (np.stack([h[2 * k], h[2 * k + 1], h[(2 * k + 2) % 6], h[0] * 0]), k)
                for k in range(3)
            ]
        )
    x, y = _grid(
        max(3, round(width / (1.5 * r))) + 2, max(2, round(height / (math.sqrt(3) * r))) + 2
    )
    step = np.stack([1.5 * x, math.sqrt(3) * (y + 0.5 * (x % 2))], axis=1)
    out = scaled(copies(one, step), r)
    if rng.random() < 0.35 and way < 0.6:
        return out
    # Cut through the middles of hexagons, or through their corners: no slivers.
    x0, y0 = 1.5 * r * int(rng.integers(1, 2)), math.sqrt(3) * r * 0.5
    columns, rows = int(x.max()) - 1, int(y.max()) - 1
    inner = shapely.box(x0, y0, x0 + 1.5 * r * columns, y0 + math.sqrt(3) * r * rows)
    return trimmed(out, inner)


def triangles(rng: np.random.Generator, width: float, height: float, count: int) -> Pieces:
    """Return rows of triangles, or of diamonds, or of cubes of three diamonds."""
    way = str(rng.choice(["triangles", "diamonds", "cubes", "big and small"]))
    rise = math.sqrt(3) / 2
    if way == "triangles" or way == "big and small":
        a = math.sqrt(width * height / count / (rise / 2))
        one = of(
            [(ring((0, 0), (1, 0), (0.5, rise)), 0), (ring((1, 0), (1.5, rise), (0.5, rise)), 1)]
        )
        rows, columns = max(2, round(height / (a * rise))), max(2, round(width / a))
        x, y = _grid(columns + 2, rows)
        step = np.stack([x - 1 + 0.5 * (y % 2), y * rise], axis=1)
        if way == "big and small" and rows > 2:
            four = together(
                [
                    scaled(one, 0.5),
                    shifted(scaled(one, 0.5), (0.5, 0)),
                    shifted(scaled(one, 0.5), (0.25, rise / 2)),
                    shifted(scaled(one, 0.5), (0.75, rise / 2)),
                ]
            )
            small = rng.random(len(step)) < rng.uniform(0.2, 0.8)
            out = (
                together([copies(four, step[small]), copies(one, step[~small])])
                if 0 < small.sum() < len(small)
                else copies(one, step)
            )
        else:
            out = copies(one, step)
        return _trim(scaled(out, a), a * columns, a * rise * rows)
    if way == "diamonds":
        a = math.sqrt(width * height / count / rise)
        one = of([(ring((0.5, 0), (1, rise), (0.5, 2 * rise), (0, rise)), 0)])
        rows, columns = max(2, round(height / (a * rise))), max(2, round(width / a))
        x, y = _grid(columns + 2, rows + 2)
        step = np.stack([x - 1 + 0.5 * (y % 2), (y - 1) * rise], axis=1)
        return _trim(scaled(copies(one, step), a), a * columns, a * rise * rows)
    a = math.sqrt(width * height / count / rise)
    t = np.radians(np.arange(6) * 60 + 30)
    h = np.stack([np.cos(t), np.sin(t)], axis=1)
    one = of(
        [(np.stack([h[2 * k], h[2 * k + 1], h[(2 * k + 2) % 6], h[0] * 0]), k) for k in range(3)]
    )
    rows, columns = max(2, round(height / (1.5 * a))), max(2, round(width / (2 * rise * a)))
    x, y = _grid(columns + 2, rows + 2)
    step = np.stack([2 * rise * (x + 0.5 * (y % 2)), 1.5 * y], axis=1)
    out = scaled(copies(one, step), a)
    if rng.random() < 0.3:
        return out
    x0 = 2 * rise * a * 0.5
    return trimmed(out, shapely.box(x0, 0, x0 + 2 * rise * a * columns, 1.5 * a * rows))


def shells(rng: np.random.Generator, width: float, height: float, count: int) -> Pieces:
    """Return clamshells: round above, hollow below on both sides."""
    r = math.sqrt(width * height / count / 2)
    shell = np.vstack(
        [
            arc((0, 0), 1, 180, 360, 15),
            arc((1, 1), 1, 270, 180, 8)[1:],
            arc((-1, 1), 1, 360, 270, 8)[1:-1],
        ]
    )
    rows, columns = max(2, round(height / r)), max(2, round(width / (2 * r)))
    x, y = _grid(columns + 2, rows + 2)
    step = np.stack([2 * x - 1.0 + (y % 2), y - 0.0], axis=1)
    out = scaled(copies(of([(shell, 0)]), step), r)
    return _trim(out, 2 * r * columns, r * rows)
