"""The pinhole camera with radial distortion (Brown's model).

A *ray* is a normalised picture position (x/z, y/z) in front of an ideal pinhole camera; a *pixel*
is where the real lens puts it::

    pixel = centre + focal · ray · (1 + k1 r² + k2 r⁴ + k3 r⁶),   r = |ray|

Pixel centres are integers, as in OpenCV: the first pixel's centre is (0, 0).

References
----------
Brown, Decentering distortion of lenses, Photogrammetric Engineering 32(3), 1966.  The same
parameters, order and sign as OpenCV's ``distCoeffs`` (k1, k2, 0, 0, k3).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from seamwalk.geometry.projective import Points

WIDEST = 5.0
"""No ray is looked for further out than this, 79° off the axis: beyond, a strongly bent model is
no longer one to one and Newton's method runs away."""


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
            xy = xy * self._gain((xy**2).sum(axis=1))[:, None]
        out: Points = xy * self.focal_px + np.asarray(self.centre_px)
        return out

    def ray_from_px(self, pixels: ArrayLike) -> Points:
        """Return the rays (N, 2) that the lens puts at `pixels` (N, 2).

        Newton's method on the radius; exact to 1e-12 wherever the model is one to one.
        """
        xy = np.asarray(pixels, dtype=np.float64).reshape(-1, 2)
        d = (xy - np.asarray(self.centre_px)) / self.focal_px
        if self.radial == (0.0, 0.0, 0.0):
            return np.array(d, dtype=np.float64)
        rd = np.hypot(d[:, 0], d[:, 1])
        k1, k2, k3 = self.radial
        r = rd.copy()
        for _ in range(20):
            r2 = r * r
            slope = 1 + r2 * (3 * k1 + r2 * (5 * k2 + r2 * 7 * k3))
            step = (r * (1 + r2 * (k1 + r2 * (k2 + r2 * k3))) - rd) / np.maximum(slope, 0.05)
            step = r - np.clip(r - step, 0.0, WIDEST)
            r -= step
            if np.abs(step).max(initial=0.0) < 1e-13:
                break
        gain = np.divide(r, rd, out=np.ones_like(r), where=rd > 1e-12)
        out: Points = d * gain[:, None]
        return out

    def _gain(self, r2: NDArray[np.float64]) -> NDArray[np.float64]:
        k1, k2, k3 = self.radial
        return 1 + r2 * (k1 + r2 * (k2 + r2 * k3))
