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
    colour_weights: tuple[float, ...] = (
        1.36, 3.618, 5.73, -1.322, -0.108, 3.551, 1.211, -0.943, 0.362, -0.128,
    )  # fmt: skip
    """Logistic weights of `colour_terms`, fitted on rendered tops of twelve designs."""
    colour_bias: float = -8.824
    relief_weights: tuple[float, ...] = (-0.331, 0.466, 1.553, 0.624, -0.7)
    """Logistic weights of `relief_terms`, fitted on seams between patches of one fabric; that of
    busyness is set by hand, since busy cloth hides ditches and never shows them."""
    relief_bias: float = -3.4
    support_in: float = 3.0
    """Length over which straight support is gathered, inches: about a patch."""
    support_gain: float = 3.0
    """Log-odds that full support along the line adds, none takes away."""
    crowd_in: float = 0.9
    """Height of the band in which parallel lines crowd, inches: prints repeat in less, seams
    do not."""
    crowd_loss: float = 4.0
    """Log-odds lost for each line of relief too many in the band."""
    relief_most: float = 3.0
    """Most log-odds that relief alone can give."""
    relief_share: float = 0.8
    """Strength of a sure ditch: less than of a sure change of fabric, since prints, folds and
    shadows can look like one."""
    relief_clear_in: float = 0.2
    """Relief this near to a change of fabric is that change's own, inches."""
    rival: float = 0.85
    """A direction counts where it sees at least this share of the sharpest one's contrast."""
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
    big = np.asarray(cv2.resize(strength, size, interpolation=cv2.INTER_LINEAR), dtype=np.float32)
    turn = np.asarray(cv2.resize(angle, size, interpolation=cv2.INTER_NEAREST))
    big = np.where(mask, np.clip(big, 0, 1), 0).astype(np.float32)
    return SeamMap(big, turn.astype(np.float32), mask)


def strength_of(work: WorkPicture, fine: WorkPicture, s: SeamSettings) -> tuple[Float, Float]:
    """Return strength and angle on the work picture's grid, (h, w) float32 each."""
    inside = work.inside
    shape = (inside.shape[0], inside.shape[1])
    lab = fill_outside(work.lab, inside)
    half = np.asarray(
        cv2.resize(lab, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA), dtype=np.float32
    )
    half_inside = cv2.resize(inside.astype(np.uint8), (half.shape[1], half.shape[0])) > 0
    words = contrast.colour_words(half, half_inside, s.contrast)
    lightness = fill_outside(fine.lab[..., :1], fine.inside)[..., 0]
    ridges: list[tuple[Float, Float, Float]] = []
    angles = contrast.directions(s.contrast).astype(np.float32)
    for frame, measures in contrast.two_sided(lab, words, lightness, work.px_per_in, s.contrast):
        sharp = measures[0] + 0.5 * measures[1] + 2 * measures[2]
        colour = _colour_ridge(measures, sharp, work.px_per_in, s)
        relief = _relief_ridge(measures, work.px_per_in, s)
        back = frame.back(np.asarray(cv2.merge([colour, relief, sharp])), shape)
        ridges.append((back[..., 0], back[..., 1], back[..., 2]))
    # Where seams meet, windows of the wrong direction see several fabrics too; they see them
    # less sharply than the right one.
    sharpest = np.maximum.reduce([r[2] for r in ridges])
    colour, relief, ranked = np.zeros((3, *shape), dtype=np.float32)
    # Directions are averaged as doubled angles, so 0 and pi are the same.
    colour_way, relief_way = np.zeros((2, *shape), dtype=np.complex64)
    for (c, r, sharp), direction in zip(ridges, angles, strict=True):
        rank = np.where(sharp >= s.rival * sharpest, c * sharp, 0)
        better = rank > ranked
        colour[better] = c[better]
        ranked[better] = rank[better]
        relief = np.maximum(relief, r)
        turned = np.exp(2j * direction).astype(np.complex64)
        colour_way += rank * turned
        relief_way += r * turned
    clear = round(s.relief_clear_in * work.px_per_in) * 2 + 1
    near = np.asarray(
        cv2.dilate((colour > 0.5).astype(np.uint8), np.ones((clear, clear), np.uint8))
    )
    relief[near > 0] = 0
    relief *= np.float32(s.relief_share)
    strength = np.where(inside, np.maximum(colour, relief), 0).astype(np.float32)
    way = np.where(relief > colour, relief_way, colour_way)
    angle = np.mod(np.angle(way) / 2, np.pi).astype(np.float32)
    angle[angle >= np.float32(np.pi)] = 0
    return strength, angle


def colour_terms(measures: Float) -> Iterator[Float]:
    """Yield what speaks for a change of fabric, 10 × (H', W').

    Products let contrast count for more where the colour words differ too.
    """
    narrow, wide, words, _, busy = measures[:5]
    yield from measures[:5]
    yield np.sqrt(np.maximum(words, 0))
    yield busy * words
    yield narrow * words
    yield wide * words
    yield busy * busy


def relief_terms(measures: Float) -> Iterator[Float]:
    """Yield what speaks for a seam within one fabric, 5 × (H', W'): ditch, step, busyness."""
    yield from measures[5:]
    yield measures[4]


def _weighed(terms: Iterator[Float], weights: tuple[float, ...], bias: float) -> Float:
    """Return the log-odds, (H', W')."""
    out: Float | np.float32 = np.float32(bias)
    for weight, term in zip(weights, terms, strict=True):
        out = out + np.float32(weight) * term
    return np.asarray(out, dtype=np.float32)


def _logistic(odds: Float) -> Float:
    return np.asarray(1 / (1 + np.exp(-odds)), dtype=np.float32)


def _colour_ridge(measures: Float, sharp: Float, px_per_in: float, s: SeamSettings) -> Float:
    """Return the thinned probability of a change of fabric along the rows.

    The odds level off near a clear seam; `sharp` peaks at the seam itself.
    """
    odds = _weighed(colour_terms(measures), s.colour_weights, s.colour_bias)
    p = _logistic(odds)
    odds += s.support_gain * (2 * _along(p, px_per_in, s) - 1)
    return _thinned(odds, sharp, px_per_in, s)


def _relief_ridge(measures: Float, px_per_in: float, s: SeamSettings) -> Float:
    """Return the thinned probability of a seam within one fabric along the rows."""
    odds = _weighed(relief_terms(measures), s.relief_weights, s.relief_bias)
    # A step too clear for light and shade is print: no better than a plain ditch.
    odds = np.minimum(odds, np.float32(s.relief_most))
    sharp = measures[5] + measures[7]
    p = _logistic(odds)
    odds += s.support_gain * (2 * _along(p, px_per_in, s) - 1)
    lines = np.where(_peaks(sharp, px_per_in, s), p, 0).astype(np.float32)
    band = (max(3, round(px_per_in)) | 1, max(3, round(s.crowd_in * px_per_in)) | 1)
    crowd = np.asarray(cv2.boxFilter(lines, -1, band, borderType=cv2.BORDER_REPLICATE)) * band[1]
    odds -= s.crowd_loss * np.maximum(crowd - 1.2, 0)
    return _thinned(odds, sharp, px_per_in, s)


def _along(p: Float, px_per_in: float, s: SeamSettings) -> Float:
    """Return the mean of `p` along each row, one row of wander allowed."""
    length = max(3, round(s.support_in * px_per_in)) | 1
    wander = cv2.dilate(p, np.ones((3, 1), np.uint8))
    return np.asarray(cv2.boxFilter(wander, -1, (length, 1), borderType=cv2.BORDER_REPLICATE))


def _peaks(sharp: Float, px_per_in: float, s: SeamSettings) -> NDArray[np.bool_]:
    reach = max(1, round(s.peak_in * px_per_in))
    top = np.asarray(cv2.dilate(sharp, np.ones((2 * reach + 1, 1), np.uint8)))
    out: NDArray[np.bool_] = sharp >= top - 1e-6
    return out


def _thinned(odds: Float, sharp: Float, px_per_in: float, s: SeamSettings) -> Float:
    """Return the probability at the peaks of `sharp`, as ridges of a few pixels."""
    p = _logistic(odds)
    peak = np.where(_peaks(sharp, px_per_in, s), p, 0).astype(np.float32)
    sigma = s.ridge_in * px_per_in
    out = peak.copy()
    for r in (1, 2):
        gain = np.float32(np.exp(-(r**2) / 2 / sigma**2))
        np.maximum(out[:-r], peak[r:] * gain, out=out[:-r])
        np.maximum(out[r:], peak[:-r] * gain, out=out[r:])
    return out
