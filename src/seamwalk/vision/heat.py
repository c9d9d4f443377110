"""From what a network says of every pixel to the top cut into patches.

The top is cut along everything that may be a seam (:mod:`heat_cut`): more cuts than seams.  Then
borders that are no seams are dissolved, the least likely first (:mod:`heat_merge`).  The map found
so shows how the top repeats, and with what its other blocks say of each place (:mod:`heat_again`)
it is cut and joined once more, until that changes no more.  What comes out tiles the top.
"""

from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from seamwalk.model.picture import FlatPicture, Partition, SeamEvidence, SeamMap
from seamwalk.vision.heat_again import AgainSettings, Support, support
from seamwalk.vision.heat_basins import halved
from seamwalk.vision.heat_cut import CutSettings, Look, cut, looked
from seamwalk.vision.heat_finish import FinishSettings, OverCut, along, finished
from seamwalk.vision.heat_merge import Judged, MergeSettings, merged
from seamwalk.vision.partition import one_piece


@dataclass(frozen=True, slots=True)
class HeatSettings:
    """How heat becomes regions."""

    cut: CutSettings = field(default_factory=CutSettings)
    merge: MergeSettings = field(default_factory=MergeSettings)
    finish: FinishSettings = field(default_factory=FinishSettings)
    looks: int = 4
    """Most further looks: what one finds in some blocks, the next finds in more of them."""
    unsettled: float = 0.0003
    """Share of the lines that a look must have changed for another one to be worth its time."""


def partition_of(
    evidence: SeamEvidence,
    flat: FlatPicture,
    mask: NDArray[np.bool_],
    hidden: NDArray[np.bool_] | None = None,
    *,
    settings: HeatSettings | None = None,
) -> Partition:
    """Return the top of `flat` cut into regions.

    Parameters
    ----------
    evidence : SeamEvidence
        What the network says, on the grid of `flat`.
    flat : FlatPicture
        Straight-down picture, (H, W); its colours tell fabrics apart.
    mask : (H, W) bool
        The top; its largest part is taken and holes are filled.
    hidden : (H, W) bool or None
        What cards and things cover: nothing is seen there, and seams are inferred.

    Returns
    -------
    Partition
        Regions 4-connected, without holes, none thinner or smaller than a patch can be; cuts that
        the picture does not show are marked as inferred; every seam with its confidence.

    Raises
    ------
    TopNotFoundError
        If the mask is empty.
    TopologyError
        If no region is large enough for a patch.
    """
    s = settings or HeatSettings()
    look = looked(evidence, flat, one_piece(mask), s.cut, hidden)
    over = cut(look, s.cut)
    judged = merged(over.regions, over.field, over.side, s.merge)
    last: Support | None = None
    for _ in range(s.looks):
        told = told_by(look, over, judged, s.merge.again)
        same = last is not None and settled(last, told, s.unsettled)
        if same or not told.belief.any():
            break
        over = cut(look, s.cut, told)
        judged = merged(over.regions, over.field, over.side, s.merge)
        last = told
    return finished(judged, over, flat.px_per_in, s.finish, look.hidden, look.lab)


def told_by(look: Look, over: OverCut, judged: Judged, settings: AgainSettings) -> Support:
    """Return what the lines found say of one another."""
    home = judged.regions.home[over.labels]
    (lines,) = along(home.astype(np.int32), home, judged.regions, (judged.sure,))
    small, _ = halved(lines, look.mask)
    return support(small, look.half.heat, look.inside, settings)


def settled(last: Support, now: Support, unsettled: float) -> bool:
    """Return whether two looks found the same lines, but for a share of them."""
    a, b = last.found > 0, now.found > 0
    near = np.ones((5, 5), np.uint8)
    wide_a, wide_b = (np.asarray(cv2.dilate(p.astype(np.uint8), near)) > 0 for p in (a, b))
    changed = int((a & ~wide_b).sum() + (b & ~wide_a).sum())
    return changed <= unsettled * max(1, int(b.sum()))


def seam_map(regions: Partition, evidence: SeamEvidence, mask: NDArray[np.bool_]) -> SeamMap:
    """Return how sure the seams of a partition are, and their directions.

    Parameters
    ----------
    regions : Partition
        As `partition_of` gives it.
    evidence : SeamEvidence
        That it was made from.
    mask : (H, W) bool
        The top.
    """
    angle = np.arctan2(evidence.sin2, evidence.cos2) / 2 % np.pi
    sure = evidence.seam if regions.confidence is None else regions.confidence
    return SeamMap(sure.astype(np.float32), angle.astype(np.float32), mask)
