"""Outlines of plane geometry that stray things and shadows are made from, in any unit."""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def box(width: float, height: float, x: float = 0.0, y: float = 0.0) -> Array:
    """Return the corners (4, 2) of an upright box round (x, y)."""
    return np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * (width / 2, height / 2) + (x, y)


def disc(
    rx: float, ry: float | None = None, x: float = 0.0, y: float = 0.0, count: int = 20
) -> Array:
    """Return an ellipse (count, 2) round (x, y)."""
    t = np.linspace(0.0, 2 * np.pi, count, endpoint=False)
    return np.column_stack([x + rx * np.cos(t), y + (rx if ry is None else ry) * np.sin(t)])


def rounded(width: float, height: float, radius: float, x: float = 0.0, y: float = 0.0) -> Array:
    """Return a box with round corners (20, 2)."""
    t = np.linspace(0.0, np.pi / 2, 5)
    out = []
    for k, (sx, sy) in enumerate(((1, 1), (-1, 1), (-1, -1), (1, -1))):
        a = t + k * np.pi / 2
        out.append(
            np.column_stack([np.cos(a), np.sin(a)]) * radius
            + (sx * (width / 2 - radius) + x, sy * (height / 2 - radius) + y)
        )
    return np.concatenate(out)


def blob(rng: np.random.Generator, radius: float, rough: float = 0.25, count: int = 28) -> Array:
    """Return a smooth random outline (count, 2) of about `radius`."""
    t = np.linspace(0.0, 2 * np.pi, count, endpoint=False)
    r = np.ones(count)
    for k in range(2, 7):
        r += rough / k * rng.normal() * np.cos(k * t + rng.uniform(0.0, 6.28))
    r = np.maximum(r, 0.25) * radius
    squash = rng.uniform(0.5, 1.0)
    return np.column_stack([r * np.cos(t), squash * r * np.sin(t)])


def limb(path: Array, widths: Array) -> Array:
    """Return the outline of a limb along `path` (n, 2), as wide as `widths` (n,), ends rounded."""
    way = np.gradient(path, axis=0)
    way /= np.maximum(np.linalg.norm(way, axis=1), 1e-9)[:, None]
    side = np.column_stack([-way[:, 1], way[:, 0]]) * (widths / 2)[:, None]
    tip = path[-1:] + way[-1:] * widths[-1] * 0.45
    tail = path[:1] - way[:1] * widths[0] * 0.45
    return np.concatenate([path + side, tip, (path - side)[::-1], tail])
