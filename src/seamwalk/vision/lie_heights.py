"""Where the cloth lies high, as far as bent seams show it, taken out of places on it.

A seam's points leave its best line by (height · slant), by how it was sewn, and by noise.  The
height is smooth over the whole top, shows in every seam that crosses a place, and in each with
that seam's own slant, while sewing errors are each seam's own.  With both variances known
(:mod:`lie`) the heights follow as the mean of a Gaussian process given all deviations.  What is
not shown is left at zero, so a flat top is not touched and a seam sewn crooked is not made
straight but for the share that its neighbours confirm.

References
----------
Rasmussen and Williams, Gaussian Processes for Machine Learning, 2006, equations 2.25 and 2.26.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from seamwalk.geometry.projective import Points
from seamwalk.model.picture import Rectification
from seamwalk.vision.lie import Lie, seam_means

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class HeightSettings:
    """What is believed of heights and seams.

    Attributes
    ----------
    alike_in : float
        Length over which heights are alike (squared exponential), inches: bumps some 20 in from
        crest to crest.
    sewn_alike_in : float
        The same of sewing errors along one seam, inches.
    spacing_in : float
        Points of a seam closer together are averaged, inches.
    floor_in : float
        Noise that no point is without, inches.
    most_points : int
        Spacing is widened until there are no more: the work grows with their cube.
    least_in : float
        Flatter cloth, by its standard deviation, is left as it is, inches.
    stray_sigmas : float
        Seams that leave their line by more, root mean square, follow no seam.
    """

    alike_in: float = 5.0
    sewn_alike_in: float = 5.0
    spacing_in: float = 2.5
    floor_in: float = 0.006
    most_points: int = 1600
    least_in: float = 0.01
    stray_sigmas: float = 3.0


@dataclass(frozen=True, slots=True, eq=False)
class Heights:
    """Heights of the cloth over its plane, about their mean.

    Attributes
    ----------
    at : (N, 2) float64
        Places that were looked at, inches.
    weight : (N,) float64
        Height at a place = Σ weight · exp(−distance² / 2 alike²).
    foot_in : (float, float, float)
        Place of the camera over the cloth, and its height, inches.
    alike_in : float
    left_in : float
        Standard deviation of what the heights leave unknown, inches.
    """

    at: Points
    weight: Floats
    foot_in: tuple[float, float, float]
    alike_in: float
    left_in: float

    def flattened(self, points: Points) -> Points:
        """Return `points` (N, 2) as the camera would see them if the cloth lay flat, inches."""
        if not len(self.at):
            return points
        gap2 = ((points[:, None] - self.at[None]) ** 2).sum(axis=2)
        height = np.exp(-0.5 * gap2 / self.alike_in**2) @ self.weight
        slant = (points - np.array(self.foot_in[:2])) / self.foot_in[2]
        out: Points = points - height[:, None] * slant
        return out


def heights_of(
    lines_px: Sequence[ArrayLike],
    sigmas_px: Sequence[ArrayLike],
    rectification: Rectification,
    foot_in: tuple[float, float, float] | None,
    lie: Lie,
    settings: HeightSettings | None = None,
) -> Heights:
    """Return the heights that the seams show.

    Parameters are those of `lie.lie_of`, and what it returned.  Without seams or without bumps
    the heights are zero.
    """
    s = settings or HeightSettings()
    nothing = Heights(np.zeros((0, 2)), np.zeros(0), (0.0, 0.0, 1.0), s.alike_in, lie.bump_in)
    if foot_in is None or lie.bump_in < s.least_in:
        return nothing
    spacing = s.spacing_in
    while True:
        rows = _rows(lines_px, sigmas_px, rectification, foot_in, lie, spacing, s)
        if rows is None:
            return nothing
        if len(rows.at) <= s.most_points:
            break
        spacing *= 1.3 * len(rows.at) / s.most_points
    gap2 = ((rows.at[:, None] - rows.at[None]) ** 2).sum(axis=2)
    seen = rows.slant[:, None] * lie.bump_in**2 * np.exp(-0.5 * gap2 / s.alike_in**2)
    cov = seen * rows.slant[None]
    own = rows.line[:, None] == rows.line[None]
    # Place and direction of each line are free: a prior so wide that it says nothing.
    free = 100 * lie.wobble_in**2 * (1 + 12 * rows.along[:, None] * rows.along[None])
    sewn = lie.wobble_in**2 * np.exp(-0.5 * gap2 / s.sewn_alike_in**2)
    cov += np.where(own, sewn + free, 0.0)
    cov[np.diag_indices(len(cov))] += rows.sigma**2 + s.floor_in**2
    solved = np.linalg.solve(cov, np.column_stack([rows.off, seen]))
    left = lie.bump_in**2 - np.einsum("ij,ij->j", seen, solved[:, 1:])
    left_in = float(np.sqrt(np.clip(left, 0.0, None).mean()))
    weight = lie.bump_in**2 * rows.slant * solved[:, 0]
    return Heights(rows.at, weight, foot_in, s.alike_in, left_in)


@dataclass(frozen=True, slots=True, eq=False)
class _Rows:
    """Deviations of all seams: place, distance from the line, its σ, slant, seam, place along."""

    at: Points
    off: Floats
    sigma: Floats
    slant: Floats
    line: NDArray[np.intp]
    along: Floats


def _rows(
    lines_px: Sequence[ArrayLike],
    sigmas_px: Sequence[ArrayLike],
    rectification: Rectification,
    foot: tuple[float, float, float],
    lie: Lie,
    spacing_in: float,
    s: HeightSettings,
) -> _Rows | None:
    parts: list[tuple[Points, Floats, Floats, Floats, Floats]] = []
    for px, sigma_px in zip(lines_px, sigmas_px, strict=True):
        means = seam_means(np.asarray(px), np.asarray(sigma_px), rectification, spacing_in)
        if means is None:
            continue
        p, sigma = means
        way = (p[-1] - p[0]) / np.hypot(*(p[-1] - p[0]))
        normal = np.array([-way[1], way[0]])
        along, off = (p - p[0]) @ way, (p - p[0]) @ normal
        off = off - np.polyval(np.polyfit(along, off, 1), along)
        slant = float((p.mean(axis=0) - foot[:2]) @ normal) / foot[2]
        usual = np.hypot(lie.wobble_in, lie.bump_in * slant)
        if float(np.sqrt((off**2).mean())) > s.stray_sigmas * float(np.hypot(usual, sigma.mean())):
            continue
        centred = (along - along.mean()) / max(float(np.ptp(along)), 1e-9)
        parts.append((p, off, sigma, np.full(len(p), slant), centred))
    if not parts:
        return None
    line = np.repeat(np.arange(len(parts)), [len(part[0]) for part in parts])
    at, off, sigma, slants, centred = (
        np.concatenate(column) for column in zip(*parts, strict=True)
    )
    return _Rows(at, off, sigma, slants, line, centred)
