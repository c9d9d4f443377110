"""From seam strength to regions: the top cut into patches, pixel by pixel.

The strength map is flooded from places far from any ridge (watershed), which cuts the top into
too many regions; neighbours that are one cloth are joined again; regions that surround others are
cut, since nobody can sew a frame from one piece.  What comes out tiles the top.

References
----------
Meyer, Topographic distance and watershed lines, Signal Processing 38, 1994.
"""

from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from seamwalk.errors import TopNotFoundError
from seamwalk.model.picture import FlatPicture, Partition, SeamMap
from seamwalk.vision import contrast, rings
from seamwalk.vision.contrast import ContrastSettings, Float
from seamwalk.vision.joining import JoinSettings, join_alike
from seamwalk.vision.regions import region_graph
from seamwalk.vision.workpicture import WorkPicture, to_work

Labels = NDArray[np.int32]


@dataclass(frozen=True, slots=True)
class PartitionSettings:
    """How the top is cut and joined."""

    work_px_per_in: float = 10.0
    """Resolution of cutting and joining."""
    ridge: float = 0.3
    """Strength above which a pixel is no part of a seed."""
    seed_in: float = 0.12
    """A seed is at least this far from ridges, inches."""
    neck_in: float = 0.06
    """Two seeds part where the way between them narrows by this much, inches."""
    sliver_in: float = 0.35
    """Nothing narrower than this is a patch, inches: finished strips are 1/2 in or more."""
    least_area_in2: float = 0.25
    """Nothing smaller is a patch, square inches."""
    hub_area_in2: float = 1.6
    """Where `hub_neighbours` or more patches meet round something smaller than this, it is their
    junction, not a patch, square inches: ridges fade where eight of them meet."""
    hub_neighbours: int = 7
    ring_rounds: int = 4
    """Rounds of cutting rings and dissolving crumbs; two settle it."""
    join: JoinSettings = field(default_factory=JoinSettings)
    contrast: ContrastSettings = field(default_factory=ContrastSettings)


def partition(
    flat: FlatPicture, seams: SeamMap, *, settings: PartitionSettings | None = None
) -> Partition:
    """Return the top of `flat` cut into regions.

    Parameters
    ----------
    flat : FlatPicture
        Straight-down picture, (H, W).
    seams : SeamMap
        Strength on the same grid, and the top's mask.

    Raises
    ------
    TopNotFoundError
        If the mask is empty.
    """
    s = settings or PartitionSettings()
    mask = one_piece(seams.mask)
    work = to_work(flat.rgb, mask, flat.px_per_in, s.work_px_per_in)
    inside = one_piece(work.inside)
    work = WorkPicture(work.lab, inside, work.px_per_in)
    size = (inside.shape[1], inside.shape[0])
    small = np.asarray(cv2.resize(seams.strength, size, interpolation=cv2.INTER_AREA))
    strength: Float = np.where(inside, small, 0).astype(np.float32)
    labels = flood(strength, inside, work.px_per_in, s)
    graph = region_graph(
        labels,
        strength,
        region_features(work, s.contrast),
        strong=s.ridge,
    )
    join_alike(graph, work.px_per_in, s.join)
    labels = without_crumbs(graph.result(), work.px_per_in, s)
    cut = np.zeros(inside.shape, dtype=np.bool_)
    # Dissolving a crumb can close a ring anew.
    for _ in range(s.ring_rounds):
        before = int(labels.max())
        labels, fresh = rings.cut_rings(labels, strength, work.px_per_in)
        if int(labels.max()) == before:
            break
        cut |= fresh
        labels = without_crumbs(labels, work.px_per_in, s)
    big = enlarge(labels, mask)
    near_cut = np.asarray(
        cv2.resize(cut.astype(np.uint8), (mask.shape[1], mask.shape[0]), interpolation=0)
    )
    return Partition(big, inferred=(near_cut > 0) & mask if cut.any() else None)


def one_piece(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return the largest 4-connected part of `mask` with its holes filled.

    Raises
    ------
    TopNotFoundError
        If there is nothing in the mask.
    """
    parts, n = ndimage.label(mask)
    if n == 0:
        raise TopNotFoundError(
            "No top was found in the picture.", "Photograph the whole top on a plain floor."
        )
    if n > 1:
        mask = parts == 1 + int(np.bincount(parts.ravel())[1:].argmax())
    filled: NDArray[np.bool_] = ndimage.binary_fill_holes(mask, np.ones((3, 3), dtype=np.bool_))
    return filled


def region_features(work: WorkPicture, settings: ContrastSettings) -> Float:
    """Return what regions are compared by: colour, its square, busyness, words, (h, w, 7 + K)."""
    lab = work.lab
    fine = cv2.GaussianBlur(lab[..., 0], (0, 0), 0.12 * work.px_per_in)
    busy = np.abs(lab[..., 0] - fine)
    words = contrast.colour_words(lab, work.inside, settings)
    return np.concatenate([lab, lab**2, busy[..., None], words], axis=2).astype(np.float32)


def flood(
    strength: Float, inside: NDArray[np.bool_], px_per_in: float, s: PartitionSettings
) -> Labels:
    """Return the top cut along every ridge and neck, 1 … n, 0 outside."""
    from skimage.morphology import reconstruction
    from skimage.segmentation import watershed

    free = ((strength < s.ridge) & inside).astype(np.uint8)
    free = np.pad(free, 1)
    distance = np.asarray(cv2.distanceTransform(free, cv2.DIST_L2, 5))[1:-1, 1:-1]
    neck = s.neck_in * px_per_in
    plain = reconstruction(distance - neck, distance, method="dilation")
    summit = (distance - plain >= neck - 1e-4) & (distance > s.seed_in * px_per_in)
    seeds, n = ndimage.label(summit)
    if n == 0:
        return inside.astype(np.int32)
    height = strength - 0.002 * np.minimum(distance, 4 * px_per_in)
    return np.asarray(watershed(height, seeds, mask=inside), dtype=np.int32)


def without_crumbs(labels: Labels, px_per_in: float, s: PartitionSettings) -> Labels:
    """Return `labels` made of 4-connected patches, none thinner or smaller than a patch can be.

    What is too thin or small goes to the nearest patch that stays; labels run 1 … n.
    """
    inside = labels > 0
    parts = _connected(labels)
    n = int(parts.max())
    size = np.bincount(parts.ravel(), minlength=n + 1)
    edge = np.zeros(labels.shape, dtype=np.uint8)
    edge[:, 1:] |= parts[:, 1:] != parts[:, :-1]
    edge[:, :-1] |= parts[:, 1:] != parts[:, :-1]
    edge[1:] |= parts[1:] != parts[:-1]
    edge[:-1] |= parts[1:] != parts[:-1]
    depth = np.asarray(cv2.distanceTransform(np.pad(1 - edge, 1), cv2.DIST_L2, 5))[1:-1, 1:-1]
    deepest = ndimage.maximum(depth, parts, np.arange(n + 1))
    stays = (size >= s.least_area_in2 * px_per_in**2) & (
        2 * np.asarray(deepest) + 1 >= s.sliver_in * px_per_in
    )
    hub = size < s.hub_area_in2 * px_per_in**2
    stays &= ~(hub & (_neighbours(parts) >= s.hub_neighbours))
    stays[0] = False
    if not stays.any():
        return inside.astype(np.int32)
    keep = np.where(stays[parts], parts, 0)
    if not stays[1:].all():
        keep = _spread(keep, inside)
        keep = _connected(keep)
        # Spreading can leave tiny islands beyond a neighbour: give them to what surrounds them.
        keep = _islands_joined(keep, px_per_in, s)
    _, index = np.unique(np.concatenate([[0], keep.ravel()]), return_inverse=True)
    return np.asarray(index[1:].reshape(labels.shape), dtype=np.int32)


def _neighbours(parts: Labels) -> NDArray[np.intp]:
    """Return the number of regions beside each region, the outside not counted."""
    n = int(parts.max()) + 1
    pairs = [
        np.stack([a[a != b], b[a != b]], axis=1)
        for a, b in ((parts[1:], parts[:-1]), (parts[:, 1:], parts[:, :-1]))
    ]
    both = np.sort(np.concatenate(pairs), axis=1)
    both = np.unique(both[both[:, 0] > 0], axis=0)
    return np.bincount(both.ravel(), minlength=n)


def _connected(labels: Labels) -> Labels:
    from skimage.measure import label

    return np.asarray(label(labels, background=0, connectivity=1), dtype=np.int32)


def _spread(labels: Labels, inside: NDArray[np.bool_]) -> Labels:
    """Return `labels` grown over all of `inside`, each pixel to the region nearest by 4-steps."""
    from skimage.segmentation import watershed

    flat = np.zeros(labels.shape, dtype=np.uint8)
    return np.asarray(watershed(flat, labels, mask=inside), dtype=np.int32)


def _islands_joined(labels: Labels, px_per_in: float, s: PartitionSettings) -> Labels:
    size = np.bincount(labels.ravel())
    small = size < s.least_area_in2 * px_per_in**2
    small[0] = False
    if not small.any():
        return labels
    return _spread(np.where(small[labels], 0, labels).astype(np.int32), labels > 0)


def enlarge(labels: Labels, mask: NDArray[np.bool_]) -> Labels:
    """Return `labels` on the grid of `mask`, every pixel of the mask labelled."""
    h, w = mask.shape
    big = cv2.resize(labels.astype(np.float32), (w, h), interpolation=cv2.INTER_NEAREST)
    out = np.asarray(big).astype(np.int32)
    out[~mask] = 0
    if (mask & (out == 0)).any():
        out = _spread(out, mask)
    parts = _connected(out)
    if int(parts.max()) == int(labels.max()):
        return out
    # A region pinched off by the mask's finer edge: keep its largest part.
    size = np.bincount(parts.ravel())
    owner = np.zeros(len(size), dtype=np.int64)
    owner[parts.ravel()] = out.ravel()
    largest = np.zeros(int(out.max()) + 1, dtype=np.int64)
    for part in np.argsort(size, kind="stable"):
        largest[owner[part]] = part
    kept = np.where(largest[out] == parts, out, 0).astype(np.int32)
    return _spread(kept, mask)
