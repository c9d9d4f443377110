"""Piecing error: what hands and machine do to the ideal design.

Error is laid on junctions, never on patches, so neighbours keep their common seam.  Most of it
is shared by junctions near one another (a block sewn a little small, a row stretched); the rest
is each junction's own.  A seam that ends on another (a T) may slide along it but not bend it.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from seamwalk.scenes.planar_map import PlanarMap

Points = NDArray[np.float64]


MOST_ROUNDS = 60
"""Rounds of putting Ts back; a chain of n Ts settles in n rounds, a ring of Ts geometrically."""


@dataclass(frozen=True, slots=True)
class SewingSettings:
    """How far off the piecing is."""

    sigma_in: float = 1 / 32
    """Standard deviation of a junction's place along each axis, inches (good piecing 1/32,
    hasty 1/16; common practice, no source)."""
    own_share: float = 0.45
    """Share of sigma that is each junction's own; the rest is common with its neighbours."""
    reach_in: float = 14.0
    """Distance over which the common part changes, inches: about one block."""
    raw_edge_share: float = 0.4
    """Error across the raw edge relative to sigma: an edge is trimmed along a ruler."""
    skew_deg: float = 0.0
    """How far the corners are from square: positive leans the sides so that the upper left
    corner is 90° + skew."""
    taper_deg: float = 0.0
    """Angle between the left and the right edge; positive is wider at the bottom."""
    bow_in: float = 0.0
    """How far the middle of every horizontal seam lies below its ends, inches."""


def sewn(planar: PlanarMap, settings: SewingSettings, rng: np.random.Generator) -> PlanarMap:
    """Return the map with piecing error on its junctions and the top's own skew, taper and bow.

    Patches stay simple because the error is far below any patch.
    """
    at = planar.at
    error = settings.sigma_in * (
        np.sqrt(1 - settings.own_share**2) * _common(at, settings.reach_in, rng)
        + settings.own_share * rng.standard_normal(at.shape)
    )
    size = at.max(axis=0)
    for axis in (0, 1):
        edge = (at[:, axis] < 1e-6) | (at[:, axis] > size[axis] - 1e-6)
        error[edge, axis] *= settings.raw_edge_share
    return replace(planar, at=_bent(_straightened(planar, error), size, settings))


def _straightened(planar: PlanarMap, error: Points) -> Points:
    """Return junctions moved by `error`, with every T put back on the seam it ends on.

    The ends of that seam may be Ts themselves, so this repeats until nothing moves.
    """
    at, out = planar.at, planar.at + error
    through = _through(planar)
    for _ in range(MOST_ROUNDS):
        moved = 0.0
        for j, (a, b) in through.items():
            way = at[b] - at[a]
            n = float(np.hypot(*way))
            # The junction's own error along the seam is kept; t is its share of the way.
            t = (float((at[j] - at[a]) @ way) + float(error[j] @ way)) / n**2
            new = out[a] + t * (out[b] - out[a])
            moved = max(moved, float(np.abs(new - out[j]).max()))
            out[j] = new
        if moved < 1e-12:
            break
    return out


def _bent(at: Points, size: NDArray[np.float64], settings: SewingSettings) -> Points:
    """Return the points under the top's skew, taper and bow, about its middle."""
    x, y = (at - size / 2).T
    skew, taper = np.radians(settings.skew_deg), np.radians(settings.taper_deg)
    bent_y = y + settings.bow_in * (1 - (2 * x / size[0]) ** 2)
    bent_x = x + x / (size[0] / 2) * np.tan(taper / 2) * y - np.tan(skew) * y
    return np.column_stack([bent_x, bent_y]) + size / 2


def _common(at: Points, reach_in: float, rng: np.random.Generator) -> Points:
    """Return a smooth random field of unit variance at the points, (N, 2).

    Sum of plane waves with random direction and phase (spectral method).
    """
    waves = 24
    out = np.zeros(at.shape)
    for axis in (0, 1):
        k = rng.standard_normal((waves, 2)) * (2.0 / reach_in)
        phase = rng.uniform(0, 2 * np.pi, waves)
        out[:, axis] = np.sqrt(2 / waves) * np.cos(at @ k.T + phase).sum(axis=1)
    return out


def _through(planar: PlanarMap) -> dict[int, tuple[int, int]]:
    """Return, for each T junction, its neighbours on the seam that runs straight through.

    T junctions of one run come in order, so that each rests on the corners at the run's ends.
    """
    out: dict[int, tuple[int, int]] = {}
    for ring, corners in zip(planar.rings, planar.corners, strict=True):
        turn = set(corners)
        start = ring.index(corners[0])
        order = [*ring[start:], *ring[:start], corners[0]]
        run: list[int] = []
        first = order[0]
        for j in order[1:]:
            if j in turn:
                for t in run:
                    out[t] = (first, j)
                run, first = [], j
            else:
                run.append(j)
    return out
