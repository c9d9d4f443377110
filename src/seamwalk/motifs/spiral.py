"""A spiral from the middle: of a medallion, or of the whole top.

An Archimedean spiral's turns are evenly spaced, r = (s/2π)·θ, but its first turn is tighter than
any foot can follow.  So it starts on a small circle, which is stitched once round, and eases off
it: the radius grows by dr/dθ = (s/4π)·(1 − cos θ) during the first half turn and by s/2π from
there on.  The way out and its curvature are continuous; the place where the eased part begins is
the only end inside.  The spiral goes on until it has left the region, cut at the region's edge
and at every seam.

References
----------
Archimedes, On spirals (its definition; from memory).  Curvature in polar coordinates,
(r² + 2·r′² − r·r″)/(r² + r′²)^(3/2): any textbook of calculus.
"""

import math
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon

from seamwalk.geometry.biarc import Floats, fitted
from seamwalk.geometry.curve import Arc, Curve, Point
from seamwalk.geometry.projective import Points
from seamwalk.model.choice import MotifChoice
from seamwalk.model.stitching import Stroke
from seamwalk.model.top import PatchId
from seamwalk.motifs.laid_over import Laid, laid_over
from seamwalk.motifs.motif import Region, StrokePlan
from seamwalk.motifs.outlines import Outline

TURNS_FITTED = 16
"""So many turns are fitted by arcs at once: of more the fit would see too few places in its first
try to tell one turn from two."""


@dataclass(frozen=True, slots=True)
class SpiralSettings:
    """Shape of a spiral where nothing else is asked for."""

    spacing_in: float = 2.0
    """Distance of the turns, inches: what most battings stand is 3 to 4 in."""
    room: float = 1.25
    """The circle in the middle has this times the foot's smallest radius."""


@dataclass(frozen=True, slots=True)
class Spiral:
    """An eased Archimedean spiral that turns x towards y.

    Attributes
    ----------
    centre : Point
        Of the circle and of the turns.
    radius_in, spacing_in : float
        Of the circle; of the turns.
    angle_rad : float
        Direction from the centre in which it leaves the circle.
    """

    centre: Point
    radius_in: float
    spacing_in: float
    angle_rad: float

    def radius_at(self, turn: Floats) -> tuple[Floats, Floats]:
        """Return the distance from the centre after turns (N,), radians, and its growth dr/dθ."""
        b = self.spacing_in / (2 * math.pi)
        eased = turn < math.pi
        r = np.where(eased, b * (turn - np.sin(turn)) / 2, b * (turn - math.pi / 2))
        return self.radius_in + r, np.where(eased, b * (1 - np.cos(turn)) / 2, b)

    def turn_at(self, radius: float) -> float:
        """Return after which turn, radians, the spiral is that far from the centre; π at least."""
        return max(
            math.pi,
            (radius - self.radius_in) * 2 * math.pi / self.spacing_in + math.pi / 2,
        )

    def trace(self, turn: Floats) -> tuple[Points, Floats]:
        """Return the places (N, 2) after turns (N,), radians, and the directions of travel."""
        r, growth = self.radius_at(turn)
        a = self.angle_rad + turn
        places = np.array(self.centre) + r[:, None] * np.column_stack([np.cos(a), np.sin(a)])
        return places, a + np.arctan2(r, growth)

    @property
    def circle(self) -> Curve:
        """The circle once round, from where the spiral leaves it."""
        (x, y), r, a = self.centre, self.radius_in, self.angle_rad
        start = self.start
        across = (x - r * math.cos(a), y - r * math.sin(a))
        half = math.pi
        return Curve(
            (Arc(start, across, self.centre, half), Arc(across, start, self.centre, half))
        )

    @property
    def start(self) -> Point:
        """Where the spiral leaves the circle."""
        return (
            self.centre[0] + self.radius_in * math.cos(self.angle_rad),
            self.centre[1] + self.radius_in * math.sin(self.angle_rad),
        )


def spiral(
    region: Region, choice: MotifChoice, settings: SpiralSettings | None = None
) -> StrokePlan:
    """Return a spiral from the middle of each connected part of the region.

    `choice.spacing_in` is the distance of the turns, `choice.angle_deg` the direction from the
    middle in which the spiral leaves its circle, to the right by default.

    Notes
    -----
    Fits any shape that holds its circle and half a turn more; patches of other parts are left
    out.  A middle outside the part, as in a border round a block, is none the worse: the turns
    appear where they enter.
    """
    settings = settings or SpiralSettings()
    spacing = choice.spacing_in or settings.spacing_in
    radius = settings.room * region.machine.smallest_radius_in
    angle = math.radians(choice.angle_deg or 0.0)
    strokes: list[Stroke] = []
    left_out: list[PatchId] = []
    for part, outlines in _parts(region):
        middle = part.centroid
        shape = Spiral((middle.x, middle.y), radius, spacing, angle)
        ring = shapely.get_coordinates(part.exterior)
        reach = float(np.hypot(*(ring - np.array(shape.centre)).T).max())
        mine: tuple[Stroke, ...] = ()
        if reach > radius + spacing / 2:
            mine = laid_over(region, _laid(shape, reach, outlines), choice, outlines)
        strokes += mine
        if not mine:
            left_out += [o.patch for o in outlines]
    return StrokePlan(tuple(strokes), left_out=tuple(left_out))


def _laid(shape: Spiral, reach: float, outlines: list[Outline]) -> list[Laid]:
    """Return the circle, the first turn, and the rest, which the foot's guide bar follows."""
    name = f"spiral-{min(o.patch for o in outlines)}"
    last = shape.turn_at(reach)
    first = min(2 * math.pi, last)
    laid = [
        Laid(f"{name}-circle", shape.circle, name, "circle"),
        Laid(f"{name}-first", fitted(shape.trace, [0.0, math.pi, first]), name, "template"),
    ]
    if last > first:
        step = TURNS_FITTED * 2 * math.pi
        knots = [first, *np.arange(first + step, last - math.pi, step).tolist(), last]
        laid.append(Laid(f"{name}-turns", fitted(shape.trace, knots), name, "eye"))
    return laid


def _parts(region: Region) -> list[tuple[Polygon, list[Outline]]]:
    """Return the region's connected parts, each with its patches."""
    shapes = [g for g in shapely.get_parts(region.polygon) if isinstance(g, Polygon)]
    if len(shapes) == 1:
        return [(shapes[0], list(region.outlines))]
    spots = [o.polygon.representative_point() for o in region.outlines]
    part, at = shapely.STRtree(spots).query(shapes, predicate="contains")
    out: list[tuple[Polygon, list[Outline]]] = [(s, []) for s in shapes]
    for k, i in sorted(zip(part.tolist(), at.tolist(), strict=True)):
        out[k][1].append(region.outlines[i])
    return [(s, mine) for s, mine in out if mine]
