"""The top cut along everything that may be a seam: more cuts than seams.

Along every ridge of the heat and at every neck (:mod:`heat_basins`), along clear steps of colour,
along straight continuations of clear seams (:mod:`heat_lines`), and where other blocks have a seam
(:mod:`heat_repeat`, :mod:`heat_again`).
"""

from dataclasses import dataclass, field, fields

import cv2
import numpy as np
from numpy.typing import NDArray

from seamwalk.model.picture import FlatPicture, SeamEvidence
from seamwalk.vision.heat_again import Support
from seamwalk.vision.heat_basins import (
    BasinSettings,
    coarse_basins,
    doubled,
    halved,
    quarters,
    sharpened,
)
from seamwalk.vision.heat_finish import OverCut
from seamwalk.vision.heat_graph import Array, Planes, border_sums, region_map
from seamwalk.vision.heat_lines import Field, LineSettings, continuations
from seamwalk.vision.heat_repeat import Repeat, RepeatSettings, repeats
from seamwalk.vision.heat_under import apart
from seamwalk.vision.partition import one_piece
from seamwalk.vision.workpicture import lab_of

Float = NDArray[np.float32]
Labels = NDArray[np.int32]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class CutSettings:
    """Where the top is cut."""

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
    again_from: float = 0.12
    """Share of other blocks with a seam, times belief, from which a second look offers one."""
    filled: float = 0.5
    """Copies offer nothing in a region of which they cover more than this: as wide as a seam may
    lie off its place, they would fill a narrow strip and leave nothing of it to part."""
    basins: BasinSettings = field(default_factory=BasinSettings)
    lines: LineSettings = field(default_factory=LineSettings)
    repeat: RepeatSettings = field(default_factory=RepeatSettings)


@dataclass(frozen=True, slots=True, eq=False)
class Look:
    """What is known before any cut; halves are at half resolution.

    Attributes
    ----------
    heat, lab : (H, W), (H, W, 3) float32
        Heat, a little blurred, and CIELAB.
    mask, hidden : (H, W) bool
        The top, and what of it something covers.
    inside, shown : (h, w) bool
        The top at half resolution, and what of it nothing covers.
    half : Field
        Heat and direction.
    strong, steps : (h, w) float32
        Heat with faint parts made stronger; how clear a step of colour is.
    first : (h, w) int32
        Regions between the ridges.
    borders : (M, ·) float64
        Of `first`.
    side : float
        Of a typical one of them, half-resolution pixels.
    copies : Repeat
    """

    evidence: SeamEvidence
    heat: Float
    lab: Float
    mask: Mask
    hidden: Mask
    inside: Mask
    shown: Mask
    half: Field
    strong: Float
    steps: Float
    first: Labels
    borders: Array
    side: float
    copies: Repeat


def looked(
    evidence: SeamEvidence,
    flat: FlatPicture,
    mask: Mask,
    s: CutSettings,
    hidden: Mask | None = None,
) -> Look:
    """Return all that the cuts are made from; `hidden` (H, W) is covered by something."""
    clipped = np.clip(evidence.seam, 0, 1)
    heat: Float = np.asarray(cv2.GaussianBlur(clipped, (0, 0), s.blur_px), dtype=np.float32)
    small, inside = halved(heat, mask)
    inside = one_piece(inside)
    half = Field(small, _quarter(evidence.cos2), _quarter(evidence.sin2))
    strong = _made_up(small, s)
    hidden = np.zeros_like(mask) if hidden is None else hidden & mask
    # No basin may run from patch to patch under what covers them.
    shown = inside & ~_any_of(hidden)
    first = coarse_basins(strong, shown, s.basins)
    area = np.bincount(first.ravel())[1:]
    area = area[area > s.least_region_px]
    lab = lab_of(flat.rgb, (mask.shape[1], mask.shape[0]))
    return Look(
        evidence,
        heat,
        lab,
        mask,
        hidden,
        inside,
        shown,
        half,
        strong,
        _colour_steps(lab, small.shape, s),
        first,
        border_sums(first, half.heat, half.cos2, half.sin2),
        float(np.median(np.sqrt(area))) if len(area) else float(s.least_region_px),
        repeats(small, inside, s.repeat),
    )


def cut(look: Look, s: CutSettings, told: Support | None = None) -> OverCut:
    """Return the top cut along everything that may be a seam, covered parts left out.

    Parameters
    ----------
    told : Support or None
        What a second look at other blocks says, once there was one.
    """
    shape, heat = look.mask.shape, look.heat
    shared = look.copies.heat * look.copies.trust
    if told is not None:
        # Few that have a seam are enough to ask.
        few = told.seam * told.belief * np.float32(s.copies_from / s.again_from)
        shared = np.maximum(shared, few)
    drawn = continuations(look.borders, look.half, look.inside, shared, look.side, s.lines)
    offered = (drawn > 0) | _lines_only(shared > s.copies_from, look.first, s.filled)
    offer = np.where(offered, np.float32(s.offered), 0)
    clear = look.steps > s.step
    offer = np.where(clear, np.float32(s.offered) * (0.5 + look.steps), offer).astype(np.float32)
    coarse = coarse_basins(np.maximum(look.strong, offer), look.shown, s.basins)
    full = np.maximum(heat, 0.5 * doubled(offer, shape)).astype(np.float32)
    labels = sharpened(coarse, full, look.mask, s.basins)
    if look.hidden.any():
        labels = apart(labels, look.hidden)
    three = np.ones((3, 3), np.uint8)
    evidence = look.evidence
    wide = (
        None
        if told is None
        else Support(*(doubled(getattr(told, f.name), shape) for f in fields(told)))
    )
    planes = Planes(
        np.asarray(cv2.dilate(heat, three)),
        evidence.cos2,
        evidence.sin2,
        junction=np.asarray(cv2.dilate(evidence.junction, three)),
        repeat=doubled(look.copies.heat, shape),
        trust=doubled(look.copies.trust, shape),
        drawn=doubled(drawn.astype(np.float32), shape),
        told=wide,
    )
    found = None if wide is None else wide.found
    whole = Field(heat, evidence.cos2, evidence.sin2, evidence.junction, found)
    return OverCut(labels, region_map(labels, planes, look.lab, s.on_ridge), whole, 2 * look.side)


def _any_of(mask: Mask) -> Mask:
    """Return at half resolution where any of four pixels is set."""
    return halved(np.zeros(mask.shape, np.float32), mask)[1]


def _lines_only(offered: Mask, regions: Labels, most: float) -> Mask:
    """Return where cuts are offered, without regions of which more than a share would be cut."""
    n = int(regions.max()) + 1
    covered = np.bincount(regions[offered], minlength=n)
    fills = covered > most * np.bincount(regions.ravel(), minlength=n)
    out: Mask = offered & ~fills[regions]
    return out


def _made_up(heat: Float, s: CutSettings) -> Float:
    """Return heat (h, w) with faint parts of the picture made stronger."""
    side = max(3, round(s.fade * max(heat.shape)))
    size = (side, side)
    most = np.asarray(cv2.dilate(cv2.GaussianBlur(heat, (0, 0), 1.5), np.ones(size, np.uint8)))
    gain = np.clip(0.5 * s.clear / np.maximum(cv2.blur(most, size), 1e-3), 1, s.most_gain)
    return np.minimum(heat * gain, 1).astype(np.float32)


def _colour_steps(lab: Float, shape: tuple[int, ...], s: CutSettings) -> Float:
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
