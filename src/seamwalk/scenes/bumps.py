"""Cloth that does not lie quite flat."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

WAVES = 12
"""Plane waves in the sum; enough that no direction shows."""


@dataclass(frozen=True, slots=True, eq=False)
class Bumps:
    """A smooth random height of the cloth over its plane.

    Attributes
    ----------
    height : float
        Highest rise, inches; 0 is flat.
    wave : (K, 2) float64
        Wave vectors, rad per inch.
    phase : (K,) float64
        Radians.
    """

    height: float
    wave: NDArray[np.float64]
    phase: NDArray[np.float64]

    def height_in(self, points_in: ArrayLike) -> NDArray[np.float64]:
        """Return the rise (N,) at points (N, 2), inches, from 0 to ``height``."""
        p = np.asarray(points_in, dtype=np.float64).reshape(-1, 2)
        if self.height == 0:
            return np.zeros(len(p))
        g = np.zeros(len(p))
        for k, phase in zip(self.wave, self.phase, strict=True):
            g += np.sin(p @ k + phase)
        # A logistic squashes the sum, of unit variance, into 0 … height without corners.
        out: NDArray[np.float64] = self.height / (1 + np.exp(-2.0 * g / np.sqrt(WAVES / 2)))
        return out


def bumps(height_in: float, rng: np.random.Generator, *, length_in: float = 22.0) -> Bumps:
    """Return random bumps of that height and about that length, inches."""
    wave = rng.standard_normal((WAVES, 2)) * (2 * np.pi / length_in / np.sqrt(2))
    return Bumps(height_in, wave, rng.uniform(0, 2 * np.pi, WAVES))
