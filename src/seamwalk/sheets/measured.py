"""The measured picture: every patch with its size, on the photo seen straight down.

For confirming sizes before a single mark is made.  What is off or cannot be told shows by
outline and words, doubt of seams by the style of their lines.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from seamwalk.model.picture import FlatPicture, Rgb
from seamwalk.model.sizes import Sizes
from seamwalk.model.top import Top
from seamwalk.sheets import size_panel
from seamwalk.sheets.drawing import Drawing, Item, Projection
from seamwalk.sheets.patch_labels import label_items, seam_item, verdict_items
from seamwalk.sheets.raster import paint
from seamwalk.units import Units


@dataclass(frozen=True, slots=True)
class MeasuredSettings:
    """How the measured picture is laid out."""

    longest_px: int = 2600
    """Longer side of the top on the picture: text of eighty patches across stays readable."""
    em_px: float = 26.0
    """Size of the text: 1/100 of the longer side."""
    floor_share: float = 0.012
    """How much of the floor shows round the top, of its longer side."""


MEASURED = MeasuredSettings()


def measured(
    flat: FlatPicture,
    top: Top,
    sizes: Sizes,
    units: Units = "in",
    *,
    warnings: Sequence[str] = (),
    settings: MeasuredSettings = MEASURED,
) -> Rgb:
    """Return the measured picture, (H, W, 3) uint8.

    Parameters
    ----------
    flat : FlatPicture
        The photo seen straight down.
    top : Top
        Patches and seams, in the flat picture's frame.
    sizes : Sizes
        Sizes of the same top.
    units : {"in", "cm"}
        For everything written.
    warnings : sequence of str
        Shown under the title.
    """
    x0, y0, x1, y1 = top.outline.bounds
    longest = max(x1 - x0, y1 - y0)
    px_per_in = settings.longest_px / longest
    em = settings.em_px / px_per_in
    floor = settings.floor_share * longest
    frame = (x0 - floor, y0 - floor, x1 + floor, y1 + floor)
    margin = size_panel.MARGIN * em
    left, right = frame[0] - margin, frame[2] + margin + size_panel.PANEL * em
    room = right - left - 2 * em
    lines = size_panel.title_lines(flat.rectification, units, warnings, em, room)
    head = size_panel.title_height(lines, em)
    upper = frame[1] - margin - head
    # The panel needs a certain height even beside a very wide top.
    lower = max(frame[3] + margin, frame[1] + 26 * em)

    by_id = {patch.id: patch for patch in top.patches}
    letters = size_panel.class_letters(sizes)
    seams: list[Item] = [i for seam in top.seams for i in seam_item(seam, em)]
    verdicts: list[Item] = []
    labels: list[Item] = []
    only_letter: set[str] = set()
    for size in sizes.patches:
        patch = by_id[size.patch]
        verdicts += verdict_items(size, patch, em)
        items, lettered = label_items(size, patch, letters[size.class_name], units, em)
        labels += items
        if lettered:
            only_letter.add(size.class_name)
    items = [
        *size_panel.title_items(
            sizes,
            flat.rectification.source,
            lines,
            units,
            (left + em, upper + 0.5 * em),
            em,
        ),
        *size_panel.margin_items(sizes.top, frame, top.outline.bounds, units, em),
        *size_panel.panel_items(
            sizes, only_letter, units, (frame[2] + margin, frame[1]), lower - frame[1], em
        ),
        *seams,
        *verdicts,
        *labels,
    ]
    projection = Projection.flat((left, upper), px_per_in)
    shape = (round((lower - upper) * px_per_in), round((right - left) * px_per_in))
    ground = laid_flat(flat, frame, projection, shape)
    return paint(Drawing((left, upper, right, lower), tuple(items)), ground, projection)


def laid_flat(
    flat: FlatPicture,
    frame: tuple[float, float, float, float],
    projection: Projection,
    shape: tuple[int, int],
) -> Rgb:
    """Return white paper (H, W, 3) with part of the flat picture on it.

    Parameters
    ----------
    frame : (x0, y0, x1, y1)
        Part to show, inches; where the flat picture does not reach stays white.
    projection : Projection
        Place and scale on the paper.
    shape : (int, int)
        Height and width of the paper, pixels.
    """
    paper = np.full((*shape, 3), 255, np.uint8)
    corners = projection.px_from_in(np.array([frame[:2], frame[2:]]))
    (c0, r0), (c1, r1) = np.rint(corners + 0.5).astype(int)
    k = projection.px_per_in / flat.px_per_in
    source = flat.rgb
    if k < 1:
        # Average down first: sampling alone would make fine prints shimmer.
        size = (max(1, round(source.shape[1] * k)), max(1, round(source.shape[0] * k)))
        source = np.asarray(cv2.resize(source, size, interpolation=cv2.INTER_AREA), np.uint8)
    sx, sy = source.shape[1] / flat.rgb.shape[1], source.shape[0] / flat.rgb.shape[0]
    # Source pixel of the first target pixel's centre, and step per target pixel.
    at = flat.px_from_in(projection.in_from_px(np.array([[c0, r0], [c0 + 1, r0 + 1]])))
    at = (at + 0.5) * [sx, sy] - 0.5
    (ox, oy), (dx, dy) = at[0], at[1] - at[0]
    source_from_target = np.array([[dx, 0, ox], [0, dy, oy]])
    part = cv2.warpAffine(
        source,
        source_from_target,
        (c1 - c0, r1 - r0),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=(255, 255, 255),
    )
    paper[r0:r1, c0:c1] = part
    return paper
