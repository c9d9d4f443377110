"""What goes round a top: plain and pieced borders, bindings, shaped edges."""

import math

import numpy as np
import shapely

from seamwalk.training.block_grammar import rectangles
from seamwalk.training.pieces import (
    FRAME,
    Piece,
    Pieces,
    Points,
    arc,
    box,
    of,
    placed,
    ring,
    shifted,
    together,
    trimmed,
)

BORDER = FRAME + 200
"""First class of borders; each border takes ten classes."""

EDGE = FRAME + 280
"""Class of the border that a shaped edge is cut from."""

BINDING = FRAME + 300
"""Class of bindings."""


def size(pieces: Pieces) -> tuple[float, float]:
    """Return width and height of the box round pieces that start at 0, 0."""
    high = pieces.points.max(axis=0)
    return float(high[0]), float(high[1])


def is_rectangle(pieces: Pieces) -> bool:
    """Whether the pieces fill the box round them."""
    low, high = pieces.points.min(axis=0), pieces.points.max(axis=0)
    whole = float((high - low).prod())
    return bool(abs(np.abs(pieces.areas).sum() - whole) < 1e-6 * whole)


def plain_border(
    pieces: Pieces, width: float, corners: str, number: int = BORDER, two: bool = False
) -> Pieces:
    """Return pieces with four strips round them, shifted to start at 0, 0.

    Parameters
    ----------
    corners : {"butted", "mitred", "squares"}
    number : int
        Class of the strips; corner squares get the next one.
    two : bool
        Whether sides and ends are of two fabrics.
    """
    w, h = size(pieces)
    b, other = width, number + 2 if two else number
    x, y = w + 2 * b, h + 2 * b
    if corners == "mitred":
        strips = [
            (ring((0, 0), (x, 0), (x - b, b), (b, b)), number),
            (ring((x, 0), (x, y), (x - b, y - b), (x - b, b)), other),
            (ring((x, y), (0, y), (b, y - b), (x - b, y - b)), number),
            (ring((0, y), (0, 0), (b, b), (b, y - b)), other),
        ]
    else:
        inset = b if corners == "squares" else 0.0
        strips = [
            (box(0, b, b, h + b), other),
            (box(w + b, b, x, h + b), other),
            (box(inset, 0, x - inset, b), number),
            (box(inset, h + b, x - inset, y), number),
        ]
        if corners == "squares":
            spots = ((0, 0), (x - b, 0), (0, y - b), (x - b, y - b))
            strips += [(box(u, v, u + b, v + b), number + 1) for u, v in spots]
    return together([shifted(pieces, (b, b)), of(strips)])


def pieced_border(
    rng: np.random.Generator, pieces: Pieces, width: float, number: int = BORDER
) -> Pieces:
    """Return pieces with a border of squares, sawteeth, peaks or bricks, corners squared."""
    w, h = size(pieces)
    long = float(rng.choice([1.0, 1.0, 1.0, 2.0, 0.5]))
    kind = int(rng.integers(4))
    n = max(2, round(w / (width * long)))
    m = max(2, round(h / (width * long)))
    across = _run(rng, n, kind, number)
    down = _run(rng, m, kind, number)
    corner = of([(box(0, 0, 1, 1), number + int(rng.integers(3)))])
    b = width
    parts = [
        shifted(pieces, (b, b)),
        placed(across, (b, 0), (w, b)),
        placed(across, (b, h + b), (w, b), 2),
        placed(down, (w + b, b), (b, h), 1),
        placed(down, (0, b), (b, h), 3),
    ]
    parts += [
        placed(corner, at, (b, b)) for at in ((0, 0), (w + b, 0), (0, h + b), (w + b, h + b))
    ]
    return together(parts)


def _run(rng: np.random.Generator, n: int, kind: int, number: int) -> Pieces:
    """Return `n` units side by side in the unit square."""
    k = np.arange(n)
    if kind == 0:
        zero = np.zeros(n)
        return rectangles(k / n, zero, (k + 1) / n, zero + 1, number + k % 2)
    if kind == 1:
        way = int(rng.integers(2))
        out: list[Piece] = []
        for i in range(n):
            x0, x1 = i / n, (i + 1) / n
            a, b = (x0, x1) if (way and i < n / 2) else (x1, x0)
            out.append((ring((b, 0), (a, 0), (b, 1)), number))
            out.append((ring((a, 0), (a, 1), (b, 1)), number + 1))
        return of(out)
    if kind == 2:
        out = [(ring((0, 0), (0.5 / n, 0), (0, 1)), number)]
        for i in range(n):
            x0, m, x1 = i / n, (i + 0.5) / n, (i + 1) / n
            out.append((ring((m, 0), (x1, 1), (x0, 1)), number + 1))
            end = (i + 1.5) / n if i < n - 1 else 1.0
            out.append((ring((m, 0), (end, 0), (x1, 1)), number))
        return of(out)
    cuts = np.concatenate([[0], np.cumsum(rng.uniform(0.5, 1.5, n))])
    cuts /= cuts[-1]
    zero = np.zeros(n)
    return rectangles(cuts[:-1], zero, cuts[1:], zero + 1, number + 3 + k % 7)


def bordered(rng: np.random.Generator, pieces: Pieces) -> Pieces:
    """Return a rectangle of pieces with none to four borders, widths of their own."""
    count = int(rng.choice(5, p=[0.4, 0.29, 0.19, 0.08, 0.04]))
    corners = str(rng.choice(["butted", "mitred", "squares"], p=[0.6, 0.15, 0.25]))
    for k in range(count):
        span = max(size(pieces))
        width = span * float(np.exp(rng.uniform(math.log(0.012), math.log(0.12))))
        width = float(np.clip(width, 0.75, 10))
        number = BORDER + 10 * k
        if rng.random() < 0.15 and span / width < 60:
            pieces = pieced_border(rng, pieces, width, number)
        else:
            pieces = plain_border(pieces, width, corners, number, two=bool(rng.random() < 0.08))
    return pieces


def bound(rng: np.random.Generator, pieces: Pieces) -> Pieces:
    """Return a rectangle of pieces with the narrow strip that a binding shows."""
    width = float(rng.uniform(0.2, 0.5))
    return plain_border(pieces, width, "mitred" if rng.random() < 0.7 else "butted", BINDING)


def edged(rng: np.random.Generator, pieces: Pieces, room: float) -> Pieces:
    """Return a rectangle of pieces cut to a shaped edge, at most `room` inches deep."""
    w, h = size(pieces)
    way = str(rng.choice(["scallops", "cut corners", "round corners", "waves"]))
    depth = room * float(rng.uniform(0.4, 0.9))
    if way == "cut corners":
        k = depth * 1.2
        shape = ring(
            (k, 0), (w - k, 0), (w, k), (w, h - k), (w - k, h), (k, h), (0, h - k), (0, k)
        )
    elif way == "round corners":
        k = depth * 2
        spots = ((w - k, k, 270), (w - k, h - k, 0), (k, h - k, 90), (k, k, 180))
        shape = np.vstack([arc((x, y), k, a, a + 90) for x, y, a in spots])
    else:
        shape = _scalloped(w, h, depth, waves=way == "waves", wide=float(rng.uniform(2.5, 6)))
    return trimmed(pieces, shapely.Polygon(shape))


def _scalloped(w: float, h: float, depth: float, *, waves: bool, wide: float) -> Points:
    """Return a rectangle's outline with arcs or waves along its sides."""
    corners = ring((0, 0), (w, 0), (w, h), (0, h))
    parts = []
    for k in range(4):
        a, b = corners[k], corners[(k + 1) % 4]
        way = b - a
        length = float(np.hypot(*way))
        way = way / length
        inward = np.array([-way[1], way[0]])
        start, end = a + (way + inward) * depth, b + (-way + inward) * depth
        n = max(2, round((length - 2 * depth) / (depth * wide)))
        t = np.linspace(0, 1, n * 8 + 1)[:-1]
        lift = (
            np.abs(np.sin(t * n * np.pi)) if not waves else 0.5 - 0.5 * np.cos(t * n * 2 * np.pi)
        )
        parts.append(start + t[:, None] * (end - start) - inward * lift[:, None] * depth * 0.98)
    return np.vstack(parts)
