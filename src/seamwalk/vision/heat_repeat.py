"""What the seam heat shows in the same place of other blocks.

Blocks repeat, shifted, turned and mirrored.  A seam that is faint here and clear in the same place
of other blocks is likely real, and a ridge that no other block has is likely print.  The ways in
which a top repeats are the peaks of the correlation of its heat with itself, turned and mirrored
in all eight ways; nothing is assumed of a lattice.  Every copy is believed only where it agrees
with the heat round about, so a top that does not repeat, or does so in parts, speaks for itself.

References
----------
Padfield, Masked object registration in the Fourier domain, IEEE Trans. Image Processing 21(5),
2012 (correlation of pictures with masks).
"""

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Float = NDArray[np.float32]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class RepeatSettings:
    """What counts as a repeat."""

    coarse: int = 4
    """Half-resolution pixels to one of the correlation."""
    least_shift: float = 0.06
    """Least plain shift, share of the longer side: less is the ridge itself or fine print."""
    least_overlap: float = 0.3
    """Share of the top that must meet its copy."""
    least_likeness: float = 0.3
    """Correlation from which a copy counts; tops of different designs stay below 0.2."""
    most_shifts: int = 8
    """Plain shifts used, the most alike first."""
    most_turned: int = 2
    """Copies used of each turned or mirrored kind."""
    reach: int = 2
    """Half-resolution pixels that a seam may lie off its place: piecing, bumps, the shift's own
    rounding."""
    window: float = 0.12
    """Side of the window in which copy and heat must agree, share of the longer side: about a
    block."""
    wide: float = 0.3
    """And of a wider one: where a block hides its own seams, its neighbours tell which copy is
    the right one."""
    agreement_power: int = 3
    """How much more a copy counts that agrees better close by."""
    wide_power: int = 8
    """And in the wide window, where copies of a plain lattice agree halfway already."""
    enough: float = 0.1
    """Weight of all copies from which they are believed as far as they agree: one that agrees to
    four fifths."""


@dataclass(frozen=True, slots=True, eq=False)
class Repeat:
    """Heat in the same place of other blocks.

    Attributes
    ----------
    heat : (h, w) float32
        Weighted mean over the copies, 0 to 1; 0 where no copy reaches.
    trust : (h, w) float32
        How well the best copies agree round about, 0 (no copies) to 1.
    """

    heat: Float
    trust: Float


def repeats(heat: Float, mask: Mask, settings: RepeatSettings | None = None) -> Repeat:
    """Return what other blocks show at every pixel of `heat` (h, w) at half resolution."""
    s = settings or RepeatSettings()
    own = np.where(mask, heat, 0).astype(np.float32)
    near = _thick(own, s.reach)
    sides = [max(3, round(k * max(mask.shape))) for k in (s.window, s.wide)]
    total = np.zeros(heat.shape, dtype=np.float32)
    weight = np.full(heat.shape, 1e-6, dtype=np.float32)
    square = np.zeros(heat.shape, dtype=np.float32)
    for copy, shown in _copies(own, mask, s):
        thick = _thick(copy, s.reach)
        either = np.where(shown, np.maximum(own, copy), 0)
        common = np.minimum(either, np.minimum(near, thick))
        agree, around = (
            cv2.blur(common, (k, k)) / (cv2.blur(either, (k, k)) + np.float32(1e-3)) for k in sides
        )
        w = cv2.pow(agree, s.agreement_power) * cv2.pow(around, s.wide_power)
        w[~shown] = 0
        total += w * thick
        weight += w
        square += w * agree * around
    trust = np.sqrt(square / weight) * np.minimum(1, weight / s.enough)
    return Repeat(total / weight, np.where(mask, trust, 0).astype(np.float32))


def _thick(plane: Float, reach: int) -> Float:
    size = 2 * reach + 1
    return np.asarray(cv2.dilate(plane, np.ones((size, size), np.uint8)))


def _copies(heat: Float, mask: Mask, s: RepeatSettings) -> Iterator[tuple[Float, Mask]]:
    """Yield copies of the heat laid over itself, (h, w), and where they show another place."""
    k = s.coarse
    h, w = heat.shape[0] // k * k, heat.shape[1] // k * k
    if h < 8 * k or w < 8 * k:
        return
    blocks = (h // k, k, w // k, k)
    inside = mask[:h, :w].reshape(blocks).mean(axis=(1, 3)).astype(np.float32)
    small = heat[:h, :w].reshape(blocks).mean(axis=(1, 3)).astype(np.float32)
    small = np.asarray(cv2.GaussianBlur(small, (0, 0), 0.8))
    # The raw edge is no seam, and it repeats with nothing.
    inside = np.asarray(cv2.erode((inside > 0.99).astype(np.float32), np.ones((3, 3))))
    # A place that is turned about itself would bear witness for itself.
    down, across = np.mgrid[:h, :w].astype(np.float32)
    least2 = np.float32((s.least_shift * max(inside.shape) * k) ** 2)
    for turns in range(4):
        for mirrored in (False, True):
            plain = turns == 0 and not mirrored

            def moved(
                plane: NDArray[np.generic], turns: int = turns, mirrored: bool = mirrored
            ) -> NDArray[np.generic]:
                out = np.rot90(plane, turns)
                return out[:, ::-1] if mirrored else out

            there = np.ascontiguousarray(moved(small)), np.ascontiguousarray(moved(inside))
            big = moved(heat[:h, :w]), moved(mask[:h, :w])
            column, row = moved(across), moved(down)
            most = s.most_shifts if plain else s.most_turned
            for dy, dx in _shifts((small, inside), there, most, plain, s):
                ways = ((dy, dx), (-dy, -dx)) if plain else ((dy, dx),)
                for sy, sx in ways:
                    copy = np.zeros(heat.shape, dtype=np.float32)
                    shown = np.zeros(heat.shape, dtype=np.bool_)
                    at, source = _overlap((h, w), big[0].shape, sy, sx)
                    copy[at] = big[0][source]
                    shown[at] = big[1][source]
                    if not plain:
                        dx2 = (column[source] - across[at]) ** 2
                        shown[at] &= dx2 + (row[source] - down[at]) ** 2 > least2
                    yield copy, shown & mask


def _shifts(
    here: tuple[Float, Float],
    there: tuple[Float, Float],
    most: int,
    plain: bool,
    s: RepeatSettings,
) -> list[tuple[int, int]]:
    """Return the shifts (dy, dx), half-resolution pixels, that lay `there` over `here` best.

    Pixel p of `here` meets pixel p + shift of `there`.
    """
    alike, overlap = _correlation(here, there)
    rows, cols = alike.shape
    good = np.where(overlap >= s.least_overlap * here[1].sum(), alike, 0).astype(np.float32)
    y = np.fft.fftfreq(rows, 1 / rows)[:, None]
    x = np.fft.fftfreq(cols, 1 / cols)[None, :]
    if plain:
        good[np.hypot(y, x) < s.least_shift * max(here[0].shape)] = 0
        good[(y < 0) | ((y == 0) & (x < 0))] = 0
    peak = good >= np.asarray(cv2.dilate(good, np.ones((5, 5)))) - 1e-6
    found = np.argwhere(peak & (good >= s.least_likeness))
    order = np.argsort([-good[r, c] for r, c in found], kind="stable")[:most]
    out = []
    for r, c in found[order]:
        dy = y[r, 0] + _vertex(alike[r - 1, c], alike[r, c], alike[(r + 1) % rows, c])
        dx = x[0, c] + _vertex(alike[r, c - 1], alike[r, c], alike[r, (c + 1) % cols])
        out.append((round(s.coarse * dy), round(s.coarse * dx)))
    return out


def _correlation(
    here: tuple[Float, Float], there: tuple[Float, Float]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the correlation of two masked pictures at every shift, and how much overlaps."""
    from scipy import fft

    sizes = zip(here[0].shape, there[0].shape, strict=True)
    shape = [int(fft.next_fast_len(a + b, real=True)) for a, b in sizes]

    def spectra(picture: Float, inside: Float) -> list[NDArray[np.complex64]]:
        planes = (picture * inside, picture**2 * inside, inside)
        return [np.asarray(fft.rfft2(p, shape)) for p in planes]

    v1, q1, a1 = spectra(*here)
    v2, q2, a2 = spectra(*there)

    def against(a: NDArray[np.complex64], b: NDArray[np.complex64]) -> NDArray[np.float64]:
        return np.asarray(fft.irfft2(np.conj(a) * b, shape), dtype=np.float64)

    n = np.maximum(against(a1, a2), 1)
    first, second = against(v1, a2), against(a1, v2)
    product = against(v1, v2) - first * second / n
    one = against(q1, a2) - first**2 / n
    two = against(a1, q2) - second**2 / n
    return product / np.sqrt(np.maximum(one * two, 1e-6)), n


def _vertex(a: float, b: float, c: float) -> float:
    """Return where the parabola through three values at −1, 0, 1 peaks."""
    bend = a - 2 * b + c
    return 0.0 if bend >= 0 else float(np.clip((a - c) / (2 * bend), -0.5, 0.5))


def _overlap(
    here: tuple[int, ...], there: tuple[int, ...], dy: int, dx: int
) -> tuple[tuple[slice, slice], tuple[slice, slice]]:
    """Return the slices of two pictures that meet where p of one meets p + (dy, dx) of the other.

    Empty where they do not meet.
    """

    def one(n: int, m: int, d: int) -> tuple[slice, slice]:
        low, high = max(0, -d), max(0, -d, min(n, m - d))
        return slice(low, high), slice(low + d, high + d)

    (hy, ty), (hx, tx) = one(here[0], there[0], dy), one(here[1], there[1], dx)
    return (hy, hx), (ty, tx)
