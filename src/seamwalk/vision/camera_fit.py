"""One camera over one plane, fitted to squares of known size by least squares.

The unknowns are a vector: lens (log focal length, principal point, k1, k2, k3), pose of the plane
(rotation vector, shift), and for each square what is not known of it exactly: its place on the
plane, its printed size, its height above the cloth.  Every unknown that the picture alone does
not fix has a prior, written as a residual like the measurements, so that the inverse of JᵀJ is
the covariance of everything at once.  All measurement residuals are in pixels: residuals in
inches would reward a smaller map.

The plane's frame: x to the right as printed on the first square, y down, z into the cloth; the
camera stands at z < 0.

References
----------
Triggs et al., Bundle adjustment: a modern synthesis, 2000, § 2 and 8 (covariance, gauge).
Two poses of one square: Collins and Bartoli, Infinitesimal plane-based pose estimation, IJCV
109:252, 2014 (OpenCV's SOLVEPNP_IPPE).
"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.lens import Lens
from seamwalk.geometry.projective import Matrix, Points, apply, fit
from seamwalk.model.picture import Photo, View

Floats = NDArray[np.float64]
Residuals = Callable[["Camera", Floats], Floats]

LENS, POSE = slice(0, 6), slice(6, 12)
_MOST_STEPS = 80
"""Evaluations of one descent; the right pose needs about 20, the wrong one may crawl for ever."""
FIRST_OF_TARGETS = 12


@dataclass(frozen=True, slots=True)
class FitSettings:
    """Priors: one standard deviation of what the picture alone does not tell.

    Attributes
    ----------
    assumed_mm : float
        35 mm-equivalent focal length when the file names none: main cameras of phones have 23
        to 28 mm.
    assumed_sigma : float
        Relative standard deviation of that.
    centre_sigma : float
        Of the principal point, over the picture's longer side; cropping by stabilisation and
        the mounting of the lens.
    k_sigma : (float, float, float)
        Of k1, k2, k3: phones correct their pictures, a few per cent at the rim stay.
    size_sigma_in : float
        Of a printed card's width and height, inches: measured with a ruler to 1/128.
    height_sigma_in : float
        Of a card's height above the cloth, inches: 3 mm.
    corner_sigma_px : float
        Added to each reference's own in quadrature: paper that is not flat.
    negligible_in : float
        Modes of the covariance that move no point of the picture by more are dropped, inches.
    """

    assumed_mm: float = 26.0
    assumed_sigma: float = 0.25
    centre_sigma: float = 0.01
    k_sigma: tuple[float, float, float] = (0.05, 0.03, 0.02)
    size_sigma_in: float = 1 / 128
    height_sigma_in: float = 3 / 25.4
    corner_sigma_px: float = 0.03
    negligible_in: float = 0.002


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
        Of width and height; 0 is exact.
    height_sigma_in : float
        Of its height above the plane; 0 is exact.
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


@dataclass(frozen=True, slots=True, eq=False)
class Camera:
    """A parameter vector read as lens and pose.

    Attributes
    ----------
    lens : Lens
    rotation : (3, 3) float64
        From plane to camera axes.
    shift : (3,) float64
        Of the plane's origin in camera axes, inches.
    """

    lens: Lens
    rotation: Matrix
    shift: Floats

    @property
    def ray_from_top(self) -> Matrix:
        """Homography (3, 3) from the plane to rays."""
        return np.column_stack([self.rotation[:, 0], self.rotation[:, 1], self.shift])

    @property
    def top_from_ray(self) -> Matrix:
        """Homography (3, 3) from rays to the plane, inches."""
        h = np.linalg.inv(self.ray_from_top).astype(np.float64)
        out: Matrix = h / np.linalg.norm(h)
        return out

    @property
    def view(self) -> View:
        """The same as a noun."""
        return View(self.lens, self.top_from_ray)

    @property
    def tilt_rad(self) -> float:
        """Angle between the line of sight and straight down."""
        return float(np.arccos(np.clip(self.rotation[2, 2], -1, 1)))

    def px_from_space(self, points: Floats) -> Points:
        """Return the pixels (N, 2) of points (N, 3) inches in the plane's frame."""
        p = points @ self.rotation.T + self.shift
        # Behind the camera nothing is seen; a large finite miss keeps the fit from going there.
        z = np.maximum(p[:, 2], 1e-3)
        return self.lens.px_from_ray(p[:, :2] / z[:, None])


def camera_from(theta: Floats) -> Camera:
    """Return the camera that a parameter vector (≥ 12,) stands for."""
    return Camera(
        lens=Lens(
            float(np.exp(theta[0])),
            (float(theta[1]), float(theta[2])),
            (float(theta[3]), float(theta[4]), float(theta[5])),
        ),
        rotation=rotation_from(theta[6:9]),
        shift=np.array([theta[9], theta[10], 1.0]) * np.exp(theta[11]),
    )


def rotation_from(vector: Floats) -> Matrix:
    """Return the rotation matrix (3, 3) of a rotation vector (3,)."""
    from scipy.spatial.transform import Rotation

    out: Matrix = Rotation.from_rotvec(vector).as_matrix()
    return out


def pose_vector(rotation: Matrix, shift: Floats) -> Floats:
    """Return the six pose parameters of a rotation (3, 3) and shift (3,) with z > 0."""
    from scipy.spatial.transform import Rotation

    return np.concatenate(
        [
            Rotation.from_matrix(rotation).as_rotvec(),
            shift[:2] / shift[2],
            [np.log(shift[2])],
        ]
    )


def theta_from_view(view: View) -> Floats:
    """Return the twelve parameters of lens and pose of a view."""
    lens = view.lens
    m = np.linalg.inv(view.top_from_ray)
    m = m / np.sqrt(np.linalg.norm(m[:, 0]) * np.linalg.norm(m[:, 1]))
    m = m if m[2, 2] > 0 else -m
    u, _, vt = np.linalg.svd(np.column_stack([m[:, 0], m[:, 1], np.cross(m[:, 0], m[:, 1])]))
    return np.concatenate(
        [
            [np.log(lens.focal_px), *lens.centre_px, *lens.radial],
            pose_vector(u @ vt, m[:, 2]),
        ]
    )


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
    """

    lens_mean: Floats
    lens_sigma: Floats
    targets: tuple[Target, ...]
    extra: tuple[Residuals, ...] = ()
    span: Floats | None = None
    origin: Floats = field(default_factory=lambda: np.zeros(12))

    @property
    def length(self) -> int:
        """Number of parameters: lens, pose, size and skew, and place and height of each."""
        return FIRST_OF_TARGETS + 3 + 4 * len(self.targets)

    def residuals(self, theta: Floats) -> Floats:
        """Return all residuals, each over its standard deviation."""
        camera = camera_from(theta)
        parts = [(theta[LENS] - self.lens_mean) / self.lens_sigma, theta[12:15]]
        for k, target in enumerate(self.targets):
            own = theta[15 + 4 * k : 19 + 4 * k]
            miss = self._seen(camera, target, theta, k) - target.corners_px
            parts.append((miss / target.sigma_px).ravel())
            # The first one's place is the frame itself: nothing but this holds it, at zero.
            parts.append(own if k == 0 else own[3:])
        parts.extend(f(camera, theta) for f in self.extra)
        return np.concatenate(parts)

    def _seen(self, camera: Camera, target: Target, theta: Floats, k: int) -> Points:
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
        met = np.column_stack(
            [
                before[1] * normal[:, 1] - before[0][:, 1] * offset,
                before[0][:, 0] * offset - before[1] * normal[:, 0],
            ]
        )
        return _outward(met / det[:, None], inset)

    def _space(self, target: Target, theta: Floats, k: int) -> Floats:
        """Return the corners (4, 3) in the plane's frame, with this vector's errors."""
        x, y, turn, raised = theta[15 + 4 * k : 19 + 4 * k]
        if k == 0:
            x = y = turn = 0.0
        w = target.size_in[0] + theta[12] * target.size_sigma_in[0]
        h = target.size_in[1] + theta[13] * target.size_sigma_in[1]
        lean = theta[14] * target.skew_sigma_rad
        square = np.array([[-w, -h], [w, -h], [w, h], [-w, h]]) / 2
        square[:, 0] += square[:, 1] * np.tan(lean)
        c, s = np.cos(turn), np.sin(turn)
        flat = square @ np.array([[c, s], [-s, c]]) + [x, y]
        return np.column_stack([flat, np.full(4, -raised * target.height_sigma_in)])


def _outward(corners: Points, inset: float) -> Points:
    """Return a square's outer corners from those of the square `inset` sides inside it."""
    if inset == 0.0:
        return corners
    low, high = inset, 1 - inset
    inner = np.array([[low, low], [high, low], [high, high], [low, high]])
    return apply(fit(inner, corners), np.array([[0, 0], [1, 0], [1, 1], [0, 1]]))


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """The least-squares estimate.

    Attributes
    ----------
    problem : Problem
    theta : (P,) float64
        Estimate.
    covariance : (P, P) float64
    chi2 : float
        Sum of squared residuals, priors included.
    rms_px : float
        Of the targets' corners.
    rival_chi2 : float
        The same of the second best pose; infinite when there is none.
    """

    problem: Problem
    theta: Floats
    covariance: Floats
    chi2: float
    rms_px: float
    rival_chi2: float = field(default=np.inf)

    @property
    def camera(self) -> Camera:
        """The estimated camera."""
        return camera_from(self.theta)


def lens_prior(photo: Photo, settings: FitSettings) -> tuple[Floats, Floats]:
    """Return mean and standard deviation (6,) of the lens parameters before the fit."""
    diagonal = float(np.hypot(photo.width_px, photo.height_px))
    focal = photo.focal_px or settings.assumed_mm * diagonal / np.hypot(36.0, 24.0)
    sigma = photo.focal_sigma if photo.focal_px else settings.assumed_sigma
    longer = max(photo.width_px, photo.height_px)
    centre = settings.centre_sigma * longer
    mean = np.array(
        [np.log(focal), (photo.width_px - 1) / 2, (photo.height_px - 1) / 2, 0.0, 0.0, 0.0]
    )
    return mean, np.array([sigma, centre, centre, *settings.k_sigma])


def solve(problem: Problem, start: Floats | None = None) -> Fit:
    """Return the best estimate, trying both poses that the first square allows.

    Raises
    ------
    ValueError
        If the first target's corners allow no pose in front of the camera.
    """
    starts = [start] if start is not None else _starts(problem)
    fits = sorted((_descend(problem, s) for s in starts), key=lambda f: f.chi2)
    if not fits:
        raise ValueError("no pose in front of the camera")
    best = fits[0]
    rivals = [f.chi2 for f in fits[1:] if np.abs(f.theta[POSE] - best.theta[POSE]).max() > 1e-3]
    return replace(best, rival_chi2=min(rivals, default=np.inf))


def solve_near(problem: Problem, start: Floats) -> Fit:
    """Return the best estimate next to `start`: (P,) parameters, or (12,) with a span."""
    if problem.span is None:
        return _descend(problem, start)
    from scipy.optimize import least_squares

    span, best = problem.span, start[:12]
    offset = np.linalg.lstsq(span, best - problem.origin, rcond=None)[0]

    def residuals(c: Floats) -> Floats:
        theta = problem.origin + span @ c
        camera = camera_from(theta)
        return np.concatenate([c, *(f(camera, theta) for f in problem.extra)])

    found = least_squares(residuals, offset, method="trf", x_scale=1.0, diff_step=1e-5)
    jac = np.asarray(found.jac, dtype=np.float64)
    covariance = span @ np.linalg.inv(jac.T @ jac) @ span.T
    return Fit(problem, problem.origin + span @ found.x, covariance, 2 * float(found.cost), 0.0)


def _descend(problem: Problem, start: Floats) -> Fit:
    from scipy.optimize import least_squares

    scale = np.ones(problem.length)
    scale[LENS] = problem.lens_sigma
    scale[POSE] = 0.01
    for k in range(1, len(problem.targets)):
        scale[15 + 4 * k : 18 + 4 * k] = (0.05, 0.05, 0.005)
    found = least_squares(
        problem.residuals,
        start,
        x_scale=scale,
        method="lm",
        xtol=1e-10,
        ftol=1e-10,
        gtol=1e-10,
        max_nfev=_MOST_STEPS,
    )
    jac = np.asarray(found.jac, dtype=np.float64) * scale
    covariance = np.linalg.pinv(jac.T @ jac, rcond=1e-14, hermitian=True)
    camera = camera_from(found.x)
    misses = [
        problem._seen(camera, t, found.x, k) - t.corners_px for k, t in enumerate(problem.targets)
    ]
    return Fit(
        problem=problem,
        theta=found.x,
        covariance=covariance * np.outer(scale, scale),
        chi2=2 * float(found.cost),
        rms_px=float(np.sqrt(np.mean(np.square(misses)))),
    )


def _starts(problem: Problem) -> list[Floats]:
    """Return a start for each pose of the first square, the others laid on the same plane."""
    import cv2

    lens = camera_from(np.concatenate([problem.lens_mean, np.zeros(6)])).lens
    rays = [lens.ray_from_px(t.corners_px) for t in problem.targets]
    first = problem.targets[0]
    w, h = first.size_in
    square = np.array([[-w, -h, 0], [w, -h, 0], [w, h, 0], [-w, h, 0]]) / 2
    _, turns, shifts, _ = cv2.solvePnPGeneric(
        square, rays[0], np.eye(3), None, flags=cv2.SOLVEPNP_IPPE
    )
    starts: list[Floats] = []
    for turn, shift in zip(turns, shifts, strict=True):
        rotation = rotation_from(np.asarray(turn, dtype=np.float64).ravel())
        t = np.asarray(shift, dtype=np.float64).ravel()
        # z into the cloth points away from the camera when seen from above.
        if t[2] <= 0 or not np.isfinite(t).all():
            continue
        theta = np.zeros(problem.length)
        theta[LENS] = problem.lens_mean
        theta[POSE] = pose_vector(rotation, t)
        top_from_ray = camera_from(theta).top_from_ray
        for k, (target, ray) in enumerate(zip(problem.targets, rays, strict=True)):
            if k == 0:
                continue
            q = np.column_stack([ray, np.ones(4)]) @ top_from_ray.T
            flat = q[:, :2] / q[:, 2:]
            middle = flat.mean(axis=0)
            edge = flat[1] - flat[0] + flat[2] - flat[3]
            theta[15 + 4 * k : 18 + 4 * k] = (*middle, np.arctan2(edge[1], edge[0]))
            del target
        starts.append(theta)
    return starts
