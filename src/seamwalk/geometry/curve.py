"""Exact curves made of straight lines and circular arcs.

A curve stays exact until it is drawn or measured: arcs keep centre, radius and sweep.  Positive
sweep turns x towards y (clockwise as seen on a page whose y points down).

References
----------
Circle segment formulas R = c²/(8h) + h/2, θ = 4·atan(2h/c): Machinery's Handbook, 31st ed.,
pp. 50, 79.
"""

import itertools
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.projective import Points

Point = tuple[float, float]

CHORD_TOLERANCE_IN = 0.005
"""Sampled arcs stay this close to the true arc, inches: a third of a sewing thread's width."""


@dataclass(frozen=True, slots=True)
class Line:
    """A straight piece from `start` to `end`."""

    start: Point
    end: Point

    @property
    def length(self) -> float:
        """Length in the unit of the points."""
        return math.dist(self.start, self.end)

    @property
    def radius(self) -> float:
        """Radius of curvature: infinite."""
        return math.inf

    def reversed(self) -> "Line":
        """Return the same piece run the other way."""
        return Line(self.end, self.start)

    def at(self, t: float) -> Point:
        """Return the point at fraction `t` of the length."""
        (x0, y0), (x1, y1) = self.start, self.end
        if t == 0:
            return self.start
        if t == 1:
            return self.end
        return (x0 + (x1 - x0) * t, y0 + (y1 - y0) * t)

    def heading_rad(self, t: float) -> float:
        """Return the direction of travel at fraction `t`, radians."""
        del t
        return math.atan2(self.end[1] - self.start[1], self.end[0] - self.start[0])

    def part(self, t0: float, t1: float) -> "Line":
        """Return the piece between fractions `t0` < `t1`."""
        return Line(self.at(t0), self.at(t1))

    def parts(self, edges: Sequence[float]) -> list["Line"]:
        """Return the pieces between rising fractions, which share their ends."""
        places = [self.at(t) for t in edges]
        return [Line(a, b) for a, b in itertools.pairwise(places)]


@dataclass(frozen=True, slots=True)
class Arc:
    """A circular piece from `start` to `end` about `centre`, turning by `sweep_rad`."""

    start: Point
    end: Point
    centre: Point
    sweep_rad: float

    @classmethod
    def by_rise(cls, start: Point, end: Point, rise: float) -> "Arc":
        """Return the arc over a chord with the given rise (sagitta).

        Parameters
        ----------
        start, end : Point
            Ends of the chord.
        rise : float
            Height over the chord, not zero; positive bows to the right of the way from start to
            end on a page with y down (the side that x turned towards y points to).
        """
        c = math.dist(start, end)
        if c == 0 or rise == 0:
            raise ValueError("an arc needs a chord and a rise")
        sweep = -4 * math.atan2(2 * rise, c)
        radius = c * c / (8 * rise) + rise / 2
        mx, my = (start[0] + end[0]) / 2, (start[1] + end[1]) / 2
        ux, uy = (end[0] - start[0]) / c, (end[1] - start[1]) / c
        # The bow lies on the side of (-uy, ux); the centre lies radius - rise on the other.
        return cls(start, end, (mx + uy * (radius - rise), my - ux * (radius - rise)), sweep)

    @property
    def radius(self) -> float:
        """Radius, in the unit of the points."""
        return math.dist(self.start, self.centre)

    @property
    def length(self) -> float:
        """Arc length."""
        return self.radius * abs(self.sweep_rad)

    @property
    def rise(self) -> float:
        """Height over the chord, always positive."""
        return self.radius * (1 - math.cos(self.sweep_rad / 2))

    def reversed(self) -> "Arc":
        """Return the same piece run the other way."""
        return Arc(self.end, self.start, self.centre, -self.sweep_rad)

    def at(self, t: float) -> Point:
        """Return the point at fraction `t` of the length."""
        if t == 0:
            return self.start
        if t == 1:
            return self.end
        a = math.atan2(self.start[1] - self.centre[1], self.start[0] - self.centre[0])
        a += self.sweep_rad * t
        r = self.radius
        return (self.centre[0] + r * math.cos(a), self.centre[1] + r * math.sin(a))

    def heading_rad(self, t: float) -> float:
        """Return the direction of travel at fraction `t`, radians."""
        a = math.atan2(self.start[1] - self.centre[1], self.start[0] - self.centre[0])
        a += self.sweep_rad * t
        return math.remainder(a + math.copysign(math.pi / 2, self.sweep_rad), 2 * math.pi)

    def part(self, t0: float, t1: float) -> "Arc":
        """Return the piece between fractions `t0` < `t1`."""
        return Arc(self.at(t0), self.at(t1), self.centre, self.sweep_rad * (t1 - t0))

    def parts(self, edges: Sequence[float]) -> list["Arc"]:
        """Return the pieces between rising fractions, which share their ends."""
        places = [self.at(t) for t in edges]
        return [
            Arc(a, b, self.centre, self.sweep_rad * (t1 - t0))
            for (a, b), (t0, t1) in zip(
                itertools.pairwise(places), itertools.pairwise(edges), strict=True
            )
        ]


Piece = Line | Arc


@dataclass(frozen=True, slots=True)
class Curve:
    """Pieces joined end to start; at least one."""

    pieces: tuple[Piece, ...]

    @classmethod
    def through(cls, points: Iterable[Iterable[float]]) -> "Curve":
        """Return the polyline through `points`, repeated points left out."""
        pts: list[Point] = []
        for x, y in points:
            p = (float(x), float(y))
            if not pts or p != pts[-1]:
                pts.append(p)
        if len(pts) < 2:
            raise ValueError("a curve needs two different points")
        return cls(tuple(Line(a, b) for a, b in itertools.pairwise(pts)))

    def __iter__(self) -> Iterator[Piece]:
        return iter(self.pieces)

    @property
    def start(self) -> Point:
        """First point."""
        return self.pieces[0].start

    @property
    def end(self) -> Point:
        """Last point."""
        return self.pieces[-1].end

    @property
    def length(self) -> float:
        """Total length."""
        if len(self.pieces) == 1:
            return self.pieces[0].length
        return sum(p.length for p in self.pieces)

    @property
    def smallest_radius(self) -> float:
        """Smallest radius of any piece; infinite for straight lines (corners do not count)."""
        return min(p.radius for p in self.pieces)

    @property
    def start_heading_rad(self) -> float:
        """Direction of travel on leaving the start."""
        return self.pieces[0].heading_rad(0.0)

    @property
    def end_heading_rad(self) -> float:
        """Direction of travel on reaching the end."""
        return self.pieces[-1].heading_rad(1.0)

    def reversed(self) -> "Curve":
        """Return the same curve run the other way."""
        return Curve(tuple(p.reversed() for p in reversed(self.pieces)))

    def joined(self, other: "Curve") -> "Curve":
        """Return this curve followed by `other`."""
        return Curve(self.pieces + other.pieces)

    def part(self, s0: float, s1: float) -> "Curve":
        """Return what lies between arc lengths `s0` < `s1`."""
        out: list[Piece] = []
        at = 0.0
        for p in self.pieces:
            n = p.length
            lo, hi = max(s0 - at, 0.0), min(s1 - at, n)
            if hi - lo > 1e-12 * max(1.0, n):
                whole = lo <= 0 and hi >= n
                out.append(p if whole else p.part(lo / n, hi / n if hi < n else 1.0))
            at += n
        if not out:
            raise ValueError("the part is empty")
        return Curve(tuple(out))

    def sampled(self, tolerance: float = CHORD_TOLERANCE_IN) -> Points:
        """Return a polyline (N, 2) no further than `tolerance` from the curve, ends exact."""
        pts: list[Point] = [self.start]
        for p in self.pieces:
            if isinstance(p, Arc):
                r = p.radius
                step = 2 * math.acos(max(0.0, 1 - tolerance / r)) if r > tolerance else math.pi
                n = max(2, math.ceil(abs(p.sweep_rad) / step))
                pts += [p.at(i / n) for i in range(1, n)]
            pts.append(p.end)
        return np.array(pts, dtype=np.float64)

    def bounds(self) -> tuple[float, float, float, float]:
        """Return (x0, y0, x1, y1) of the sampled curve."""
        q: NDArray[np.float64] = self.sampled()
        (x0, y0), (x1, y1) = q.min(axis=0), q.max(axis=0)
        return float(x0), float(y0), float(x1), float(y1)
