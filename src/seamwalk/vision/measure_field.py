"""The points of a map, how they move together, and figures made of them.

A figure such as the slope of a line is, for small angles, a weighted sum of the places of points:
its *influence* is (2, N), what it changes per inch of each point's x and y.  Its variance follows
exactly from the points': what each was seen with, the bumps of the cloth and the wandering of the
piecing, both of which move neighbours alike, and the modes of the camera.

References
----------
Propagation of covariance: Mikhail and Ackermann, Observations and Least Squares, 1976, ch. 4.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.distance import cdist

from seamwalk.geometry.projective import Points
from seamwalk.model.sizes import Angle, Length
from seamwalk.model.top import Top
from seamwalk.vision.measure_doubt import NINETY_FIVE, Doubt

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class FieldSettings:
    """How piecing wanders."""

    piecing_in: float = 1 / 32
    """σ of a junction's place about the ideal, inches (good piecing; common practice, no
    source)."""
    own_share: float = 0.45
    """Share of that which is each junction's own …"""
    reach_in: float = 14.0
    """… the rest is alike for junctions nearer than about this, inches: a block."""
    edge_share: float = 0.5
    """A raw edge is trimmed along a ruler and is off by this share of the piecing's σ."""


class Field:
    """Points of a map with their covariance.

    Parameters
    ----------
    edge : (M, 2) float64
        Points of the outer edge, whether junctions or not.
    """

    def __init__(
        self, top: Top, edge: Points, doubt: Doubt, settings: FieldSettings | None = None
    ) -> None:
        s = settings or FieldSettings()
        outline = [(float(x), float(y)) for x, y in edge]
        every = dict.fromkeys([j.xy for j in top.junctions] + outline)
        self.place = {xy: k for k, xy in enumerate(every)}
        self.points: Points = np.array(list(every), dtype=np.float64)
        n = len(self.points)
        piecing = np.full(n, s.piecing_in)
        piecing[list({self.place[xy] for xy in outline})] *= s.edge_share
        apart = cdist(self.points, self.points)
        bump = doubt.bump_sigma_at(self.points)
        self.covariance: Floats = (
            (1 - s.own_share**2) * np.outer(piecing, piecing) * np.exp(-apart / s.reach_in)
        )
        self.covariance += np.outer(bump, bump) * np.exp(-apart / doubt.settings.bump_length_in)
        own = doubt.sigma_at(self.points) ** 2 + (s.own_share * piecing) ** 2
        self.covariance[np.diag_indices(n)] += own
        self.moves = [moved - self.points for moved in doubt.by_mode(self.points)]

    def index(self, run: Points) -> NDArray[np.intp]:
        """Return the places of a run's points (N, 2) in the list."""
        return np.array([self.place[x, y] for x, y in run.tolist()], dtype=np.intp)

    def value(self, influence: Floats) -> float:
        """Return the figure itself; its influence must not notice shifts of the whole."""
        middle = self.points.mean(axis=0)
        return float((influence * (self.points - middle).T).sum())

    def sigma(self, influence: Floats) -> float:
        """Return the standard deviation of a figure."""
        used = np.flatnonzero(np.abs(influence).any(axis=0))
        g, cov = influence[:, used], self.covariance[np.ix_(used, used)]
        variance = float(((g @ cov) * g).sum())
        variance += sum(float((influence * m.T).sum()) ** 2 for m in self.moves)
        return float(np.sqrt(variance))

    def angle(self, influence: Floats) -> Angle:
        """Return a figure in radians as an angle with its ±."""
        return Angle(
            float(np.degrees(self.value(influence))),
            float(np.degrees(NINETY_FIVE * self.sigma(influence))),
        )

    def length(self, influence: Floats) -> Length:
        """Return a figure in inches with its ±."""
        return Length(self.value(influence), NINETY_FIVE * self.sigma(influence))
