"""What lies under and round the top: boards, tiles, carpets, rugs, lawn, walls, bedding.

Each picture repeats without a joint, 384 px a side, so that the renderer can lay it at any scale
and angle.
"""

from collections.abc import Callable

import cv2
import numpy as np
from numpy.typing import NDArray

from seamwalk.training import print_geometric as geometric
from seamwalk.training import print_motifs as motifs
from seamwalk.training.floor_pieces import (
    cobbles,
    flat,
    parquet,
    patterned_tiles,
    planks,
    tiles,
)
from seamwalk.training.print_colours import (
    Picture,
    dye,
    inks_of,
    log_uniform,
    palette,
    tones,
)
from seamwalk.training.print_grounds import clouds, divisor, lit, noise, over, unit, washed

SIDE = 384
"""Side of a surface, pixels."""

Surface = Callable[[np.random.Generator, int], Picture]


def terrazzo(rng: np.random.Generator, side: int) -> Picture:
    """Return chips of stone in cement, or gravel."""
    colours = palette(rng, 5)
    picture = np.full((side, side, 3), colours.ground, np.uint8)
    for k in range(int(rng.integers(1, 4))):
        size = log_uniform(rng, 8, 90)
        chips = noise(rng, side, size) + noise(rng, side, size * 2) * np.float32(0.5)
        mask = np.clip((chips - np.float32(rng.uniform(0.7, 1.6))) * 8, 0, 1)
        picture = over(picture, mask, colours.inks[k])
    return picture


def carpet(rng: np.random.Generator, side: int) -> Picture:
    """Return pile or loops: fine noise, sometimes in ribs or flecks of more colours."""
    base = dye(rng)
    stops = inks_of(np.vstack([tones(rng, base, 2, 30.0), base[None]]))
    grain = noise(rng, side, log_uniform(rng, 40, 190), log_uniform(rng, 40, 190))
    grain += noise(rng, side, log_uniform(rng, 3, 20)) * np.float32(rng.uniform(0, 0.6))
    if rng.random() < 0.3:
        ribs = 2 * np.pi * divisor(side, log_uniform(rng, 8, 96)) / side
        grain += np.sin(np.arange(side, dtype=np.float32) * np.float32(ribs))[None]
    return washed(1 / (1 + np.exp(-grain * np.float32(log_uniform(rng, 0.6, 3)))), stops)


def rug(rng: np.random.Generator, side: int) -> Picture:
    """Return a patterned or striped rug: a coarse print, stepped into knots."""
    knots = side // int(rng.choice([1, 2, 3, 4]))
    choices: tuple[Surface, ...] = (
        motifs.tossed, motifs.florals, geometric.stripes, geometric.lattice,
        geometric.border_stripe, geometric.chevron, geometric.woven, geometric.checks,
    )  # fmt: skip
    picture = choices[int(rng.integers(len(choices)))](rng, side)
    small = cv2.resize(picture, (knots, knots), interpolation=cv2.INTER_AREA)
    big = np.asarray(cv2.resize(small, (side, side), interpolation=cv2.INTER_NEAREST), np.uint8)
    thread = noise(rng, side, side / 2, side / 4) * np.float32(rng.uniform(0.01, 0.12))
    return lit(big, thread + noise(rng, side, 6) * np.float32(0.02))


def concrete(rng: np.random.Generator, side: int) -> Picture:
    """Return concrete, plaster, painted wall or asphalt."""
    base = dye(rng) * [1.0, rng.choice([0.1, 0.3, 1.0]), 1.0]
    cloud = clouds(rng, side, log_uniform(rng, 2, 12), 4) - np.float32(0.5)
    grain = rng.standard_normal((side, side)).astype(np.float32)
    bright = cloud * np.float32(log_uniform(rng, 0.02, 0.4))
    bright += grain * np.float32(log_uniform(rng, 0.004, 0.12))
    return lit(flat(side, base), bright)


def lawn(rng: np.random.Generator, side: int) -> Picture:
    """Return grass, or leaves, straw and moss: short strokes in neighbouring colours."""
    hue = rng.uniform(95, 140) if rng.random() < 0.75 else rng.uniform(60, 100)
    base = np.array([rng.uniform(20, 60), rng.uniform(15, 55), hue])
    picture = lit(flat(side, base), noise(rng, side, 16) * np.float32(0.2))
    many = int(log_uniform(rng, 150, 500))
    strokes = np.repeat(base[None], 8, 0) + rng.normal(0, 1, (8, 3)) * [12, 8, 10]
    inks = inks_of(strokes)
    length = log_uniform(rng, 6, 40)
    ends = rng.normal(0, length / 2, (many, 2))
    start = rng.uniform(0, side / 2, (many, 2))
    half = np.ascontiguousarray(picture[: side // 2, : side // 2])
    half = np.asarray(cv2.resize(picture, (side // 2, side // 2)), np.uint8)
    wide = 1 if length < 14 else int(rng.integers(1, 3))
    for m in range(many):
        for shift in _wraps(start[m], side // 2, length):
            a = np.rint((start[m] + shift) * 16).astype(int)
            b = np.rint((start[m] + shift + ends[m]) * 16).astype(int)
            cv2.line(half, a.tolist(), b.tolist(), inks[m % 8], wide, cv2.LINE_AA, 4)
    return np.tile(half, (2, 2, 1))


def _wraps(place: NDArray[np.float64], side: int, reach: float) -> list[NDArray[np.float64]]:
    """Return the shifts by which a figure at `place` (2,) must be drawn to cross the edges."""
    out = []
    for dx in (-side, 0, side):
        for dy in (-side, 0, side):
            x, y = place[0] + dx, place[1] + dy
            if -2 * reach < x < side + 2 * reach and -2 * reach < y < side + 2 * reach:
                out.append(np.array([dx, dy], float))
    return out


def bedding(rng: np.random.Generator, side: int) -> Picture:
    """Return a sheet, duvet or curtain with folds, plain or printed."""
    plain = rng.random() < 0.5
    kinds: tuple[Surface, ...] = (
        motifs.tossed,
        geometric.stripes,
        geometric.woven,
        geometric.dots,
    )
    base = flat(side, dye(rng)) if plain else kinds[int(rng.integers(4))](rng, side)
    folds = np.zeros((side, side), np.float32)
    for _ in range(int(rng.integers(1, 4))):
        field = noise(rng, side, log_uniform(rng, 2, 7), log_uniform(rng, 2, 7))
        folds += (1 - np.abs(field)) ** np.float32(rng.choice([1, 3]))
    folds -= folds.mean()
    if rng.random() < 0.3:
        n = 2 * np.pi * int(rng.integers(2, 14)) / side
        folds += np.sin(np.arange(side, dtype=np.float32) * np.float32(n))[None]
    folds = np.clip(folds, -2.5, 2.5)
    return lit(base, folds * np.float32(log_uniform(rng, 0.01, 0.2)))


def cork(rng: np.random.Generator, side: int) -> Picture:
    """Return cork, chipboard or sisal."""
    base = np.array([rng.uniform(40, 75), rng.uniform(15, 45), rng.uniform(55, 80)])
    stops = inks_of(np.vstack([base * [0.55, 1, 1], base, base * [1.25, 0.9, 1]]))
    size = log_uniform(rng, 30, 100)
    return washed(unit(noise(rng, side, size, size * log_uniform(rng, 0.4, 2))), stops)


def plain(rng: np.random.Generator, side: int) -> Picture:
    """Return one colour with hardly any texture."""
    grain = rng.standard_normal((side, side)).astype(np.float32)
    return lit(flat(side, dye(rng)), grain * np.float32(rng.uniform(0, 0.02)))


SURFACES: tuple[tuple[Surface, float], ...] = (
    (planks, 20.0),
    (parquet, 7.0),
    (tiles, 12.0),
    (cobbles, 4.0),
    (patterned_tiles, 3.0),
    (terrazzo, 4.0),
    (carpet, 13.0),
    (rug, 9.0),
    (concrete, 11.0),
    (lawn, 6.0),
    (bedding, 9.0),
    (cork, 2.0),
    (plain, 6.0),
)
"""Surfaces and their weights: common practice, no source."""


def floor_surface(rng: np.random.Generator, *, varied: bool = True) -> Picture:
    """Return what the top lies on or hangs before (384, 384, 3), sRGB; it wraps round both ways.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of all choices.
    varied : bool
        False gives plain surfaces only.
    """
    if not varied:
        return plain(rng, SIDE)
    weights = np.cumsum([weight for _, weight in SURFACES])
    chosen = int(np.searchsorted(weights, rng.random() * weights[-1], side="right"))
    return SURFACES[chosen][0](rng, SIDE)
