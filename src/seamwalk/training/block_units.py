"""Units of one square, of which most blocks are built: half squares, geese, quarter circles …

Every unit tiles the unit square; class 0 is its ground, higher classes its figure.
"""

from collections.abc import Callable

import numpy as np

from seamwalk.training.pieces import Piece, arc, box, ring

Unit = Callable[[np.random.Generator], list[Piece]]


def plain(rng: np.random.Generator) -> list[Piece]:
    """Return one square of either class."""
    return [(box(0, 0, 1, 1), int(rng.integers(2)))]


def half_square(_: np.random.Generator) -> list[Piece]:
    """Return two triangles."""
    return [(ring((0, 0), (1, 0), (0, 1)), 0), (ring((1, 0), (1, 1), (0, 1)), 1)]


def quarter_square(rng: np.random.Generator) -> list[Piece]:
    """Return four triangles, two or three or four fabrics."""
    m, corners = (0.5, 0.5), ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0))
    classes = ((0, 1, 0, 1), (0, 1, 2, 1), (0, 1, 0, 2), (0, 1, 2, 3))[int(rng.integers(4))]
    return [
        (ring(corners[k], corners[(k + 1) % 4], m), c)
        for k, c in zip(range(4), classes, strict=True)
    ]


def three_piece(_: np.random.Generator) -> list[Piece]:
    """Return a half square whose one half is halved again."""
    m = (0.5, 0.5)
    return [
        (ring((0, 0), (1, 0), (0, 1)), 0),
        (ring((1, 0), (1, 1), m), 1),
        (ring((1, 1), (0, 1), m), 2),
    ]


def halves(rng: np.random.Generator) -> list[Piece]:
    """Return two rectangles, not always equal."""
    y = 0.5 if rng.random() < 0.7 else float(rng.uniform(0.25, 0.75))
    return [(box(0, 0, 1, y), 0), (box(0, y, 1, 1), 1)]


def rails(rng: np.random.Generator) -> list[Piece]:
    """Return three to five strips."""
    n = int(rng.choice([3, 3, 3, 4, 5]))
    same = bool(rng.random() < 0.4)
    return [(box(0, k / n, 1, (k + 1) / n), k % 2 if same else k) for k in range(n)]


def square_in_square(rng: np.random.Generator) -> list[Piece]:
    """Return a square on its point in four triangles, or four kites where it is askew."""
    t = 0.5 if rng.random() < 0.8 else float(rng.uniform(0.25, 0.45))
    a, b, c, d = (t, 0.0), (1.0, t), (1 - t, 1.0), (0.0, 1 - t)
    return [
        (ring(a, b, c, d), 1),
        (ring(a, (1, 0), b), 0),
        (ring(b, (1, 1), c), 0),
        (ring(c, (0, 1), d), 0),
        (ring(d, (0, 0), a), 0),
    ]


def economy(rng: np.random.Generator) -> list[Piece]:
    """Return a square in a square in a square."""
    inner = (box(0.25, 0.25, 0.75, 0.75), 2)
    c = ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0))
    q = ((0.5, 0.0), (1.0, 0.5), (0.5, 1.0), (0.0, 0.5))
    e = ((0.25, 0.25), (0.75, 0.25), (0.75, 0.75), (0.25, 0.75))
    out = [(ring(q[k - 1], c[k], q[k]), 0) for k in range(4)]
    frame = [(ring(e[k], q[k], e[(k + 1) % 4]), 1) for k in range(4)]
    if rng.random() < 0.3:
        return out + frame + [(ring(e[0], e[1], e[3]), 2), (ring(e[1], e[2], e[3]), 3)]
    return [*out, *frame, inner]


def geese(rng: np.random.Generator) -> list[Piece]:
    """Return one to three geese flying one way."""
    n = int(rng.choice([1, 2, 2, 2, 3]))
    out: list[Piece] = []
    for k in range(n):
        y0, y1 = k / n, (k + 1) / n
        out += [
            (ring((0, y1), (0.5, y0), (1, y1)), 1),
            (ring((0, y0), (0.5, y0), (0, y1)), 0),
            (ring((0.5, y0), (1, y0), (1, y1)), 0),
        ]
    return out


def kite(rng: np.random.Generator) -> list[Piece]:
    """Return a kite from corner to corner between two slim triangles."""
    t = float(rng.uniform(0.3, 0.6))
    return [
        (ring((0, 0), (1, t), (1, 1), (t, 1)), 1),
        (ring((0, 0), (1, 0), (1, t)), 0),
        (ring((0, 0), (t, 1), (0, 1)), 0),
    ]


def peaks(rng: np.random.Generator) -> list[Piece]:
    """Return a tall triangle between two slim ones."""
    x = 0.5 if rng.random() < 0.7 else float(rng.uniform(0.3, 0.7))
    return [
        (ring((x, 0), (1, 1), (0, 1)), 1),
        (ring((0, 0), (x, 0), (0, 1)), 0),
        (ring((x, 0), (1, 0), (1, 1)), 0),
    ]


def half_rectangles(_: np.random.Generator) -> list[Piece]:
    """Return two rectangles, each cut along its diagonal."""
    return [
        (ring((0, 0), (0.5, 0), (0, 1)), 0),
        (ring((0.5, 0), (0.5, 1), (0, 1)), 1),
        (ring((0.5, 0), (1, 1), (0.5, 1)), 1),
        (ring((0.5, 0), (1, 0), (1, 1)), 0),
    ]


def snowball(rng: np.random.Generator) -> list[Piece]:
    """Return a square with one, two or four corners cut off."""
    k = float(rng.choice([0.2, 0.25, 0.3, 1 / 3, 0.4]))
    cut = ((0, 1, 2, 3), (0, 2), (0,), (0, 1))[int(rng.integers(4))]
    corners = ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0))
    near = (
        ((0.0, k), (k, 0.0)),
        ((1 - k, 0.0), (1.0, k)),
        ((1.0, 1 - k), (1 - k, 1.0)),
        ((k, 1.0), (0.0, 1 - k)),
    )
    body: list[tuple[float, float]] = []
    out: list[Piece] = []
    for i in range(4):
        if i in cut:
            body += near[i]
            out.append((ring(near[i][0], corners[i], near[i][1]), 1))
        else:
            body.append(corners[i])
    return [(ring(*body), 0), *out]


def diamonds(_: np.random.Generator) -> list[Piece]:
    """Return two leaning diamonds that meet at the middle line, with the triangles round them."""
    return [
        (ring((0, 0), (0.5, 0.25), (0.5, 0.75), (0, 0.5)), 1),
        (ring((1, 0), (1, 0.5), (0.5, 0.75), (0.5, 0.25)), 2),
        (ring((0, 0), (1, 0), (0.5, 0.25)), 0),
        (ring((0, 0.5), (0.5, 0.75), (0.5, 1), (0, 1)), 0),
        (ring((1, 0.5), (1, 1), (0.5, 1), (0.5, 0.75)), 0),
    ]


def quarter_circle(rng: np.random.Generator) -> list[Piece]:
    """Return a quarter of a circle in a corner, sometimes with a ring round it."""
    r = float(rng.uniform(0.45, 0.85))
    a = arc((0, 0), r, 0, 90)
    out: list[Piece] = [(np.vstack([a[::-1], ring((1, 0), (1, 1), (0, 1))]), 0)]
    if rng.random() < 0.3:
        b = arc((0, 0), r * float(rng.uniform(0.4, 0.75)), 0, 90)
        return [*out, (np.vstack([a, b[::-1]]), 2), (np.vstack([ring((0, 0)), b]), 1)]
    return [*out, (np.vstack([ring((0, 0)), a]), 1)]


def orange_peel(_: np.random.Generator) -> list[Piece]:
    """Return a petal between two quarter circles."""
    a, b = arc((0, 0), 1, 0, 90), arc((1, 1), 1, 180, 270)
    b[0], b[-1] = a[-1], a[0]
    return [
        (np.vstack([a, b[1:-1]]), 1),
        (np.vstack([a[::-1], ring((1, 1))]), 0),
        (np.vstack([b[::-1], ring((0, 0))]), 0),
    ]


UNITS: dict[str, tuple[Unit, float]] = {
    "plain": (plain, 0.28),
    "half square": (half_square, 0.24),
    "quarter square": (quarter_square, 0.06),
    "three piece": (three_piece, 0.04),
    "halves": (halves, 0.05),
    "rails": (rails, 0.04),
    "square in square": (square_in_square, 0.05),
    "economy": (economy, 0.03),
    "geese": (geese, 0.08),
    "kite": (kite, 0.02),
    "peaks": (peaks, 0.02),
    "half rectangles": (half_rectangles, 0.015),
    "snowball": (snowball, 0.035),
    "diamonds": (diamonds, 0.01),
    "quarter circle": (quarter_circle, 0.03),
    "orange peel": (orange_peel, 0.02),
}
"""Each unit with its share; common units of real quilts are commonest. From memory."""
