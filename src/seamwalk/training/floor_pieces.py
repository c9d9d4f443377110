"""Floors laid in pieces: boards, parquet, bricks, tiles, cobbles, with joints between.

A floor is an image of piece numbers; every piece is cut from its own place of one texture, has a
tone of its own, and meets its neighbours in a joint.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from seamwalk.training import print_motifs as motifs
from seamwalk.training.print_colours import (
    Ink,
    Lch,
    Picture,
    dye,
    inks_of,
    log_uniform,
)
from seamwalk.training.print_grounds import (
    Plane,
    clouds,
    divisor,
    lit,
    noise,
    over,
    softened,
    unit,
)


def timber(rng: np.random.Generator) -> Lch:
    """Draw the colour of wood: L*, chroma, hue in degrees, from bleached to black."""
    if rng.random() < 0.2:
        return np.array([rng.uniform(15, 88), rng.uniform(0, 10), rng.uniform(50, 280)])
    return np.array([rng.uniform(18, 82), rng.uniform(8, 45), rng.uniform(48, 85)])


def grain(rng: np.random.Generator, side: int) -> Plane:
    """Return wood grain along x, (side, side), about 0 ± 1: pores, streaks and year rings."""
    streak = noise(rng, side, log_uniform(rng, 2, 10), log_uniform(rng, 40, 190))
    pores = noise(rng, side, log_uniform(rng, 12, 60), side / 2)
    slow = noise(rng, side, log_uniform(rng, 2, 6), log_uniform(rng, 6, 24))
    rings = np.sin(slow * np.float32(log_uniform(rng, 2, 16)))
    parts = rng.dirichlet([1.0, 1.0, 1.0]).astype(np.float32) * np.float32(1.7)
    return np.asarray(streak * parts[0] + pores * parts[1] + rings * parts[2], np.float32)


def _joints(picture: Picture, edge: NDArray[np.bool_], ink: Ink, soft_px: float) -> Picture:
    """Return `picture` with joints where `edge` (H, W) holds, softened."""
    mask = edge.astype(np.float32)
    if soft_px > 0.2:
        mask = np.minimum(softened(mask, soft_px) * np.float32(1.3), 1)
    return over(picture, mask, ink)


def _pieces(number: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Return where the piece `number` (H, W) differs from the one to the right or below."""
    below, right = np.roll(number, -1, 0), np.roll(number, -1, 1)
    return np.asarray((number != below) | (number != right))


def _paved(
    rng: np.random.Generator,
    number: NDArray[np.int64],
    base: Lch,
    texture: Plane,
    *,
    spread: float,
    joint_px: float,
    upright: NDArray[np.bool_] | None = None,
) -> Picture:
    """Return pieces, each of its own tone and cut from its own place of `texture`, and joints."""
    count = int(number.max()) + 1
    side = number.shape[0]
    tone = (rng.standard_normal(count) * spread).astype(np.float32)
    y, x = np.mgrid[0:side, 0:side]
    dx, dy = rng.integers(0, side, (2, count))
    u, v = (x + dx[number]) % side, (y + dy[number]) % side
    cut = texture[v, u] if upright is None else np.where(upright, texture[u, v], texture[v, u])
    picture = lit(flat(side, base), cut + tone[number])
    edge = _pieces(number)
    for _ in range(int(joint_px) - 1):
        edge = edge | np.roll(edge, 1, 0) | np.roll(edge, 1, 1)
    dark = base * [rng.uniform(0.1, 0.7), 0.6, 1.0]
    if rng.random() < 0.3:
        dark = np.array([rng.uniform(10, 95), rng.uniform(0, 8), 80.0])
    return _joints(picture, edge, inks_of(dark[None])[0], rng.uniform(0, 0.9))


def planks(rng: np.random.Generator, side: int) -> Picture:
    """Return boards side by side, with ends here and there."""
    rows = divisor(side, log_uniform(rng, 2, 20))
    high = side // rows
    number = np.zeros((side, side), np.int64)
    for r in range(rows):
        ends = np.sort(rng.integers(0, side, int(rng.choice([0, 1, 1, 2, 3]))))
        cell = np.searchsorted(ends, np.arange(side), side="right") % max(len(ends), 1)
        number[r * high : (r + 1) * high] = r * 4 + cell
    strength = np.float32(log_uniform(rng, 0.02, 0.22))
    picture = _paved(
        rng,
        number,
        timber(rng),
        grain(rng, side) * strength,
        spread=rng.uniform(0.0, 0.18),
        joint_px=rng.choice([1, 1, 2, 3]),
    )
    return picture if rng.random() < 0.6 else np.ascontiguousarray(picture.transpose(1, 0, 2))


def parquet(rng: np.random.Generator, side: int) -> Picture:
    """Return herringbone or basket parquet, or herringbone brick.

    A herringbone of blocks 1 by n: on the block's grid, (i − j) mod 2n tells where in a lying
    (below n) or standing block a cell is.
    """
    n = int(rng.choice([2, 3, 4]))
    # The pattern repeats after 2n cells; the picture holds whole repeats.
    cells = 2 * n * int(rng.choice([1, 2, 3, 4] if n != 3 else [1, 2, 4]))
    cells = cells if side % cells == 0 else 2 * n
    unit_px = side // cells
    j, i = (g // unit_px for g in np.mgrid[0:side, 0:side])
    if rng.random() < 0.65:
        k = (i - j) % (2 * n)
        lying = k < n
        left, top = (i - k) % cells, (j - (2 * n - 1 - k)) % cells
        number = np.where(lying, left + cells * j, cells * cells + i + cells * top)
    else:
        lying = (i // n + j // n) % 2 == 0
        number = np.where(lying, i // n + cells * j, cells * cells + i + cells * (j // n))
    strength = np.float32(log_uniform(rng, 0.02, 0.2))
    return _paved(
        rng,
        number,
        timber(rng),
        grain(rng, side) * strength,
        spread=rng.uniform(0.02, 0.18),
        joint_px=rng.choice([1, 1, 2]),
        upright=~lying,
    )


def tiles(rng: np.random.Generator, side: int) -> Picture:
    """Return tiles or bricks with grout: square, long, in bond, of one or two colours."""
    nx, ny = divisor(side, log_uniform(rng, 1, 20)), divisor(side, log_uniform(rng, 1, 20))
    ny = nx if rng.random() < 0.5 else ny
    wide, high = side // nx, side // ny
    y, x = np.mgrid[0:side, 0:side]
    j = y // high
    bond = int(wide * rng.choice([0.5, 1 / 3])) if rng.random() < 0.45 and ny % 2 == 0 else 0
    i = ((x + bond * (j % 2)) % side) // wide
    number = i + nx * j
    base = timber(rng) if rng.random() < 0.4 else dye(rng)
    texture = unit(clouds(rng, side, log_uniform(rng, 2, 40), 4)) - np.float32(0.5)
    joint = int(np.clip(rng.uniform(0.01, 0.08) * min(wide, high), 1, 9))
    picture = _paved(
        rng,
        number,
        base,
        texture * np.float32(log_uniform(rng, 0.02, 0.4)),
        spread=rng.uniform(0, 0.12) * (rng.random() < 0.7),
        joint_px=joint,
    )
    if bond == 0 and nx % 2 == 0 and ny % 2 == 0 and rng.random() < 0.25:
        share = ((i + j) % 2).astype(np.float32) * np.float32(rng.uniform(0.3, 1.0))
        grout = _pieces(number)
        picture = over(picture, share * ~grout, inks_of(dye(rng)[None])[0])
    return picture


def patterned_tiles(rng: np.random.Generator, side: int) -> Picture:
    """Return cement tiles, each with a figure, mirrored about its neighbours, and joints."""
    cell = side // int(rng.choice([2, 3, 4, 6, 8]))
    quarter = np.ascontiguousarray(motifs.tossed(rng, 96)[: cell // 2, : cell // 2])
    sized = cv2.resize(quarter, (cell // 2, cell // 2), interpolation=cv2.INTER_NEAREST)
    half = np.concatenate([sized, sized[:, ::-1]], axis=1)
    tile = np.concatenate([half, half[::-1]], axis=0)
    tile[0, :] = tile[:, 0] = inks_of(dye(rng)[None])[0]
    return np.asarray(np.tile(tile, (side // cell, side // cell, 1)), np.uint8)


def cobbles(rng: np.random.Generator, side: int) -> Picture:
    """Return flagstones, cobbles or honeycomb tiles: the cells about points (Voronoi)."""
    n = int(log_uniform(rng, 2, 12)) * 2
    half = side // 2
    loose = float(rng.choice([0.0, 0.25, 0.6, 0.9]))
    j, i = (g.astype(float) for g in np.mgrid[0:n, 0:n])
    x = (i + 0.25 + 0.5 * (j % 2) + loose * rng.uniform(-0.4, 0.4, (n, n))) * half / n
    y = (j + 0.5 + loose * rng.uniform(-0.4, 0.4, (n, n))) * half / n
    columns, rows = np.int64(x.ravel()) % half, np.int64(y.ravel()) % half
    seeds = np.full((half, half), 255, np.uint8)
    seeds[rows, columns] = 0
    far, label = cv2.distanceTransformWithLabels(
        np.tile(seeds, (3, 3)), cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL
    )
    middle = label[half : 2 * half, half : 2 * half]
    # The copies of one point on the 3 by 3 sheet have labels of their own: name them alike.
    names = np.zeros(int(label.max()) + 1, np.int64)
    for a in range(3):
        for b in range(3):
            names[label[rows + a * half, columns + b * half]] = np.arange(n * n)
    number = np.tile(names[middle], (2, 2))
    del far
    base = timber(rng) if rng.random() < 0.5 else dye(rng)
    texture = unit(clouds(rng, side, log_uniform(rng, 4, 40), 3)) - np.float32(0.5)
    return _paved(
        rng,
        number,
        base,
        texture * np.float32(log_uniform(rng, 0.03, 0.4)),
        spread=rng.uniform(0, 0.15),
        joint_px=int(rng.integers(1, 5)),
    )


def flat(side: int, base: Lch) -> Picture:
    """Return one colour all over."""
    return np.full((side, side, 3), inks_of(base[None])[0], np.uint8)
