"""The top's own frame, and the flat picture that its seams are looked for in."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.projective import Points
from seamwalk.model.picture import FlatPicture, Photo, Rectification, SeamEvidence
from seamwalk.model.top import Top
from seamwalk.scale import FirstCamera


@dataclass(frozen=True, slots=True)
class PictureSettings:
    """Resolutions that the stages work at."""

    coarse_px_per_in: float = 8.0
    """Finding the sheets of paper that cards are printed on."""
    fine_px_per_in: float = 16.0
    """Finding seams: a 1 in strip is 16 pixels wide, a 60 × 80 in top 1.2 MP."""
    least_fine_px_per_in: float = 6.0
    """But the fine picture is never coarser, however coarse the photo: an inch is a patch."""
    largest_fine_mp: float = 6.0
    """The fine picture is made coarser rather than larger than this, megapixels."""
    margin_in: float = 1.5
    """Floor shown round the top in the fine picture, inches."""
    least_covered_in2: float = 1.0
    """A card that touches the top with less than this covers nothing worth a word, square
    inches."""
    reach_in: float = 150.0
    """The cloth is looked for no further than this from the reference, inches."""


@dataclass(frozen=True, slots=True, eq=False)
class FinePicture:
    """The flat picture that seams are looked for in.

    Attributes
    ----------
    flat : FlatPicture
    mask : (H, W) bool
        The top.
    evidence : SeamEvidence
        Of its seams.
    by_cards, hidden : (H, W) bool
        What cards cover of the top, and what anything covers.
    """

    flat: FlatPicture
    mask: NDArray[np.bool_]
    evidence: SeamEvidence
    by_cards: NDArray[np.bool_]
    hidden: NDArray[np.bool_]


def framed(
    photo: Photo, camera: FirstCamera, settings: PictureSettings
) -> tuple[Rectification, Points, tuple[Points, ...]]:
    """Return the camera in the top's own frame, the outline (N, 2) in it, and the cards' sheets.

    Sheets are corners (4, 2) in photo pixels.
    """
    from seamwalk.vision.flatten import flatten, visible_extent
    from seamwalk.vision.outline import find_top, outline_polygon
    from seamwalk.vision.rectify import align
    from seamwalk.vision.sheet import find_sheets, sheet_mask

    rectification = camera.rectification
    sheets_px: tuple[Points, ...] = ()
    outline_px = camera.corners_px
    if outline_px is None or camera.references:
        extent = visible_extent(photo, rectification, settings.reach_in)
        flat = flatten(photo, rectification, extent, settings.coarse_px_per_in)
        sheets_px = find_sheets(flat, camera.references)
        if outline_px is None:
            mask = find_top(flat.rgb, ignore=sheet_mask(flat, sheets_px), seen=flat.seen)
            found_in = flat.in_from_px(outline_polygon(mask))
            outline_px = rectification.view.px_from_top(found_in)
    aligned = align(rectification, rectification.view.top_from_px(outline_px))
    return aligned, aligned.view.top_from_px(outline_px), sheets_px


def fine_picture(
    photo: Photo,
    rectification: Rectification,
    sheets_px: tuple[Points, ...],
    outline_in: Points,
    settings: PictureSettings,
) -> FinePicture:
    """Return the picture to look for seams in, and what is seen there."""
    import cv2

    from seamwalk.vision.flatten import flatten
    from seamwalk.vision.seam_network import look, without_seams
    from seamwalk.vision.sheet import sheet_mask
    from seamwalk.vision.top_mask import things_on

    size = np.ptp(outline_in, axis=0) + 2 * settings.margin_in
    # A picture enlarged beyond what the photo shows is blurred, which looks like no seams.
    native = float(np.median(rectification.px_per_in(outline_in)))
    ppi = min(
        settings.fine_px_per_in,
        max(native, settings.least_fine_px_per_in),
        float(np.sqrt(settings.largest_fine_mp * 1e6 / size.prod())),
    )
    low, high = outline_in.min(axis=0), outline_in.max(axis=0)
    m = settings.margin_in
    extent = (low[0] - m, low[1] - m, high[0] + m, high[1] + m)
    flat = flatten(photo, rectification, extent, ppi)
    drawn = np.zeros(flat.seen.shape, np.uint8)
    ring = np.round(flat.px_from_in(outline_in) * 16).astype(np.int32)
    cv2.fillPoly(drawn, [ring], 1, shift=4)
    mask = drawn > 0
    seen = look(flat.rgb)
    covered = sheet_mask(flat, sheets_px) & mask
    if covered.sum() < settings.least_covered_in2 * ppi**2:
        covered = np.zeros_like(covered)
    hidden = covered | things_on(mask & ~covered, seen.thing, ppi)
    return FinePicture(flat, mask, without_seams(seen.evidence, hidden), covered, hidden)


def shown_extent(top: Top, settings: PictureSettings) -> tuple[float, float, float, float]:
    """Return what a picture of the top shows: left, upper, right, lower, inches."""
    x0, y0, x1, y1 = top.outline.bounds
    m = settings.margin_in
    return x0 - m, y0 - m, x1 + m, y1 + m
