"""How far a length or an angle of a top may be from the truth.

What a length doubts, in inches²:

- the camera: Σ (length by each mode of the fit − length)², see ``Rectification.modes``;
- the two end points: where the seams were seen to meet;
- the cloth: it does not lie perfectly flat, and what is raised by z appears moved by z·tan θ
  where the camera looks at θ from straight down.  Points close together are raised alike.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.projective import Points
from seamwalk.model.picture import Rectification, View
from seamwalk.model.sizes import Angle, Length
from seamwalk.model.top import Top

Floats = NDArray[np.float64]

NINETY_FIVE = 1.96
"""Standard deviations on both sides of the mean that hold 95 % of a normal distribution."""


@dataclass(frozen=True, slots=True)
class DoubtSettings:
    """What the cloth itself adds to the doubt."""

    bump_in: float = 0.06
    """σ of the cloth's height above the plane, inches: 1.5 mm, a pressed top on a floor."""
    bump_length_in: float = 6.0
    """Points further apart than this are raised independently, inches."""
    slant: float = 0.3
    """tan θ assumed there."""


@dataclass(frozen=True, slots=True, eq=False)
class Shares:
    """The variance of each of N lengths by its cause, inches², each (N,)."""

    camera: Floats
    ends: Floats
    bumps: Floats


class Doubt:
    """Lengths and angles between points of the top, with their 95 % limits.

    Parameters
    ----------
    endpoint_sigma_in : float
        σ of a point that is no junction with a σ of its own, inches.
    """

    def __init__(
        self,
        top: Top,
        rectification: Rectification,
        endpoint_sigma_in: float,
        settings: DoubtSettings | None = None,
    ) -> None:
        self.rectification = rectification
        self.settings = settings or DoubtSettings()
        self.default_sigma = endpoint_sigma_in
        self.sigma = {j.xy: j.sigma_in for j in top.junctions if j.sigma_in > 0}
        self.eye = camera_place(rectification.view)

    def lengths(self, a: Points, b: Points) -> list[Length]:
        """Return the length from each point of `a` (N, 2) to that of `b`, with its ±."""
        if not len(a):
            return []
        value = np.hypot(*(b - a).T)
        shares = self.shares(a, b)
        pm = NINETY_FIVE * np.sqrt(shares.camera + shares.ends + shares.bumps)
        return [Length(float(v), float(u)) for v, u in zip(value, pm, strict=True)]

    def shares(self, a: Points, b: Points) -> Shares:
        """Return what each cause adds to the variance of the lengths from `a` to `b`."""
        value = np.hypot(*(b - a).T)
        camera = np.zeros(len(a))
        for points in self.by_mode(np.concatenate([a, b])):
            camera += (np.hypot(*(points[len(a) :] - points[: len(a)]).T) - value) ** 2
        ends = self.sigma_at(a) ** 2 + self.sigma_at(b) ** 2
        return Shares(camera, ends, self._bumps(a, b, value))

    def angles(self, at: Points, one: Points, two: Points) -> list[Angle]:
        """Return the angle at each point (N, 2) between the ways to two others, with its ±."""
        if not len(at):
            return []
        value = _angle_deg(at, one, two)
        variance = np.zeros(len(at))
        for p in self.by_mode(np.concatenate([at, one, two])):
            variance += (_angle_deg(*np.split(p, 3)) - value) ** 2
        # Moving the corner across one way by e turns that way by e / its length; along the other
        # way it does nothing, so the parts are taken as independent.
        for way in (one, two):
            size = np.maximum(np.hypot(*(way - at).T), 1e-9)
            across = self.sigma_at(at) ** 2 + self.sigma_at(way) ** 2
            across += self._bumps(at, way, size)
            variance += np.degrees(1.0) ** 2 * across / size**2
        pm = NINETY_FIVE * np.sqrt(variance)
        return [Angle(float(v), float(u)) for v, u in zip(value, pm, strict=True)]

    def by_mode(self, points: Points) -> list[Points]:
        """Return where `points` (N, 2) would lie by each mode of the camera."""
        pixels = self.rectification.view.px_from_top(points)
        return [mode.top_from_px(pixels) for mode in self.rectification.modes]

    def sigma_at(self, points: Points) -> Floats:
        """Return σ of the place of each point along one axis, inches, shape (N,)."""
        found = [self.sigma.get((x, y), self.default_sigma) for x, y in points.tolist()]
        return np.array(found, dtype=np.float64)

    def bump_sigma_at(self, points: Points) -> Floats:
        """Return by how much bumps of the cloth move each point, σ along one axis, inches."""
        out: Floats = self.settings.bump_in * self._slant(points) / np.sqrt(2)
        return out

    def _bumps(self, a: Points, b: Points, length: Floats) -> Floats:
        slant_a, slant_b = self._slant(a), self._slant(b)
        alike = np.exp(-length / self.settings.bump_length_in)
        difference = slant_a**2 + slant_b**2 - 2 * alike * slant_a * slant_b
        out: Floats = self.settings.bump_in**2 * np.maximum(difference, 0.0) / 2
        return out

    def _slant(self, points: Points) -> Floats:
        """Return tan θ of the line of sight at each point."""
        if self.eye is None:
            return np.full(len(points), self.settings.slant)
        x, y, z = self.eye
        out: Floats = np.hypot(points[:, 0] - x, points[:, 1] - y) / z
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


def _angle_deg(at: Points, one: Points, two: Points) -> Floats:
    """Return the inner angle at each corner, 0 to 180°."""
    a, b = one - at, two - at
    cross = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    out: Floats = np.degrees(np.abs(np.arctan2(cross, (a * b).sum(axis=1))))
    return out
