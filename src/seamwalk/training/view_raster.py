"""Which patch each half pixel shows, and the truth planes that the network learns.

The truth is taken from the map of labels itself, not from the geometry behind it, so picture and
truth cannot disagree: the density of label changes across columns and down rows, both blurred,
has the root of its squares equal along lines of every direction (the two densities are the sine
and cosine of the line's direction).
"""

from dataclasses import dataclass
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from seamwalk.training.view_outlines import Outlines

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float32]
Labels = NDArray[np.uint16]

SHIFT = 4
"""Binary places that OpenCV keeps of coordinates."""


@dataclass(frozen=True, slots=True)
class TruthSettings:
    """Widths of the truth.

    Attributes
    ----------
    seam_px : float
        Standard deviation across a seam.
    junction_px : float
        The same round a junction.
    corner_deg : float
        An outline that turns by more has a junction there.
    near_px : float
        Direction is given within this distance of a seam.
    directions : int
        Directions told apart within half a turn: 180° / 90 = 2°.
    inset_px : float
        What OpenCV's fill reaches beyond an outline on average, 1/2 of a half pixel.
    """

    seam_px: float = 1.0
    junction_px: float = 1.5
    corner_deg: float = 15.0
    near_px: float = 4.0
    directions: int = 90
    inset_px: float = 0.25


SETTINGS = TruthSettings()


def fixed(px: NDArray[np.float64], factor: float, side: int) -> NDArray[np.int32]:
    """Return picture positions as OpenCV's fixed-point ones on a grid `factor` times finer.

    OpenCV counts from the centre of the first pixel, pictures here from its corner.  Positions
    far outside are drawn in to twenty sides off, where fixed-point numbers still hold them.
    """
    far = np.clip(px, -20.0 * side, 21.0 * side) * factor - 0.5
    out: NDArray[np.int32] = np.round(far * (1 << SHIFT)).astype(np.int32)
    return out


def draw_patches(outlines: Outlines, first_row: int, side_px: int) -> Labels:
    """Return the labels (2S, 2S): `first_row` + patch where a patch is, 0 elsewhere.

    OpenCV fills the half pixels that an outline touches too, so patches are drawn twice: in full,
    which leaves no gaps, then drawn in by half of a half pixel, which puts seams in their place.
    """
    labels = np.zeros((2 * side_px, 2 * side_px), np.uint16)
    bounds = outlines.starts.tolist()
    for inset in (0.0, SETTINGS.inset_px):
        points = fixed(outlines.px + inset * inwards(outlines), 2.0, side_px)
        for row, (start, stop) in enumerate(pairwise(bounds)):
            cv2.fillPoly(labels, [points[start:stop]], first_row + row, cv2.LINE_8, SHIFT)
    return labels


def inwards(outlines: Outlines) -> NDArray[np.float64]:
    """Return the moves (M, 2) that draw every outline in by one picture pixel."""
    px, after = outlines.px, outlines.after
    if len(px) == 0:
        return px
    chord = px[after] - px
    way = chord / np.maximum(np.hypot(chord[:, 0], chord[:, 1]), 1e-9)[:, None]
    twice = np.add.reduceat(
        px[:, 0] * px[after, 1] - px[after, 0] * px[:, 1], outlines.starts[:-1]
    )
    hand = np.where(twice >= 0, 1.0, -1.0)[outlines.patch]
    normal = np.column_stack([-way[:, 1], way[:, 0]]) * hand[:, None]
    last = np.empty_like(normal)
    last[after] = normal
    cosine = normal[:, 0] * last[:, 0] + normal[:, 1] * last[:, 1]
    # Sharp corners are cut off rather than drawn in for many pixels.
    out: NDArray[np.float64] = (normal + last) / np.maximum(1.0 + cosine, 0.3)[:, None]
    return out


def seam_truth(labels: Labels) -> Bytes:
    """Return the seam plane (S, S) of a map of patches, 0 for what is no patch.

    Each label change marks the half pixels on both of its sides; averaged to whole pixels this
    is a line one pixel wide, whose variance with that of the pixel is taken off the blur's.
    """
    side = labels.shape[0] // 2
    sigma = float(np.sqrt(SETTINGS.seam_px**2 - 2.0 / 12.0))
    gain = float(np.sqrt(2.0 * np.pi)) * SETTINGS.seam_px
    across = np.zeros(labels.shape, np.uint8)
    down = np.zeros(labels.shape, np.uint8)
    change = cv2.compare(labels[:, 1:], labels[:, :-1], cv2.CMP_NE)
    across[:, 1:] = change
    cv2.max(across[:, :-1], change, dst=across[:, :-1])
    change = cv2.compare(labels[1:], labels[:-1], cv2.CMP_NE)
    down[1:] = change
    cv2.max(down[:-1], change, dst=down[:-1])
    planes = []
    for marks in (across, down):
        small = cv2.resize(marks, (side, side), interpolation=cv2.INTER_AREA)
        planes.append(cv2.GaussianBlur(small, (7, 7), sigma).astype(np.float32))
    return np.asarray(cv2.convertScaleAbs(cv2.magnitude(*planes), alpha=gain), np.uint8)


def junction_truth(outlines: Outlines, side_px: int) -> Bytes:
    """Return the junction plane (S, S): dots where outlines turn a corner."""
    corner = outlines.turn > SETTINGS.corner_deg
    xy, px = outlines.xy[corner], outlines.px[corner]
    # Patches that meet bring the same corner; it counts once.
    key = np.round(xy * 128.0).astype(np.int64)
    _, once = np.unique(key[:, 0] * 4_000_003 + key[:, 1], return_index=True)
    px = px[once] - 0.5
    px = px[((px >= 0) & (px < side_px - 1)).all(axis=1)]
    cell = np.floor(px).astype(np.int64)
    part = px - cell
    plane = np.zeros((side_px, side_px), np.float32)
    for dx in (0, 1):
        for dy in (0, 1):
            weight = np.abs(1 - dx - part[:, 0]) * np.abs(1 - dy - part[:, 1])
            np.add.at(plane, (cell[:, 1] + dy, cell[:, 0] + dx), weight.astype(np.float32))
    blurred = cv2.GaussianBlur(plane, (11, 11), SETTINGS.junction_px)
    gain = 255.0 * 2.0 * np.pi * SETTINGS.junction_px**2
    return np.asarray(cv2.convertScaleAbs(blurred, alpha=gain), np.uint8)


def direction_truth(outlines: Outlines, near: Bytes) -> tuple[Bytes, Bytes]:
    """Return the cos 2θ and sin 2θ planes (S, S), 128 where `near` (S, S) is 0.

    Seams vote along thin lines; blurred votes fill the surroundings and are normalised, so
    where seams of two directions meet the planes pass from one to the other.  Directions change
    slowly: half the picture's size holds them.
    """
    side = near.shape[0]
    small = -(-side // 2)
    starts, ends = outlines.px, outlines.px[outlines.after]
    inside = ((np.maximum(starts, ends) > -4) & (np.minimum(starts, ends) < side + 4)).all(axis=1)
    starts, ends = starts[inside], ends[inside]
    chord = ends - starts
    angle = np.arctan2(chord[:, 1], chord[:, 0])
    count = SETTINGS.directions
    bins = np.round(angle / np.pi * count).astype(np.int64) % count
    scale = small / side
    lines = np.stack([fixed(starts, scale, side), fixed(ends, scale, side)], axis=1)
    votes = np.zeros((small, small), np.uint8)
    order = np.argsort(bins, kind="stable")
    cuts = np.searchsorted(bins[order], np.arange(count + 1))
    for k in range(count):
        if cuts[k + 1] > cuts[k]:
            group = list(lines[order[cuts[k] : cuts[k + 1]]])
            cv2.polylines(votes, group, False, k + 1, 1, cv2.LINE_8, SHIFT)
    table = np.zeros((2, 256), np.float32)
    double = 2.0 * np.pi * np.arange(count) / count
    table[0, 1 : count + 1], table[1, 1 : count + 1] = np.cos(double), np.sin(double)
    planes = [cv2.GaussianBlur(cv2.LUT(votes, t), (9, 9), 1.2) for t in table]
    size = cv2.magnitude(planes[0], planes[1]) + np.float32(1e-6)
    far = (near == 0).view(np.uint8)
    out = []
    for plane in planes:
        scaled = (plane / size * np.float32(127.0) + np.float32(128.5)).astype(np.uint8)
        large = cv2.resize(scaled, (side, side), interpolation=cv2.INTER_LINEAR)
        out.append(np.asarray(cv2.copyTo(np.full_like(near, 128), far, large), np.uint8))
    return out[0], out[1]


def near_seams(seam: Bytes) -> Bytes:
    """Return a mask (S, S) of the places within `near_px` of a seam."""
    # The core itself reaches a pixel to both sides.
    size = 2 * round(SETTINGS.near_px - 1.0) + 1
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    core = cv2.threshold(seam, 120, 255, cv2.THRESH_BINARY)[1]
    return np.asarray(cv2.dilate(core, kernel), np.uint8)
