"""The top's own frame, and the flat picture that its seams are looked for in."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from seamwalk.errors import TopNotFoundError
from seamwalk.geometry.projective import Points
from seamwalk.model.picture import FlatPicture, Photo, Rectification, SeamEvidence
from seamwalk.model.top import Top
from seamwalk.scale import FirstCamera

if TYPE_CHECKING:
    from seamwalk.vision.outline import PhotoLook
    from seamwalk.vision.seam_network import Look


BURNT = 254
"""Where all three channels reach this, of 255, more light would not have shown."""


@dataclass(frozen=True, slots=True)
class PictureSettings:
    """Resolutions that the stages work at."""

    coarse_px_per_in: float = 8.0
    """Finding the sheets of paper that cards are printed on."""
    fine_px_per_in: float = 16.0
    """Finding seams: a 1 in strip is 16 pixels wide, a 60 × 80 in top 1.2 MP."""
    least_fine_px: int = 640
    """The longer side of the fine picture has at least so many pixels, as far as the photo shows
    more: the network learned from pictures of this side, and takes smaller chequers for floors."""
    least_fine_px_per_in: float = 6.0
    """But the fine picture is never coarser, however coarse the photo: an inch is a patch."""
    largest_fine_mp: float = 6.0
    """The fine picture is made coarser rather than larger than this, megapixels."""
    margin_in: float = 1.5
    """Floor shown round the top in pictures of it, inches."""
    floor_in: float = 3.0
    """Floor shown round the top where its edge is looked for, inches: of a narrower strip nobody
    could say whether it is floor or one more border."""
    widenings: int = 2
    """How often more floor is shown, where the top turns out to be larger than the picture."""
    least_covered_in2: float = 1.0
    """A card that touches the top with less than this covers nothing worth a word, square
    inches."""
    most_burnt: float = 0.03
    """Share of the top that may be burned out to white without a word."""
    blurred_px: float = 2.5
    """Blur of a card's edges, σ in pixels, that is worth a word: seams are as blurred."""
    reach_in: float = 150.0
    """The cloth is looked for no further than this from the reference, inches."""


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """The top as first found.

    Attributes
    ----------
    rectification : Rectification
        The camera in the top's own frame.
    outline_in : (N, 2) float64
        Outline, in that frame.
    sheets_px : tuple of (4, 2) float64
        Corners of the cards' sheets, photo pixels.
    look : PhotoLook or None
        What the outline was found in; None where it was given by hand.
    """

    rectification: Rectification
    outline_in: Points
    sheets_px: tuple[Points, ...]
    look: "PhotoLook | None"


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
    burnt : float
        Share of the top that is white beyond what the camera could record.
    by_photo : bool
        The outline was found in the whole photo only: from close by, the floor passes for cloth.
    """

    flat: FlatPicture
    mask: NDArray[np.bool_]
    evidence: SeamEvidence
    by_cards: NDArray[np.bool_]
    hidden: NDArray[np.bool_]
    burnt: float
    by_photo: bool


def framed(photo: Photo, camera: FirstCamera, settings: PictureSettings) -> Frame:
    """Return the top as first found."""
    from seamwalk.vision.flatten import flatten, visible_extent
    from seamwalk.vision.outline import look_at_photo
    from seamwalk.vision.rectify import align
    from seamwalk.vision.sheet import find_sheets

    rectification = camera.rectification
    sheets_px: tuple[Points, ...] = ()
    if camera.references:
        extent = visible_extent(photo, rectification, settings.reach_in)
        flat = flatten(photo, rectification, extent, settings.coarse_px_per_in)
        sheets_px = find_sheets(flat, camera.references)
    outline_px, look = camera.corners_px, None
    if outline_px is None:
        look = look_at_photo(photo, sheets_px)
        outline_px = look.outline_px
    aligned = align(rectification, rectification.view.top_from_px(outline_px))
    return Frame(aligned, aligned.view.top_from_px(outline_px), sheets_px, look)


def fine_picture(photo: Photo, frame: Frame, settings: PictureSettings) -> FinePicture:
    """Return the picture to look for seams in, and what is seen there.

    Raises
    ------
    TopNotFoundError
        If the photo does not show the whole top.
    """
    from seamwalk.vision.seam_network import without_seams
    from seamwalk.vision.top_mask import drawn, things_on

    trusted = frame.look is None or not frame.look.by_rim
    try:
        flat, seen, sheets, outline_in = _looked_at_closely(photo, frame, settings, trusted)
    except TopNotFoundError:
        if not trusted:
            raise
        # A floor of squares can pass for more of the top from close by. If the photo says the
        # same, it is the photo's sentence that is raised.
        trusted = False
        flat, seen, sheets, outline_in = _looked_at_closely(photo, frame, settings, trusted)
    ppi = flat.px_per_in
    mask = drawn(flat.px_from_in(outline_in), flat.seen.shape)
    covered = sheets & mask
    if covered.sum() < settings.least_covered_in2 * ppi**2:
        covered = np.zeros_like(covered)
    hidden = covered | things_on(mask & ~covered, seen.thing, ppi)
    evidence = without_seams(seen.evidence, hidden)
    burnt = float((flat.rgb[mask & ~hidden].min(axis=1) >= BURNT).mean())
    return FinePicture(flat, mask, evidence, covered, hidden, burnt, not trusted)


def _looked_at_closely(
    photo: Photo, frame: Frame, settings: PictureSettings, trusted: bool
) -> tuple[FlatPicture, "Look", NDArray[np.bool_], Points]:
    """Return the flat picture, what is seen there, where sheets lie, and the outline, inches.

    Parameters
    ----------
    trusted : bool
        Whether a close look has a say in where the top ends.

    Raises
    ------
    TopNotFoundError
        If the photo does not show the whole top, or a close look finds no end of it.
    """
    from seamwalk.vision.outline import outline_in_flat
    from seamwalk.vision.seam_network import look
    from seamwalk.vision.sheet import sheet_mask

    outline_in = frame.outline_in
    for _ in range(settings.widenings + 1):
        flat = _looked_at(photo, frame.rectification, outline_in, settings)
        seen, sheets = look(flat.rgb), sheet_mask(flat, frame.sheets_px)
        if frame.look is None:
            break
        before = outline_in
        outline_in = outline_in_flat(flat, seen if trusted else None, frame.look, sheets)
        grown = np.maximum(before.min(axis=0) - outline_in.min(axis=0), 0)
        grown = np.maximum(grown, outline_in.max(axis=0) - before.max(axis=0))
        if grown.max() < settings.floor_in - settings.margin_in:
            break
    else:
        if trusted:
            raise TopNotFoundError(
                "I can't tell where the top ends and the floor begins.",
                "Lay it on a floor of another colour, or give its corners with --corners.",
            )
    return flat, seen, sheets, outline_in


def _looked_at(
    photo: Photo, rectification: Rectification, outline_in: Points, settings: PictureSettings
) -> FlatPicture:
    """Return the top and some floor, straight down, as fine as seams are looked for."""
    from seamwalk.vision.flatten import flatten

    m = settings.floor_in
    size = np.ptp(outline_in, axis=0) + 2 * m
    # A picture enlarged beyond what the photo shows is blurred, which looks like no seams.
    native = float(np.median(rectification.px_per_in(outline_in)))
    ppi = min(
        max(settings.fine_px_per_in, settings.least_fine_px / float(size.max())),
        max(native, settings.least_fine_px_per_in),
        float(np.sqrt(settings.largest_fine_mp * 1e6 / size.prod())),
    )
    low, high = outline_in.min(axis=0), outline_in.max(axis=0)
    extent = (low[0] - m, low[1] - m, high[0] + m, high[1] + m)
    return flatten(photo, rectification, extent, ppi)


def shown_extent(top: Top, settings: PictureSettings) -> tuple[float, float, float, float]:
    """Return what a picture of the top shows: left, upper, right, lower, inches."""
    x0, y0, x1, y1 = top.outline.bounds
    m = settings.margin_in
    return x0 - m, y0 - m, x1 + m, y1 + m
