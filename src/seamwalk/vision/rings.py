"""Cutting regions that surround others.

A frame round a block cannot be sewn from one piece: it is four strips, two of them running through
to the ends (butted).  The picture often does not show where they meet, so the cuts are marked as
inferred unless the strength map shows them.
"""

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from seamwalk.vision.contrast import Float

Labels = NDArray[np.int32]

SEEN = 0.35
"""Mean strength above which a cut counts as seen."""


GRAZE_STEPS = 16
"""Half pixels over which a cut may still touch the hole that it starts from."""


def cut_rings(
    labels: Labels, strength: Float, px_per_in: float
) -> tuple[Labels, NDArray[np.bool_]]:
    """Return labels without rings, and the pixels along cuts that are inferred.

    Parameters
    ----------
    labels : (h, w) int32
        0 outside, 1 … n.
    strength : (h, w) float32
        Seam strength, for choosing the cuts.
    px_per_in : float
        Resolution.

    Notes
    -----
    Each hole is boxed by the rectangle of least area round it; two opposite sides of that box are
    drawn on, both ways, until they leave the region; a hole that does not fill its box is left at
    its tips.  Of the two pairs of sides the one with more
    strength along it is taken; without a difference the pair that makes the cuts shorter.
    """
    out = labels.copy()
    inferred = np.zeros(labels.shape, dtype=np.bool_)
    following = int(labels.max()) + 1
    for label, box in enumerate(ndimage.find_objects(labels), start=1):
        if box is None:
            continue
        region = np.pad(labels[box] == label, 1)
        holes, n = ndimage.label(~region, np.ones((3, 3)))
        if n <= 1:
            continue
        barrier = np.zeros(region.shape, dtype=np.uint8)
        unseen = np.zeros(region.shape, dtype=np.uint8)
        local = np.pad(strength[box], 1)
        for hole in range(1, n + 1):
            if hole == holes[0, 0]:
                continue
            _cut_hole(holes == hole, region, local, barrier, unseen)
        parts, count = ndimage.label(region & (barrier == 0))
        if count <= 1:
            continue
        nearest = ndimage.distance_transform_edt(
            parts == 0, return_distances=False, return_indices=True
        )
        parts = parts[tuple(nearest)]
        inner = (slice(1, -1), slice(1, -1))
        here = region[inner]
        fresh = np.where(parts[inner] == 1, label, following + parts[inner] - 2)
        out[box][here] = fresh[here]
        inferred[box] |= (unseen[inner] > 0) & here
        following += count - 1
    return out, inferred


def _cut_hole(
    hole: NDArray[np.bool_],
    region: NDArray[np.bool_],
    strength: Float,
    barrier: NDArray[np.uint8],
    unseen: NDArray[np.uint8],
) -> None:
    y, x = np.nonzero(hole)
    points = np.stack([x, y], axis=1).astype(np.float32)
    corners = np.asarray(cv2.boxPoints(cv2.minAreaRect(points)), dtype=np.float64)
    choices: list[_Choice] = []
    for pair in ((0, 2), (1, 3)):
        rays = []
        for k in pair:
            a, b = corners[k], corners[(k + 1) % 4]
            rays += [_ray(a, b - a, region), _ray(b, b - a, region, back=False)]
        choices.append(_weighed(rays, strength))
    if max(sum(len(r) > 0 for r in c[2]) for c in choices) < 2:
        choices = _from_tips(points, region, strength)
    best = max(choices, key=lambda c: (round(c[0], 1), c[1]))
    for ray, shown in zip(best[2], best[3], strict=True):
        if len(ray) == 0:
            continue
        ends = [tuple(int(v) for v in p) for p in (ray[0], ray[-1])]
        cv2.line(barrier, ends[0], ends[1], 1, 1)
        # The corner of the box may stand off a ragged hole: close the gap between them.
        nearest = points[int(((points - ray[0]) ** 2).sum(axis=1).argmin())]
        cv2.line(barrier, ends[0], (int(nearest[0]), int(nearest[1])), 1, 1)
        if shown < SEEN:
            cv2.line(unseen, ends[0], ends[1], 1, 3)


_Choice = tuple[float, int, list[NDArray[np.intp]], list[float]]
"""Mean strength, length (negative), the rays and the mean strength of each."""


def _weighed(rays: list[NDArray[np.intp]], strength: Float) -> _Choice:
    seen = [float(strength[r[:, 1], r[:, 0]].mean()) if len(r) else 0.0 for r in rays]
    total = sum(len(r) for r in rays)
    weight = sum(s * len(r) for s, r in zip(seen, rays, strict=True)) / max(total, 1)
    return weight, -total, rays, seen


def _from_tips(
    points: NDArray[np.float32], region: NDArray[np.bool_], strength: Float
) -> list[_Choice]:
    """Return cuts straight outwards from the ends of a hole that fills no rectangle.

    A hole shaped like a star or a diamond reaches the sides of its box only at its tips.
    """
    choices = []
    for axis in (0, 1):
        low, high = points[points[:, axis].argmin()], points[points[:, axis].argmax()]
        way = np.zeros(2)
        way[axis] = 1.0
        rays = [
            _ray(low.astype(np.float64), way, region),
            _ray(high.astype(np.float64), way, region, back=False),
        ]
        choices.append(_weighed(rays, strength))
    return choices


def _ray(
    start: NDArray[np.float64],
    direction: NDArray[np.float64],
    region: NDArray[np.bool_],
    *,
    back: bool = True,
) -> NDArray[np.intp]:
    """Return pixels (N, 2) from `start` straight on until the region ends."""
    h, w = region.shape
    length = float(np.hypot(*direction))
    if length == 0:
        direction, length = np.array([1.0, 0.0]), 1.0
    step = direction / length * (-1.0 if back else 1.0)
    t = np.arange(0.0, h + w, 0.5)
    p = np.rint(start + t[:, None] * step).astype(np.intp)
    ok = (p[:, 0] >= 0) & (p[:, 0] < w) & (p[:, 1] >= 0) & (p[:, 1] < h)
    p = p[: int(np.argmin(ok)) if not ok.all() else len(p)]
    if not len(p):
        return p
    here = region[p[:, 1], p[:, 0]]
    if not here.any():
        return p[:0]
    # The corner of the box may lie a few pixels off a jagged hole, and the ray may graze it.
    grazed = np.flatnonzero(~here[:GRAZE_STEPS])
    first = int(grazed[-1]) + 1 if len(grazed) else 0
    if first >= len(here) or not here[first]:
        return p[:0]
    rest = here[first:]
    last = first + (int(np.argmin(rest)) if not rest.all() else len(rest))
    return p[max(first - 2, 0) : last + 1]
