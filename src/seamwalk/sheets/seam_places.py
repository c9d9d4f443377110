"""Where a seam lies, in the words of someone who looks at the top with a ruler at hand."""

from seamwalk.geometry.curve import Point
from seamwalk.model.places import Places
from seamwalk.model.top import PatchId, Seam, Top
from seamwalk.sheets.doubtful_lines import DoubtfulLine
from seamwalk.sheets.size_text import short_length
from seamwalk.units import Units

_UPRIGHT = 0.2
"""A line is upright or across within this slope: 11°, less than the bends of a seam line."""


class SeamPlaces:
    """Words for the places of seams and patches of one top."""

    def __init__(self, top: Top, units: Units) -> None:
        self.bounds: tuple[float, float, float, float] = top.outline.bounds
        self.units = units
        self.places = Places(top)
        self.index = {p.id: k for k, p in enumerate(top.patches)}
        self.centre = {p.id: p.polygon.centroid.coords[0] for p in top.patches}

    def patch(self, patch: PatchId) -> str:
        """Return like ``third from the left, top row``."""
        return self.places.words(self.index[patch])

    def edge(self, seam: Seam) -> str:
        """Return like ``the upper edge, 3 in from the left`` for a piece of the outer edge."""
        x, y = middle(seam)
        x0, y0, x1, y1 = self.bounds
        aside = {"upper": y - y0, "right": x1 - x, "lower": y1 - y, "left": x - x0}
        name = min(aside, key=lambda n: aside[n])
        along = self._across(x) if name in ("upper", "lower") else self._down(y)
        return f"the {name} edge, {along}"

    def line(self, line: DoubtfulLine) -> str:
        """Return like ``upright, 12 in from the left`` for a line, else the side of a patch."""
        seam = line.look_at
        if len(line.seams) == 1:
            return self._beside(seam)
        points = [p for s in line.seams for p in s.points]
        wide, high = (max(v) - min(v) for v in zip(*points, strict=True))
        x, y = middle(seam)
        if wide < _UPRIGHT * high:
            return f"upright, {self._across(x)}"
        if high < _UPRIGHT * wide:
            return f"across, {self._down(y)}"
        return f"slanting, {self._beside(seam)}"

    def _beside(self, seam: Seam) -> str:
        """Return on which side of the seam's first patch it lies."""
        patch = min(p for p in (seam.left, seam.right) if p is not None)
        (x, y), (cx, cy) = middle(seam), self.centre[patch]
        if abs(x - cx) > abs(y - cy):
            side = "right of" if x > cx else "left of"
        else:
            side = "below" if y > cy else "above"
        words = self.patch(patch)
        return f"{side} {words}" if words.startswith("the strip") else f"{side} the patch {words}"

    def _across(self, x: float) -> str:
        return self._from_nearer(x - self.bounds[0], self.bounds[2] - x, "left", "right")

    def _down(self, y: float) -> str:
        return self._from_nearer(y - self.bounds[1], self.bounds[3] - y, "top", "bottom")

    def _from_nearer(self, one: float, other: float, near: str, far: str) -> str:
        length, name = (one, near) if one <= other else (other, far)
        return f"{short_length(length, self.units)} {self.units} from the {name}"


def middle(seam: Seam) -> Point:
    """Return the point half way along a seam."""
    curve = seam.curve
    x, y = curve.part(0.0, curve.length / 2).end
    return float(x), float(y)
