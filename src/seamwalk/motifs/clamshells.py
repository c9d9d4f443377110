"""Clamshells: overlapping scales of one radius in staggered rows.

Each scale shows the upper half of its circle.  Rows are one radius apart and every other row is
shifted by one radius, so the two ends of each half circle lie exactly on the tops of the two
scales below: there it meets them square, and four strokes come together.  Half circles are split
at their tops for that.  The middle of the region is the middle of a scale in the first row, and
the first row stands on the region's edge, so that left and right look alike.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

from seamwalk.geometry.curve import Arc, Curve
from seamwalk.model.choice import MotifChoice
from seamwalk.model.stitching import Marking
from seamwalk.motifs.arc_classes import free_class
from seamwalk.motifs.instead import FINEST, instead
from seamwalk.motifs.laid_over import Laid, laid_over
from seamwalk.motifs.motif import Region, StrokePlan
from seamwalk.motifs.rows import RowAxes, row_axes
from seamwalk.units import format_length


@dataclass(frozen=True, slots=True)
class ClamshellSettings:
    """Size of scales where nothing else is asked for."""

    radius_in: float = 2.0
    """Scales 4 in wide: wide enough for the foot, dense enough for most battings (common
    practice, no source)."""


def clamshells(
    region: Region, choice: MotifChoice, settings: ClamshellSettings | None = None
) -> StrokePlan:
    """Return scales over the whole region.

    `choice.spacing_in`, or else `choice.depth_in`, is the radius, which is also the distance from
    row to row; `choice.angle_deg` is the direction of the rows (0 unless set).  A circle in
    `choice.circles_in` takes the radius's place.
    """
    settings = settings or ClamshellSettings()
    if not region.outlines:
        return StrokePlan(())
    radius = choice.spacing_in or choice.depth_in or settings.radius_in
    foot, units = region.machine.smallest_radius_in, region.units
    if radius < foot - 1e-9:
        warning = (
            f"Clamshells of radius {format_length(radius, units, FINEST)} are not possible, since "
            f"the foot turns no tighter than {format_length(foot, units)}: ask for a larger "
            "spacing."
        )
        return StrokePlan((), (warning,), tuple(o.patch for o in region.outlines))
    axes = row_axes(region, choice.angle_deg or 0.0)
    diameter, marking = choice.circle(0)
    drawn = radius if diameter is None else diameter / 2
    strokes = laid_over(region, list(_scales(axes, drawn, marking)), choice)
    # As many half circles as there is line for: those at the edges are cut.
    count = round(sum(s.curve.length for s in strokes) / (math.pi * drawn))
    patches = {s.patch for s in strokes if s.patch is not None}
    found = free_class(choice.motif, "rows", 2 * radius, 2 * foot, count, patches)
    both = "their spacing, which is their radius too, says so"
    what = "Clamshells have a depth of {}"
    warnings = instead(what, choice.depth_in, (radius,), both, units)
    return StrokePlan(strokes, tuple(warnings), classes=(found,) if strokes else ())


def _scales(axes: RowAxes, radius: float, marking: Marking) -> Iterator[Laid]:
    """Yield both halves of every scale that may reach into the region, row by row."""
    most = math.ceil(axes.width / 4 / radius) + 1
    for row in range(math.ceil(axes.height / radius) + 1):
        for number in range(-most, most + 1):
            x = axes.width / 2 + (2 * number + row % 2) * radius
            y = row * radius
            centre, top = axes.place(x, y), axes.place(x, y + radius)
            name = f"scale-{row + 1}-{number}"
            # The axes' y points up the page: from left over the top is x towards y on the top.
            halves = (
                Arc(axes.place(x - radius, y), top, centre, math.pi / 2),
                Arc(top, axes.place(x + radius, y), centre, math.pi / 2),
            )
            for side, half in zip(("left", "right"), halves, strict=True):
                yield Laid(f"{name}-{side}", Curve((half,)), f"scales-{row + 1}", marking)
