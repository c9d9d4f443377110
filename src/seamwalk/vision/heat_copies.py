"""The ways in which a top repeats: shifts, turns and mirrorings that lay its seams on its seams.

They are the peaks of the correlation of a picture of lines with itself, turned and mirrored in all
eight ways; nothing is assumed of a lattice.

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
Slices = tuple[slice, slice]


@dataclass(frozen=True, slots=True)
class CopySettings:
    """Which copies are taken."""

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


@dataclass(frozen=True, slots=True, eq=False)
class Copy:
    """One way to lay a picture (h, w) over itself.

    Attributes
    ----------
    turns : int
        Quarter turns, as :func:`numpy.rot90` counts them.
    mirrored : bool
        Left and right exchanged after turning.
    size : (int, int)
        Rows and columns that take part: whole pixels of the correlation.
    here, there : (slice, slice)
        What meets: in the picture, and in the turned one.
    shown : (h, w) bool
        Where the copy shows another place of the top.
    """

    turns: int
    mirrored: bool
    size: tuple[int, int]
    here: Slices
    there: Slices
    shown: Mask

    def of(self, plane: Float) -> Float:
        """Return the copy of a plane (h, w), 0 where it does not reach."""
        out = np.zeros(plane.shape, dtype=np.float32)
        moved = _moved(plane[: self.size[0], : self.size[1]], self.turns, self.mirrored)
        out[self.here] = moved[self.there]
        return out


def _moved(plane: NDArray[np.generic], turns: int, mirrored: bool) -> NDArray[np.generic]:
    out = np.rot90(plane, turns)
    return out[:, ::-1] if mirrored else out


def copies(lines: Float, mask: Mask, s: CopySettings) -> Iterator[Copy]:
    """Yield the ways in which `lines` (h, w) lie over themselves, plain shifts both ways."""
    k = s.coarse
    h, w = lines.shape[0] // k * k, lines.shape[1] // k * k
    if h < 8 * k or w < 8 * k:
        return
    blocks = (h // k, k, w // k, k)
    inside = mask[:h, :w].reshape(blocks).mean(axis=(1, 3)).astype(np.float32)
    small = lines[:h, :w].reshape(blocks).mean(axis=(1, 3)).astype(np.float32)
    small = np.asarray(cv2.GaussianBlur(small, (0, 0), 0.8))
    # The raw edge is no seam, and it repeats with nothing.
    inside = np.asarray(cv2.erode((inside > 0.99).astype(np.float32), np.ones((3, 3))))
    # A place that is turned about itself would bear witness for itself.
    down, across = np.mgrid[:h, :w].astype(np.float32)
    least2 = np.float32((s.least_shift * max(inside.shape) * k) ** 2)
    for turns in range(4):
        for mirrored in (False, True):
            plain = turns == 0 and not mirrored
            way = turns, mirrored
            there = tuple(np.ascontiguousarray(_moved(p, *way)) for p in (small, inside))
            big = _moved(mask[:h, :w], *way)
            column, row = _moved(across, *way), _moved(down, *way)
            most = s.most_shifts if plain else s.most_turned
            for dy, dx in _shifts((small, inside), (there[0], there[1]), most, plain, s):
                ways = ((dy, dx), (-dy, -dx)) if plain else ((dy, dx),)
                for sy, sx in ways:
                    shown = np.zeros(lines.shape, dtype=np.bool_)
                    at, source = _overlap((h, w), big.shape, sy, sx)
                    shown[at] = big[source]
                    if not plain:
                        dx2 = (column[source] - across[at]) ** 2
                        shown[at] &= dx2 + (row[source] - down[at]) ** 2 > least2
                    yield Copy(turns, mirrored, (h, w), at, source, shown & mask)


def _shifts(
    here: tuple[Float, Float],
    there: tuple[Float, Float],
    most: int,
    plain: bool,
    s: CopySettings,
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
