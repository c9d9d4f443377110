"""Whole tops of strips and scraps: bricks, columns, packed squares, free cutting, waves."""

import math

import numpy as np

from seamwalk.training.block_grammar import rectangles
from seamwalk.training.pieces import (
    STRIPS,
    Piece,
    Pieces,
    Points,
    box,
    of,
    placed,
    ring,
    together,
)
from seamwalk.training.strip_blocks import cut_up


def bricks(rng: np.random.Generator, width: float, height: float, count: int) -> Pieces:
    """Return rows of rectangles, each shifted against the row before, of one or many lengths."""
    ratio = float(np.exp(rng.uniform(0, math.log(4))))
    h = math.sqrt(width * height / count / ratio)
    rows = max(2, round(height / h))
    h = height / rows
    step = float(rng.choice([0.5, 0.5, 0.5, 1 / 3, 0.25]))
    parts: list[Pieces] = []
    wild = rng.random() < 0.35
    for k in range(rows):
        n = max(1, round(width / (h * ratio)))
        if wild:
            lengths = rng.uniform(0.4, 1.6, max(2, n))
            cuts = np.concatenate([[0], np.cumsum(lengths)]) / lengths.sum()
        else:
            cuts = np.concatenate([[0], (np.arange(1, n + 1) - (k * step) % 1 * (n > 0)) / n, [1]])
            cuts = np.unique(np.round(cuts.clip(0, 1), 9))
        m = len(cuts) - 1
        y = np.full(m, k * h)
        parts.append(
            rectangles(cuts[:-1] * width, y, cuts[1:] * width, y + h, STRIPS + np.arange(m))
        )
    out = together(parts)
    return _upright(rng, out, width, height)


def columns(rng: np.random.Generator, width: float, height: float, count: int) -> Pieces:
    """Return columns of coins, bargello steps, or plain strips across the whole top."""
    way = str(rng.choice(["coins", "bargello", "strips"], p=[0.45, 0.3, 0.25]))
    if way == "strips":
        n = int(np.clip(count, 8, 40))
        w = rng.uniform(0.3, 1, n)
        cuts = np.concatenate([[0], np.cumsum(w)]) / w.sum()
        zero = np.zeros(n)
        out = rectangles(cuts[:-1], zero, cuts[1:], zero + 1, STRIPS + np.arange(n))
        return _upright(rng, placed(out, (0, 0), (width, height)), width, height)
    n = int(np.clip(round(math.sqrt(count / 3)), 3, 30))
    each = max(3, round(count / n))
    w = np.ones(n) if way == "coins" else rng.uniform(0.3, 1, n)
    x = np.concatenate([[0], np.cumsum(w)]) / w.sum() * width
    parts = []
    shift = np.cumsum(rng.choice([-1, 0, 1], n)) * 0.5
    for k in range(n):
        if way == "coins":
            if k % 2 and rng.random() < 0.8:
                parts.append(of([(box(x[k], 0, x[k + 1], height), 0)]))
                continue
            h = rng.uniform(0.4, 1, each)
            y = np.concatenate([[0], np.cumsum(h)]) / h.sum() * height
            number = rng.integers(0, 12, each)
        else:
            y = (
                np.concatenate([[0], np.arange(1, each + 1) - shift[k] % 1, [each]])
                * height
                / each
            )
            y = np.unique(np.round(y.clip(0, height), 9))
            number = (np.arange(len(y) - 1) + math.floor(shift[k])) % 11
        m = len(y) - 1
        left = np.full(m, x[k])
        parts.append(rectangles(left, y[:-1], np.full(m, x[k + 1]), y[1:], STRIPS + number))
    return _upright(rng, together(parts), width, height)


def geese_columns(rng: np.random.Generator, width: float, height: float, count: int) -> Pieces:
    """Return columns of flying geese, all one way or turn about, often with strips between.

    The corners beside each goose are congruent with its halves: whether it is whole can only be
    seen in the cloth.
    """
    flat = 0.5 if rng.random() < 0.75 else float(rng.uniform(0.35, 0.8))
    strip = float(rng.uniform(0.15, 1.2)) if rng.random() < 0.6 else 0.0
    # A goose of width 1 takes 1 + strip across, `flat` along, and is three patches.
    side = math.sqrt(3 * width * height / count / flat / (1 + strip))
    n = int(np.clip(round(width / side / (1 + strip)), 2, 30))
    each = max(3, round(height / side / flat))
    scraps = rng.random() < 0.5
    turned = rng.random() < 0.5
    pieces: list[Piece] = []
    for k in range(n):
        x = k * (1 + strip)
        up = not (turned and k % 2)
        for j in range(each):
            y0, y1 = (j, j + 1) if up else (j + 1, j)
            goose = STRIPS + int(rng.integers(0, 12)) if scraps else 1
            pieces += [
                (ring((x, y1), (x + 0.5, y0), (x + 1, y1)), goose),
                (ring((x, y0), (x + 0.5, y0), (x, y1)), 0),
                (ring((x + 0.5, y0), (x + 1, y0), (x + 1, y1)), 0),
            ]
        if strip and k < n - 1:
            pieces.append((box(x + 1, 0, x + 1 + strip, each), 2))
    scale = (width / (n * (1 + strip) - strip), height / each)
    return _upright(rng, placed(of(pieces), (0, 0), scale), width, height)


def packed_squares(rng: np.random.Generator, width: float, height: float, count: int) -> Pieces:
    """Return squares and oblongs of many sizes packed on a grid."""
    unit = math.sqrt(width * height / count / 2.5)
    n, m = max(3, round(width / unit)), max(3, round(height / unit))
    free = np.ones((m, n), dtype=bool)
    most = int(rng.integers(2, 5))
    sides = np.zeros((n * m, 4))
    k = 0
    square = rng.random() < 0.6
    draws = rng.integers(1, most + 1, (n * m, 2))
    for y in range(m):
        for x in range(n):
            if not free[y, x]:
                continue
            w, h = int(draws[k, 0]), int(draws[k, 0 if square else 1])
            w = h = min(w, n - x, h, m - y) if square else min(w, n - x)
            h = h if square else min(int(draws[k, 1]), m - y)
            while not free[y : y + h, x : x + w].all():
                w -= 1
                h = w if square else h
            free[y : y + h, x : x + w] = False
            sides[k] = x, y, x + w, y + h
            k += 1
    s = sides[:k] / (n, m, n, m)
    out = rectangles(s[:, 0], s[:, 1], s[:, 2], s[:, 3], STRIPS + np.arange(k))
    return placed(out, (0, 0), (width, height))


def improvised(rng: np.random.Generator, width: float, height: float, count: int) -> Pieces:
    """Return a top cut freely: rows of slanting strips, or one sheet cut again and again."""
    slant = float(rng.uniform(0.02, 0.25))
    if rng.random() < 0.4:
        n = min(count, 160)
        least = 0.25 * math.sqrt(width * height / n)
        return cut_up(rng, box(0, 0, width, height), n, slant, least)
    each = int(np.clip(round(math.sqrt(count) * rng.uniform(0.5, 1.5)), 3, 40))
    rows = max(1, round(count / each))
    y = np.linspace(0, height, rows + 1)
    slope = rng.normal(0, 0.15 * height / rows, (rows + 1, 2)).clip(
        -0.3 * height / rows, 0.3 * height / rows
    )
    slope[[0, -1]] = 0
    pieces: list[Piece] = []
    for k in range(rows):
        w = rng.uniform(0.5, 1, each)
        cuts = np.concatenate([[0], np.cumsum(w)]) / w.sum() * width
        lean = rng.normal(0, 0.15, each + 1).clip(-0.4, 0.4) * width / each * 0.6
        lean[[0, -1]] = 0
        a = [
            _on_line(y[k], slope[k], float(c - d), width) for c, d in zip(cuts, lean, strict=True)
        ]
        b = [
            _on_line(y[k + 1], slope[k + 1], float(c + d), width)
            for c, d in zip(cuts, lean, strict=True)
        ]
        pieces += [(ring(a[j], a[j + 1], b[j + 1], b[j]), STRIPS + j) for j in range(each)]
    return _upright(rng, of(pieces), width, height)


def waves(rng: np.random.Generator, width: float, height: float, count: int) -> Pieces:
    """Return strips with wavy sides across the whole top, some cut into lengths."""
    rows = int(np.clip(round(math.sqrt(count) * rng.uniform(0.5, 1.0)), 3, 30))
    each = max(1, round(count / rows)) if rng.random() < 0.7 else 1
    step = max(2, 48 // each)
    x = np.linspace(0, width, each * step + 1)
    pitch = height / rows
    lines = []
    for k in range(rows + 1):
        bend = np.zeros(len(x))
        for _ in range(2):
            turns = float(rng.uniform(0.5, 3.0))
            bend += np.sin(2 * np.pi * (x / width * turns + rng.random())) * rng.uniform(0, 0.2)
        lines.append(k * pitch + bend * (pitch if 0 < k < rows else 0.0))
    pieces: list[Piece] = []
    for k in range(rows):
        for j in range(each):
            s = slice(j * step, (j + 1) * step + 1)
            top, foot = np.stack([x[s], lines[k][s]], 1), np.stack([x[s], lines[k + 1][s]], 1)
            pieces.append((np.vstack([top, foot[::-1]]), STRIPS + (k * 3 + j) % 25))
    return _upright(rng, of(pieces), width, height)


def _on_line(y: float, slope: Points, x: float, width: float) -> tuple[float, float]:
    """Return the point at `x` of a line that is off `y` by `slope` at its two ends."""
    return x, float(y + slope[0] + (slope[1] - slope[0]) * x / width)


def _upright(rng: np.random.Generator, pieces: Pieces, width: float, height: float) -> Pieces:
    """Return the pieces, in half of cases with rows made columns in the same rectangle."""
    if rng.random() < 0.5:
        return pieces
    at = pieces.points[:, ::-1] * (width / height, height / width)
    return Pieces(at, pieces.counts, pieces.classes, pieces.homes)
