"""Blocks round a middle: stars, kaleidoscopes, squares in squares. All tile the unit square."""

import math

import numpy as np

from seamwalk.training.block_grammar import grid_block
from seamwalk.training.pieces import (
    STRIPS,
    Piece,
    Pieces,
    box,
    of,
    placed,
    reclassed,
    ring,
    together,
)


def squares_in_squares(rng: np.random.Generator) -> Pieces:
    """Return squares within squares, each turned in the one before."""
    t = 0.5 if rng.random() < 0.6 else float(rng.uniform(0.1, 0.4))
    now = box(0, 0, 1, 1)
    out: list[Piece] = []
    rounds = int(rng.integers(2, 6))
    for k in range(rounds):
        inner = now + (np.roll(now, -1, axis=0) - now) * t
        out += [(np.stack([now[j], inner[j], inner[j - 1]]), k % 3) for j in range(4)]
        now = inner
    return of([*out, (now, rounds % 3)])


def kaleidoscope(rng: np.random.Generator) -> Pieces:
    """Return eight wedges round a middle, whole or cut across, with corner triangles."""
    t = math.tan(math.pi / 8) / 2
    p = ring(
        (0.5 + t, 0), (1, 0.5 - t), (1, 0.5 + t), (0.5 + t, 1),
        (0.5 - t, 1), (0, 0.5 + t), (0, 0.5 - t), (0.5 - t, 0),
    )  # fmt: skip
    m = np.array([0.5, 0.5])
    cuts = np.sort(rng.uniform(0.2, 0.9, int(rng.choice([0, 0, 1, 1, 2, 3]))))
    cuts = np.concatenate([cuts[np.diff(cuts, prepend=0.0) > 0.12], [1.0]])
    scraps = bool(rng.random() < 0.3)
    out: list[Piece] = []
    for k in range(8):
        rungs = [(m + (p[k - 1] - m) * s, m + (p[k] - m) * s) for s in cuts]
        out.append((np.stack([m, *rungs[0]]), k % 2))
        for i in range(1, len(rungs)):
            (a, b), (c, d) = rungs[i - 1], rungs[i]
            out.append((np.stack([a, c, d, b]), STRIPS + 8 * i + k if scraps else (k + i) % 2 + 1))
    corners = ring((1, 0), (1, 1), (0, 1), (0, 0))
    out += [(np.stack([p[2 * k], corners[k], p[2 * k + 1]]), 3) for k in range(4)]
    return of(out)


def framed_star(rng: np.random.Generator) -> Pieces:
    """Return a star of geese round a middle that is a block itself."""
    goose = [
        (ring((0, 1), (0.5, 0), (1, 1)), 0),
        (ring((0, 0), (0.5, 0), (0, 1)), 1),
        (ring((0.5, 0), (1, 0), (1, 1)), 1),
    ]
    flip = bool(rng.random() < 0.4)
    side = of([(p, 1 - c if flip else c) for p, c in goose])
    q = 0.25 if rng.random() < 0.7 else float(rng.choice([1 / 3, 0.2]))
    m = 1 - 2 * q
    corner = of([(box(0, 0, 1, 1), 0)])
    parts = [
        placed(side, (q, 0), (m, q)),
        placed(side, (1 - q, q), (q, m), 1),
        placed(side, (q, 1 - q), (m, q), 2),
        placed(side, (0, q), (q, m), 3),
    ]
    parts += [
        placed(corner, at, (q, q)) for at in ((0, 0), (1 - q, 0), (0, 1 - q), (1 - q, 1 - q))
    ]
    inner = grid_block(rng, most=4) if rng.random() < 0.6 else of([(box(0, 0, 1, 1), 0)])
    parts.append(placed(reclassed(inner, inner.classes + 1), (q, q), (m, m)))
    return together(parts)


def diamond_star(rng: np.random.Generator) -> Pieces:
    """Return a star of eight diamonds, each whole or cut into smaller diamonds."""
    n = int(rng.choice([1, 1, 1, 2, 3, 4, 6]))
    m = np.array([0.5, 0.5])
    way = [np.array([math.cos(k * math.pi / 4), math.sin(k * math.pi / 4)]) for k in range(9)]
    out: list[Piece] = []
    # Tips lie on the block's edge.
    long = 0.5 / (math.cos(math.pi / 4) + 1)
    for k in range(8):
        u, v = way[k] * long / n, way[k + 1] * long / n
        for p in range(n):
            for q in range(n):
                o = m + u * p + v * q
                out.append((np.stack([o, o + u, o + u + v, o + v]), p + q if n > 1 else 1 + k % 2))
    tips = [m + (way[k] + way[k + 1]) * long for k in range(8)]
    notches = [m + way[k] * long for k in range(8)]
    corners = ring((1, 1), (0, 1), (0, 0), (1, 0))
    ground = 0 if n == 1 else 6
    for k in range(4):
        # Between tips 2k and 2k+1 lies a corner square, between 2k−1 and 2k a side triangle.
        square = np.stack([notches[2 * k + 1], tips[2 * k], corners[k], tips[2 * k + 1]])
        out.append((square, ground))
        out.append((np.stack([notches[2 * k], tips[2 * k - 1], tips[2 * k]]), ground))
    return of(out)
