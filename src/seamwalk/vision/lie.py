"""How flat the cloth lies, told by how much straight seams look bent.

Cloth raised by h over its plane is seen moved by h times the slant of the line of sight, away
from the point below the camera.  Of that only the part across a seam shows, and along a straight
seam its slant, distance from that point over the camera's height, is the same everywhere.  So
seams far from it show the bumps, seams near it only how straight they were sewn; the two
variances are estimated together.

The cloth rests on the floor: where it is raised in some places it is raised on the whole, which
a camera that looks for cards on that floor must know.

References
----------
Variance components: Searle, Casella and McCulloch, 1992, chapter 3.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from seamwalk.geometry.projective import Points
from seamwalk.model.picture import Rectification
from seamwalk.vision.camera_fit import FitSettings

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class LieSettings:
    """What is believed of cloth and seams before looking.

    Attributes
    ----------
    usual_in : float
        Half-normal prior of the bumps' standard deviation, inches: 1.5 mm for a top smoothed out
        on a floor.
    most_in : float
        Larger bumps are not tried, inches.
    most_wobble_in : float
        Seams sewn worse than this are not tried, inches.
    alike_in : float
        Length over which a seam's deviations are alike, whatever their cause: sets how many
        independent ones a seam shows, and how much of them its own best line takes away.
    spacing_in : float
        Points of a seam closer together are averaged.
    shortest_in : float
        Shorter seams look straight whatever the cloth does.
    stray, stray_in : float
        Share of lines that follow no seam, and how far off they are, inches.
    steps : int
        Values tried of each standard deviation.
    mean_rise, mean_rise_doubt : float
        Mean height of cloth that touches the floor, over its standard deviation: 1.7 when all
        heights are equally likely, more when most are middling, less when few places are raised;
        and the doubt of that.
    thickness_in, thickness_doubt_in : float
        Height of a flat top's face over the floor beside it, inches: one to three layers of
        cotton, 0.3 to 1 mm, less the card's paper.
    """

    usual_in: float = 0.06
    most_in: float = 0.3
    most_wobble_in: float = 0.12
    alike_in: float = 5.0
    spacing_in: float = 1.5
    shortest_in: float = 8.0
    stray: float = 0.05
    stray_in: float = 0.15
    steps: int = 25
    mean_rise: float = 2.0
    mean_rise_doubt: float = 0.6
    thickness_in: float = 0.02
    thickness_doubt_in: float = 0.05


@dataclass(frozen=True, slots=True)
class Lie:
    """How flat cloth lies.

    Attributes
    ----------
    bump_in, doubt_in : float
        Standard deviation of the cloth's height over its plane, and how far off that may be (its
        own standard deviation), inches.
    wobble_in : float
        Standard deviation of seams from straight as they were sewn, inches.
    """

    bump_in: float
    doubt_in: float
    wobble_in: float = 1 / 32


def lie_of(
    lines_px: Sequence[ArrayLike],
    sigmas_px: Sequence[ArrayLike],
    rectification: Rectification,
    foot_in: tuple[float, float, float] | None,
    settings: LieSettings | None = None,
) -> Lie:
    """Return how flat the cloth lies.

    Parameters
    ----------
    lines_px : sequence of (N, 2)
        Points along each seam line that was meant to be straight, pixels.
    sigmas_px : sequence of (N,)
        Standard deviation of each, pixels.
    rectification : Rectification
        First camera.
    foot_in : (float, float, float) or None
        The camera's place over the cloth and its height, inches; None where that is not known.

    Returns
    -------
    Lie
        With no seam long enough to tell, the prior.
    """
    s = settings or LieSettings()
    bumps = np.linspace(0.0, s.most_in, s.steps) ** 2 / s.most_in
    wobbles = np.linspace(0.004, s.most_wobble_in, s.steps)
    # Prior densities; the uneven grid of bumps weighs by its spacing.
    logp = np.zeros((s.steps, s.steps))
    logp += (np.log(np.gradient(bumps)) - 0.5 * (bumps / s.usual_in) ** 2)[:, None]
    if foot_in is not None:
        for px, sigma in zip(lines_px, sigmas_px, strict=True):
            line = seam_means(np.asarray(px), np.asarray(sigma), rectification, s.spacing_in)
            if line is not None and _length(line[0]) >= s.shortest_in:
                logp += _likelihood(*line, foot_in, bumps, wobbles, s)
    both = np.exp(logp - logp.max())
    both /= both.sum()
    p = both.sum(axis=1)
    mean = float(p @ bumps)
    wobble = float(both.sum(axis=0) @ wobbles)
    return Lie(mean, float(np.sqrt(p @ (bumps - mean) ** 2)), wobble)


def with_cards_beside(
    lie: Lie, fit: FitSettings, settings: LieSettings | None = None
) -> FitSettings:
    """Return the priors of a fit whose cards lie on the floor beside cloth that lies so."""
    s = settings or LieSettings()
    height = s.thickness_in + s.mean_rise * lie.bump_in
    doubt = np.hypot(s.mean_rise_doubt * lie.bump_in, s.mean_rise * lie.doubt_in)
    return replace(
        fit,
        height_in=-height,
        height_sigma_in=float(np.hypot(doubt, s.thickness_doubt_in)),
    )


def with_cards_on_top(
    lie: Lie, fit: FitSettings, settings: LieSettings | None = None
) -> FitSettings:
    """Return the priors of a fit whose cards lie on cloth that lies so, and ride on its bumps."""
    s = settings or LieSettings()
    return replace(
        fit, height_in=0.0, height_sigma_in=float(np.hypot(lie.bump_in, s.thickness_doubt_in / 4))
    )


def seam_means(
    px: Points, sigma_px: Floats, rectification: Rectification, spacing_in: float
) -> tuple[Points, Floats] | None:
    """Return means of a seam's neighbouring points on the cloth (N, 2), and their σ, inches.

    None for a seam with fewer than four of them.
    """
    use = np.isfinite(px).all(axis=1)
    p, sigma = rectification.view.top_from_px(px[use]), sigma_px[use]
    if len(p) < 4:
        return None
    way = p[-1] - p[0]
    length = float(np.hypot(*way))
    if length < 1e-6:
        return None
    along = (p - p[0]) @ way / length
    cell = np.floor(along / spacing_in).astype(int)
    _, cell = np.unique(cell, return_inverse=True)
    weight = 1 / np.maximum(sigma, 1e-3) ** 2
    total = np.bincount(cell, weight)
    mean = np.column_stack([np.bincount(cell, weight * p[:, k]) / total for k in (0, 1)])
    if len(mean) < 4:
        return None
    return mean, 1 / np.sqrt(total) / rectification.px_per_in(mean)


def _length(p: Points) -> float:
    return float(np.hypot(*(p[-1] - p[0])))


def _likelihood(
    p: Points,
    sigma_in: Floats,
    foot: tuple[float, float, float],
    bumps: Floats,
    wobbles: Floats,
    s: LieSettings,
) -> Floats:
    """Return the log-likelihood of how far one line's points lie off its best line, (B, W).

    Bumps and sewing errors bend a seam in shapes that can't be told apart; only that bumps grow
    with the slant can.  So the mean square alone counts, as a gamma variable with as many degrees
    of freedom as the seam has independent deviations, less three for the line and its bow.
    """
    way = p[-1] - p[0]
    length = float(np.hypot(*way))
    way = way / length
    normal = np.array([-way[1], way[0]])
    along, off = (p - p[0]) @ way, (p - p[0]) @ normal
    slant = abs(float((p.mean(axis=0) - foot[:2]) @ normal)) / foot[2]
    # A bow may be the lens's doing as well, and a stray place is no bump: the bow is taken out
    # too, and the spread is that of the middle half.
    residual = off - np.polyval(np.polyfit(along, off, 2), along)
    spread = float(np.median(np.abs(residual))) / 0.6745
    square = spread**2 * len(p) / max(len(p) - 3, 1)
    count = length / s.alike_in
    freedom, left = max(count - 3, 0.5), max(1 - 3 / count, 0.2)
    expected = (bumps[:, None] * slant) ** 2 + wobbles**2
    expected = left * expected + float((sigma_in**2).mean())
    true = -0.5 * freedom * (np.log(expected) + square / expected)
    stray = -0.5 * freedom * (np.log(s.stray_in**2) + square / s.stray_in**2)
    out: Floats = np.logaddexp(np.log1p(-s.stray) + true, np.log(s.stray) + stray)
    return out
