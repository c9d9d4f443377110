"""Where the seams of a top are likely: a strength and a direction at every pixel.

The evidence is classical: for every direction the two sides of a line are compared in colour and
in colour words, a logistic model turns the measures into a probability, straight support along
the line is added, and ridges are thinned to the place where the narrow contrast peaks.
"""

from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from seamwalk.model.picture import FlatPicture, SeamMap
from seamwalk.vision import contrast
from seamwalk.vision.contrast import ContrastSettings, Float
from seamwalk.vision.workpicture import WorkPicture, fill_outside, to_work


@dataclass(frozen=True, slots=True)
class SeamSettings:
    """How measures become a probability."""

    work_px_per_in: float = 10.0
    """Resolution that seams are looked for at: a 1 in strip still has ten pixels."""
    contrast: ContrastSettings = field(default_factory=ContrastSettings)
    weights: tuple[float, ...] = (
        -1.914, 0.285, -1.25, -0.618, 1.069, -0.813, 2.224, 2.408, 0.963,
        2.343, -0.034, -0.101, -1.468, -0.752, 1.718, 20.391, -3.642, -0.023,
    )  # fmt: skip
    """Logistic weights of `terms`, fitted on rendered tops of twelve designs."""
    bias: float = -5.586
    support_in: float = 3.0
    """Length over which straight support is gathered, inches."""
    support_gain: float = 3.0
    """Log-odds that full support along the line adds, none takes away."""
    peak_in: float = 0.2
    """Two seams of one direction are at least this far apart, inches."""
    ridge_in: float = 0.07
    """Half width of a ridge in the map, inches."""


def find_seams(
    flat: FlatPicture, mask: NDArray[np.bool_], *, settings: SeamSettings | None = None
) -> SeamMap:
    """Return how much each pixel of `flat` looks like a seam.

    Parameters
    ----------
    flat : FlatPicture
        Straight-down picture, (H, W).
    mask : (H, W) bool
        The top.
    """
    s = settings or SeamSettings()
    work = to_work(flat.rgb, mask, flat.px_per_in, s.work_px_per_in)
    fine = to_work(flat.rgb, mask, flat.px_per_in, s.contrast.relief_px_per_in)
    strength, angle = strength_of(work, fine, s)
    h, w = mask.shape
    size = (w, h)
    big = np.asarray(cv2.resize(strength, size, interpolation=cv2.INTER_LINEAR))
    turn = np.asarray(cv2.resize(angle, size, interpolation=cv2.INTER_NEAREST))
    big = np.where(mask, np.clip(big, 0, 1), 0).astype(np.float32)
    return SeamMap(big, turn.astype(np.float32), mask)


def strength_of(
    work: WorkPicture, fine: WorkPicture, s: SeamSettings
) -> tuple[Float, Float]:
    """Return strength and angle on the work picture's grid, (h, w) float32 each."""
    inside = work.inside
    shape = (inside.shape[0], inside.shape[1])
    lab = fill_outside(work.lab, inside)
    half = np.asarray(cv2.resize(lab, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA))
    half_inside = cv2.resize(inside.astype(np.uint8), (half.shape[1], half.shape[0])) > 0
    words = contrast.colour_words(half, half_inside, s.contrast)
    lightness = fill_outside(fine.lab[..., :1], fine.inside)[..., 0]
    weights = np.asarray(s.weights, dtype=np.float32)
    best = np.zeros(shape, dtype=np.float32)
    angle = np.zeros(shape, dtype=np.float32)
    for frame, measures in contrast.two_sided(
        lab, words, lightness, work.px_per_in, s.contrast
    ):
        odds = np.tensordot(weights, terms(measures), axes=1) + np.float32(s.bias)
        ridge = _ridge(odds, measures, work.px_per_in, s)
        here = frame.back(ridge, shape)
        better = here > best
        best = np.where(better, here, best)
        angle = np.where(better, np.float32(frame.angle_rad), angle)
    best[~inside] = 0
    return best, angle


def terms(measures: Float) -> Float:
    """Return the measures and the products of them that the logistic model weighs, (18, H, W).

    Products let one measure count for less where another explains it: a step in busy cloth is
    more likely print than seam, and contrast counts more where the colour words differ too.
    """
    narrow, wide, words, _, busy, _, long_ditch, step, long_step = measures
    products = [
        np.sqrt(np.maximum(words, 0)),
        busy * step,
        busy * long_step,
        busy * words,
        busy * long_ditch,
        narrow * words,
        wide * words,
        step * words,
        busy * busy,
    ]
    return np.concatenate([measures, np.stack(products)])


def _ridge(odds: Float, measures: Float, px_per_in: float, s: SeamSettings) -> Float:
    """Return the thinned probability of a seam along the rows."""
    p = 1 / (1 + np.exp(-odds))
    length = max(3, round(s.support_in * px_per_in)) | 1
    wander = np.asarray(cv2.dilate(p, np.ones((3, 1), np.uint8)))
    support = np.asarray(cv2.boxFilter(wander, -1, (length, 1), borderType=cv2.BORDER_REPLICATE))
    p = 1 / (1 + np.exp(-(odds + s.support_gain * (2 * support - 1))))
    sharp = measures[0] + 0.5 * measures[1] + 2 * measures[2]
    reach = max(1, round(s.peak_in * px_per_in))
    top = np.asarray(cv2.dilate(sharp, np.ones((2 * reach + 1, 1), np.uint8)))
    peak = np.where(sharp >= top - 1e-6, p, 0).astype(np.float32)
    sigma = s.ridge_in * px_per_in
    rows = np.arange(-3, 4, dtype=np.float32)
    out = np.zeros_like(peak)
    for r in rows:
        shifted = np.roll(peak, int(r), axis=0)
        np.maximum(out, shifted * np.float32(np.exp(-(r**2) / 2 / sigma**2)), out=out)
    return out
