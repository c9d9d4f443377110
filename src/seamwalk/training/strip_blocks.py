"""Blocks of strips and scraps: log cabins, strings, crazy. All tile the unit square."""

import math

import numpy as np
import shapely

from seamwalk.training.pieces import (
    STRIPS,
    Piece,
    Pieces,
    Points,
    box,
    of,
    placed,
    ring,
    trimmed,
)

UNIT = shapely.box(0, 0, 1, 1)


def log_cabin(rng: np.random.Generator) -> Pieces:
    """Return strips round a centre: by rounds, in pairs, or on two sides only."""
    way = str(rng.choice(["round", "pairs", "half"], p=[0.6, 0.2, 0.2]))
    n = int(rng.integers(2, 8))
    c = float(rng.uniform(0.08, 0.35))
    ratio = 1.0 if rng.random() < 0.7 else float(rng.uniform(0.4, 2.5))
    wide = (1 - c) / n * 2 * ratio / (1 + ratio) / (1 if way == "half" else 2)
    slim = wide / ratio
    scrappy = rng.random() < 0.6
    x0 = y0 = 0.0
    x1 = y1 = c
    out: list[Piece] = [(box(x0, y0, x1, y1), 1)]
    for k in range(n):
        a, b = (STRIPS + 2 * k, STRIPS + 2 * k + 1) if scrappy else (0, 2)
        if way != "half":
            out.append((box(x0, y0 - slim, x1, y0), a))
            y0 -= slim
            if way == "pairs":
                out.append((box(x0, y1, x1, y1 + wide), a))
                y1 += wide
            else:
                out.append((box(x0 - slim, y0, x0, y1), a))
                x0 -= slim
        if way == "pairs":
            out.append((box(x0 - slim, y0, x0, y1), b))
            x0 -= slim
            out.append((box(x1, y0, x1 + wide, y1), b))
            x1 += wide
        else:
            out.append((box(x0, y1, x1, y1 + wide), b))
            y1 += wide
            out.append((box(x1, y0, x1 + wide, y1), b if way != "half" else a))
            x1 += wide
    size = x1 - x0
    return placed(of([((p - (x0, y0)) / size, k) for p, k in out]), (0, 0), (1, 1), _turn(rng))


def strings(rng: np.random.Generator) -> Pieces:
    """Return strips across the square, mostly along the diagonal."""
    n = int(rng.integers(3, 11))
    lean = 1.0 if rng.random() < 0.75 else float(rng.uniform(0.1, 0.8))
    width = rng.uniform(0.5, 1.0, n)
    cuts = np.concatenate([[0], np.cumsum(width)]) / width.sum() * (1 + lean)
    out: list[Piece] = []
    for k in range(n):
        a, b = float(cuts[k]), float(cuts[k + 1])
        out.append((ring((a, 0), (b, 0), (b - lean, 1), (a - lean, 1)), STRIPS + k))
    return placed(trimmed(of(out), UNIT), (0, 0), (1, 1), _turn(rng))


def strips(rng: np.random.Generator) -> Pieces:
    """Return parallel strips, alike or of many widths."""
    n = int(rng.integers(2, 9))
    width = np.ones(n) if rng.random() < 0.6 else rng.uniform(0.4, 1.0, n)
    cuts = np.concatenate([[0], np.cumsum(width)]) / width.sum()
    two = rng.random() < 0.3
    parts: list[Piece] = [
        (box(0, float(cuts[k]), 1, float(cuts[k + 1])), k % 2 if two else STRIPS + k)
        for k in range(n)
    ]
    return placed(of(parts), (0, 0), (1, 1), _turn(rng))


def crazy(rng: np.random.Generator) -> Pieces:
    """Return a square cut again and again at any angle."""
    whole = box(0, 0, 1, 1)
    return cut_up(rng, whole, int(rng.integers(3, 14)), float(rng.choice([0.08, 0.5, 2.0])), 0.07)


def cut_up(
    rng: np.random.Generator, whole: Points, cuts: int, slant_rad: float, least: float
) -> Pieces:
    """Return a convex outline cut `cuts` times, larger pieces first.

    Parameters
    ----------
    slant_rad : float
        Spread of the cuts' angle against straight across.
    least : float
        Narrowest piece, as :attr:`Pieces.widths` measures.
    """
    done = [whole]
    sizes = [abs(float(of([(whole, 0)]).areas[0]))]
    for _ in range(cuts):
        k = int(np.argmax(np.array(sizes) * rng.uniform(0.3, 1, len(sizes))))
        low, high = done[k].min(axis=0), done[k].max(axis=0)
        through = low + (high - low) * rng.uniform(0.25, 0.75, 2)
        turn = (0.0 if high[0] - low[0] > high[1] - low[1] else math.pi / 2) + float(
            rng.uniform(-slant_rad, slant_rad)
        )
        parts = _halved(done[k], through, np.array([math.cos(turn), math.sin(turn)]))
        both = of([(p, 0) for p in parts])
        if len(parts) < 2 or both.widths.min() < least:
            continue
        done[k : k + 1] = parts
        sizes[k : k + 1] = np.abs(both.areas).tolist()
    return of([(p, STRIPS + k) for k, p in enumerate(done)])


def _halved(ring_: Points, through: Points, normal: Points) -> list[Points]:
    """Return the two parts of a convex outline either side of a line."""
    side = (ring_ - through) @ normal
    if np.abs(side).min() < 1e-4:
        return [ring_]
    parts: list[list[Points]] = [[], []]
    for k in range(len(ring_)):
        j = (k + 1) % len(ring_)
        parts[int(side[k] < 0)].append(ring_[k])
        if side[k] * side[j] < 0:
            cut = ring_[k] + side[k] / (side[k] - side[j]) * (ring_[j] - ring_[k])
            parts[0].append(cut)
            parts[1].append(cut)
    return [np.array(p) for p in parts if len(p) > 2]


def large_panel(rng: np.random.Generator) -> Pieces:
    """Return one large piece in a plain frame, as in quilts of shirts or picture panels."""
    q = float(rng.uniform(0.04, 0.16))
    out: list[Piece] = [
        (box(q, q, 1 - q, 1 - q), STRIPS),
        (box(0, 0, 1, q), 0),
        (box(0, 1 - q, 1, 1), 0),
        (box(0, q, q, 1 - q), 0),
        (box(1 - q, q, 1, 1 - q), 0),
    ]
    return of(out)


def _turn(rng: np.random.Generator) -> int:
    return int(rng.integers(4))
