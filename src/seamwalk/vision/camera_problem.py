"""What is known before the fit: squares seen in the picture, priors, and their residuals."""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.projective import Points, apply, from_unit_square
from seamwalk.vision.camera_model import LENS, Camera, camera_from

Floats = NDArray[np.float64]
Residuals = Callable[[Camera, Floats], Floats]

SHARED = slice(12, 16)
"""What all targets share: printed width and height (of squares side and stretch), shear, height
above the cloth; each in its own standard deviations."""

FIRST_OF_TARGETS = 16
"""Where each target's own four parameters begin: place, turn and height."""


@dataclass(frozen=True, slots=True, eq=False)
class Target:
    """Four points seen, of a rectangle whose size is known up to a little.

    Attributes
    ----------
    corners_px : (4, 2) float64
        As seen, in order round it.
    size_in : (float, float)
        Width and height, inches.
    sigma_px : float
        Of one coordinate, pixels.
    size_sigma_in : (float, float)
        Of width and height; 0 is exact.  Of a square: of its side, and of half the difference of
        width and height.
    is_square : bool
        One side was measured, and stands for both.
    height_sigma_in : float
        Of its own height above the plane, beside what all share; 0 is exact.
    skew_sigma_rad : float
        Of its corner angle; 0 is a true rectangle.
    sides : (float, float) or None
        When the corners are where lines meet that were fitted along the sides: how far inside
        the edge, and from where along it, both over the side.  The same is then done with what
        the camera in question would show, so that a bent side does no harm.
    """

    corners_px: Points
    size_in: tuple[float, float]
    sigma_px: float
    size_sigma_in: tuple[float, float] = (0.0, 0.0)
    height_sigma_in: float = 0.0
    skew_sigma_rad: float = 0.0
    sides: tuple[float, float] | None = None
    is_square: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Problem:
    """What is known before the fit.

    Attributes
    ----------
    lens_mean, lens_sigma : (6,) float64
        Prior of log focal length, principal point and radial terms.
    targets : tuple of Target
        The first fixes the plane's frame.
    extra : tuple of callable
        Further residuals, each a function of camera and parameter vector, already divided by
        their standard deviations.
    span : (12, M) float64 or None
        Instead of priors and targets: columns, each one standard deviation of lens and pose, that
        an earlier fit left unknown.
    origin : (12,) float64
        That fit's estimate; used with `span` only.
    raised_in, raised_sigma_in : float
        Height of all targets together above the plane: what is expected, and its standard
        deviation, inches.
    """

    lens_mean: Floats
    lens_sigma: Floats
    targets: tuple[Target, ...]
    extra: tuple[Residuals, ...] = ()
    span: Floats | None = None
    origin: Floats = field(default_factory=lambda: np.zeros(12))
    raised_in: float = 0.0
    raised_sigma_in: float = 0.0

    @property
    def length(self) -> int:
        """Number of parameters: lens, pose, what targets share, and each one's own."""
        return FIRST_OF_TARGETS + 4 * len(self.targets)

    def residuals(self, theta: Floats) -> Floats:
        """Return all residuals, each over its standard deviation."""
        camera = camera_from(theta)
        parts = [(theta[LENS] - self.lens_mean) / self.lens_sigma, theta[SHARED]]
        for k, target in enumerate(self.targets):
            own = theta[own_of(k)]
            miss = self.seen(camera, target, theta, k) - target.corners_px
            parts.append((miss / target.sigma_px).ravel())
            # The first one's place is the frame itself: nothing but this holds it, at zero.
            parts.append(own if k == 0 else own[3:])
        parts.extend(f(camera, theta) for f in self.extra)
        return np.concatenate(parts)

    def seen(self, camera: Camera, target: Target, theta: Floats, k: int) -> Points:
        """Return where this camera shows the target's corners, (4, 2) pixels."""
        space = self._space(target, theta, k)
        if target.sides is None:
            return camera.px_from_space(space)
        inset, start = target.sides
        x, y, z = space[1] - space[0], space[3] - space[0], space[0]
        u = np.linspace(start, 1 - start, 8)
        a, b = np.full_like(u, inset), np.full_like(u, 1 - inset)
        across = np.stack([u, b, u[::-1], a])
        down = np.stack([a, u, b, u[::-1]])
        points = z + across.reshape(-1, 1) * x + down.reshape(-1, 1) * y
        px = camera.px_from_space(points).reshape(4, len(u), 2)
        # Least-squares lines: each coordinate is linear in the place along the side.
        middle = px.mean(axis=1)
        way = np.einsum("n,knj->kj", u - 0.5, px)
        normal = np.column_stack([-way[:, 1], way[:, 0]])
        offset = (normal * middle).sum(axis=1)
        before = np.roll(normal, 1, axis=0), np.roll(offset, 1)
        det = before[0][:, 0] * normal[:, 1] - before[0][:, 1] * normal[:, 0]
        # Far from the solution all sides may fall on one line; a huge miss drives the fit back.
        det = np.where(np.abs(det) > 1e-12, det, 1e-12)
        met = np.column_stack(
            [
                before[1] * normal[:, 1] - before[0][:, 1] * offset,
                before[0][:, 0] * offset - before[1] * normal[:, 0],
            ]
        )
        return _outward(met / det[:, None], inset)

    def _space(self, target: Target, theta: Floats, k: int) -> Floats:
        """Return the corners (4, 3) in the plane's frame, with this vector's errors."""
        x, y, turn, own = theta[own_of(k)]
        if k == 0:
            x = y = turn = 0.0
        one, other = theta[12:14] * target.size_sigma_in
        if target.is_square:
            one, other = one + other, one - other
        w, h = target.size_in[0] + one, target.size_in[1] + other
        lean = theta[14] * target.skew_sigma_rad
        square = np.array([[-w, -h], [w, -h], [w, h], [-w, h]]) / 2
        square[:, 0] += square[:, 1] * np.tan(lean)
        c, s = np.cos(turn), np.sin(turn)
        flat = square @ np.array([[c, s], [-s, c]]) + [x, y]
        raised = self.raised_in + theta[15] * self.raised_sigma_in + own * target.height_sigma_in
        return np.column_stack([flat, np.full(4, -raised)])


def own_of(k: int) -> slice:
    """Return where the parameters of target `k` lie: x, y, turn, height."""
    return slice(FIRST_OF_TARGETS + 4 * k, FIRST_OF_TARGETS + 4 * k + 4)


def _outward(corners: Points, inset: float) -> Points:
    """Return a square's outer corners from those of the square `inset` sides inside it."""
    if inset == 0.0:
        return corners
    past = inset / (1 - 2 * inset)
    low, high = -past, 1 + past
    return apply(from_unit_square(corners), [[low, low], [high, low], [high, high], [low, high]])
