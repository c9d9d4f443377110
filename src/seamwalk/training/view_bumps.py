"""Cloth that does not lie flat: waves, puckers, wavy edges and a drape over the edge of a bed.

Each is a smooth field over the inches of the cloth that lifts a place and pushes it aside; the
camera then moves the picture accordingly.  Sums of plane waves are used rather than noise tables,
since they are smooth to any order and the truth stays sub-pixel right.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class BumpSettings:
    """How far cloth leaves the plane.

    Attributes
    ----------
    steepest : float
        Largest root-mean-square slope of the waves: keeps the way back from picture to cloth
        convergent.
    shear : float
        The same for the push along the floor, inch per inch.
    fade_in : float
        Inches beyond the top over which the floor lies flat again.
    fold_deg : float
        Largest fall of the part that hangs over an edge.
    """

    steepest: float = 0.10
    shear: float = 0.035
    fade_in: float = 3.0
    fold_deg: float = 50.0


SETTINGS = BumpSettings()


@dataclass(frozen=True, slots=True, eq=False)
class Bumps:
    """Waves of the cloth and, perhaps, a fold.

    Attributes
    ----------
    waves : (K, 2) float64
        Radians per inch.
    phases, heights : (K,) float64
        Radians; inches.
    pushes : (K, 2) float64
        Inches along the floor.
    edge_only : (K,) float64
        1 for waves that live at the outer edge only, 0 for those everywhere.
    reach_in : float
        Inches that edge waves reach inwards.
    low, high : (2,) float64
        Bounding box of the top, inches.
    fold : (4,) float64 or None
        Unit normal of the edge that the cloth hangs over, its offset in inches, and the fall in
        radians.
    rounds : int
        Fixed-point rounds that the way back needs.
    """

    waves: Array
    phases: Array
    heights: Array
    pushes: Array
    edge_only: Array
    reach_in: float
    low: Array
    high: Array
    fold: Array | None
    rounds: int

    @property
    def shortest_in(self) -> float:
        """Shortest wavelength, inches."""
        if len(self.waves) == 0:
            return 1e3
        return float(2 * np.pi / np.linalg.norm(self.waves, axis=1).max())


def draw_bumps(rng: np.random.Generator, low: Array, high: Array) -> Bumps | None:
    """Draw how a top with bounding box `low` … `high` (2,), inches, lies; None for flat."""
    style = rng.random()
    if style < 0.12:
        return None
    longer = float((high - low).max())
    pieces = []
    for _ in range(int(rng.integers(1, 4))):
        count = int(rng.integers(3, 7))
        shortest = min(max(1.5, longer / 30), longer / 2)
        length = float(np.exp(rng.uniform(np.log(shortest), np.log(longer / 1.5))))
        pieces.append(_train(rng, count, length, edge=False))
    reach = float(np.exp(rng.uniform(np.log(1.0), np.log(8.0))))
    if rng.random() < 0.4:
        shortest = min(max(2.0, longer / 16), longer / 4)
        length = float(np.exp(rng.uniform(np.log(shortest), np.log(longer / 3))))
        pieces.append(_train(rng, 3, length, edge=True))
    fold = None
    if rng.random() < 0.08:
        across = rng.integers(2)
        normal = np.array([across, 1 - across], float) * (1 if rng.random() < 0.5 else -1)
        normal = normal + rng.normal(0.0, 0.06, 2)
        normal /= np.linalg.norm(normal)
        middle = (low + high) / 2 + normal * (high - low) * float(rng.uniform(0.15, 0.45))
        fall = np.radians(rng.uniform(10.0, SETTINGS.fold_deg))
        fold = np.array([normal[0], normal[1], float(middle @ normal), fall])
    waves, phases, heights, pushes, edge_only = (
        np.concatenate([p[i] for p in pieces]) for i in range(5)
    )
    steep = float(np.sqrt(0.5 * ((heights[:, None] * waves) ** 2).sum()))
    shear = float(np.sqrt(0.5 * ((pushes**2).sum(1) * (waves**2).sum(1)).sum()))
    most = float(np.exp(rng.uniform(np.log(0.05), 0.0)))
    heights = heights * min(1.0, most * SETTINGS.steepest / max(steep, 1e-9))
    pushes = pushes * min(1.0, most * SETTINGS.shear / max(shear, 1e-9))
    rounds = 24 if fold is not None else 7
    return Bumps(waves, phases, heights, pushes, edge_only, reach, low, high, fold, rounds)


def _train(
    rng: np.random.Generator, count: int, length_in: float, *, edge: bool
) -> tuple[Array, Array, Array, Array, Array]:
    """Return `count` waves about `length_in` long in many directions, steepness about 1."""
    angles = rng.uniform(0.0, 2 * np.pi, count)
    lengths = length_in * np.exp(rng.normal(0.0, 0.35, count))
    ways = np.column_stack([np.cos(angles), np.sin(angles)])
    waves = ways * (2 * np.pi / lengths)[:, None]
    sizes = lengths / (2 * np.pi) * rng.uniform(0.3, 1.0, count)
    pushes = rng.normal(0.0, 1.0, (count, 2)) * sizes[:, None]
    return (
        waves,
        rng.uniform(0.0, 2 * np.pi, count),
        sizes,
        pushes,
        np.full(count, 1.0 if edge else 0.0),
    )


def lifted(xy: Array, bumps: Bumps | None) -> Array:
    """Return the places in space (N, 3) of places `xy` (N, 2) of the cloth, inches and height."""
    out = np.zeros((len(xy), 3))
    out[:, :2] = xy
    if bumps is None:
        return out
    beyond = np.maximum(np.maximum(bumps.low - xy, xy - bumps.high), 0.0)
    fade = np.exp(-(beyond**2).sum(axis=1) / SETTINGS.fade_in**2)
    phase = xy.astype(np.float32) @ bumps.waves.T.astype(np.float32)
    phase += bumps.phases.astype(np.float32)
    sines, cosines = np.sin(phase), np.cos(phase)
    if bumps.edge_only.any():
        inside = np.minimum(xy - bumps.low, bumps.high - xy).min(axis=1)
        near = np.exp(-np.maximum(inside, 0.0) / bumps.reach_in)[:, None]
        share = (1.0 + bumps.edge_only * (near - 1.0)).astype(np.float32)
        sines, cosines = sines * share, cosines * share
    out[:, :2] += (cosines @ bumps.pushes.astype(np.float32)) * fade[:, None]
    height = (sines @ bumps.heights.astype(np.float32)) * fade
    out[:, 2] = height
    if bumps.fold is not None:
        normal, offset, fall = bumps.fold[:2], bumps.fold[2], bumps.fold[3]
        along = xy @ normal - offset
        soft = 1.5 * np.logaddexp(0.0, along / 1.5)
        out[:, :2] -= ((1.0 - np.cos(fall)) * soft)[:, None] * normal
        out[:, 2] -= np.sin(fall) * soft
    return out
