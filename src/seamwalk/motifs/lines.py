"""Straight lines and crosshatch.

Without an angle each patch is taken for a strip: its lines run along it, evenly spaced between
its two long sides, and where two strips with equally many lines meet in a mitre the lines meet
too.  With an angle the lines run on through all patches of the region, as if ruled over the whole
top, and are split where they cross a seam.  Lines that would all but touch a junction go through
it, and where one would run beside a seam that ditch is stitched in its place.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.curve import Curve, Line, Point
from seamwalk.geometry.polygon import off_ring
from seamwalk.model.choice import MotifChoice
from seamwalk.model.stitching import Stroke, StrokeId
from seamwalk.model.top import PatchId, Seam
from seamwalk.motifs.ditch import ditch_strokes
from seamwalk.motifs.instead import instead
from seamwalk.motifs.motif import Region, StrokePlan
from seamwalk.motifs.outlines import Outline
from seamwalk.motifs.strips import strip_of


@dataclass(frozen=True, slots=True)
class LineSettings:
    """Spacing of lines where nothing else is asked for."""

    strip_spacing_in: float = 1.25
    """Widest gap between lines along a strip, inches."""
    spacing_in: float = 2.0
    """Distance of lines at an angle, inches: what most battings stand is 3 to 4 in."""
    angle_deg: float = 45.0
    """Direction of crosshatch, degrees."""
    junction_in: float = 1 / 16
    """A line passing a junction this close goes through it: what hands piece and mark by."""
    far_closer: float = 0.25
    """Lines along strips that lie closer than this share of the spacing are not what was asked
    for: half as wide as the spacing a strip has its one line at a quarter."""
    seam_in: float = 1 / 8
    """Where a line runs this close beside a seam, the ditch is stitched instead, inches."""


def lines(region: Region, choice: MotifChoice, settings: LineSettings | None = None) -> StrokePlan:
    """Return straight lines: along each strip, or at `choice.angle_deg` over the whole region."""
    settings = settings or LineSettings()
    if choice.angle_deg is not None:
        return _ruled(region, choice, (choice.angle_deg,), settings)
    spacing = choice.spacing_in or settings.strip_spacing_in
    strokes: list[Stroke] = []
    left_out: list[PatchId] = []
    gaps: list[float] = []
    for outline in region.outlines:
        width, found = _along(outline, spacing)
        if found:
            gaps.append(width / (len(found) + 1))
        else:
            left_out.append(outline.patch)
        strokes += [
            _stroke(
                f"line-{outline.patch}-{k}",
                part,
                choice,
                outline.patch,
                f"row-{outline.patch}-{k}",
            )
            for k, part in enumerate(found, start=1)
        ]
    warnings: list[str] = []
    if strokes and max(gaps) < settings.far_closer * spacing:
        one = "each patch has one along its middle, however narrow it is"
        what = "Lines lie {} from the seams"
        warnings = instead(what, choice.spacing_in, gaps, one, region.units)
    return StrokePlan(tuple(strokes), tuple(warnings), tuple(left_out))


def crosshatch(
    region: Region, choice: MotifChoice, settings: LineSettings | None = None
) -> StrokePlan:
    """Return lines in two directions at right angles over the whole region."""
    settings = settings or LineSettings()
    first = settings.angle_deg if choice.angle_deg is None else choice.angle_deg
    return _ruled(region, choice, (first, first + 90.0), settings)


def parallel(outline: Outline, start: Point, end: Point, shift: Point) -> list[Curve]:
    """Return what lies inside the patch of the line through two points, moved by `shift`.

    In the order of the way from start to end; each end lies on the outline, and is the same to
    the last bit when found from the patch on the other side.
    """
    chord = math.dist(start, end)
    ux, uy = (end[0] - start[0]) / chord, (end[1] - start[1]) / chord
    x0, y0 = start[0] + shift[0], start[1] + shift[1]
    ring = outline.ring.tolist()
    off = [(y - y0) * ux - (x - x0) * uy for x, y in ring]
    crossings: list[tuple[float, Point]] = []
    for k in range(len(ring)):
        i = k + 1 - len(ring)
        # Half open, so that a line through a vertex crosses the outline there once or not at all.
        if (off[k] < 0) == (off[i] < 0):
            continue
        (d0, (ax, ay)), (d1, (bx, by)) = sorted([(off[k], ring[k]), (off[i], ring[i])])
        t = d0 / (d0 - d1)
        x, y = ax + t * (bx - ax), ay + t * (by - ay)
        crossings.append(((x - x0) * ux + (y - y0) * uy, (x, y)))
    crossings.sort()
    places = [p for _, p in crossings]
    return [Curve((Line(p, q),)) for p, q in zip(places[::2], places[1::2], strict=True) if p != q]


def _stroke(name: str, curve: Curve, choice: MotifChoice, patch: PatchId, line: str) -> Stroke:
    return Stroke(
        StrokeId(name),
        curve,
        "motif",
        required=True,
        motif=choice.motif,
        patch=patch,
        line=line,
        marking="ruler",
    )


def _along(outline: Outline, spacing: float) -> tuple[float, list[Curve]]:
    """Return a strip's width, and lines along it, evenly spaced across it."""
    strip = strip_of(outline)
    if strip is not None:
        count = max(1, math.ceil(strip.width_in / spacing - 1e-6) - 1)
        rows = (strip.row(1 - k / (count + 1)) for k in range(1, count + 1))
        return strip.width_in, [Curve((Line(*row),)) for row in rows]
    longest = max(outline.sides, key=lambda s: s.length_in)
    (x0, y0), (x1, y1) = longest.start, longest.end
    chord = math.dist(longest.start, longest.end)
    nx, ny = -(y1 - y0) / chord, (x1 - x0) / chord
    width = float(((outline.ring - np.array(longest.start)) @ np.array([nx, ny])).max())
    count = max(1, math.ceil(width / spacing - 1e-6) - 1)
    out = []
    for k in range(1, count + 1):
        d = width * k / (count + 1)
        out += parallel(outline, longest.start, longest.end, (nx * d, ny * d))
    return width, out


def _ruled(
    region: Region, choice: MotifChoice, angles: tuple[float, ...], settings: LineSettings
) -> StrokePlan:
    """Return parallel lines over the whole region, counted from the middle of the top."""
    spacing = choice.spacing_in or settings.spacing_in
    middle = np.array(region.area.binding.centroid.coords[0])
    strokes: list[Stroke] = []
    instead: dict[StrokeId, Stroke] = {}
    for direction, angle in enumerate(angles, start=1):
        u = np.array([math.cos(math.radians(angle)), math.sin(math.radians(angle))])
        n = np.array([-u[1], u[0]])
        (mx, my), (ux, uy), (nx, ny) = middle.tolist(), u.tolist(), n.tolist()
        for outline in region.outlines:
            ring = outline.ring.tolist()
            across = [((x - mx) * nx + (y - my) * ny) / spacing for x, y in ring]
            for k in range(math.ceil(min(across)), math.floor(max(across)) + 1):
                start = (mx + nx * (k * spacing), my + ny * (k * spacing))
                end = (start[0] + ux, start[1] + uy)
                row = f"row-{direction}-{k}"
                parts = parallel(outline, start, end, (0.0, 0.0))
                strokes += [
                    _stroke(
                        f"line-{direction}-{k}-{outline.patch}-{i}",
                        kept,
                        choice,
                        outline.patch,
                        row,
                    )
                    for i, part in enumerate(parts, start=1)
                    if (kept := _through_junctions(part, outline, settings)) is not None
                ]
        for ditch in _in_rows(region, middle, n, spacing, settings):
            instead.setdefault(ditch.id, ditch)
    return StrokePlan((*strokes, *instead.values()))


def _through_junctions(curve: Curve, outline: Outline, settings: LineSettings) -> Curve | None:
    """Return the line with ends close to a vertex moved there, None if the ditch serves."""
    ring = outline.ring.tolist()
    ends = []
    for point in (curve.start, curve.end):
        # Few vertices are near enough to be measured.
        near = [q for q in ring if abs(q[0] - point[0]) < settings.junction_in]
        gap, x, y = min(((math.dist(point, q), *q) for q in near), default=(math.inf, *point))
        ends.append((x, y) if gap < settings.junction_in else point)
    if math.dist(*ends) < 2 * settings.junction_in:
        return None
    line = Line(ends[0], ends[1])
    # The middle first: it is furthest inside, and one spot clear of the seams is enough.
    if line.length > 4 * settings.seam_in and all(
        off_ring(line.at(t), ring) < settings.seam_in for t in (0.5, 0.25, 0.75)
    ):
        return None
    return Curve((line,))


def _in_rows(
    region: Region,
    middle: NDArray[np.float64],
    across: NDArray[np.float64],
    spacing: float,
    settings: LineSettings,
) -> Iterator[Stroke]:
    """Yield the ditches that a row of lines runs beside, to be stitched.

    Parameters
    ----------
    middle, across : (2,)
        A place on a row, and the direction across the rows.
    """
    (mx, my), (nx, ny) = middle.tolist(), across.tolist()
    for seam in region.seams:
        first, last = ((x - mx) * nx + (y - my) * ny for x, y in (seam.points[0], seam.points[-1]))
        row = round((first + last) / 2 / spacing) * spacing
        off = abs((first + last) / 2 - row), abs(first - row), abs(last - row)
        near = off[0] < settings.seam_in and max(off[1:]) < 2 * settings.seam_in
        if near and not seam.sweep_rad and _long(seam, settings):
            for stroke in ditch_strokes(region.area, seam.id):
                yield replace(stroke, required=True, motif="ditch")


def _long(seam: Seam, settings: LineSettings) -> bool:
    return math.dist(seam.points[0], seam.points[-1]) > 4 * settings.seam_in
