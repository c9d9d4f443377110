"""Sizes of patches and of the whole top, each with its 95 % limits.

What a length doubts, in inches²:

- the camera: Σ (length by each mode of the fit − length)², see ``Rectification.modes``;
- the two end points: where the seams were seen to meet;
- the cloth: it does not lie perfectly flat, and what is raised by z appears moved by z·tan θ
  where the camera looks at θ from straight down.  Points close together are raised alike.
"""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from seamwalk.geometry.polygon import ring_of
from seamwalk.geometry.polyline import corners
from seamwalk.geometry.projective import Points
from seamwalk.model.picture import Rectification, View
from seamwalk.model.sizes import Angle, Finished, Length, PatchSize, Sizes, TopSize, Verdict
from seamwalk.model.top import Top
from seamwalk.trade import GRAIN_CM, GRAIN_IN
from seamwalk.units import CM_PER_IN, Units
from seamwalk.vision.measure_finished import FinishedShape, classes, finished_shapes

NINETY_FIVE = 1.96
"""Standard deviations on both sides of the mean that hold 95 % of a normal distribution."""


@dataclass(frozen=True, slots=True)
class MeasureSettings:
    """What the cloth itself adds to the doubt."""

    bump_in: float = 0.06
    """σ of the cloth's height above the plane, inches: 1.5 mm, a pressed top on a floor."""
    bump_length_in: float = 6.0
    """Points further apart than this are raised independently, inches."""
    camera_height_in: float = 60.0
    """Assumed where the camera's place cannot be computed, inches."""


def measure(
    top: Top,
    rectification: Rectification,
    *,
    units: Units = "in",
    grain_in: float | None = None,
    endpoint_sigma_in: float = 0.02,
    tolerance_in: float = 0.125,
    settings: MeasureSettings | None = None,
) -> Sizes:
    """Return the sizes of all patches and of the whole top.

    Parameters
    ----------
    units : {"in", "cm"}
        In which classes are named; sets the grain too.
    grain_in : float or None
        Finished sizes are multiples of this, inches; None takes the usual one of the units.
    endpoint_sigma_in : float
        σ of a junction across a side where the junction does not carry its own, inches.
    tolerance_in : float
        A patch is right when all its sides are surely within this of the finished size.
    """
    grain = grain_in or (GRAIN_IN if units == "in" else GRAIN_CM / CM_PER_IN)
    doubt = Doubt(top, rectification, endpoint_sigma_in, settings or MeasureSettings())
    shapes = finished_shapes(top)
    named = classes(shapes, grain, units)
    sides = _sides(shapes, doubt, visible=True)
    finished = _sides(shapes, doubt, visible=False)
    patches = []
    for k, patch in enumerate(top.patches):
        shape = shapes[k]
        size = named[k].sides_in(shape, grain)
        patches.append(
            PatchSize(
                patch.id,
                named[k].shape,
                named[k].name,
                sides[k],
                _verdict(finished[k], size, tolerance_in),
                shape.raw_edges,
            )
        )
    return Sizes(tuple(patches), _top_size(top, doubt))


class Doubt:
    """Lengths and angles between points of the top, with their 95 % limits."""

    def __init__(
        self,
        top: Top,
        rectification: Rectification,
        endpoint_sigma_in: float,
        settings: MeasureSettings,
    ) -> None:
        self.rectification = rectification
        self.settings = settings
        self.default_sigma = endpoint_sigma_in
        self.sigma = {j.xy: j.sigma_in for j in top.junctions if j.sigma_in > 0}
        self.eye = camera_place(rectification.view)

    def lengths(self, a: Points, b: Points) -> list[Length]:
        """Return the length from each point of `a` (N, 2) to that of `b`, with its ±."""
        if not len(a):
            return []
        value = np.hypot(*(b - a).T)
        moved = self._by_mode(np.concatenate([a, b]))
        variance = np.zeros(len(a))
        for points in moved:
            variance += (np.hypot(*(points[len(a) :] - points[: len(a)]).T) - value) ** 2
        variance += self._ends(a, b, value)
        pm = NINETY_FIVE * np.sqrt(variance)
        return [Length(float(v), float(u)) for v, u in zip(value, pm, strict=True)]

    def angle(self, at: Points, one: Points, two: Points) -> Angle:
        """Return the angle at a point between the ways to two others, with its ±."""
        points = np.array([at, one, two])
        value = _angle_deg(points)
        variance = sum((_angle_deg(p) - value) ** 2 for p in self._by_mode(points))
        for way in (one, two):
            size = float(np.hypot(*(way - at)))
            across = float(self._ends(at[None], way[None], np.array([size]))[0])
            variance += np.degrees(1.0) ** 2 * across / max(size, 1e-9) ** 2
        return Angle(value, float(NINETY_FIVE * np.sqrt(variance)))

    def _by_mode(self, points: Points) -> list[Points]:
        pixels = self.rectification.view.px_from_top(points)
        return [mode.top_from_px(pixels) for mode in self.rectification.modes]

    def _ends(self, a: Points, b: Points, length: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the variance that end points and bumps of the cloth add to each length."""
        ends = np.array([[self._sigma_at(p) for p in side] for side in (a, b)])
        slant_a, slant_b = self._slant(a), self._slant(b)
        alike = np.exp(-length / self.settings.bump_length_in)
        difference = slant_a**2 + slant_b**2 - 2 * alike * slant_a * slant_b
        out: NDArray[np.float64] = (ends**2).sum(axis=0) + (
            self.settings.bump_in**2 * np.maximum(difference, 0.0) / 2
        )
        return out

    def _sigma_at(self, point: Points) -> float:
        return self.sigma.get((float(point[0]), float(point[1])), self.default_sigma)

    def _slant(self, points: Points) -> NDArray[np.float64]:
        """Return tan θ of the line of sight at each point."""
        x, y, z = self.eye or (0.0, 0.0, self.settings.camera_height_in)
        if self.eye is None:
            return np.full(len(points), 0.3)
        out: NDArray[np.float64] = np.hypot(points[:, 0] - x, points[:, 1] - y) / z
        return out


def camera_place(view: View) -> tuple[float, float, float] | None:
    """Return the camera's x, y and height above the cloth, inches; None where that fails.

    Notes
    -----
    ray = λ [r1 r2 t] (x, y, 1): the two turned axes have length 1 and stand at right angles, so
    the centre is −Rᵀt (Hartley and Zisserman, section 8.1).
    """
    h = np.linalg.inv(view.top_from_ray)
    scale = np.sqrt(np.linalg.norm(h[:, 0]) * np.linalg.norm(h[:, 1]))
    if not np.isfinite(scale) or scale < 1e-12:
        return None
    r1, r2, t = (h / scale).T
    centre = -np.column_stack([r1, r2, np.cross(r1, r2)]).T @ t
    height = abs(float(centre[2]))
    if not np.isfinite(centre).all() or height < 1.0:
        return None
    return float(centre[0]), float(centre[1]), height


def _angle_deg(p: Points) -> float:
    a, b = p[1] - p[0], p[2] - p[0]
    return float(np.degrees(abs(np.arctan2(a[0] * b[1] - a[1] * b[0], a @ b))))


def _sides(
    shapes: list[FinishedShape], doubt: Doubt, *, visible: bool
) -> list[tuple[Length, ...]]:
    """Return the sides of every patch, measured at one go."""
    rings = [s.corners if visible else s.finished for s in shapes]
    start = np.concatenate(rings)
    end = np.concatenate([np.roll(r, -1, axis=0) for r in rings])
    every = iter(doubt.lengths(start, end))
    return [tuple(next(every) for _ in ring) for ring in rings]


def _verdict(
    sides: tuple[Length, ...], size: NDArray[np.float64], tolerance_in: float
) -> Finished:
    off = np.array([s.value_in for s in sides]) - size
    pm = np.array([s.plus_minus_in for s in sides])
    verdict: Verdict = "cannot tell"
    if (np.abs(off) + pm <= tolerance_in).all():
        verdict = "right"
    elif (np.abs(off) - pm > tolerance_in).any():
        verdict = "off"
    worst = int(np.argmax(np.abs(off)))
    return Finished(tuple(float(v) for v in size), float(off[worst]), verdict)


def _top_size(top: Top, doubt: Doubt) -> TopSize:
    ring = ring_of(top.outline)
    four = four_corners(ring)
    runs = [_run(ring, four[k], four[(k + 1) % 4]) for k in range(4)]
    middles = np.array([shapely.get_coordinates(_middle(run))[0] for run in runs])
    p = ring[four]
    width, height = doubt.lengths(middles[[3, 0]], middles[[1, 2]])
    chords = doubt.lengths(p, np.roll(p, -1, axis=0))
    edges = [
        Length(float(shapely.LineString(run).length), chord.plus_minus_in)
        for run, chord in zip(runs, chords, strict=True)
    ]
    first, second = doubt.lengths(p[[0, 1]], p[[2, 3]])
    angles = [doubt.angle(p[k], p[k - 1], p[(k + 1) % 4]) for k in range(4)]
    return TopSize(
        width,
        height,
        (edges[0], edges[1], edges[2], edges[3]),
        (first, second),
        (angles[0], angles[1], angles[2], angles[3]),
    )


def four_corners(ring: Points) -> NDArray[np.intp]:
    """Return the indices of the upper left, upper right, lower right and lower left corner.

    Of an outline with more corners than four, or rounded ones, the vertices nearest to those of
    the smallest rectangle round it.
    """
    turned = corners(ring, corner_deg=30.0)
    candidates = turned if len(turned) >= 4 else np.arange(len(ring))
    if len(turned) != 4:
        box = shapely.get_coordinates(shapely.minimum_rotated_rectangle(shapely.MultiPoint(ring)))[
            :4
        ]
        reach = np.hypot(*(ring[candidates][None] - box[:, None]).transpose(2, 0, 1))
        candidates = np.unique(candidates[np.argmin(reach, axis=1)])
    if len(candidates) < 4:
        candidates = np.unique(np.linspace(0, len(ring) - 1, 4).round().astype(np.intp))
    p = ring[candidates]
    first = int(np.argmin((p - p.min(axis=0)).sum(axis=1)))
    return np.roll(candidates, -first)


def _run(ring: Points, a: int, b: int) -> Points:
    """Return the points of the ring from index a on to index b."""
    n = len(ring)
    return ring[np.arange(a, a + (b - a) % n + 1) % n]


def _middle(run: Points) -> shapely.Point:
    return shapely.line_interpolate_point(shapely.LineString(run), 0.5, normalized=True)
