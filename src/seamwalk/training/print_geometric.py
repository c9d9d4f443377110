"""Prints of rule and compass: stripes, woven checks, dots, lattices, scallops, skins.

Woven checks are woven: colours of warp and weft threads, and a weave that says which lies on top.
Lattices are drawn in one cell, pixel by pixel, and repeated.

References
----------
Watson's Textile Design and Colour, 7th ed. 1975 (plain weave, 2/2 twill, pointed twill, and the
colour-and-weave effects that give houndstooth).
"""

from collections.abc import Callable
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from seamwalk.training.print_colours import Palette, Picture, log_uniform, palette
from seamwalk.training.print_grounds import Plane, clouds, divisor, noise, over, unit, washed
from seamwalk.training.print_laying import lay, rows
from seamwalk.training.print_shapes import Draw, disc
from seamwalk.training.print_things import SHAPES, SMALL


def bands(
    rng: np.random.Generator, length: int, least: int, count: int, *, mirrored: bool
) -> NDArray[np.int64]:
    """Return ink numbers (length,) of stripes at least `least` wide, where there is room."""
    half = length // 2 if mirrored and length % 2 == 0 else length
    n = max(1, min(count, half // max(least, 1)))
    free = rng.dirichlet(np.full(n, rng.uniform(0.4, 3.0))) * (half - n * least)
    edges = np.rint(np.cumsum(free + least)).astype(int)
    number = np.searchsorted(edges, np.arange(half), side="right") % max(n, 1)
    inks = rng.integers(0, 5, n)
    inks[::2] = 0 if rng.random() < 0.5 else inks[::2]
    line = inks[number]
    return np.concatenate([line, line[::-1]]) if half < length else line


def stripes(rng: np.random.Generator, side: int) -> Picture:
    """Return stripes: even, ticking, or of many widths; straight or wavy."""
    colours = palette(rng, 4, tonal=bool(rng.random() < 0.25))
    table = np.array([colours.ground, *colours.inks], np.uint8)
    period = divisor(side, log_uniform(rng, 4, side))
    if rng.random() < 0.4:
        share = rng.uniform(0.12, 0.6)
        line = (np.arange(period) < max(1, round(share * period))).astype(int)
    else:
        line = bands(rng, period, 1, int(rng.integers(2, 14)), mirrored=bool(rng.random() < 0.5))
    row = table[np.tile(line, side // period)]
    picture = np.ascontiguousarray(np.broadcast_to(row[None], (side, side, 3)))
    kind = rng.random()
    if kind < 0.2:
        y, x = np.mgrid[0:side, 0:side].astype(np.float32)
        turns = 2 * np.pi * int(rng.integers(1, 9)) / side
        x += np.float32(period * rng.uniform(0.1, 0.5)) * np.sin(y * np.float32(turns))
        if rng.random() < 0.4:
            x += noise(rng, side, 12) * np.float32(period * 0.1)
        return np.asarray(cv2.remap(picture, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP))
    if kind < 0.35:
        step = np.arange(side)[:, None]
        slant = (np.arange(side)[None] + step * int(rng.choice([1, -1, 2]))) % side
        return np.asarray(picture[step, slant])
    return picture if rng.random() < 0.6 else np.ascontiguousarray(picture.transpose(1, 0, 2))


def woven(rng: np.random.Generator, side: int) -> Picture:
    """Return a woven check: gingham, tartan, houndstooth, shepherd's check, herringbone."""
    thread = int(rng.choice([1, 2, 2, 3, 4, 6, 8]))
    threads = side // thread
    colours = palette(rng, 4, tonal=bool(rng.random() < 0.15))
    table = np.array([colours.ground, *colours.inks], np.uint8)
    j, i = np.ogrid[0:threads, 0:threads]
    kind = int(rng.integers(5))
    if kind == 0:
        n = divisor(threads, log_uniform(rng, 4, threads / 2))
        warp = weft = (np.arange(threads) % n) // max(1, n // 2) % 2
    elif kind == 1:
        warp = weft = (np.arange(threads) // 4) % 2
    elif kind == 2:
        warp, weft = np.zeros(threads, int), np.ones(threads, int)
    else:
        n = divisor(threads, log_uniform(rng, 12, threads))
        warp = np.tile(bands(rng, n, 1, int(rng.integers(3, 10)), mirrored=True), threads // n)
        weft = warp if rng.random() < 0.7 else np.roll(warp[::-1], int(rng.integers(threads)))
    weave = int(rng.integers(3)) if kind != 1 else 1
    if weave == 0:
        mixed = table[warp][None].astype(np.uint16) + table[weft][:, None]
        cloth = (mixed // 2).astype(np.uint8)
    else:
        point = divisor(threads, log_uniform(rng, 6, 60))
        across = np.abs((i % (2 * point)) - point) if weave == 2 or kind == 2 else i
        over_ = (across - j) % 4 < 2
        cloth = np.where(over_[..., None], table[warp][None], table[weft][:, None])
    return np.asarray(cv2.resize(cloth, (side, side), interpolation=cv2.INTER_NEAREST))


def chevron(rng: np.random.Generator, side: int) -> Picture:
    """Return zigzags, in sharp or soft-edged bands."""
    colours = palette(rng, 4, tonal=bool(rng.random() < 0.25))
    wave = divisor(side, log_uniform(rng, 8, side))
    period = divisor(side, log_uniform(rng, 6, side / 2))
    y, x = np.mgrid[0:side, 0:side].astype(np.float32)
    rise = np.abs((x % wave) - np.float32(wave / 2)) * np.float32(rng.uniform(0.5, 2.0))
    plane = ((y + rise) % period) / np.float32(period)
    count = int(rng.choice([2, 2, 3, 4, 5]))
    table = np.array([colours.ground, *colours.inks], np.uint8)[:count]
    picture = np.take(table, np.minimum((plane * count).astype(int), count - 1), axis=0)
    return picture if rng.random() < 0.5 else np.ascontiguousarray(picture.transpose(1, 0, 2))


def checks(rng: np.random.Generator, side: int) -> Picture:
    """Return a chequerboard of two to five colours, square or long."""
    colours = palette(rng, 4, tonal=bool(rng.random() < 0.3))
    table = np.array([colours.ground, *colours.inks], np.uint8)
    nx = divisor(side // 2, side / 2 / log_uniform(rng, 3, 64)) * 2
    ny = nx if rng.random() < 0.75 else divisor(side // 2, nx / 4) * 2
    j, i = np.mgrid[0:ny, 0:nx]
    number = (i + j) % 2
    if rng.random() < 0.3:
        number = number * (1 + rng.integers(0, 4, (ny, nx)))
    return np.asarray(cv2.resize(table[number], (side, side), interpolation=cv2.INTER_NEAREST))


def dots(rng: np.random.Generator, side: int) -> Picture:
    """Return dots in rows, from pins to plates, filled or as rings."""
    step = divisor(side, log_uniform(rng, 6, side / 2))
    colours = palette(rng, 4, tonal=bool(rng.random() < 0.35))
    big = side if rng.random() < 0.3 and step > 20 else max(step, side // divisor(side, 6))
    picture = np.full((big, big, 3), colours.ground, np.uint8)
    share = log_uniform(rng, 0.1, 0.48)
    shape = SMALL[0 if rng.random() < 0.75 else 1](rng)
    many = big == side
    places = rows(rng, big, step)
    for x, y in places:
        turn = int(rng.integers(len(colours.inks))) if many else 0
        inks = colours.inks[turn:] + colours.inks[:turn]
        size = share * step * (rng.uniform(0.4, 1.0) if many and share > 0.3 else 1.0)
        lay(picture, shape, inks, (x, y), size)
    return np.tile(picture, (side // big, side // big, 1))


def _figure(u: Plane, v: Plane, kind: int, rng: np.random.Generator) -> Plane:
    """Return how far each place of a cell (u, v from −0.5 to 0.5) lies from a figure's line."""
    a, b = np.abs(u), np.abs(v)
    if kind == 0:
        away = np.minimum(0.5 - a, 0.5 - b)
    elif kind == 1:
        away = np.abs(a + b - 0.5) * 0.7
    elif kind == 2:
        away = np.abs(np.hypot(u, v) - rng.uniform(0.2, 0.5))
    elif kind == 3:
        away = np.abs(np.hypot(a - 0.5, b - 0.5) - rng.uniform(0.3, 0.5))
    elif kind == 4:
        away = np.abs(np.minimum(np.hypot(a - 0.25, b), np.hypot(a, b - 0.25)) - 0.2)
    elif kind == 5:
        away = np.abs(a - 0.25 * (1 + np.cos(2 * np.pi * v)))
    elif kind == 6:
        away = np.where(a > b, np.abs(b - 0.2), np.abs(a - 0.2)) * 0.8
    elif kind == 7:
        away = np.abs(np.maximum(a, b) - rng.uniform(0.15, 0.45))
    elif kind == 8:
        away = np.minimum(np.abs(u - v), np.abs(u + v)) * 0.7
    else:
        away = np.abs(np.maximum(a * 1.732 + b, 2 * b) - 0.86)
    return np.asarray(away, np.float32)


def lattice(rng: np.random.Generator, side: int) -> Picture:
    """Return grids, diamonds, rings, quatrefoils, ogees, squares, in lines or in areas."""
    wide = divisor(side, log_uniform(rng, 8, side / 2))
    high = wide if rng.random() < 0.6 else divisor(side, wide * rng.uniform(0.6, 2.0))
    y, x = np.mgrid[0:high, 0:wide].astype(np.float32)
    u, v = (x + 0.5) / wide - np.float32(0.5), (y + 0.5) / high - np.float32(0.5)
    colours = palette(rng, 3, tonal=bool(rng.random() < 0.35))
    picture = np.full((high, wide, 3), colours.ground, np.uint8)
    for k in range(int(rng.choice([1, 1, 2]))):
        away = _figure(u, v, int(rng.integers(10)), rng) * np.float32(min(wide, high))
        half = max(0.6, log_uniform(rng, 0.02, 0.2) * min(wide, high))
        picture = over(picture, np.clip(half - away + 0.5, 0, 1), colours.inks[k])
        if rng.random() < 0.25 and half > 3:
            picture = over(picture, np.clip(half * 0.4 - away + 0.5, 0, 1), colours.inks[2])
    if rng.random() < 0.25 and min(wide, high) > 24:
        shape = SHAPES[int(rng.integers(len(SHAPES)))](rng)
        lay(picture, shape, colours.inks, (wide / 2, high / 2), min(wide, high) * 0.2)
    return np.tile(picture, (side // high, side // wide, 1))


def scallops(rng: np.random.Generator, side: int) -> Picture:
    """Return rows of overlapping discs, each with rings: scales, clamshells, waves."""
    wide = divisor(side // 2, log_uniform(rng, 10, side / 3)) * 2
    wide = wide if side % wide == 0 else side // divisor(side, side / wide)
    high = divisor(side, wide * rng.uniform(0.4, 1.2)) if rng.random() < 0.5 else wide
    colours = palette(rng, 4, tonal=bool(rng.random() < 0.3))
    cell = np.full((high, wide, 3), colours.ground, np.uint8)
    n = int(rng.integers(2, 7))
    for step in range(-2, 5):
        for k in range(n):
            centre = ((step % 2) * wide / 2, step * high / 2)
            radius = wide / 2 * (1 - k / n) * 1.02
            for shift in (0.0, float(wide)):
                points = np.rint((disc(0, 0, radius, 40) + [centre[0] + shift, centre[1]]) * 16)
                ink = colours.inks[k % len(colours.inks)]
                cv2.fillPoly(cell, [points.astype(np.int32)], ink, cv2.LINE_AA, 4)
    # The rows above and below repeat with the cell's height: two half steps.
    return np.tile(cell, (side // high, side // wide, 1))


def hexagons(rng: np.random.Generator, side: int) -> Picture:
    """Return cells about points of a lattice or strewn: honeycomb, cobbles, giraffe, cracks."""
    n = int(log_uniform(rng, 3, 16))
    n += n % 2
    jj, ii = np.mgrid[0:n, 0:n].astype(np.float32)
    loose = np.float32(rng.choice([0.0, 0.0, 0.3, 0.6, 1.0]))
    px = (ii + 0.5 * (jj % 2) + loose * rng.uniform(-0.5, 0.5, (n, n))) * side / n
    py = (jj + 0.5 + loose * rng.uniform(-0.5, 0.5, (n, n))) * side / n
    seeds = np.full((side, side), 255, np.uint8)
    seeds[np.int64(py) % side, np.int64(px) % side] = 0
    pad = min(side, int(2.2 * side / n))
    wide = cv2.copyMakeBorder(seeds, pad, pad, pad, pad, cv2.BORDER_WRAP)
    far = cv2.distanceTransform(wide, cv2.DIST_L2, 5)[pad:-pad, pad:-pad]
    ridge = unit(np.asarray(far, np.float32))
    colours = palette(rng, 3, tonal=bool(rng.random() < 0.4))
    if rng.random() < 0.5:
        return washed(ridge, (colours.ground, *colours.inks[: int(rng.integers(1, 4))]))
    edge = np.float32(rng.uniform(0.3, 0.75))
    mask = np.clip((ridge - edge) * np.float32(log_uniform(rng, 10, 60)), 0, 1)
    ground = washed(clouds(rng, side, 4, 2), (colours.ground, colours.inks[0]))
    return over(ground, mask, colours.inks[1])


def skin(rng: np.random.Generator, side: int) -> Picture:
    """Return an animal's skin: stripes or spots where stretched noise passes a level."""
    colours = palette(rng, 2)
    n = log_uniform(rng, 6, 30)
    field = noise(rng, side, n, n * rng.choice([0.25, 0.4, 1.0, 1.0]))
    level = np.abs(field) if rng.random() < 0.6 else field
    cut = np.float32(rng.uniform(0.2, 0.7))
    mask = np.clip((level - cut) * np.float32(log_uniform(rng, 4, 20)), 0, 1)
    ground = washed(clouds(rng, side, 5, 2), (colours.ground, colours.inks[0]))
    picture = over(ground, mask, colours.inks[1])
    if rng.random() < 0.4:
        rim = np.clip(1 - np.abs(level - cut) * np.float32(8), 0, 1)
        picture = over(picture, rim, colours.inks[0])
    return picture


def scribbles(rng: np.random.Generator, side: int) -> Picture:
    """Return drawn lines that wander across the cloth: scribbles, roads, contour maps."""
    colours = palette(rng, 3, tonal=bool(rng.random() < 0.3))
    picture = np.full((side, side, 3), colours.ground, np.uint8)
    t = np.linspace(0, 1, 60)
    for k in range(int(log_uniform(rng, 2, 16))):
        way = rng.integers(-1, 2, 2)
        line = rng.uniform(0, side, 2) + t[:, None] * way * side
        for m in range(1, int(rng.integers(2, 6))):
            swing = side * rng.uniform(0.02, 0.4) / m
            line = line + swing * np.sin(2 * np.pi * m * t[:, None] + rng.uniform(0, 6.28, 2))
        thick = int(log_uniform(rng, 1, 8))
        ink = colours.inks[k % 3]
        for x in (-side, 0, side):
            for y in (-side, 0, side):
                points = np.rint((line + [x, y]) * 16).astype(np.int32)
                cv2.polylines(picture, [points], False, ink, thick, cv2.LINE_AA, 4)
    return picture


def border_stripe(rng: np.random.Generator, side: int) -> Picture:
    """Return bands of different prints side by side, with rules between."""
    edges = (
        np.sort(rng.choice(np.arange(1, 12), int(rng.integers(1, 5)), replace=False)) * side // 12
    )
    picture = np.empty((side, side, 3), np.uint8)
    start, colours = 0, palette(rng, 4)
    prints: tuple[Callable[[np.random.Generator, int], Picture], ...] = (lattice, dots, checks)
    for end in [*edges, side]:
        if rng.random() < 0.5:
            picture[:, start:end] = colours.inks[int(rng.integers(4))]
        else:
            picture[:, start:end] = prints[int(rng.integers(3))](rng, side)[:, start:end]
        start = end
    return _figured(rng, picture, [0, *edges, side], colours)


def _figured(
    rng: np.random.Generator, picture: Picture, edges: list[int], colours: Palette
) -> Picture:
    """Return `picture` with rows of figures down some bands, and rules at the edges."""
    side, rule = picture.shape[0], int(rng.integers(0, 6))
    for start, end in pairwise(edges):
        if rule:
            picture[:, start : start + rule] = colours.inks[0]
        if rng.random() < 0.5:
            draw: Draw = SHAPES[int(rng.integers(len(SHAPES)))]
            shape, n = draw(rng), divisor(side, side / (end - start))
            for y in (np.arange(n) + 0.5) * side / n:
                lay(picture, shape, colours.inks[1:], ((start + end) / 2, y), (end - start) * 0.35)
    return picture
