"""Photos that were cropped or edited, whose references contradict the camera that a photo has.

A cropped photo has a camera, only that its axis need not be near the picture's middle.  One that
was put together or squeezed has none; a plane in it is then known by nothing but a homography.

References
----------
Hartley and Zisserman, Multiple View Geometry, 2nd ed., § 4.1 (homography from four points), § 5.1
(its covariance).
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.lens import Lens
from seamwalk.geometry.projective import Matrix, Points, apply, fit, similarity
from seamwalk.model.picture import Photo, Rectification, Reference, View
from seamwalk.vision.camera_fit import FitSettings, lens_prior
from seamwalk.vision.camera_modes import registered, seen_on_cloth
from seamwalk.vision.camera_problem import Problem

Floats = NDArray[np.float64]

EDITED = (
    "What the references show is no flat square seen by any camera: the photo was edited, or "
    "something is bent or raised. Sizes are rough. Use the photo as it came from the camera, with "
    "the cards flat on the floor beside the top."
)


def cropped(problem: Problem, photo: Photo, settings: FitSettings) -> Problem:
    """Return the problem of a photo that somebody cropped: any lens, its axis anywhere near.

    Few references say nothing of how a lens bends; without this it would be bent to take up all
    contradiction.
    """
    sigma = problem.lens_sigma.copy()
    sigma[0] = settings.disbelieved_sigma
    sigma[1:3] = settings.cropped_sigma * max(photo.width_px, photo.height_px)
    return replace(problem, lens_sigma=sigma)


def plane_only(
    photo: Photo, references: tuple[Reference, ...], settings: FitSettings
) -> Rectification:
    """Return the plane that shows the references square, whatever camera that would take.

    Parameters
    ----------
    photo : Photo
    references : tuple of Reference
        At least one.
    settings : FitSettings

    Raises
    ------
    numpy.linalg.LinAlgError
        If the corners of the first lie on a line.
    """
    from scipy.optimize import least_squares

    mean, _ = lens_prior(photo, settings)
    lens = Lens(float(np.exp(mean[0])), (float(mean[1]), float(mean[2])))
    squares = [_square(r.side_in) for r in references]
    start = fit(squares[0], lens.ray_from_px(references[0].corners_px))
    start /= start[2, 2]
    flat = np.linalg.inv(start).astype(np.float64)
    places = [_place(flat, lens, r) for r in references[1:]]
    first = np.concatenate([start.ravel()[:8], *places])

    def misses(theta: Floats) -> Floats:
        plane = np.append(theta[:8], 1.0).reshape(3, 3)
        out = []
        for k, (square, reference) in enumerate(zip(squares, references, strict=True)):
            at = square
            if k:
                x, y, turn = theta[5 + 3 * k : 8 + 3 * k]
                at = apply(similarity(turn, (x, y)), square)
            out.append((lens.px_from_ray(apply(plane, at)) - reference.corners_px).ravel())
        return np.concatenate(out) / settings.edited_sigma_px

    scale = np.maximum(np.abs(first), 1e-3)
    found = least_squares(misses, first, x_scale=scale, method="lm")
    jac = np.asarray(found.jac, dtype=np.float64) * scale
    values, vectors = np.linalg.eigh(np.linalg.inv(jac.T @ jac))
    best = _view(lens, found.x)
    points = seen_on_cloth(photo, best)
    px = best.px_from_top(points)
    modes = []
    for value, vector in zip(values, vectors.T, strict=True):
        moved = _view(lens, found.x + scale * vector * np.sqrt(max(value, 0.0)))
        modes.append(registered(moved, px, points))
    rms = float(np.sqrt(np.mean(found.fun**2))) * settings.edited_sigma_px
    one = references[0]
    return Rectification(best, tuple(modes), one.source, one.side_in, rms, (EDITED,))


def _square(side: float) -> Points:
    return np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * side / 2


def _place(top_from_ray: Matrix, lens: Lens, reference: Reference) -> Floats:
    """Return x, y and turn of a reference on the plane of another, (3,)."""
    at = apply(top_from_ray, lens.ray_from_px(reference.corners_px))
    edge = at[1] - at[0] + at[2] - at[3]
    return np.array([*at.mean(axis=0), np.arctan2(edge[1], edge[0])])


def _view(lens: Lens, theta: Floats) -> View:
    h = np.linalg.inv(np.append(theta[:8], 1.0).reshape(3, 3))
    return View(lens, h / np.linalg.norm(h))
