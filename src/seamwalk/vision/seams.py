"""Where the seams of a top are likely: a strength and a direction at every pixel.

The evidence is classical: for every direction the two sides of a line are compared in colour and
in colour words, a logistic model turns the measures into a probability, straight support along
the line is added, and ridges are thinned to the place where the narrow contrast peaks.
"""

from collections.abc import Iterator
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
    support_in: tuple[float, float, float] = (1.5, 4.0, 10.0)
    """Lengths over which straight support is gathered, inches: a patch, a block, a row."""
    line_weights: tuple[float, ...] = (0.36, -0.45, 0.35, 2.8)
    """Logistic weights of `line_terms`, fitted like `weights`."""
    line_bias: float = -1.6
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
    best = np.zeros(shape, dtype=np.float32)
    angle = np.zeros(shape, dtype=np.float32)
    for frame, measures in contrast.two_sided(
        lab, words, lightness, work.px_per_in, s.contrast
    ):
        odds = _weighed(measures, s)
        ridge = _ridge(odds, work.px_per_in, s)
        here = frame.back(ridge, shape)
        better = here > best
        best = np.where(better, here, best)
        angle = np.where(better, np.float32(frame.angle_rad), angle)
    best[~inside] = 0
    return best, angle


def _weighed(measures: Float, s: SeamSettings) -> Float:
    """Return the log-odds of a seam, (H', W')."""
    out = np.full(measures.shape[1:], s.bias, dtype=np.float32)
    for weight, term in zip(s.weights, terms(measures), strict=True):
        out += np.float32(weight) * term
    return out


def terms(measures: Float) -> Iterator[Float]:
    """Yield the measures and the products of them that the logistic model weighs, 18 × (H', W').

    Products let one measure count for less where another explains it: a step in busy cloth is
    more likely print than seam, and contrast counts more where the colour words differ too.
    """
    narrow, wide, words, _, busy, _, long_ditch, step, long_step = measures
    yield from measures
    yield np.sqrt(np.maximum(words, 0))
    yield busy * step
    yield busy * long_step
    yield busy * words
    yield busy * long_ditch
    yield narrow * words
    yield wide * words
    yield step * words
    yield busy * busy


def line_terms(odds: Float, px_per_in: float, s: SeamSettings) -> tuple[Float, NDArray[np.bool_]]:
    """Return what speaks for a seam along each row, (4, H', W'), and where the odds peak.

    The odds themselves, and straight support over three lengths.
    """
    reach = max(1, round(s.peak_in * px_per_in))
    # A light smoothing along the line keeps peaks from jumping between rows.
    smooth = np.asarray(cv2.blur(odds, (5, 1)))
    top = np.asarray(cv2.dilate(smooth, np.ones((2 * reach + 1, 1), np.uint8)))
    at_peak = smooth >= top - 1e-6
    p = 1 / (1 + np.exp(-odds))
    wander = np.asarray(cv2.dilate(np.where(at_peak, p, 0), np.ones((3, 1), np.uint8)))
    found = [odds]
    for length_in in s.support_in:
        length = max(3, round(length_in * px_per_in)) | 1
        found.append(
            np.asarray(cv2.boxFilter(wander, -1, (length, 1), borderType=cv2.BORDER_REPLICATE))
        )
    return np.stack(found).astype(np.float32), at_peak


def _ridge(odds: Float, px_per_in: float, s: SeamSettings) -> Float:
    """Return the thinned probability of a seam along the rows."""
    speaks, at_peak = line_terms(odds, px_per_in, s)
    weights = np.asarray(s.line_weights, dtype=np.float32)
    z = np.tensordot(weights, speaks, axes=1) + np.float32(s.line_bias)
    peak = np.where(at_peak, 1 / (1 + np.exp(-z)), 0).astype(np.float32)
    sigma = s.ridge_in * px_per_in
    out = peak.copy()
    for r in (1, 2):
        gain = np.float32(np.exp(-(r**2) / 2 / sigma**2))
        np.maximum(out[:-r], peak[r:] * gain, out=out[:-r])
        np.maximum(out[r:], peak[:-r] * gain, out=out[r:])
    return out
