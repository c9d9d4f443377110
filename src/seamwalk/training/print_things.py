"""Outlines of things: stars, hearts, animals, fruit, houses, boats, swirls, drawn with chance.

The same units and layers as :mod:`seamwalk.training.print_shapes`.
"""

import numpy as np

from seamwalk.training.print_shapes import (
    PLANTS,
    Draw,
    Layer,
    Shape,
    bezier,
    blade,
    blob,
    curve,
    disc,
    polar,
    turned,
)


def box(
    x: float, y: float, wide: float, high: float
) -> np.ndarray[tuple[int, int], np.dtype[np.float32]]:
    """Return a rectangle about (x, y)."""
    sides = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    return (sides * [wide / 2, high / 2] + [x, y]).astype(np.float32)


def dot(rng: np.random.Generator) -> Shape:
    """Return a dot, perhaps with rings."""
    layers, size = [], 1.0
    for k in range(int(rng.choice([1, 1, 2, 3, 4]))):
        layers.append(Layer(disc(0, 0, size, 28), k))
        size *= rng.uniform(0.5, 0.85)
    return tuple(layers)


def ring(rng: np.random.Generator) -> Shape:
    """Return one or more open rings."""
    width = rng.uniform(0.04, 0.3)
    sizes = np.linspace(1.0, 0.3, int(rng.integers(1, 5)))
    return tuple(Layer(disc(0, 0, s, 28), k, width, closed=True) for k, s in enumerate(sizes))


def star(rng: np.random.Generator) -> Shape:
    """Return a star of four to twelve points."""
    n = int(rng.choice([4, 5, 5, 5, 6, 7, 8, 12]))
    radius = np.where(np.arange(2 * n) % 2 == 0, 1.0, rng.uniform(0.25, 0.7))
    layers = [Layer(polar(radius), 0)]
    if rng.random() < 0.3:
        layers.append(Layer(polar(radius) * np.float32(0.6), 1))
    return tuple(layers)


def flake(rng: np.random.Generator) -> Shape:
    """Return a snow crystal of six branched arms."""
    width, layers = rng.uniform(0.04, 0.12), []
    twigs = [(s, rng.uniform(0.15, 0.45)) for s in rng.uniform(0.25, 0.9, int(rng.integers(1, 4)))]
    for arm in np.arange(6) * np.pi / 3:
        layers.append(Layer(turned(curve(np.zeros(2), np.array([0.0, -1.0])), arm), 0, width))
        for share, twig in twigs:
            x = np.array([-twig, 0.0, twig])
            y = -share - np.abs(x) * 0.6
            layers.append(Layer(turned(curve(x, y), arm), 0, width))
    return tuple(layers)


def heart(rng: np.random.Generator) -> Shape:
    """Return a heart."""
    t = np.linspace(0, 2 * np.pi, 36, endpoint=False)
    x = rng.uniform(0.75, 1.1) * np.sin(t) ** 3
    y = -(13 * np.cos(t) - 5 * np.cos(2 * t) - 2 * np.cos(3 * t) - np.cos(4 * t)) / 16
    layers = [Layer(curve(x, y), 0)]
    if rng.random() < 0.4:
        layers.append(Layer(curve(x, y) * np.float32(rng.uniform(0.5, 0.8)), 1))
    return tuple(layers)


def bird(rng: np.random.Generator) -> Shape:
    """Return a bird from the side: tail, body, head, beak, wing, eye."""
    long, fat = rng.uniform(0.5, 0.7), rng.uniform(0.3, 0.5)
    tail = turned(blade(rng.uniform(0.6, 1.0), 0.35, 0.7), -np.pi / 2 - rng.uniform(-0.3, 0.5))
    head = rng.uniform(0.2, 0.32)
    at = (long * 0.75, -fat * rng.uniform(0.7, 1.3))
    beak = np.array([[0.1, -0.1], [0.1, 0.1], [head + 0.25, 0.02]], np.float32)
    wing = turned(blade(rng.uniform(0.6, 1.0), rng.uniform(0.3, 0.5), 0.4), -rng.uniform(1.2, 2.4))
    legs = [
        Layer(curve(np.array([x, x + 0.05]), np.array([fat * 0.8, fat + 0.35])), 3, 0.05)
        for x in (-0.08, 0.12)
    ]
    return (
        *legs,
        Layer(tail + np.array([-long * 0.7, 0], np.float32), 1),
        Layer(beak + np.array(at, np.float32), 3),
        Layer(disc(0, 0, 1, 24) * np.array([long, fat], np.float32), 0),
        Layer(disc(*at, head), 0),
        Layer(wing + np.array([long * 0.3, -fat * 0.2], np.float32), 1),
        Layer(disc(at[0] + 0.08, at[1] - 0.05, 0.05, 8), 4),
    )


def fish(rng: np.random.Generator) -> Shape:
    """Return a fish with a tail, an eye and bands."""
    t = np.linspace(0, 2 * np.pi, 32, endpoint=False)
    high = rng.uniform(0.3, 0.7)
    body = curve(0.75 * np.cos(t) + 0.2, high * np.sin(t))
    tail = np.array([[-0.4, 0], [-1, -0.45], [-0.85, 0], [-1, 0.45]], np.float32)
    bands = [
        Layer(bezier((x, -high * 0.8), (x + 0.15, 0), (x, high * 0.8)), 2, 0.1)
        for x in np.linspace(-0.15, 0.4, int(rng.integers(0, 4)))
    ]
    return (Layer(tail, 1), Layer(body, 0), *bands, Layer(disc(0.65, -0.12, 0.08, 10), 3))


def butterfly(rng: np.random.Generator) -> Shape:
    """Return a butterfly from above."""
    layers = []
    for way, size in ((rng.uniform(0.7, 1.0), 1.0), (rng.uniform(1.8, 2.3), 0.7)):
        wing = blade(size, rng.uniform(0.5, 0.8), 0.65)
        for side in (-1, 1):
            layers.append(Layer(turned(wing, side * way), 0))
            layers.append(Layer(turned(wing * np.float32(0.65), side * way), 1))
    return (*layers, Layer(disc(0, 0, 1, 12) * np.array([0.07, 0.45], np.float32), 2))


def cat(rng: np.random.Generator) -> Shape:
    """Return a sitting cat or a like animal from behind."""
    ear = np.array([[-0.3, -0.5], [-0.26, -1], [0, -0.72]], np.float32)
    mirror = np.array([-1, 1], np.float32)
    tail = bezier((0.3, 0.85), (1.1, 0.9), (rng.uniform(0.5, 1.1), 0.0), count=10)
    return (
        Layer(tail, 0, 0.14),
        Layer(disc(0, 0.7, 1, 24) * np.array([0.5, 0.6], np.float32), 0),
        Layer(disc(0, -0.5, 0.33, 18), 0),
        Layer(ear, 0),
        Layer(ear * mirror, 0),
        *(Layer(disc(s * 0.12, -0.52, 0.05, 8), 1) for s in (-1, 1)),
    )


def paw(rng: np.random.Generator) -> Shape:
    """Return a paw print."""
    toes = [
        Layer(disc(x, y, rng.uniform(0.17, 0.25), 12), 0)
        for x, y in ((-0.7, -0.1), (-0.27, -0.6), (0.27, -0.6), (0.7, -0.1))
    ]
    return (Layer(disc(0, 0.35, 0.5, 18), 0), *toes)


def fruit(rng: np.random.Generator) -> Shape:
    """Return a fruit: apple, berry, pear or cherry, with stem and leaf, or a slice."""
    if rng.random() < 0.25:
        n = int(rng.integers(5, 10))
        parts = [Layer(turned(blade(0.75, 2.6 / n, 0.7), 2 * np.pi * k / n), 2) for k in range(n)]
        return (Layer(disc(0, 0, 1, 28), 0), Layer(disc(0, 0, 0.85, 28), 1), *parts)
    long, pointed = rng.uniform(0.7, 1.0), rng.uniform(-0.35, 0.35)
    t = np.linspace(0, 2 * np.pi, 32, endpoint=False)
    body = curve(0.75 * np.sin(t) * (1 + pointed * np.cos(t)), -0.9 * long * np.cos(t) + 0.1)
    leaf_ = turned(blade(0.6, 0.3), rng.uniform(0.5, 1.4)) + np.array([0, -0.75], np.float32)
    seeds = [
        Layer(disc(x, y, 0.05, 6), 3)
        for x, y in rng.uniform(-0.4, 0.5, (int(rng.integers(0, 9)), 2))
    ]
    shine = Layer(disc(-0.3, -0.2, 0.14, 10), 4)
    stem = Layer(bezier((0, -0.7), (0, -0.9), (0.15, -1.1)), 2, 0.08)
    return (Layer(body, 0), stem, Layer(leaf_, 1), *(seeds or (shine,)))


def mushroom(rng: np.random.Generator) -> Shape:
    """Return a mushroom with spots."""
    t = np.linspace(np.pi, 2 * np.pi, 20)
    cap = curve(0.9 * np.cos(t), rng.uniform(0.7, 1) * np.sin(t))
    spots = [Layer(disc(x, -0.3 - 0.3 * rng.random(), 0.1, 8), 1) for x in (-0.5, 0.0, 0.45)]
    return (Layer(box(0, 0.45, rng.uniform(0.3, 0.5), 0.95), 1), Layer(cap, 0), *spots)


def pine(rng: np.random.Generator) -> Shape:
    """Return a tree: stacked triangles or a round crown on a trunk."""
    trunk = Layer(box(0, 0.85, 0.2, 0.4), 2)
    if rng.random() < 0.4:
        return (trunk, Layer(blob(rng) * np.float32(0.75) - np.array([0, 0.2], np.float32), 0))
    n = int(rng.integers(1, 5))
    tiers = []
    for k in range(n):
        y = 0.7 - 1.2 * k / n
        half = 0.75 - 0.45 * k / n
        tiers.append(
            Layer(np.array([[-half, y], [half, y], [0, y - 1.6 / n - 0.2]], np.float32), 0)
        )
    return (trunk, *tiers)


def house(rng: np.random.Generator) -> Shape:
    """Return a house with a roof, a door and windows."""
    high = rng.uniform(0.6, 1.1)
    roof = np.array([[-0.9, 0.8 - high], [0, 0.1 - high], [0.9, 0.8 - high]], np.float32)
    panes = [Layer(box(x, 0.8 - high * 0.65, 0.25, 0.28), 3) for x in (-0.42, 0.42)]
    walls = Layer(box(0, 0.8 - high / 2, 1.5, high), 0)
    return (walls, Layer(roof, 1), Layer(box(0, 0.6, 0.3, 0.45), 2), *panes)


def boat(rng: np.random.Generator) -> Shape:
    """Return a sailing boat."""
    hull = np.array([[-0.9, 0.4], [0.9, 0.4], [0.55, 0.85], [-0.6, 0.85]], np.float32)
    sail = np.array([[0.05, -1], [0.05, 0.3], [rng.uniform(0.5, 0.9), 0.3]], np.float32)
    jib = np.array([[-0.05, -0.8], [-0.05, 0.3], [-0.6, 0.3]], np.float32)
    return (Layer(hull, 0), Layer(sail, 1), Layer(jib, 2))


def cup(rng: np.random.Generator) -> Shape:
    """Return a cup with a handle and a band."""
    foot = rng.uniform(0.35, 0.7)
    side = np.array([[-0.7, -0.5], [0.7, -0.5], [foot, 0.7], [-foot, 0.7]], np.float32)
    return (
        Layer(disc(0.75, 0.0, 0.35, 18), 0, 0.13, closed=True),
        Layer(side, 0),
        Layer(box(0, 0.05, 1.2, rng.uniform(0.1, 0.35)), 1),
    )


def button(rng: np.random.Generator) -> Shape:
    """Return a button with two or four holes."""
    holes = [(x, y) for x in (-0.2, 0.2) for y in ((-0.2, 0.2) if rng.random() < 0.6 else (0.0,))]
    return (
        Layer(disc(0, 0, 1, 28), 0),
        Layer(disc(0, 0, rng.uniform(0.6, 0.85), 24), 1, 0.06, closed=True),
        *(Layer(disc(x, y, 0.11, 8), 2) for x, y in holes),
    )


def swirl(rng: np.random.Generator) -> Shape:
    """Return a spiral or a scroll."""
    t = np.linspace(0, 2 * np.pi * rng.uniform(1.2, 3.0), 40)
    r = t / t[-1]
    line = curve(r * np.cos(t), r * np.sin(t))
    if rng.random() < 0.4:
        line = np.vstack(
            [line[::-1] * np.float32(0.5) - [0.5, 0], [0.5, 0] - line * np.float32(0.5)]
        )
    return (Layer(line.astype(np.float32), 0, rng.uniform(0.05, 0.2)),)


def mark(rng: np.random.Generator) -> Shape:
    """Return a small mark: plus, cross, dash, triangle, chevron, comma, blob."""
    kind, width = int(rng.integers(6)), rng.uniform(0.15, 0.5)
    arm = curve(np.array([-1.0, 1.0]), np.zeros(2))
    if kind == 0:
        return (Layer(arm, 0, width), Layer(turned(arm, np.pi / 2), 0, width))
    if kind == 1:
        return (Layer(arm, 0, width),)
    if kind == 2:
        return (Layer(polar(np.ones(3)), 0),)
    if kind == 3:
        return (Layer(curve(np.array([-0.8, 0, 0.8]), np.array([0.4, -0.4, 0.4])), 0, width),)
    if kind == 4:
        return (Layer(bezier((-0.7, 0.5), (0.6, 0.9), (0.5, -0.8)), 0, width),)
    return (Layer(blob(rng, 0.4), 0),)


THINGS: tuple[Draw, ...] = (
    dot, ring, star, flake, heart, bird, fish, butterfly, cat, paw, fruit, mushroom, pine, house,
    boat, cup, button, swirl, mark,
)  # fmt: skip
SMALL: tuple[Draw, ...] = (dot, ring, star, heart, swirl, mark)
SHAPES: tuple[Draw, ...] = (*PLANTS, *PLANTS, *THINGS)
