"""What lies under a card or a thing on the top: inferred from what comes out on either side.

Nothing is seen there, so it takes no part in cutting and judging.  Afterwards clear straight seams
are drawn on under the thing, and the regions round it grow inwards until they meet, along those
lines where there are some.  Two that meet only there, of one cloth and convex together, are one
patch that the thing lies across.

References
----------
Meyer, Topographic distance and watershed lines, Signal Processing 38, 1994.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from seamwalk.vision.heat_graph import HEAT, N, RegionMap
from seamwalk.vision.heat_lines import fits
from seamwalk.vision.hulls import hull_of, pixel_corners

Labels = NDArray[np.int32]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class UnderSettings:
    """What goes on under a thing."""

    clear: float = 0.4
    """Mean heat of a border that may be drawn on."""
    bend: float = 0.04
    """Most root-mean-square distance of its cracks from their line, share of its length."""
    least_px: float = 8.0
    """Length of such a border."""
    reach_px: float = 4.0
    """A border may end this far from the thing: heat fades beside what covers it."""
    one_cloth: float = 8.0
    """Two regions differ by less in CIELAB where they are one patch …"""
    within_noise: float = 0.7
    """… and by less than this share of their own spread."""
    convex: float = 0.94
    """And together they fill this share of their convex hull."""


def apart(labels: Labels, hidden: Mask) -> Labels:
    """Return labels (H, W) with nothing where it is hidden; what that parts is numbered anew."""
    from skimage.segmentation import relabel_sequential

    shown = np.where(hidden, 0, labels)
    touched = np.unique(labels[hidden])
    following = int(labels.max()) + 1
    for label, box in enumerate(ndimage.find_objects(shown), start=1):
        if box is None or label not in touched:
            continue
        part = shown[box]
        pieces, count = ndimage.label(part == label)
        for k in range(2, count + 1):
            part[pieces == k] = following
            following += 1
    return np.asarray(relabel_sequential(shown)[0], dtype=np.int32)


def under(
    labels: Labels,
    hidden: Mask,
    regions: RegionMap,
    least_px: float,
    settings: UnderSettings | None = None,
) -> Labels:
    """Return labels with the hidden part of the top filled.

    Parameters
    ----------
    labels : (H, W) int32
        Rows of `regions`, 0 outside the top and where it is hidden.
    hidden : (H, W) bool
        Of the top.
    regions : RegionMap
        As joined.
    least_px : float
        Of a smaller region beside what is hidden nothing is known: it does not grow there.
    """
    from skimage.segmentation import watershed

    s = settings or UnderSettings()
    covered = hidden & (labels == 0)
    if not covered.any() or not labels.any():
        return labels
    drawn = _drawn_on(covered, regions, s)
    beside = np.unique(labels[ndimage.binary_dilation(covered)])
    size = np.bincount(labels.ravel())
    slivers = beside[(beside > 0) & (size[beside] < least_px)]
    if len(slivers) < np.count_nonzero(size[1:]):
        covered = covered | np.isin(labels, slivers)
        labels = np.where(covered, 0, labels)
    deep = ndimage.distance_transform_edt(covered)
    height = np.where(drawn & covered, deep.max() + 1.0, deep)
    filled = watershed(height, labels, mask=(labels > 0) | covered).astype(np.int32)
    return _joined(filled, regions, s)


def _drawn_on(covered: Mask, regions: RegionMap, s: UnderSettings) -> Mask:
    """Return the pixels on straight continuations of clear borders under what covers them."""
    sums = regions.sums
    out = np.zeros(covered.shape, np.uint8)
    if not len(sums):
        return out > 0
    line = fits(sums)
    clear = (sums[:, HEAT] > s.clear * sums[:, N]) & (line.length >= s.least_px)
    clear &= line.bend <= s.bend * line.length
    longest = float(np.hypot(*covered.shape))
    steps = np.arange(0.0, longest, 1.0)
    h, w = covered.shape
    for k in np.flatnonzero(clear).tolist():
        for sign in (1.0, -1.0):
            way = sign * line.way[k]
            end = line.middle[k] + way * line.length[k] / 2
            at = np.floor(end + steps[:, None] * way).astype(np.intp)
            inside = (at >= 0).all(axis=1) & (at[:, 0] < w) & (at[:, 1] < h)
            on = np.zeros(len(steps), np.bool_)
            on[inside] = covered[at[inside, 1], at[inside, 0]]
            if not on[steps <= s.reach_px].any():
                continue
            first = int(on.argmax())
            last = first + int(np.append(~on[first:], True).argmax())
            a, b = end + way * (first - 1), end + way * last
            ends = [(int(p[0]), int(p[1])) for p in (np.floor(a), np.floor(b))]
            cv2.line(out, ends[0], ends[1], 1, 1, cv2.LINE_4)
    return out > 0


def _joined(filled: Labels, regions: RegionMap, s: UnderSettings) -> Labels:
    """Return labels with those regions made one that a thing only lies across."""
    into = np.arange(int(filled.max()) + 1)
    beside = {(int(a), int(b)) for a, b in regions.pair.tolist()}
    met = set()
    for low, high in ((filled[:-1], filled[1:]), (filled[:, :-1], filled[:, 1:])):
        differs = (low != high) & (low > 0) & (high > 0)
        pairs = np.sort(np.stack([low[differs], high[differs]], axis=1), axis=1)
        met |= {(int(a), int(b)) for a, b in np.unique(pairs, axis=0)}
    size = np.bincount(filled.ravel(), minlength=len(into))
    count = np.maximum(regions.cloth[:, 0], 1)
    mean = regions.cloth[:, 1:4] / count[:, None]
    spread = np.sqrt(np.maximum(regions.cloth[:, 4] / count - (mean**2).sum(axis=1), 0))
    for a, b in sorted(met - beside):
        off = float(np.linalg.norm(mean[a] - mean[b]))
        if off > s.one_cloth or off > s.within_noise * (spread[a] + spread[b] + 2):
            continue
        _, hull = hull_of(pixel_corners((filled == a) | (filled == b)))
        if size[a] + size[b] >= s.convex * hull:
            into[into == into[b]] = into[a]
    return into[filled].astype(np.int32)
