"""Outlines of plants: flowers, leaves, sprigs, paisleys, feathers, drawn from curves and chance.

A shape is a tuple of `Layer`s from the bottom up, in units of the shape's own radius: x right, y
down, mostly within the unit circle. Inks are numbered, the print gives them colours.
"""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Curve = NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class Layer:
    """One filled outline or line of a shape.

    Attributes
    ----------
    points : (n, 2) float32
        In units of the shape's radius.
    ink : int
        Number of the ink.
    width : float
        0 for a filled outline; else width of the line in units of the radius.
    closed : bool
        The line returns to its start.
    """

    points: Curve
    ink: int = 0
    width: float = 0.0
    closed: bool = False


Shape = tuple[Layer, ...]
Draw = Callable[[np.random.Generator], Shape]


def curve(x: NDArray[np.floating], y: NDArray[np.floating]) -> Curve:
    """Return points (n, 2) of coordinates `x` and `y`."""
    return np.column_stack([x, y]).astype(np.float32)


def polar(radius: NDArray[np.floating]) -> Curve:
    """Return the closed curve of radii spread evenly over the whole turn."""
    turn = np.linspace(0.0, 2 * np.pi, len(radius), endpoint=False)
    return curve(radius * np.sin(turn), -radius * np.cos(turn))


def disc(x: float, y: float, radius: float, points: int = 14) -> Curve:
    """Return a circle."""
    return polar(np.full(points, radius)) + np.array([x, y], np.float32)


def turned(points: Curve, angle: float) -> Curve:
    """Return `points` turned round the origin, x towards y, radians."""
    c, s = np.cos(angle), np.sin(angle)
    return np.asarray(points @ np.array([[c, s], [-s, c]]), np.float32)


def bezier(*handles: tuple[float, float], count: int = 9) -> Curve:
    """Return `count` points of the Bézier curve of two to four `handles` (de Casteljau)."""
    t = np.linspace(0.0, 1.0, count)[:, None]
    level = [np.broadcast_to(np.array(h, float), (count, 2)) for h in handles]
    while len(level) > 1:
        level = [a + t * (b - a) for a, b in pairwise(level)]
    return level[0].astype(np.float32)


def blade(length: float, width: float, belly: float = 0.5, points: int = 7) -> Curve:
    """Return a leaf or petal from the origin upwards: pointed ends, widest at `belly`."""
    t = np.linspace(0.0, 1.0, points)
    warp = np.log(0.5) / np.log(np.clip(belly, 0.1, 0.9))
    half = width / 2 * np.sin(np.pi * t**warp)
    up = np.concatenate([t, t[-2:0:-1]])
    side = np.concatenate([half, -half[-2:0:-1]])
    return curve(side, -length * up)


def along(path: Curve, share: float) -> tuple[NDArray[np.float32], float]:
    """Return the place at `share` of a path's points and the direction there, radians."""
    k = min(int(share * (len(path) - 1)), len(path) - 2)
    step = path[k + 1] - path[k]
    return path[k] + step * (share * (len(path) - 1) - k), float(np.arctan2(step[1], step[0]))


def rosette(rng: np.random.Generator) -> Shape:
    """Return a flower of one wavy outline, with rings and an eye."""
    n = int(rng.integers(4, 13))
    turn = np.linspace(0, 2 * np.pi, max(8 * n, 48), endpoint=False)
    depth, sharp = rng.uniform(0.1, 0.7), rng.uniform(0.3, 2.0)
    radius = 1 - depth + depth * np.abs(np.cos(n * turn / 2)) ** sharp
    outline = polar(radius)
    layers = [Layer(outline, 0)]
    if rng.random() < 0.5:
        layers.append(Layer(outline * np.float32(rng.uniform(0.55, 0.85)), 1))
    if rng.random() < 0.4:
        rays = 2 * np.pi * np.arange(n) / n
        for a in rays:
            layers.append(Layer(turned(curve(np.zeros(2), np.array([-0.2, -0.75])), a), 2, 0.05))
    layers.append(Layer(disc(0, 0, rng.uniform(0.12, 0.32)), 2))
    return tuple(layers)


def petals(rng: np.random.Generator) -> Shape:
    """Return a flower of single petals round an eye, in one or two rings."""
    layers: list[Layer] = []
    for ring in range(int(rng.integers(1, 3))):
        n = int(rng.integers(4, 15))
        size = 1.0 if ring == 0 else rng.uniform(0.45, 0.75)
        blade_ = blade(size, size * rng.uniform(1.6, 5.0) / n**0.8, rng.uniform(0.45, 0.75))
        inks = (ring, ring + (rng.random() < 0.3))
        shaded = np.float32(rng.uniform(0.4, 0.8)) if rng.random() < 0.4 else None
        for k in range(n):
            petal = turned(blade_, 2 * np.pi * (k + ring / 2) / n)
            layers.append(Layer(petal, inks[k % 2]))
            if shaded is not None:
                layers.append(Layer(petal * shaded, inks[k % 2] + 2))
    layers.append(Layer(disc(0, 0, rng.uniform(0.1, 0.3)), 3))
    if rng.random() < 0.4:
        layers.append(Layer(disc(0, 0, 0.08), 4))
    return tuple(layers)


def rose(rng: np.random.Generator) -> Shape:
    """Return a rose: blobs within blobs, each off centre, or with arcs for its petals."""
    layers, size, centre = [], 1.0, np.zeros(2)
    for k in range(int(rng.integers(3, 7))):
        outline = blob(rng, 0.12) * np.float32(size) + centre
        layers.append(Layer(outline.astype(np.float32), k % 3))
        if rng.random() < 0.5:
            layers.append(Layer(outline.astype(np.float32), 3, 0.04, closed=True))
        centre = centre + rng.normal(0.0, 0.1, 2) * size
        size *= rng.uniform(0.6, 0.8)
    return tuple(layers)


def blob(rng: np.random.Generator, rough: float = 0.2) -> Curve:
    """Return a random smooth closed outline about 1 in radius."""
    turn = np.linspace(0, 2 * np.pi, 28, endpoint=False)
    radius = np.ones(28)
    for k in range(2, 6):
        radius += rough * rng.normal() / k * np.cos(k * turn + rng.uniform(0, 6.28))
    return polar(np.clip(radius, 0.4, 1.6))


def tulip(rng: np.random.Generator) -> Shape:
    """Return a bloom seen from the side, on a stem with leaves."""
    layers = [Layer(bezier((0, 0), (rng.normal(0, 0.2), 0.5), (rng.normal(0, 0.2), 1)), 3, 0.07)]
    for side in (-1, 1):
        leaf = turned(blade(rng.uniform(0.4, 0.8), 0.2), side * rng.uniform(0.4, 1.2))
        layers.append(Layer(leaf + np.array([0, 0.9], np.float32), 3))
    n = int(rng.integers(3, 6))
    petal = blade(rng.uniform(0.8, 1.1), rng.uniform(0.4, 0.7), 0.45)
    for k in sorted(range(n), key=lambda k: -abs(k - (n - 1) / 2)):
        layers.append(Layer(turned(petal, (k - (n - 1) / 2) * rng.uniform(0.25, 0.4)), k % 2))
    return tuple(layers)


def leaf(rng: np.random.Generator) -> Shape:
    """Return one leaf: plain, toothed, lobed or heart-shaped, with veins."""
    if rng.random() < 0.5:
        outline = blade(2.0, rng.uniform(0.4, 1.4), rng.uniform(0.3, 0.6), 11)
        if rng.random() < 0.4:
            outline = outline.copy()
            outline[1::2, 0] *= np.float32(rng.uniform(0.6, 0.85))
        outline = outline + np.array([0, 1], np.float32)
    else:
        turn = np.linspace(0, 2 * np.pi, 60, endpoint=False)
        lobes = int(rng.choice([3, 5, 7]))
        radius = 0.55 + 0.45 * np.abs(np.cos(lobes * turn / 2)) ** rng.uniform(0.5, 2)
        outline = polar(radius * (1 - 0.5 * np.exp(-((turn - np.pi) ** 2) / 0.08)))
    layers = [Layer(outline, 0)]
    if rng.random() < 0.3:
        layers.append(Layer(outline * np.array([0.5, 0.85], np.float32), 2))
    if rng.random() < 0.6:
        layers.append(Layer(curve(np.zeros(2), np.array([1.1, -0.8])), 1, 0.05))
        for y in np.linspace(-0.4, 0.6, int(rng.integers(2, 6))):
            for side in (-0.3, 0.3):
                layers.append(Layer(curve(np.array([0, side]), np.array([y, y - 0.3])), 1, 0.03))
    return tuple(layers)


def sprig(rng: np.random.Generator) -> Shape:
    """Return a bent twig with leaves, berries or buds along it."""
    bend = rng.normal(0.0, 0.5)
    stem = bezier((0, 1), (bend, 0.3), (-bend, -0.3), (rng.normal(0, 0.4), -1), count=12)
    layers = [Layer(stem, 0, rng.uniform(0.03, 0.08))]
    n, fern = int(rng.integers(3, 10)), rng.random() < 0.3
    size, open_ = rng.uniform(0.3, 0.7), rng.uniform(0.5, 1.2)
    berries = rng.random() < 0.35
    leaf_ = blade(1.0, rng.uniform(0.2, 0.6), rng.uniform(0.35, 0.65))
    for k in range(n):
        place, way = along(stem, 0.12 + 0.85 * k / n)
        grown = np.float32(size * (1 - 0.7 * k / n if fern else 1.0))
        for side in (-1, 1):
            if not fern and rng.random() < 0.25:
                continue
            part = turned(leaf_ * grown, way + np.pi / 2 + side * open_) + place
            layers.append(Layer(part, 1 if side > 0 else 0))
            if berries and rng.random() < 0.5:
                layers.append(
                    Layer(disc(part[len(part) // 2, 0], part[len(part) // 2, 1], 0.11, 10), 2)
                )
    if rng.random() < 0.4:
        top = petals(rng) if rng.random() < 0.5 else rosette(rng)
        shift = np.array([stem[-1, 0], stem[-1, 1]], np.float32)
        layers += [
            Layer(p.points * np.float32(0.4) + shift, p.ink + 1, p.width * 0.4) for p in top
        ]
    return tuple(layers)


def paisley(rng: np.random.Generator) -> Shape:
    """Return a bent drop, drops within it, dots round it."""
    t = np.linspace(0, 2 * np.pi, 48, endpoint=False)
    wide = rng.uniform(0.55, 0.8)
    x, y = wide * np.sin(t) * np.sin(t / 2) ** rng.uniform(1.0, 1.8), np.cos(t)
    tip = np.clip((y + 0.2) / 1.2, 0, 1)
    drop = curve(x + rng.uniform(0.4, 0.9) * tip**2, -y)
    layers, size = [], 1.0
    for k in range(int(rng.integers(2, 5))):
        inner = drop * np.float32(size) + np.array([0, 0.45 * (1 - size)], np.float32)
        layers.append(Layer(inner, k % 4))
        size *= rng.uniform(0.6, 0.8)
    if rng.random() < 0.6:
        for p in drop[:: int(rng.integers(3, 6))]:
            layers.append(Layer(disc(1.15 * p[0], 1.15 * p[1], 0.06, 8), 2))
    return tuple(layers)


def feather(rng: np.random.Generator) -> Shape:
    """Return a feather: a bent quill with barbs on both sides."""
    stem = bezier((0, 1), (rng.normal(0, 0.4), 0), (rng.normal(0, 0.4), -1), count=12)
    layers = []
    n, barb = int(rng.integers(8, 20)), rng.uniform(0.35, 0.7)
    filled = rng.random() < 0.5
    for k in range(n):
        share = 0.15 + 0.85 * k / n
        place, way = along(stem, share)
        length = barb * np.sin(np.pi * np.clip(share * 0.9, 0, 1)) + 0.05
        for side in (-1, 1):
            part = turned(blade(length, 0.16 if filled else 0.02), way + np.pi / 2 + side * 0.8)
            layers.append(Layer(part + place, k % 2, 0.0 if filled else 0.03))
    return (*layers, Layer(stem, 2, 0.05))


PLANTS: tuple[Draw, ...] = (rosette, petals, rose, tulip, leaf, sprig, paisley, feather)
FLOWERS: tuple[Draw, ...] = (rosette, petals, rose)
GREENS: tuple[Draw, ...] = (leaf, sprig)
