"""Piano keys: lines across a border, evenly fitted to each of its sides.

Between the inner corners the side is divided into whole keys.  In a corner the keys of both sides
run on until they meet on the corner's diagonal, as many on either side, so that each pair is a
line that turns the corner: a mitre of lines, whether the corner itself is mitred, butted or a
square.  A key that would lie in a seam is left to the ditch.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from seamwalk.geometry.curve import Curve, Line, Point
from seamwalk.model.choice import MotifChoice
from seamwalk.model.stitching import Stroke
from seamwalk.motifs.border_sides import BorderSide, Ends
from seamwalk.motifs.borders import Border, borders
from seamwalk.motifs.instead import instead
from seamwalk.motifs.laid_over import Laid, laid_over
from seamwalk.motifs.motif import Region, StrokePlan


@dataclass(frozen=True, slots=True)
class KeySettings:
    """Width of keys where nothing else is asked for."""

    spacing_in: float = 1.5
    """Distance from line to line, inches: 1 to 2 in are usual (common practice, no source)."""
    beyond_in: float = 0.5
    """How far lines are drawn on past a strip's long sides, to be cut where these really run,
    inches: five times what a junction may be off."""
    seam_in: float = 1 / 8
    """A line running this close beside a seam is left to the ditch, inches."""


def piano_keys(
    region: Region, choice: MotifChoice, settings: KeySettings | None = None
) -> StrokePlan:
    """Return lines across every border and strip in the region, `choice.spacing_in` apart or so.

    Patches that are no part of a strip are left out.
    """
    settings = settings or KeySettings()
    strokes: list[Stroke] = []
    served: set[int] = set()
    found = borders(region)
    spacing = choice.spacing_in or settings.spacing_in
    warnings: list[str] = []
    lengths = [math.dist(*side.inner) for border in found for side in border.sides]
    if choice.spacing_in is not None and lengths and _count(max(lengths), spacing) < 2:
        room = "no side has room for two"
        warnings = instead("Keys are {} wide", spacing, lengths, room, region.units)
    for border in found:
        outlines = [o for o in region.outlines if o.patch in border.patches]
        served.update(o.patch for o in outlines)
        laid = list(_keys(border, spacing, settings.beyond_in))
        strokes += _off_seams(region, laid_over(region, laid, choice, outlines), settings.seam_in)
    left_out = tuple(o.patch for o in region.outlines if o.patch not in served)
    return StrokePlan(tuple(strokes), tuple(warnings), left_out)


def _count(length: float, spacing: float) -> int:
    """Return how many whole keys a length has."""
    return max(1, round(length / spacing))


def _keys(border: Border, spacing: float, beyond: float) -> Iterator[Laid]:
    """Yield all keys of a border: those of each side, then those of the corner after it."""
    strips = border.sides
    for k, strip in enumerate(strips):
        name = f"key-{strip.patches[0]}"
        count = _count(math.dist(*strip.inner), spacing)
        outer = (_foot(strip.inner[0], strip.outer), _foot(strip.inner[1], strip.outer))
        for i in range(1, count):
            yield _key(f"{name}-{i}", _at(strip.inner, i / count), _at(outer, i / count), beyond)
        if border.corners[k] != "open":
            yield from _turned(name, strip, strips[(k + 1) % len(strips)], spacing, beyond)


def _turned(
    name: str, one: BorderSide, other: BorderSide, spacing: float, beyond: float
) -> Iterator[Laid]:
    """Yield the keys of a corner, in pairs that meet on its diagonal."""
    inside, outside = one.inner[1], one.outer[1]
    count = _count((one.width_in + other.width_in) / 2, spacing)
    for i in range(count):
        meet = _at((inside, outside), i / count)
        for side, strip in (("a", one), ("b", other)):
            far = _at((_foot(inside, strip.outer), outside), i / count)
            yield _key(f"{name}-corner-{i + 1}{side}", meet, far, beyond, turns=True)


def _key(name: str, start: Point, end: Point, beyond: float, *, turns: bool = False) -> Laid:
    """Return a key drawn on past the outer side, and past the inner one unless it turns there."""
    length = math.dist(start, end)
    far = (0.0 if turns else -beyond / length, 1 + beyond / length)
    curve = Curve((Line(_at((start, end), far[0]), _at((start, end), far[1])),))
    return Laid(name, curve, name, "ruler")


def _foot(p: Point, line: Ends) -> Point:
    """Return the point of a line that is nearest to `p`."""
    (x0, y0), (x1, y1) = line
    dx, dy = x1 - x0, y1 - y0
    return _at(line, ((p[0] - x0) * dx + (p[1] - y0) * dy) / (dx * dx + dy * dy))


def _at(line: Ends, t: float) -> Point:
    (x0, y0), (x1, y1) = line
    if t == 0:
        return line[0]
    return (x0 + t * (x1 - x0), y0 + t * (y1 - y0))


def _off_seams(region: Region, strokes: Sequence[Stroke], seam_in: float) -> list[Stroke]:
    """Return the strokes without those that run beside a side of their patch."""
    if not strokes:
        return []
    known = region.area.outlines
    sides = [known[s.patch].polygon.exterior for s in strokes if s.patch is not None]
    spots = np.array([[s.curve.pieces[0].at(t) for t in (0.25, 0.5, 0.75)] for s in strokes])
    gap = shapely.distance(np.array(sides)[:, None], shapely.points(spots)).max(axis=1)
    # A crumb of a key that crosses a seam near its end lies beside it too, and joins the rest.
    return [
        s
        for s, d in zip(strokes, gap.tolist(), strict=True)
        if d > seam_in or s.curve.length < 2 * seam_in
    ]
