"""Which finished size on the grain was meant, and how sure that is.

Every size on the grain near the measured one is a candidate.  A candidate's weight is how common
such sizes are, times how likely the measurement is if it was meant; the heaviest is taken, and
its share of all weight is its chance (Bayes' rule).

What separates the measured size of a class from the meant one has three parts, and only the last
shrinks with the number of patches: the camera and its scale, the same for all patches; the
maker's own seam allowance, the same in all her seams; the end points and the piecing, different
from patch to patch.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from seamwalk.units import CM_PER_IN, pattern_units

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class MeantSettings:
    """What is known of makers and of patterns before measuring."""

    allowance_in: float = 0.025
    """σ of what a maker's seam allowances together take too much or too little from one patch,
    inches: a thread or two, between 1/64 and 1/32 (a full instead of a scant quarter inch loses
    0.3 to 0.8 mm a seam)."""
    piecing_in: float = 1 / 32
    """σ of one patch's own size about the maker's usual, inches (good piecing; common practice,
    no source)."""
    piecing_patches: float = 4.0
    """How many patches' worth `piecing_in` and the stated σ count beside the scatter seen."""
    whole: float = 1.0
    """How common whole inches (or centimetres) are as finished sizes …"""
    half: float = 0.6
    """… halves …"""
    quarter: float = 0.3
    """… quarters …"""
    other: float = 0.12
    """… and all finer ones (common practice, no source: sizes of patterns are round)."""
    reach: float = 5.0
    """Candidates further off than this many σ are left out."""


def meant_size(
    measured_in: ArrayLike,
    covariance: ArrayLike,
    grain_in: float,
    settings: MeantSettings | None = None,
) -> tuple[tuple[float, ...], float]:
    """Return the likeliest size on the grain and the probability that it was meant.

    Parameters
    ----------
    measured_in : (D,) float64
        Measured dimensions, inches; D is 1 or 2.
    covariance : (D, D) float64
        Of measured − meant, inches².
    grain_in : float
        Sizes are multiples of this, inches.

    Notes
    -----
    Calibrated by construction if patterns are as round as the settings say: of the sizes given
    with a chance of 0.8, 80 % are right.
    """
    s = settings or MeantSettings()
    d = np.atleast_1d(np.asarray(measured_in, dtype=np.float64))
    cov = np.asarray(covariance, dtype=np.float64).reshape(len(d), len(d))
    axes = []
    for value, variance in zip(d, np.diag(cov), strict=True):
        reach = max(2 * grain_in, s.reach * np.sqrt(variance))
        # With a hopeless ± no more than some hundred candidates are looked at.
        reach = min(reach, 60 * grain_in)
        low = max(1, int(np.ceil((value - reach) / grain_in)))
        high = max(low, int(np.floor((value + reach) / grain_in)))
        axes.append(np.arange(low, high + 1) * grain_in)
    sizes = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, len(d))
    off = sizes - d
    spread = cov + 1e-12 * np.eye(len(d))
    log = -0.5 * np.einsum("nd,de,ne->n", off, np.linalg.inv(spread), off)
    log += np.log(how_common(sizes, grain_in, s)).sum(axis=1)
    weight = np.exp(log - log.max())
    best = int(np.argmax(weight))
    return tuple(float(v) for v in sizes[best]), float(weight[best] / weight.sum())


def how_common(sizes_in: ArrayLike, grain_in: float, settings: MeantSettings) -> Floats:
    """Return how common each size is in patterns of this grain, relative to whole units."""
    s = settings
    per_unit = CM_PER_IN if pattern_units(grain_in, "cm") == "cm" else 1.0
    sizes = np.asarray(sizes_in, dtype=np.float64) * per_unit
    out = np.full(sizes.shape, s.other)
    for parts, weight in ((4, s.quarter), (2, s.half), (1, s.whole)):
        out[np.isclose(sizes * parts, np.round(sizes * parts), atol=1e-6)] = weight
    return out
