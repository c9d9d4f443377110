"""Cloth without a drawn figure: solids, clouds, batik, marble, washes, woven and worn textures.

Every picture wraps round in both directions. Noise is a lattice of random numbers, wrapped, and
enlarged by cubic B-splines: value noise on a torus.

References
----------
Ebert et al., Texturing and Modeling, 3rd ed. 2003, ch. 2 and 6 (value noise, fractal sums,
domain distortion).
"""

from functools import lru_cache
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from seamwalk.training.print_colours import Picture, dye, inks_of, log_uniform, palette, tones

Plane = NDArray[np.float32]


def divisor(side: int, wanted: float) -> int:
    """Return the divisor of `side` nearest to `wanted` as a ratio."""
    every = [n for n in range(1, side + 1) if side % n == 0]
    return min(every, key=lambda n: abs(np.log(n / max(wanted, 0.5))))


@lru_cache(maxsize=64)
def _rise(side: int, count: int) -> Plane:
    """Return the weights (side, count) that spread `count` numbers smoothly round a circle.

    Cubic B-spline, so every bump is round and none rings.
    """
    at = (np.arange(side) + 0.5) * count / side
    apart = np.abs(at[:, None] - np.arange(count)[None] - 0.5)
    apart = np.minimum(apart, count - apart)
    near = 2 / 3 - apart**2 + apart**3 / 2
    weights = np.where(apart < 1, near, np.where(apart < 2, (2 - apart) ** 3 / 6, 0.0))
    weights /= np.sqrt((weights**2).sum(axis=1, keepdims=True))
    weights = weights.astype(np.float32)
    weights.setflags(write=False)
    return np.asarray(weights)


def noise(rng: np.random.Generator, side: int, across: float, down: float | None = None) -> Plane:
    """Return smooth noise (side, side), about 0 ± 1, with that many bumps across and down."""
    nx = int(np.clip(round(across), 2, side // 2))
    ny = nx if down is None else int(np.clip(round(down), 2, side // 2))
    grid = rng.standard_normal((ny, nx)).astype(np.float32)
    return np.asarray(_rise(side, ny) @ (grid @ _rise(side, nx).T), np.float32)


def clouds(rng: np.random.Generator, side: int, bumps: float, octaves: int = 3) -> Plane:
    """Return a fractal sum of noise (side, side) from 0 to 1."""
    total = noise(rng, side, bumps)
    for k in range(1, octaves):
        if bumps * 2**k > side / 2:
            break
        total += noise(rng, side, bumps * 2**k) * np.float32(0.6**k)
    return unit(total)


def unit(plane: Plane) -> Plane:
    """Return `plane` stretched to 0 to 1."""
    low, high = float(plane.min()), float(plane.max())
    return np.asarray((plane - low) * (1.0 / max(high - low, 1e-6)), np.float32)


def washed(plane: Plane, stops: NDArray[np.uint8] | tuple[tuple[int, int, int], ...]) -> Picture:
    """Return a picture: `plane`, 0 to 1, runs through the colours `stops` (N, 3)."""
    colours = np.asarray(stops, np.float32)
    at = np.linspace(0.0, 1.0, len(colours))
    table = np.column_stack([np.interp(np.linspace(0, 1, 256), at, c) for c in colours.T])
    index = np.clip(plane * np.float32(255), 0, 255).astype(np.uint8)
    return np.asarray(np.take(np.rint(table).astype(np.uint8), index, axis=0))


def warped(rng: np.random.Generator, picture: Picture, push_px: float, bumps: float) -> Picture:
    """Return `picture` pushed about by smooth noise; it still wraps round."""
    side = picture.shape[0]
    y, x = np.mgrid[0:side, 0:side].astype(np.float32)
    x += noise(rng, side, bumps) * np.float32(push_px)
    y += noise(rng, side, bumps) * np.float32(push_px)
    out = cv2.remap(picture, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP)
    return np.asarray(out, np.uint8)


def solid(rng: np.random.Generator, side: int) -> Picture:
    """Return plain dyed cloth."""
    return np.full((side, side, 3), inks_of(dye(rng)[None])[0], np.uint8)


def tonal(rng: np.random.Generator, side: int) -> Picture:
    """Return clouds of two to four tones of one colour."""
    base = dye(rng)
    stops = inks_of(np.vstack([base[None], tones(rng, base, int(rng.integers(1, 4)), 24.0)]))
    plane = clouds(rng, side, log_uniform(rng, 2, 40), int(rng.integers(1, 5)))
    if rng.random() < 0.4:
        plane = unit(np.abs(plane - np.float32(0.5)))
    return washed(plane, stops)


def hand_dyed(rng: np.random.Generator, side: int) -> Picture:
    """Return a many-coloured wash: clouds that run through a palette."""
    colours = palette(rng, int(rng.integers(2, 6)))
    plane = clouds(rng, side, log_uniform(rng, 1, 8), int(rng.integers(1, 5)))
    for _ in range(int(rng.integers(0, 2))):
        plane = unit(np.sin(plane * np.float32(rng.uniform(3, 9))))
    return washed(plane, colours.inks)


def batik(rng: np.random.Generator, side: int) -> Picture:
    """Return wax-resist cloth: a wash, blots of another colour, fine cracks."""
    picture = hand_dyed(rng, side) if rng.random() < 0.6 else tonal(rng, side)
    level = clouds(rng, side, log_uniform(rng, 6, 48), 2)
    edge = np.float32(rng.uniform(0.4, 0.65))
    blot = np.clip((level - edge) * np.float32(log_uniform(rng, 6, 60)), 0, 1)
    if rng.random() < 0.4:
        blot = np.clip(1 - np.abs(level - edge) * np.float32(log_uniform(rng, 12, 60)), 0, 1)
    colour = inks_of(tones(rng, dye(rng), 1, 30.0))[0]
    return over(picture, blot * np.float32(rng.uniform(0.3, 1.0)), colour)


def marble(rng: np.random.Generator, side: int) -> Picture:
    """Return veins: stripes of clouds, drawn out by noise."""
    level = clouds(rng, side, log_uniform(rng, 1, 6), 4)
    vein = 1 - np.abs(np.sin(level * np.float32(rng.uniform(6, 40))))
    colours = palette(rng, 3, tonal=bool(rng.random() < 0.5))
    stops = (colours.ground, *colours.inks[: int(rng.integers(1, 4))])
    return washed(vein ** np.float32(log_uniform(rng, 0.7, 4)), stops)


def grunge(rng: np.random.Generator, side: int) -> Picture:
    """Return worn, brushed or scraped cloth of nearly one colour."""
    base = dye(rng)
    stops = inks_of(np.vstack([base[None], tones(rng, base, 2, 22.0)]))
    coarse = noise(rng, side, log_uniform(rng, 2, 16))
    stretch = log_uniform(rng, 1, 16) if rng.random() < 0.6 else 1.0
    fine = noise(rng, side, log_uniform(rng, 24, 96), log_uniform(rng, 24, 96) / stretch)
    grain = rng.standard_normal((side, side)).astype(np.float32)
    mix = coarse + fine * np.float32(rng.uniform(0.4, 1.5)) + grain * np.float32(0.3)
    return washed(1 / (1 + np.exp(-mix * np.float32(log_uniform(rng, 0.7, 4)))), stops)


def crosshatch(rng: np.random.Generator, side: int) -> Picture:
    """Return linen or brushed crosshatch: streaks along both threads."""
    colours = palette(rng, 2, tonal=bool(rng.random() < 0.75))
    length, thread = log_uniform(rng, 2, 24), log_uniform(rng, 60, 200)
    a = noise(rng, side, length, thread)
    b = noise(rng, side, thread, length * log_uniform(rng, 0.5, 2))
    sharp = np.float32(log_uniform(rng, 0.6, 3))
    return washed(1 / (1 + np.exp(-(a + b) * sharp)), (colours.ground, *colours.inks[:1]))


def ombre(rng: np.random.Generator, side: int) -> Picture:
    """Return colours that run into one another across the cloth and back."""
    stops = palette(rng, int(rng.integers(2, 6)), tonal=bool(rng.random() < 0.3)).inks
    run = (1 - np.cos(np.arange(side, dtype=np.float32) * np.float32(2 * np.pi / side))) / 2
    plane = np.broadcast_to(run[None], (side, side)).astype(np.float32)
    if rng.random() < 0.5:
        plane = np.clip(plane + noise(rng, side, 24) * np.float32(rng.uniform(0, 0.06)), 0, 1)
    return washed(plane, (*stops, stops[-1]))


def specks(rng: np.random.Generator, side: int) -> Picture:
    """Return fine specks, as of metallic ink, over a quiet ground."""
    picture = tonal(rng, side) if rng.random() < 0.6 else solid(rng, side)
    for _ in range(int(rng.integers(1, 3))):
        grain = rng.random((side, side)).astype(np.float32)
        size = float(rng.uniform(0.4, 2.2))
        grain = np.asarray(softened(grain, size), np.float32)
        cut = float(grain.mean() + rng.uniform(1.6, 3.0) * grain.std())
        mask = np.clip((grain - np.float32(cut)) / np.float32(grain.std() * 0.3), 0, 1)
        picture = over(picture, mask, inks_of(dye(rng)[None])[0])
    return picture


def softened(picture: NDArray[Any], blur_px: float) -> NDArray[Any]:
    """Return `picture` (H, W) or (H, W, 3), Gaussian blurred round the torus, of the same type."""
    pad = int(np.ceil(4 * blur_px))
    wrapped = cv2.copyMakeBorder(picture, pad, pad, pad, pad, cv2.BORDER_WRAP)
    return np.asarray(cv2.GaussianBlur(wrapped, (0, 0), blur_px)[pad:-pad, pad:-pad])


def over(picture: Picture, mask: Plane, colour: tuple[int, int, int]) -> Picture:
    """Return `picture` with `colour` laid on by `mask` (H, W), 0 to 1."""
    share = cv2.merge([np.asarray(mask, np.float32)] * 3)
    base = picture.astype(np.float32)
    base += share * (np.asarray(colour, np.float32) - base)
    return np.asarray(base + np.float32(0.5), np.uint8)


def lit(picture: Picture, bright: Plane) -> Picture:
    """Return `picture` (H, W, 3) with its brightness multiplied by 1 + `bright` (H, W)."""
    share = cv2.merge([np.asarray(bright + np.float32(1), np.float32)] * 3)
    return np.asarray(cv2.multiply(picture, share, dtype=cv2.CV_8U), np.uint8)
