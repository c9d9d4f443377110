"""From what a network says of every pixel to the top cut into patches.

The heat is cut along every ridge and at every neck (:mod:`heat_basins`), along straight
continuations of clear seams (:mod:`heat_lines`) and where other blocks have a seam
(:mod:`heat_repeat`): more cuts than seams.  Then borders that are no seams are dissolved, the
least likely first (:mod:`heat_merge`).  What comes out tiles the top.
"""

from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from seamwalk.model.picture import FlatPicture, Partition, SeamEvidence, SeamMap
from seamwalk.vision.heat_basins import (
    BasinSettings,
    coarse_basins,
    doubled,
    halved,
    quarters,
    sharpened,
)
from seamwalk.vision.heat_finish import FinishSettings, OverCut, finished
from seamwalk.vision.heat_graph import Planes, border_sums, region_map
from seamwalk.vision.heat_lines import Field, LineSettings, continuations
from seamwalk.vision.heat_merge import MergeSettings, merged
from seamwalk.vision.heat_repeat import RepeatSettings, repeats
from seamwalk.vision.partition import one_piece
from seamwalk.vision.workpicture import lab_of

Float = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class HeatSettings:
    """How heat becomes regions."""

    blur_px: float = 0.7
    """Blur of the heat before flooding, pixels: takes out single-pixel steps."""
    offered: float = 0.25
    """Height of drawn continuations and of copies in the flood: above stray heat, below seams."""
    fade: float = 0.12
    """Side of the window, share of the longer side, whose strongest ridge counts as a seam when
    the top is cut: where the network doubts a whole block, its faint ridges are cut too."""
    clear: float = 0.8
    """Heat of a clear seam: windows with less are made up to it."""
    most_gain: float = 3.0
    """But by no more than this factor."""
    step: float = 0.7
    """Least clarity of a step of colour that is cut too, see `_colour_steps`: the network may
    doubt a whole block of plain patches, taking it for a printed one."""
    busy_px: int = 41
    """Side of the window in which steps are compared, half-resolution pixels: a patch or two."""
    visible: float = 4.0
    """A clearly visible difference, CIELAB units."""
    on_ridge: float = 0.3
    """Heat above which a pixel says nothing about the cloth beside it."""
    least_region_px: int = 40
    """Smaller regions do not count for the side of a typical one, half-resolution pixels."""
    copies_from: float = 0.3
    """Heat in other blocks, times their likeness, from which a cut is offered."""
    basins: BasinSettings = field(default_factory=BasinSettings)
    lines: LineSettings = field(default_factory=LineSettings)
    repeat: RepeatSettings = field(default_factory=RepeatSettings)
    merge: MergeSettings = field(default_factory=MergeSettings)
    finish: FinishSettings = field(default_factory=FinishSettings)


def over_cut(
    evidence: SeamEvidence, flat: FlatPicture, mask: NDArray[np.bool_], s: HeatSettings
) -> OverCut:
    """Return the top cut along everything that may be a seam."""
    clipped = np.clip(evidence.seam, 0, 1)
    heat: Float = np.asarray(cv2.GaussianBlur(clipped, (0, 0), s.blur_px), dtype=np.float32)
    small, inside = halved(heat, mask)
    inside = one_piece(inside)
    half = Field(small, _quarter(evidence.cos2), _quarter(evidence.sin2))
    copies = repeats(small, inside, s.repeat)
    shared = copies.heat * copies.trust
    strong = _made_up(small, s)
    first = coarse_basins(strong, inside, s.basins)
    area = np.bincount(first.ravel())[1:]
    area = area[area > s.least_region_px]
    side = float(np.median(np.sqrt(area))) if len(area) else float(s.least_region_px)
    drawn = continuations(
        border_sums(first, half.heat, half.cos2, half.sin2), half, inside, shared, side, s.lines
    )
    lab = lab_of(flat.rgb, (mask.shape[1], mask.shape[0]))
    steps = _colour_steps(lab, small.shape, s)
    offer = np.where((drawn > 0) | (shared > s.copies_from), np.float32(s.offered), 0)
    offer = np.where(steps > s.step, np.float32(s.offered) * (0.5 + steps), offer)
    raised = np.maximum(strong, offer.astype(np.float32))
    coarse = coarse_basins(raised, inside, s.basins)
    full = np.maximum(heat, 0.5 * doubled(offer, mask.shape)).astype(np.float32)
    labels = sharpened(coarse, full, mask, s.basins)
    three = np.ones((3, 3), np.uint8)
    planes = Planes(
        np.asarray(cv2.dilate(heat, three)),
        evidence.cos2,
        evidence.sin2,
        junction=np.asarray(cv2.dilate(evidence.junction, three)),
        repeat=doubled(copies.heat, mask.shape),
        trust=doubled(copies.trust, mask.shape),
        drawn=doubled(drawn.astype(np.float32), mask.shape),
    )
    whole = Field(heat, evidence.cos2, evidence.sin2)
    return OverCut(labels, region_map(labels, planes, lab, s.on_ridge), whole, 2 * side)


def partition_of(
    evidence: SeamEvidence,
    flat: FlatPicture,
    mask: NDArray[np.bool_],
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
    cut = over_cut(evidence, flat, one_piece(mask), s)
    judged = merged(cut.regions, cut.field, cut.side, s.merge)
    return finished(judged, cut, flat.px_per_in, s.finish)


def _made_up(heat: Float, s: HeatSettings) -> Float:
    """Return heat (h, w) with faint parts of the picture made stronger."""
    side = max(3, round(s.fade * max(heat.shape)))
    size = (side, side)
    most = np.asarray(cv2.dilate(cv2.GaussianBlur(heat, (0, 0), 1.5), np.ones(size, np.uint8)))
    gain = np.clip(0.5 * s.clear / np.maximum(cv2.blur(most, size), 1e-3), 1, s.most_gain)
    return np.minimum(heat * gain, 1).astype(np.float32)


def _colour_steps(lab: Float, shape: tuple[int, ...], s: HeatSettings) -> Float:
    """Return how clear a step of colour is at half resolution, 0 to 1.

    The change of CIELAB over four pixels against its level round about, so that the edges
    of a print do not count, and a just visible change.
    """
    small = cv2.resize(lab, (shape[1], shape[0]), interpolation=cv2.INTER_AREA)
    small = np.pad(
        np.asarray(cv2.GaussianBlur(small, (0, 0), 1.0)), ((2, 2), (2, 2), (0, 0)), "edge"
    )
    across = np.linalg.norm(small[2:-2, 4:] - small[2:-2, :-4], axis=2)
    down = np.linalg.norm(small[4:, 2:-2] - small[:-4, 2:-2], axis=2)
    change = np.maximum(across, down).astype(np.float32)
    # A lone edge is a band of some six pixels: worn down, it hardly counts; a print does.
    worn = cv2.erode(change, np.ones((5, 5), np.uint8))
    around = cv2.medianBlur(np.minimum(4 * worn, 255).astype(np.uint8), s.busy_px)
    out: Float = change / (change + np.asarray(around) + s.visible)
    return out.astype(np.float32)


def _quarter(plane: Float) -> Float:
    """Return the plane at half resolution, the mean of four."""
    h, w = plane.shape
    even = np.pad(plane, ((0, h % 2), (0, w % 2)), mode="edge")
    four = quarters(even)
    out: Float = (four[0] + four[1] + four[2] + four[3]) / 4
    return out.astype(np.float32)


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
