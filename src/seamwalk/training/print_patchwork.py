"""Prints that look pieced: printed patchwork, tessellations, and stones, boards and bricks.

All their edges are ink: nothing is sewn, so none is a seam.
"""

import numpy as np
from numpy.typing import NDArray

from seamwalk.training.floor_pieces import cobbles, planks, tiles
from seamwalk.training.print_colours import Picture, dye, inks_of, log_uniform, palette
from seamwalk.training.print_grounds import clouds, divisor, lit
from seamwalk.training.print_laying import lay
from seamwalk.training.print_pictures import PLAIN, Print
from seamwalk.training.print_things import SHAPES

Numbers = NDArray[np.int64]


def patchwork(rng: np.random.Generator, side: int) -> Picture:
    """Return a print of patchwork: squares, bricks, triangles of small prints, lines between."""
    n = int(rng.choice([2, 3, 4, 6, 8, 12]))
    half = side // 2
    sheets = [
        np.tile(PLAIN[int(rng.integers(len(PLAIN)))](rng, half), (2, 2, 1)) for _ in range(4)
    ]
    cell = side // n
    index = _cut(rng, _squares(rng, n, cell), n, cell)
    picture = sheets[0].copy()
    for k in range(1, 4):
        np.copyto(picture, sheets[k], where=(index == k)[..., None])
    if rng.random() < 0.3:
        shape = SHAPES[int(rng.integers(len(SHAPES)))](rng)
        inks = palette(rng, 4).inks
        for j in range(n):
            for i in range(j % 2, n, 2):
                lay(picture, shape, inks, ((i + 0.5) * cell, (j + 0.5) * cell), cell * 0.35)
    if rng.random() < 0.6:
        ink = inks_of(dye(rng)[None])[0]
        wide = int(rng.integers(1, max(2, min(8, cell // 8))))
        for k in range(0, side, cell):
            picture[:, k : k + wide] = ink
            picture[k : k + wide] = ink
    return picture


def _squares(rng: np.random.Generator, n: int, cell: int) -> Numbers:
    """Return fabric numbers (n cell, n cell) of squares: by chance, or in a small repeat."""
    j, i = np.mgrid[0:n, 0:n]
    kind = int(rng.integers(4))
    if kind == 0:
        number = rng.integers(0, 4, (n, n))
    elif kind == 1 and n % 2 == 0:
        number = np.tile(rng.integers(0, 4, (2, 2)), (n // 2, n // 2))
    elif kind == 2:
        number = np.minimum(np.minimum(i, n - 1 - i), np.minimum(j, n - 1 - j)) % 4
    else:
        number = (i + j) % 2
    return np.repeat(np.repeat(number, cell, 0), cell, 1)


def _cut(rng: np.random.Generator, index: Numbers, n: int, cell: int) -> Numbers:
    """Return `index` with its squares halved or quartered slantwise, or shifted into bricks."""
    chance = rng.random()
    if chance < 0.4:
        y, x = np.mgrid[0:cell, 0:cell]
        falling, rising = x > y, x + y < cell
        flips = rng.integers(0, 2, (n, n))
        pinwheel = (np.arange(n)[:, None] + np.arange(n)[None]) % 2
        flips = flips if rng.random() < 0.4 else pinwheel * int(rng.integers(2))
        where = np.repeat(np.repeat(flips, cell, 0), cell, 1).astype(bool)
        upper = np.where(where, np.tile(falling, (n, n)), np.tile(rising, (n, n)))
        if rng.random() < 0.3:
            upper = np.tile(falling ^ rising, (n, n))
        return np.where(upper, index, (index + int(rng.integers(1, 4))) % 4)
    if chance < 0.6 and cell % 2 == 0:
        shifted = [np.roll(r, k % 2 * cell // 2, axis=1) for k, r in enumerate(np.split(index, n))]
        return np.concatenate(shifted)
    return index


def tessellation(rng: np.random.Generator, side: int) -> Picture:
    """Return triangles, diamonds or tumbling blocks in a few colours, edge to edge."""
    colours = palette(rng, 5, tonal=bool(rng.random() < 0.2))
    table = np.array([colours.ground, *colours.inks], np.uint8)
    nx = divisor(side // 2, log_uniform(rng, 1, 12)) * 2
    ny = divisor(side // 2, nx / 2 * rng.uniform(0.7, 1.8)) * 2
    y, x = np.mgrid[0:side, 0:side].astype(np.float32)
    u, v = (x + 0.5) * nx / side, (y + 0.5) * ny / side
    kind = int(rng.integers(3))
    if kind == 0:
        # Rows of triangles: a place is above or below the slanted side of its half cell.
        row = np.floor(v).astype(int)
        k = np.floor(u * 2 + row).astype(int)
        rise, run = v - row, u * 2 + row - k
        upper = np.where((k + row) % 2 == 0, rise > run, rise + run < 1)
        number = (k - row + upper) % (2 * nx) + 2 * nx * (row % ny)
    elif kind == 1:
        a, b = np.floor((u + v) / 1).astype(int), np.floor(u - v).astype(int)
        number = ((a + b) % nx) + nx * ((a - b) % (2 * ny))
    else:
        # Tumbling blocks: the nearest point of a centred lattice, then one of three directions.
        near = np.hypot(u - np.rint(u), (v / 2 - np.rint(v / 2)) * 1.732)
        du, dv = u - np.floor(u) - 0.5, v / 2 - np.floor(v / 2) - 0.5
        centred = np.hypot(du, dv * 1.732) < near
        px = np.where(centred, du, u - np.rint(u))
        py = np.where(centred, dv, v / 2 - np.rint(v / 2)) * 1.732
        sector = np.floor(((np.arctan2(py, px) + 2 * np.pi + np.pi / 6) % (2 * np.pi)) / 2.0944)
        number = sector.astype(int) % 3
    if kind == 2:
        inks = number
    elif rng.random() < 0.5:
        inks = rng.integers(0, len(table), int(number.max()) + 1)[number]
    else:
        inks = number % int(rng.integers(2, 5))
    picture = np.asarray(table[inks], np.uint8)
    if rng.random() < 0.3:
        edge = (inks != np.roll(inks, -1, 0)) | (inks != np.roll(inks, -1, 1))
        picture[edge] = colours.inks[-1]
    if rng.random() < 0.4:
        picture = lit(picture, (clouds(rng, side, 12, 3) - np.float32(0.5)) * np.float32(0.3))
    return picture


def building(rng: np.random.Generator, side: int) -> Picture:
    """Return printed stones, bricks or boards."""
    kinds: tuple[Print, ...] = (planks, tiles, cobbles, cobbles)
    return kinds[int(rng.integers(4))](rng, side)
