"""Lengths that someone measured with a tape, as evidence for the camera.

One edge read off a tape fixes what cards leave open far from them: the scale over there.  It
counts with its own standard deviation, so that it neither overrules the cards nor is overruled.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamwalk.errors import UsageError
from seamwalk.geometry.projective import Points, apply
from seamwalk.model.picture import Rectification, View
from seamwalk.units import Units, format_length, parse_length
from seamwalk.vision.camera_model import Camera

Floats = NDArray[np.float64]

SIDES = ("top", "right", "bottom", "left")
"""Edges of a top in the order of its corners, from the upper left on."""

MIDDLES = ("width", "height")
"""Lengths through the middle, from the middle of one edge to that of the opposite one."""

TAPE_SIGMA_IN = 1 / 16
"""Standard deviation of a length read off a tape laid along a raw edge, inches: half a mark of an
eighth, and cloth that gives (common practice, no source)."""

_HOW = (
    'Name the edge and its length, like --tape "left=71 3/8"; edges are top, right, bottom, left, '
    "and width and height go through the middle."
)


@dataclass(frozen=True, slots=True)
class TapeMeasure:
    """One edge, or width or height, and what the tape said, inches."""

    side: str
    length_in: float
    sigma_in: float = TAPE_SIGMA_IN


@dataclass(frozen=True, slots=True, eq=False)
class TapeEvidence:
    """A length between two places in the photo; call it for its residual.

    Attributes
    ----------
    px : (2, 2) float64
        Its ends, pixels.
    """

    px: Points
    length_in: float
    sigma_in: float

    def __call__(self, camera: Camera, theta: Floats) -> Floats:
        """Return how far off the length is, in standard deviations, (1,)."""
        del theta
        a, b = apply(camera.top_from_ray, camera.lens.ray_from_px(self.px))
        return np.array([(float(np.hypot(*(b - a))) - self.length_in) / self.sigma_in])


def parse_tape(texts: Sequence[str], units: Units) -> tuple[TapeMeasure, ...]:
    """Return what ``--tape`` gave.

    Raises
    ------
    UsageError
        If an edge is not one of the four, is given twice, or its length is no length.
    """
    found: dict[str, TapeMeasure] = {}
    for text in texts:
        name, sep, value = text.partition("=")
        side = re.sub(r"[\s_-]+", " ", name.strip().lower()).removesuffix(" edge")
        if not sep or side not in SIDES + MIDDLES:
            raise UsageError(f"--tape “{text}” is not an edge and its length.", _HOW)
        if side in found:
            raise UsageError(f"“{side}” is given twice with --tape.", "Give it once.")
        found[side] = TapeMeasure(side, parse_length(value, default=units))
    return tuple(found.values())


def tape_evidence(
    measures: Sequence[TapeMeasure], corners_in: Points, view: View
) -> tuple[TapeEvidence, ...]:
    """Return the measures as evidence.

    Parameters
    ----------
    corners_in : (4, 2) float64
        Corners of the top: upper left, upper right, lower right, lower left, inches.
    view : View
        First camera, by which these places were found in the photo.
    """
    after = np.roll(corners_in, -1, axis=0)
    middles = (corners_in + after) / 2
    ends = dict(zip(SIDES, zip(corners_in, after, strict=True), strict=True))
    ends["width"], ends["height"] = (middles[3], middles[1]), (middles[0], middles[2])
    return tuple(
        TapeEvidence(view.px_from_top(np.array(ends[m.side])), m.length_in, m.sigma_in)
        for m in measures
    )


def believed(
    measures: Sequence[TapeMeasure],
    evidence: Sequence[TapeEvidence],
    before: Rectification,
    units: Units,
) -> tuple[tuple[TapeEvidence, ...], tuple[str, ...]]:
    """Return the measures that the photo by itself bears out, and a sentence on each other one.

    A tape that says something else than the cards was read wrongly or laid elsewhere, or else
    the cards' side was: the fit would lie between the two, where neither is right.

    Parameters
    ----------
    before : Rectification
        The camera fitted without any tape.
    """
    kept, out = [], []
    for measure, seen in zip(measures, evidence, strict=True):
        a, b = before.view.top_from_px(seen.px)
        length = float(np.hypot(*(b - a)))
        variance = measure.sigma_in**2
        for mode in before.modes:
            c, d = mode.top_from_px(seen.px)
            variance += (float(np.hypot(*(d - c))) - length) ** 2
        if abs(length - measure.length_in) <= 4 * np.sqrt(variance):
            kept.append(seen)
            continue
        out.append(
            f"You say {format_length(measure.length_in, units)} for the "
            f"{measure.side}{' edge' if measure.side in SIDES else ''}, the photo "
            f"{format_length(length, units)}, and both can't be right, so yours is left out here: "
            "measure there and the card's dark frame again before you mark."
        )
    return tuple(kept), tuple(out)
