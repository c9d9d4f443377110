"""Things that lie on and beside a top: reference cards, sewing tools, hands, feet, furniture.

Each thing is a stack of parts, lowest first; a part is one or more outlines of one colour or
print, in inches round the thing's middle.  Outlines are made from a few strokes of plane
geometry, with every proportion drawn at random: it is their variety that teaches, not likeness.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamwalk.training.view_shapes import blob, box, disc, limb, rounded

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """One layer of a thing.

    Attributes
    ----------
    outlines : tuple of (n, 2) float64
        Inches round the middle of the thing.
    colour : (3,) float64
        sRGB, 0 to 1.
    printed : bool
        True shows a print of the store instead, tinted or not.
    """

    outlines: tuple[Array, ...]
    colour: Array
    printed: bool = False


Thing = tuple[Part, ...]


def any_colour(rng: np.random.Generator) -> Array:
    """Return a colour (3,), often white, black or grey."""
    chance = rng.random()
    if chance < 0.25:
        return np.full(3, rng.uniform(0.85, 1.0))
    if chance < 0.45:
        return np.full(3, rng.uniform(0.0, 0.3)) + rng.uniform(0, 0.04, 3)
    return rng.random(3) ** rng.uniform(0.5, 2.0)


def skin(rng: np.random.Generator) -> Array:
    """Return a colour of skin (3,), from dark to light."""
    tone = rng.random()
    dark, light = np.array([0.26, 0.16, 0.12]), np.array([0.96, 0.80, 0.71])
    return np.asarray(dark + tone * (light - dark) + rng.normal(0.0, 0.02, 3))


def card(rng: np.random.Generator) -> Thing:
    """Return a printed reference card: black square frames, perhaps markers, on white paper."""
    square = float(rng.uniform(3.0, 8.0))
    margin = float(rng.uniform(0.2, 1.2))
    wide, tall = square + 2 * margin, square + 2 * margin
    if rng.random() < 0.5:
        tall += float(rng.uniform(0.3, 4.0))
    white = np.full(3, rng.uniform(0.88, 1.0)) - rng.uniform(0.0, 0.05) * np.arange(3)
    black = np.full(3, rng.uniform(0.0, 0.18))
    sheet = Part((box(wide, tall, 0.0, (tall - square) / 2 - margin),), white)
    line = square * float(np.exp(rng.uniform(np.log(0.01), np.log(0.12))))
    frame = [box(square, line, 0, s * (square - line) / 2) for s in (-1, 1)]
    frame += [box(line, square, s * (square - line) / 2, 0) for s in (-1, 1)]
    black_boxes, white_boxes = [*frame], []
    style = rng.random()
    if style < 0.45:
        markers = [(0.0, 0.0)]
        size = (square - 2 * line) * float(rng.uniform(0.3, 0.9))
    elif style < 0.75:
        size = (square - 2 * line) * float(rng.uniform(0.15, 0.35))
        reach = (square - 2 * line - size) / 2 * float(rng.uniform(0.7, 1.0))
        markers = [(-reach, -reach), (reach, -reach), (reach, reach), (-reach, reach)]
    else:
        markers, size = [], 1.0
    for x, y in markers:
        black_boxes.append(box(size, size, x, y))
        cells = int(rng.integers(4, 8))
        unit = size / (cells + 2)
        for row, col in np.argwhere(rng.random((cells, cells)) < 0.5):
            at = (np.array([col, row]) - (cells - 1) / 2) * unit
            white_boxes.append(box(unit, unit, x + at[0], y + at[1]))
    if style >= 0.75 and rng.random() < 0.5:
        inner = square * float(rng.uniform(0.3, 0.8))
        black_boxes.append(box(inner, inner))
        if rng.random() < 0.6:
            white_boxes.append(box(0.7 * inner, 0.7 * inner))
    if rng.random() < 0.5:
        ruler = square / 8
        black_boxes += [
            box(
                0.03 * square,
                ruler * (0.6 if k % 2 else 1.0),
                (k - 4) * ruler,
                square / 2 + margin,
            )
            for k in range(9)
        ]
    parts = [sheet, Part(tuple(black_boxes), black)]
    if white_boxes:
        parts.append(Part(tuple(white_boxes), white))
    return tuple(parts)


def ruler(rng: np.random.Generator) -> Thing:
    """Return a ruler, perhaps see-through in colour, with its marks."""
    length, width = rng.uniform(6.0, 24.0), rng.uniform(1.0, 6.5)
    body = any_colour(rng)
    step = float(rng.choice([0.25, 0.5, 1.0]))
    marks = [
        box(0.05, rng.uniform(0.15, 0.3) * width, x, -0.4 * width)
        for x in np.arange(-length / 2 + step, length / 2, step)
    ]
    return Part((box(length, width),), body), Part(tuple(marks[:60]), any_colour(rng))


def scissors(rng: np.random.Generator) -> Thing:
    """Return a pair of scissors."""
    length, gape = rng.uniform(2.0, 6.0), rng.uniform(0.03, 0.3)
    steel, grip = np.full(3, rng.uniform(0.35, 0.9)), any_colour(rng)
    blades, rings, holes = [], [], []
    for s in (-1, 1):
        blades.append(
            np.array([[0.0, s * 0.15], [length, s * gape * length], [0.1 * length, s * -0.3]])
        )
        rings.append(disc(0.25 * length, 0.16 * length, -0.5 * length, s * 0.22 * length))
        rings.append(
            limb(np.array([[0, 0], [-0.35 * length, s * 0.15 * length]]), np.full(2, 0.3))
        )
        holes.append(disc(0.17 * length, 0.09 * length, -0.52 * length, s * 0.22 * length))
    return Part(tuple(blades), steel), Part(tuple(rings), grip), Part(tuple(holes), 0.5 * grip)


def round_thing(rng: np.random.Generator) -> Thing:
    """Return a cup, plate, tape, spool, tin or clock seen from above: rings in rings."""
    radius = float(np.exp(rng.uniform(np.log(0.5), np.log(5.5))))
    parts = [Part((disc(radius, count=32),), any_colour(rng), bool(rng.random() < 0.15))]
    for _ in range(int(rng.integers(0, 4))):
        radius *= float(rng.uniform(0.4, 0.95))
        parts.append(Part((disc(radius, count=28),), any_colour(rng), bool(rng.random() < 0.1)))
    if rng.random() < 0.3:
        handle = np.array([[radius, 0.0], [1.7 * radius, 0.3 * radius]])
        parts.insert(0, Part((limb(handle, np.full(2, 0.4 * radius)),), parts[0].colour))
    return tuple(parts)


def flat_thing(rng: np.random.Generator) -> Thing:
    """Return a phone, remote, book, magazine, box, iron mat or pattern sheet."""
    wide = float(np.exp(rng.uniform(np.log(2.5), np.log(18.0))))
    tall = wide * float(rng.uniform(0.3, 0.9))
    radius = float(rng.choice([0.02, 0.1])) * tall
    parts = [Part((rounded(wide, tall, radius),), any_colour(rng), bool(rng.random() < 0.35))]
    for _ in range(int(rng.integers(0, 4))):
        w, h = wide * rng.uniform(0.1, 0.9), tall * rng.uniform(0.1, 0.9)
        x, y = (wide - w) * rng.uniform(-0.5, 0.5), (tall - h) * rng.uniform(-0.5, 0.5)
        shape = rounded(w, h, 0.05 * min(w, h), x, y)
        parts.append(Part((shape,), any_colour(rng), bool(rng.random() < 0.25)))
    if rng.random() < 0.4:
        rows = np.linspace(-0.35, 0.35, int(rng.integers(3, 9))) * tall
        lines = [box(wide * rng.uniform(0.3, 0.7), 0.25 * (rows[1] - rows[0]), 0, y) for y in rows]
        parts.append(Part(tuple(lines), any_colour(rng)))
    return tuple(parts)


def hand(rng: np.random.Generator) -> Thing:
    """Return a hand and forearm, perhaps in a sleeve."""
    colour, size = skin(rng), rng.uniform(0.85, 1.2)
    shapes = [rounded(3.0, 3.4, 0.9), limb(np.array([[0, 1.0], [0.2, 5.0], [0.5, 14.0]]),
                                           np.array([2.4, 2.2, 3.2]))]  # fmt: skip
    for k in range(4):
        x = -1.15 + 0.77 * k
        lean = 0.12 * (k - 1.5) + rng.normal(0.0, 0.08)
        reach = (2.4, 2.9, 2.7, 2.1)[k] * rng.uniform(0.5, 1.0)
        tip = np.array([x + lean * reach, -1.5 - reach])
        shapes.append(limb(np.array([[x, -1.2], tip]), np.array([0.72, 0.6])))
    thumb = np.array([[-1.3, 0.6], [-2.3, -0.3], [-2.7 + rng.normal(0, 0.3), -1.3]])
    shapes.append(limb(thumb, np.array([0.9, 0.8, 0.65])))
    parts = [Part(tuple(s * size for s in shapes), colour)]
    if rng.random() < 0.6:
        sleeve = limb(np.array([[0.2, 5.5], [0.6, 18.0]]), np.array([3.6, 4.8]))
        parts.append(Part((sleeve * size,), any_colour(rng), bool(rng.random() < 0.4)))
    return tuple(parts)


def foot(rng: np.random.Generator) -> Thing:
    """Return one or two feet, bare, in socks or in shoes, perhaps with trouser legs."""
    t = np.linspace(0.0, 1.0, 8)
    path = np.column_stack([0.5 * np.sin(2.2 * t), -10.0 * t])
    widths = np.array([2.6, 2.7, 2.5, 2.6, 3.1, 3.7, 3.7, 2.8])
    colour = skin(rng) if rng.random() < 0.3 else any_colour(rng)
    printed = bool(rng.random() < 0.15)
    one = limb(path, widths)
    gap = float(rng.uniform(2.5, 8.0))
    twin = one * (-1, 1)
    twin[:, 1] += rng.normal(0.0, 1.5)
    pair = (one + (gap, 0),) if rng.random() < 0.3 else (one + (gap, 0), twin - (gap, 0))
    parts = [Part(pair, colour, printed)]
    if rng.random() < 0.5:
        soles = tuple(
            p.mean(axis=0) + 0.55 * (p - p.mean(axis=0)) + (0, rng.uniform(0, 2)) for p in pair
        )
        parts.append(Part(soles, any_colour(rng)))
    if rng.random() < 0.5:
        legs = tuple(box(4.5, 9.0, p[:, 0].mean(), 3.0) for p in pair)
        parts.append(Part(legs, any_colour(rng), bool(rng.random() < 0.2)))
    return tuple(parts)


def animal(rng: np.random.Generator) -> Thing:
    """Return a cat or dog lying down: body, head with ears, tail, patches of fur."""
    fur = any_colour(rng)
    size = float(rng.uniform(0.7, 1.6))
    body = blob(rng, 6.5, 0.15)
    x, y = body[0] * 0.85
    head = disc(2.3, 2.0, x, y)
    ears = [
        np.array([[-1.9, -0.5], [-1.4, -2.9], [-0.2, -1.7]]) * (s, 1) + (x, y) for s in (1, -1)
    ]
    t = np.linspace(0.0, 1.0, 8)
    tail = body[14] + np.column_stack([-9 * t * np.cos(1.5 * t), 4 * np.sin(3.0 * t)])
    shapes = [body, head, *ears, limb(tail, np.full(8, 1.2))]
    parts = [Part(tuple(size * s for s in shapes), fur)]
    for _ in range(int(rng.integers(0, 4))):
        spot = blob(rng, rng.uniform(0.8, 2.5)) + rng.normal(0.0, 2.0, 2)
        parts.append(Part((size * spot,), np.clip(fur + rng.normal(0, 0.25), 0, 1)))
    return tuple(parts)


def heap(rng: np.random.Generator) -> Thing:
    """Return folded fabric, a cushion, a basket of scraps or yarn: printed shapes stacked."""
    parts = []
    size = float(np.exp(rng.uniform(np.log(2.0), np.log(12.0))))
    for _ in range(int(rng.integers(1, 5))):
        style = rng.random()
        if style < 0.5:
            shape = rounded(size * rng.uniform(0.6, 1.5), size * rng.uniform(0.6, 1.5), 0.1 * size)
        else:
            shape = blob(rng, size * rng.uniform(0.4, 0.9))
        angle = rng.normal(0.0, 0.4)
        c, s = np.cos(angle), np.sin(angle)
        shape = shape @ np.array([[c, s], [-s, c]]) + rng.normal(0.0, 0.25 * size, 2)
        parts.append(Part((shape,), any_colour(rng), bool(rng.random() < 0.8)))
    return tuple(parts)


def furniture(rng: np.random.Generator) -> Thing:
    """Return the legs or the corner of a chair, table, sofa or sewing machine."""
    colour = any_colour(rng) if rng.random() < 0.5 else rng.uniform(0.2, 0.8) * np.array(
        [1.0, 0.75, 0.5])  # fmt: skip
    size = float(rng.uniform(8.0, 30.0))
    leg = float(rng.uniform(0.8, 2.5))
    if rng.random() < 0.5:
        legs = tuple(
            (box if rng.random() < 0.5 else disc)(leg, leg, x * size / 2, y * size / 2)
            for x in (-1, 1)
            for y in (-1, 1)
        )
        return (Part(legs, colour),)
    shape = rounded(size, size * rng.uniform(0.3, 1.0), rng.uniform(0.1, 2.0))
    top = shape * rng.uniform(0.6, 0.95)
    return (
        Part((shape,), colour, bool(rng.random() < 0.3)),
        Part((top,), np.clip(colour * rng.uniform(0.7, 1.3), 0, 1), bool(rng.random() < 0.2)),
    )


def thread_tail(rng: np.random.Generator) -> Thing:
    """Return a loose thread, yarn, tape measure or cable: a long thin bent band."""
    count = int(rng.integers(8, 22))
    turn = np.cumsum(rng.normal(0.0, 0.5, count))
    step = np.column_stack([np.cos(turn), np.sin(turn)]) * rng.uniform(0.3, 1.6)
    path = np.cumsum(step, axis=0)
    width = float(np.exp(rng.uniform(np.log(0.06), np.log(0.8))))
    return (Part((limb(path - path.mean(axis=0), np.full(count, width)),), any_colour(rng)),)


def small_bits(rng: np.random.Generator) -> Thing:
    """Return pins, buttons, clips, leaves or snips of cloth strewn about."""
    shapes = []
    size = float(np.exp(rng.uniform(np.log(0.12), np.log(0.9))))
    style = rng.random()
    for _ in range(int(rng.integers(3, 16))):
        if style < 0.4:
            way = rng.normal(0.0, 1.0, 2)
            way *= 1.3 * size / np.linalg.norm(way)
            shape = limb(np.array([-way, way]), np.full(2, 0.25 * size))
        elif style < 0.7:
            shape = disc(size, count=12)
        else:
            shape = blob(rng, size, 0.4, 14)
        shapes.append(shape + rng.normal(0.0, 4.0, 2))
    return (Part(tuple(shapes), any_colour(rng), bool(rng.random() < 0.3)),)


STRAY: tuple[tuple[Callable[[np.random.Generator], Thing], float], ...] = (
    (ruler, 0.12),
    (scissors, 0.08),
    (round_thing, 0.15),
    (flat_thing, 0.17),
    (hand, 0.08),
    (foot, 0.09),
    (animal, 0.05),
    (heap, 0.10),
    (furniture, 0.06),
    (thread_tail, 0.05),
    (small_bits, 0.05),
)
"""Makers of stray things and how often each is drawn; common practice, no source."""


def stray(rng: np.random.Generator) -> Thing:
    """Return a stray thing of a drawn kind."""
    pick = int(rng.choice(len(STRAY), p=[share for _, share in STRAY]))
    return STRAY[pick][0](rng)
