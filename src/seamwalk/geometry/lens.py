"""The pinhole camera with radial distortion (Brown's model).

A *ray* is a normalised picture position (x/z, y/z) in front of an ideal pinhole camera; a *pixel*
is where the real lens puts it::

    pixel = centre + focal · ray · (1 + k1 r² + k2 r⁴ + k3 r⁶),   r = |ray|

A polynomial may turn back further out, and would then show two rays at one pixel, which no lens
does.  From where it is nearly flat on, it is therefore continued by its tangent.

Pixel centres are integers, as in OpenCV: the first pixel's centre is (0, 0).

References
----------
Brown, Decentering distortion of lenses, Photogrammetric Engineering 32(3), 1966.  The same
parameters, order and sign as OpenCV's ``distCoeffs`` (k1, k2, 0, 0, k3).
"""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from seamwalk.geometry.projective import Points

WIDEST = 5.0
"""No ray is looked for further out than this, 79° off the axis: beyond, a strongly bent model is
no longer one to one and Newton's method runs away."""

FLATTEST = 0.05
"""Least slope of the distorted radius over the true one."""


@dataclass(frozen=True, slots=True)
class Lens:
    """One camera's inner geometry.

    Attributes
    ----------
    focal_px : float
        Focal length in pixels, the same along both axes.
    centre_px : (float, float)
        Principal point, pixels.
    radial : (float, float, float)
        k1, k2, k3.
    """

    focal_px: float
    centre_px: tuple[float, float]
    radial: tuple[float, float, float] = (0.0, 0.0, 0.0)

    def enlarged(self, factor: float) -> "Lens":
        """Return the lens on a grid whose pixels are `factor` times smaller.

        A position p there is (p + 0.5) · factor − 0.5: pixel 0 reaches from −0.5 to 0.5.
        """
        x, y = ((c + 0.5) * factor - 0.5 for c in self.centre_px)
        return Lens(self.focal_px * factor, (x, y), self.radial)

    def px_from_ray(self, rays: ArrayLike) -> Points:
        """Return the pixels (N, 2) where the lens puts `rays` (N, 2)."""
        xy = np.asarray(rays, dtype=np.float64).reshape(-1, 2)
        if self.radial != (0.0, 0.0, 0.0):
            xy = xy * self._gain(np.hypot(xy[:, 0], xy[:, 1]))[:, None]
        out: Points = xy * self.focal_px + np.asarray(self.centre_px)
        return out

    def ray_from_px(self, pixels: ArrayLike) -> Points:
        """Return the rays (N, 2) that the lens puts at `pixels` (N, 2).

        Newton's method on the radius, within bounds; exact to 1e-12.
        """
        xy = np.asarray(pixels, dtype=np.float64).reshape(-1, 2)
        d = (xy - np.asarray(self.centre_px)) / self.focal_px
        if self.radial == (0.0, 0.0, 0.0):
            return np.array(d, dtype=np.float64)
        rd = np.hypot(d[:, 0], d[:, 1])
        k1, k2, k3 = self.radial
        end = _end(self.radial)
        last = min(end, WIDEST)
        r, low, high = np.minimum(rd, last), np.zeros_like(rd), np.full_like(rd, last)
        for _ in range(60):
            r2 = r * r
            miss = r * (1 + r2 * (k1 + r2 * (k2 + r2 * k3))) - rd
            slope = 1 + r2 * (3 * k1 + r2 * (5 * k2 + r2 * 7 * k3))
            low, high = np.where(miss > 0, low, r), np.where(miss > 0, r, high)
            tried = r - miss / np.maximum(slope, FLATTEST)
            # Where the curve bends both ways Newton may go round in circles: halve instead.
            wild = np.abs(tried - r) > (high - low) / 2
            before, r = r, np.where(wild, (low + high) / 2, tried)
            if np.abs(r - before).max(initial=0.0) < 1e-13:
                break
        if end < WIDEST:
            beyond = rd - end * self._polynomial(np.array(end * end))
            r = np.where(beyond > 0, np.minimum(end + beyond / FLATTEST, WIDEST), r)
        gain = np.divide(r, rd, out=np.ones_like(r), where=rd > 1e-12)
        out: Points = d * gain[:, None]
        return out

    def _gain(self, r: NDArray[np.float64]) -> NDArray[np.float64]:
        end = _end(self.radial)
        if not (r > end).any():
            return self._polynomial(r * r)
        inner = np.minimum(r, end)
        shown = inner * self._polynomial(inner * inner) + FLATTEST * (r - inner)
        out: NDArray[np.float64] = np.divide(shown, r, out=np.ones_like(r), where=r > 0)
        return out

    def _polynomial(self, r2: NDArray[np.float64]) -> NDArray[np.float64]:
        k1, k2, k3 = self.radial
        return 1 + r2 * (k1 + r2 * (k2 + r2 * k3))


@lru_cache(maxsize=256)
def _end(radial: tuple[float, float, float]) -> float:
    """Return the radius from which on the polynomial would be flatter than `FLATTEST`.

    Plain numbers: a fit asks for a new lens at every step.
    """
    k1, k2, k3 = radial

    def spare(s: float) -> float:
        return 1 - FLATTEST + s * (3 * k1 + s * (5 * k2 + s * 7 * k3))

    # Between its turning points the slope over s = r² only rises or only falls.
    a, b, c = 21 * k3, 10 * k2, 3 * k1
    root = math.sqrt(max(b * b - 4 * a * c, 0.0))
    q = -(b + math.copysign(root, b)) / 2
    turns = [q / a if a else math.inf, c / q if q else math.inf]
    low = 0.0
    for high in [*sorted(s for s in turns if 0 < s < WIDEST**2), WIDEST**2]:
        if spare(high) < 0:
            for _ in range(50):
                middle = (low + high) / 2
                low, high = (low, middle) if spare(middle) < 0 else (middle, high)
            return math.sqrt(low)
        low = high
    return math.inf
