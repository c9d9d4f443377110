"""The measured picture: every patch with its size, on the photo seen straight down.

For confirming sizes before a single mark is made.  What is off or cannot be told shows by
outline and words, doubt of seams by the dashes and the colour of their lines; numbered discs
show what to check first.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from seamwalk.model.picture import FlatPicture, Rgb
from seamwalk.model.sizes import Sizes
from seamwalk.model.top import Top
from seamwalk.sheets import size_frame, size_panel
from seamwalk.sheets.check_marks import check_items
from seamwalk.sheets.checks import Check, checks, listed
from seamwalk.sheets.drawing import Drawing, Item, Projection
from seamwalk.sheets.kinds import Kind, kinds
from seamwalk.sheets.patch_labels import (
    block_items,
    label_items,
    verdict_items,
)
from seamwalk.sheets.raster import paint
from seamwalk.sheets.seam_style import seam_items, sureness
from seamwalk.units import Units, pattern_units


@dataclass(frozen=True, slots=True)
class MeasuredSettings:
    """How the measured picture is laid out."""

    longest_px: int = 2600
    """Longer side of the top on the picture: text of eighty patches across stays readable."""
    em_px: float = 32.0
    """Size of the text: 1/80 of the longer side, 2 mm high on a tablet that shows the whole."""
    floor_share: float = 0.012
    """How much of the floor shows round the top, of its longer side."""
    wide: float = 1.15
    """From this ratio of width to height on the panel stands below the picture, not beside it."""
    overhang: float = 1.1
    """A panel beside the picture that is higher than so many heights of it gets two columns:
    more white below the picture would make all of it smaller on a screen."""


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
    margin = size_frame.MARGIN * em
    rows = kinds(sizes, units)
    found = checks(top, sizes, units)
    items, marks = _on_the_top(top, sizes, rows, listed(found), units, em)
    parts = size_panel.sections(sizes, rows, marks, units, em, found)
    column = (size_panel.COLUMN + 1.5) * em
    left, right, lower = frame[0] - margin, frame[2] + margin, frame[3] + margin
    if x1 - x0 < settings.wide * (y1 - y0):
        at, room = (right, frame[1]), lower - frame[1]
        panel, tall = size_panel.arranged(parts, at, 1, em)
        if tall > settings.overhang * room:
            panel, tall = size_panel.arranged(parts, at, 2, em)
            right += column
        right += column
        lower = max(lower, frame[1] + tall + em)
    else:
        columns = max(1, int((right - left - em) / column))
        panel, tall = size_panel.arranged(parts, (left + em, lower + em), columns, em)
        lower += tall + 2 * em
    lines = size_frame.title_lines(flat.rectification, units, warnings, em, right - left - 2 * em)
    upper = frame[1] - margin - size_frame.title_height(lines, em)
    source = flat.rectification.source
    items = [
        *size_frame.title_items(sizes, source, lines, units, (left + em, upper + 0.5 * em), em),
        *size_frame.margin_items(sizes.top, frame, top.outline.bounds, units, em),
        *panel,
        *items,
    ]
    projection = Projection.flat((left, upper), px_per_in)
    shape = (round((lower - upper) * px_per_in), round((right - left) * px_per_in))
    ground = laid_flat(flat, frame, projection, shape)
    return paint(Drawing((left, upper, right, lower), tuple(items)), ground, projection)


def _on_the_top(
    top: Top,
    sizes: Sizes,
    rows: Sequence[Kind],
    found: Sequence[Check],
    units: Units,
    em: float,
) -> tuple[list[Item], frozenset[str]]:
    """Return what is drawn on the top itself, and what of it needs explaining."""
    by_id = {patch.id: patch for patch in top.patches}
    letters = size_panel.class_letters(rows)
    # The less sure are drawn over the surer, so that no casing hides a dot at a junction.
    order = {"sure": 0, "likely": 1, "unsure": 2}
    by_doubt = sorted(top.seams, key=lambda seam: order[sureness(seam)])
    seams = [i for seam in by_doubt for i in seam_items(seam, em)]
    verdicts: list[Item] = []
    labels: list[Item] = []
    marks: set[str] = {sureness(seam) for seam in top.seams}
    for size in sizes.patches:
        patch = by_id[size.patch]
        verdicts += verdict_items(size, patch, em)
        items, lettered = label_items(size, patch, letters[size.class_name], units, em)
        labels += items
        if size.finished.verdict != "right":
            marks.add(size.finished.verdict)
        if lettered and items:
            marks.add("letter")
    block: list[Item] = []
    if sizes.block is not None:
        block = block_items(sizes.block, pattern_units(sizes.grain_in, units), em)
        marks.add("block")
    discs = check_items(found, top, [*block, *labels], em)
    if discs:
        marks.add("check")
    return [*seams, *verdicts, *block, *labels, *discs], frozenset(marks)


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
