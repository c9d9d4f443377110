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

from contextlib import suppress
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from seamwalk.model.picture import Photo, View
from seamwalk.vision.camera_model import (
    LENS,
    POSE,
    Camera,
    camera_from,
    pose_vector,
    rotation_from,
    theta_from_view,
)
from seamwalk.vision.camera_problem import Problem, own_of

Floats = NDArray[np.float64]

_MOST_STEPS = 80
"""Evaluations of one descent; the right pose needs about 20, the wrong one may crawl for ever."""

_LAST_STEPS = 400
"""Of the wrong one, where it has come so near that it may be a pose of its own or may not."""

_NEAR = 50.0
"""In χ² more than the best."""

_FIRST_STEPS = 24
"""After so many …"""

_HOPELESS = 1e4
"""… a pose whose χ² is so many times the other's is given up."""


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
    disbelieved_sigma : float
        Relative standard deviation of the file's focal length once the references contradict
        it: a phone's lenses differ by factors of two to three.
    cropped_sigma : float
        Of the principal point, over the picture's longer side, once the references contradict an
        uncropped photo: a third of a side cut off moves it by a sixth.
    edited_sigma_px : float
        Of references' corners in a photo that no camera took: it was scaled or drawn over, and
        nobody knows how well.
    centre_sigma : float
        Of the principal point, over the picture's longer side; cropping by stabilisation and
        the mounting of the lens.
    k_sigma : (float, float, float)
        Of k1, k2, k3: phones correct their pictures, a few per cent at the rim stay.
    side_sigma_in : float
        Of a square's side, inches: measured with a ruler to 1/128.
    stretch_sigma_in : float
        Of half the difference of a square's width and height, inches: one side is measured, and
        printers feed paper a tenth of a per cent too far or too little.
    height_in, height_sigma_in : float
        Of all cards' height above the cloth, inches: on the floor beside a top, whose face lies
        about 1 mm higher, more where it puckers.
    lie_sigma_in : float
        Of each card's own height beside that, inches: 1 mm, floor and paper.
    corner_sigma_px : float
        Added to each reference's own in quadrature: paper that is not flat.
    negligible_in : float
        Modes of the covariance that move no point of the picture by more are dropped, inches.
    """

    assumed_mm: float = 26.0
    assumed_sigma: float = 0.25
    disbelieved_sigma: float = 0.6
    cropped_sigma: float = 0.15
    edited_sigma_px: float = 0.25
    centre_sigma: float = 0.01
    k_sigma: tuple[float, float, float] = (0.07, 0.05, 0.03)
    side_sigma_in: float = 1 / 128
    stretch_sigma_in: float = 1 / 256
    height_in: float = -1 / 25.4
    height_sigma_in: float = 2.5 / 25.4
    lie_sigma_in: float = 1 / 25.4
    corner_sigma_px: float = 0.01
    negligible_in: float = 0.002


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
    settled : bool
        Not cut short.
    """

    problem: Problem
    theta: Floats
    covariance: Floats
    chi2: float
    rms_px: float
    rival_chi2: float = field(default=np.inf)
    settled: bool = True

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


def solve(problem: Problem, near: View | None = None, most_steps: int = _MOST_STEPS) -> Fit:
    """Return the best estimate, trying both poses that the first square allows.

    Parameters
    ----------
    problem : Problem
        What is known.
    near : View or None
        An earlier estimate: only the pose that leans as it does is tried.
    most_steps : int
        Of each descent.

    Raises
    ------
    ValueError
        If the first target's corners allow no pose in front of the camera.
    """
    starts = _starts(problem)
    if near is not None and len(starts) > 1:
        # The cloth's normal is the same in whichever frame the earlier one was told.
        up = rotation_from(theta_from_view(near)[6:9])[:, 2]
        starts.sort(key=lambda t: -float(rotation_from(t[6:9])[:, 2] @ up))
        starts = starts[:1]
    fits: list[Fit] = []
    for one in starts:
        # The wrong one of two poses may lead to where no picture is; the other then stands.
        with suppress(ValueError, np.linalg.LinAlgError):
            if fits and most_steps > _FIRST_STEPS:
                tried = _descend(problem, one, _FIRST_STEPS)
                if tried.settled or tried.chi2 > _HOPELESS * max(fits[0].chi2, 1.0):
                    fits.append(tried)
                    continue
            fits.append(_descend(problem, one, most_steps))
    fits.sort(key=lambda f: f.chi2)
    if not fits:
        raise ValueError("no pose in front of the camera")
    if len(fits) > 1 and not fits[1].settled and fits[1].chi2 < fits[0].chi2 + _NEAR:
        # Still on its way: mostly to where the other one is.
        with suppress(ValueError, np.linalg.LinAlgError):
            fits[1] = _descend(problem, fits[1].theta, _LAST_STEPS)
        fits.sort(key=lambda f: f.chi2)
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

    found = least_squares(residuals, offset, method="trf", x_scale=1.0, diff_step=[1e-5])
    jac = np.asarray(found.jac, dtype=np.float64)
    covariance = span @ np.linalg.inv(jac.T @ jac) @ span.T
    return Fit(problem, problem.origin + span @ found.x, covariance, 2 * float(found.cost), 0.0)


def _descend(problem: Problem, start: Floats, most_steps: int = _MOST_STEPS) -> Fit:
    from scipy.optimize import least_squares

    scale = np.ones(problem.length)
    scale[LENS] = problem.lens_sigma
    scale[POSE] = 0.01
    for k in range(1, len(problem.targets)):
        scale[own_of(k)] = (0.05, 0.05, 0.005, 1.0)
    found = least_squares(
        problem.residuals,
        start,
        x_scale=scale,
        method="lm",
        xtol=1e-10,
        ftol=1e-10,
        gtol=1e-10,
        max_nfev=most_steps,
    )
    jac = np.asarray(found.jac, dtype=np.float64) * scale
    covariance = np.linalg.pinv(jac.T @ jac, rcond=1e-14, hermitian=True)
    camera = camera_from(found.x)
    misses = [
        problem.seen(camera, t, found.x, k) - t.corners_px for k, t in enumerate(problem.targets)
    ]
    return Fit(
        problem=problem,
        theta=found.x,
        covariance=covariance * np.outer(scale, scale),
        chi2=2 * float(found.cost),
        rms_px=float(np.sqrt(np.mean(np.square(misses)))),
        settled=bool(found.success),
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
            theta[own_of(k)] = (*middle, np.arctan2(edge[1], edge[0]), 0.0)
            del target
        starts.append(theta)
    return starts
