"""Blocks with curved seams: figures on a ground, plates, fans, rings. All tile the unit square."""

import numpy as np

from seamwalk.training.pieces import (
    STRIPS,
    Piece,
    Pieces,
    Points,
    arc,
    of,
    placed,
    ring,
)

FIGURES = ("circle", "flower", "heart", "star", "egg")


def reach(rng: np.random.Generator, figure: str, petals: int, t: Points) -> Points:
    """Return how far a figure of reach 1 goes in the directions `t`, radians (n,)."""
    if figure == "flower":
        flower: Points = 1 - rng.uniform(0.1, 0.45) * (1 - np.abs(np.cos(petals * t / 2)))
        return flower
    if figure == "star":
        saw = np.abs(np.mod(t * petals / (2 * np.pi), 1.0) * 2 - 1)
        star: Points = 1 - rng.uniform(0.2, 0.5) * (1 - saw)
        return star
    if figure == "heart":
        s = np.linspace(0, 2 * np.pi, 400)
        x = 16 * np.sin(s) ** 3
        y = -13 * np.cos(s) + 5 * np.cos(2 * s) + 2 * np.cos(3 * s) + np.cos(4 * s)
        turn = np.mod(np.arctan2(y, x), 2 * np.pi)
        order = np.argsort(turn)
        heart: Points = np.interp(t, turn[order], np.hypot(x, y)[order] / 17, period=2 * np.pi)
        return heart
    if figure == "egg":
        b = float(rng.uniform(0.4, 0.8))
        egg: Points = b / np.hypot(b * np.cos(t), np.sin(t))
        return egg
    return np.ones(len(t))


def on_ground(rng: np.random.Generator) -> Pieces:
    """Return a round figure on a ground of four squares: circle, flower, heart, plate …"""
    n = 48
    t = np.arange(n) * 2 * np.pi / n
    radius = float(rng.uniform(0.28, 0.47))
    shape = str(rng.choice([*FIGURES, "plate"]))
    k = int(rng.choice([8, 12, 16, 24] if shape == "plate" else [4, 6, 8, 12]))
    if shape == "plate":
        tip = radius * float(rng.uniform(1.0, 1.12))
        r = np.minimum(np.where(np.arange(n) % (n // k) == 0, radius, tip), 0.48)
    else:
        r = radius * reach(rng, shape, k, t)
    rims = [r]
    sectors = 1
    if shape == "plate" or rng.random() < 0.5:
        rims.append(r.min() * float(rng.uniform(0.2, 0.7)) * np.ones(n))
        sectors = k if shape == "plate" else int(rng.choice([2, 4, 4, 8, 12]))
    return _rings_on_ground(rng, [_polar(q, t) for q in rims], sectors, n)


def _polar(r: Points, t: Points) -> Points:
    return np.stack([0.5 + r * np.cos(t), 0.5 + r * np.sin(t)], axis=1)


def _rings_on_ground(rng: np.random.Generator, rims: list[Points], sectors: int, n: int) -> Pieces:
    """Return closed curves (n, 2) one in another on four squares, ring between cut in sectors."""
    rim = rims[0]
    mids = ring((1, 0.5), (0.5, 1), (0, 0.5), (0.5, 0))
    corners = ring((1, 1), (0, 1), (0, 0), (1, 0))
    apart = bool(rng.random() < 0.15)
    out: list[Piece] = []
    for k in range(4):
        edge = rim[np.arange(k * n // 4, (k + 1) * n // 4 + 1) % n][::-1]
        ground = np.vstack([mids[k], corners[k], mids[(k + 1) % 4], edge])
        out.append((ground, 3 if apart and k % 2 else 0))
    if len(rims) == 1:
        return of([*out, (rim, 1)])
    scraps = bool(rng.random() < 0.5)
    for k in range(sectors):
        span = np.arange(k * n // sectors, (k + 1) * n // sectors + 1) % n
        piece = np.vstack([rim[span], rims[1][span][::-1]])
        out.append((piece, STRIPS + k if scraps else 1 + k % 2))
    return of([*out, (rims[1], 4)])


def fan(rng: np.random.Generator) -> Pieces:
    """Return a fan of wedges in a corner."""
    n = int(rng.integers(3, 9))
    r0, r1 = float(rng.uniform(0.12, 0.4)), float(rng.uniform(0.6, 0.95))
    step = 4
    a, b = arc((0, 0), r0, 0, 90, n * step + 1), arc((0, 0), r1, 0, 90, n * step + 1)
    if rng.random() < 0.4:
        lift = 1 + 0.06 * np.abs(np.sin(np.arange(n * step + 1) * np.pi / step))
        b = b * np.minimum(lift, 0.98 / r1)[:, None]
    out: list[Piece] = [(np.vstack([ring((0, 0)), a]), 1)]
    for k in range(n):
        s = slice(k * step, (k + 1) * step + 1)
        out.append((np.vstack([a[s][::-1], b[s]]), STRIPS + k))
    out.append((np.vstack([b[::-1], ring((1, 0), (1, 1), (0, 1))]), 0))
    return placed(of(out), (0, 0), (1, 1), int(rng.integers(4)))


def pieced_rings(rng: np.random.Generator) -> Pieces:
    """Return a petal from corner to corner between two bands of small pieces."""
    n = int(rng.integers(3, 7))
    step = 3
    a = arc((0, 0), 1, 0, 90, n * step + 1)
    b = arc((1, 1), 1, 270, 180, n * step + 1)
    b[0], b[-1] = a[0], a[-1]
    w = float(rng.uniform(0.2, 0.36))
    c, d = a + (b - a) * w, a + (b - a) * (1 - w)
    out: list[Piece] = [
        (np.vstack([a[::-1], ring((1, 1))]), 0),
        (np.vstack([ring((0, 0)), b]), 0),
        (np.vstack([c, d[::-1][1:-1]]), 1),
    ]
    for k in range(n):
        s = slice(k * step, (k + 1) * step + 1)
        out.append((np.vstack([a[s], c[s][::-1]]), STRIPS + k))
        out.append((np.vstack([d[s], b[s][::-1]]), STRIPS + n + k))
    return of(out)
