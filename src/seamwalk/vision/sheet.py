"""Where the paper of a reference lies in a flat picture.

A printed card is more than its dark frame: the sheet goes on, white, and how far depends on the
paper and on whether it was trimmed.  So the sheet is followed outwards from each side of the
frame for as long as the cloth there looks like the paper just outside the frame, but no further
than a whole sheet goes: white cloth looks like paper.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.projective import Points
from seamwalk.model.card import CELLS, PAPER_IN
from seamwalk.model.picture import FlatPicture, Reference
from seamwalk.vision.top_mask import drawn


@dataclass(frozen=True, slots=True)
class SheetSettings:
    """How a sheet is followed."""

    step_in: float = 0.1
    """Distance from one line of samples to the next, inches."""
    alike_lab: float = 12.0
    """A sample looks like paper within this of it in CIELAB: shading across a sheet stays below,
    undyed cloth is often darker or warmer than this."""
    least_alike: float = 0.6
    """The sheet goes on where at least this share of a line looks like paper; small print
    leaves about 0.7."""
    print_in: float = 0.5
    """Bars and lettering printed on the sheet hide the paper for no longer than this, inches."""
    rim_in: float = 0.15
    """Added round the sheet for its edge and shadow, inches."""


def find_sheets(
    flat: FlatPicture,
    references: tuple[Reference, ...],
    settings: SheetSettings | None = None,
) -> tuple[Points, ...]:
    """Return the four corners (4, 2) of each reference's sheet, photo pixels.

    Parameters
    ----------
    flat : FlatPicture
        Must show the references with what lies round them.
    """
    s = settings or SheetSettings()
    if not references:
        return ()
    view = flat.rectification.view
    light = flat.rgb.astype(np.float32) / 255
    lab = np.asarray(cv2.cvtColor(light, cv2.COLOR_RGB2LAB), dtype=np.float32)
    sheets = []
    for ref in references:
        frame = view.top_from_px(ref.corners_px)
        margins = [s.rim_in] * 4
        if ref.source == "card":
            found = _whole(frame, [_margin_in(flat, lab, frame, k, s) for k in range(4)])
            margins = [m + s.rim_in for m in found]
        sheets.append(view.px_from_top(_grown(frame, margins)))
    return tuple(sheets)


def sheet_mask(flat: FlatPicture, sheets_px: tuple[Points, ...]) -> NDArray[np.bool_]:
    """Return the pixels (H, W) of a flat picture within the sheets, given in photo pixels."""
    mask = np.zeros(flat.seen.shape, np.bool_)
    for corners_px in sheets_px:
        corners = flat.px_from_in(flat.rectification.view.top_from_px(corners_px))
        mask |= drawn(corners, mask.shape)
    return mask


def _outward(frame: Points, side: int) -> Points:
    """Return the unit vector out of the frame across a side (0 top, 1 right, 2 bottom, 3 left)."""
    along = frame[(side + 1) % 4] - frame[side]
    across = np.array([along[1], -along[0]]) / np.hypot(*along)
    inwards = frame.mean(axis=0) - frame[side]
    out: Points = across if across @ inwards < 0 else -across
    return out


def _margin_in(
    flat: FlatPicture, lab: NDArray[np.float32], frame: Points, side: int, s: SheetSettings
) -> float:
    """Return how far the paper goes on beyond one side of the frame, inches."""
    a, b = frame[side], frame[(side + 1) % 4]
    cell = float(np.hypot(*(b - a))) / CELLS
    out = _outward(frame, side)
    along = a + (b - a) * np.linspace(0.05, 0.95, 40)[:, None]
    farthest = _beside(frame, side) + s.step_in
    distances = np.arange(0.35 * cell, max(farthest, cell), s.step_in)
    pixels = np.concatenate([flat.px_from_in(along + out * d) for d in distances])
    shape = len(distances), len(along)
    x, y = (pixels[:, k].astype(np.float32).reshape(shape) for k in (0, 1))
    # Beyond the picture there is no paper: its black is unlike any.
    seen = cv2.remap(lab, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT)
    paper = np.median(seen[distances <= 0.75 * cell + 1e-9], axis=(0, 1))
    alike = (np.abs(seen - paper).max(axis=2) < s.alike_lab).mean(axis=1)
    paper_at = distances[alike >= s.least_alike]
    gaps = np.flatnonzero(np.diff(paper_at) > s.print_in)
    return float(paper_at[gaps[0]] if len(gaps) else paper_at.max(initial=0.0))


def _beside(frame: Points, side: int) -> float:
    """Return how much paper at most lies beyond a side and the opposite one together, inches."""
    across = float(np.hypot(*(frame[(side + 2) % 4] - frame[(side + 1) % 4])))
    return max(size[(side + 1) % 2] for size in PAPER_IN.values()) - across


def _whole(frame: Points, margins: list[float]) -> list[float]:
    """Return the margins that a sheet can have, of those followed.

    Where both run on into white cloth, the figure stands in the middle.
    """
    out = list(margins)
    for side, own in enumerate(margins):
        both = _beside(frame, side)
        out[side] = min(own, max(both / 2, both - margins[(side + 2) % 4]))
    return out


def _grown(frame: Points, margins: list[float]) -> Points:
    """Return the frame's corners moved outwards by a margin for each side."""
    moved = [_outward(frame, k) * margins[k] for k in range(4)]
    return np.array([frame[k] + moved[k] + moved[k - 1] for k in range(4)])
