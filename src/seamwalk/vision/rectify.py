"""From references in a photo to the camera, with its doubt.

``fit_camera`` fits one camera over one plane to all cards at once; ``refine`` lets the seams say
what the lens does to straight lines; ``align`` turns the frame so that the top lies square in it.
Without a card, ``rectify_by_corners`` and ``rectify_by_known`` take the top's own corners.
"""

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from seamwalk.errors import ScaleUncertainError
from seamwalk.geometry.projective import Points, similarity
from seamwalk.model.card import CELLS
from seamwalk.model.picture import Photo, Rectification, Reference, View
from seamwalk.vision.camera_edited import EDITED, cropped, plane_only
from seamwalk.vision.camera_fit import Fit, FitSettings, lens_prior, solve, solve_near
from seamwalk.vision.camera_model import LENS, theta_from_view
from seamwalk.vision.camera_modes import modes_from, rigid_motion, seen_on_cloth
from seamwalk.vision.camera_problem import Problem, Target
from seamwalk.vision.camera_report import (
    DoubtSettings,
    implausible,
    rectification_from,
    turned_to_picture,
    with_warnings,
)
from seamwalk.vision.rectify_corners import (
    corners_on,
    parse_corners,
    rectify_by_corners,
    rectify_by_known,
)
from seamwalk.vision.rectify_lines import LineEvidence, LineSettings, line_evidence
from seamwalk.vision.tape import TapeEvidence

__all__ = [
    "align",
    "corners_on",
    "fit_camera",
    "parse_corners",
    "rectify_by_corners",
    "rectify_by_known",
    "refine",
]


_FITTED_AT = {"card": (0.5 / CELLS, 1.3 / CELLS), "square": (0.0, 0.1)}
"""Where the straight lines were fitted: how far inside the edge, and from where along it, both
over the side."""


_OTHER_LENSES = tuple(
    np.array([np.log(factor), 0, 0, 0, 0, 0]) for factor in (1 / 3, 1 / 2, 1.0, 2.0, 3.0)
)
"""Where to start looking when the file's focal length cannot be true: times these factors."""


_FEW_STEPS = 30
"""Of a descent from a lens that may be the right one: then twenty are enough."""

_WILD = 60.0
"""No lens bends so much (sum of squares of the radial terms over σ): the photo was edited."""


_MUCH = 0.3
"""A plane that shows all cards square with so much less residual than any camera: likewise."""


@dataclass(frozen=True, slots=True)
class RefineSettings:
    """When the seams are not believed.

    Attributes
    ----------
    most_rms_px : float
        Growth of the references' residual beyond which cards and seams contradict each other,
        pixels.
    most_chi2 : float
        χ² of the lines per degree of freedom beyond which they are no straight seams.
    rounds : int
        How often lines that turn out crooked are left out and the fit repeated.
    lens_tail : float
        Chance below which the radial terms found are those of a lens that the prior knows.
    """

    most_rms_px: float = 0.5
    most_chi2: float = 4.0
    rounds: int = 2
    lens_tail: float = 1e-2


def fit_camera(
    photo: Photo,
    references: tuple[Reference, ...],
    *,
    settings: FitSettings | None = None,
    doubt: DoubtSettings | None = None,
) -> Rectification:
    """Return the camera that best explains the references, with its doubt.

    Parameters
    ----------
    photo : Photo
        Upright.
    references : tuple of Reference
        At least one square; all lie on one plane.
    settings : FitSettings, optional
        Priors.
    doubt : DoubtSettings, optional
        When to warn.

    Returns
    -------
    Rectification
        Frame: inches on the cloth, origin at the first reference's centre, x to the right in the
        picture, y down.

    Raises
    ------
    ScaleUncertainError
        If there is no reference or no camera explains the first.
    """
    s = settings or FitSettings()
    fit = _solved(photo, reference_problem(photo, references, s), s)
    if implausible(fit):
        with suppress(np.linalg.LinAlgError):
            plane = plane_only(photo, references, s)
            several = len(references) > 1
            if plane.rms_px < _MUCH * fit.rms_px if several else _bent(fit) > _WILD:
                return turned_to_picture(photo, plane)
    first = references[0]
    found = rectification_from(
        photo, fit, (first.source, first.side_in), s, doubt or DoubtSettings()
    )
    return with_warnings(found, *(note for r in references for note in r.warnings))


def reference_problem(
    photo: Photo, references: tuple[Reference, ...], settings: FitSettings
) -> Problem:
    """Return what references say of the camera, as a least-squares problem.

    Raises
    ------
    ScaleUncertainError
        If there is no reference.
    """
    if not references:
        raise ScaleUncertainError(
            "Nothing of known size is in the photo.", "Put the printed card beside the top."
        )
    mean, sigma = lens_prior(photo, settings)
    targets = tuple(
        Target(
            corners_px=r.corners_px,
            size_in=(r.side_in, r.side_in),
            sigma_px=float(np.hypot(r.sigma_px, settings.corner_sigma_px)),
            size_sigma_in=(settings.side_sigma_in, settings.stretch_sigma_in),
            is_square=True,
            height_sigma_in=settings.lie_sigma_in,
            sides=_FITTED_AT[r.source] if r.by_sides else None,
        )
        for r in references
    )
    return Problem(
        mean,
        sigma,
        targets,
        raised_in=settings.height_in,
        raised_sigma_in=settings.height_sigma_in,
    )


def _solved(
    photo: Photo, problem: Problem, settings: FitSettings, near: View | None = None
) -> Fit:
    """Return the best fit; with what the file says set aside when it cannot be true.

    First its focal length, then that the whole of the camera's picture is there.
    """
    try:
        fit = solve(problem, near)
        if not implausible(fit):
            return fit
    except (ValueError, np.linalg.LinAlgError):
        raise ScaleUncertainError(
            "The square's four corners cannot be a flat square seen by a camera.",
            "Lay it flat and take the photo again.",
        ) from None
    sigma = problem.lens_sigma.copy()
    sigma[0] = settings.disbelieved_sigma
    steps = _OTHER_LENSES
    if near is not None:
        # An earlier search has found the lens: it is the one to start from.
        found = np.log(near.lens.focal_px) - problem.lens_mean[0]
        steps = (min(_OTHER_LENSES, key=lambda step: abs(float(step[0] - found))),)
    other = _best(
        [replace(problem, lens_mean=problem.lens_mean + s, lens_sigma=sigma) for s in steps], near
    )
    if other is None or implausible(other):
        other = _best([cropped(problem, photo, settings)], near)
    if other is not None and not implausible(other):
        return other
    return fit


def _best(problems: Sequence[Problem], near: View | None) -> Fit | None:
    found = []
    for problem in problems:
        # From a lens far from the true one the descent may leave the cards behind.
        with suppress(ValueError, np.linalg.LinAlgError):
            found.append(solve(problem, near, _FEW_STEPS))
    return min(found, key=lambda f: f.chi2, default=None)


def refine(
    rectification: Rectification,
    photo: Photo,
    references: tuple[Reference, ...],
    lines_px: Sequence[ArrayLike],
    *,
    tapes: Sequence[TapeEvidence] = (),
    settings: FitSettings | None = None,
    lines: LineSettings | None = None,
    limits: RefineSettings | None = None,
) -> Rectification:
    """Return the camera that explains references, tape measures and seam lines together.

    Parameters
    ----------
    rectification : Rectification
        First estimate, in any frame; the result is in the same.
    photo : Photo
        Upright.
    references : tuple of Reference
        As for `fit_camera`.  Empty when the scale came otherwise: then the first estimate with
        its modes is what is known.
    lines_px : sequence of (N, 2)
        Points along each seam line that is straight in the cloth, pixels.
    tapes : sequence of TapeEvidence
        Lengths measured by hand.
    settings, lines, limits : optional
        Priors; what seam lines are believed to be; when they are not believed.

    Returns
    -------
    Rectification
        Without the seams, and with a warning, when seams and references contradict each other;
        without them, too, when no line is long enough to tell anything, and unchanged where no
        camera took the photo.
    """
    s, limit = settings or FitSettings(), limits or RefineSettings()
    if EDITED in rectification.warnings:
        return rectification
    if references:
        problem = reference_problem(photo, references, s)
        first = _solved(photo, problem, s, rectification.view)
    else:
        first = _known(rectification)
    if tapes:
        problem = replace(first.problem, extra=tuple(tapes))
        start = first.theta if problem.span is None else first.theta[:12]
        first = solve_near(problem, start)
    evidence = line_evidence(lines_px, first.camera, lines)
    if evidence is None and not tapes and settings is None:
        return rectification
    fit, worse = first, 1.0
    notes: tuple[str, ...] = ()
    if evidence is not None:
        trimmed, kept = _trimmed(first, evidence, lines or LineSettings(), limit)
        if kept is None or trimmed.rms_px > first.rms_px + limit.most_rms_px:
            notes = (_CROOKED,)
        else:
            residual = kept(trimmed.camera, trimmed.theta)
            fit, worse = trimmed, max(1.0, float(residual @ residual) / kept.freedom)
    if references and (bent := _strange_lens(fit, limit.lens_tail)) > 1:
        worse, notes = worse * bent, (*notes, _BENT)
    return with_warnings(
        _in_frame_of(rectification, photo, fit, worse, settings=s, rms=bool(references)), *notes
    )


_BENT = (
    "The lens bends straight lines more than phones' main cameras do, so all sizes are less "
    "certain. Use the main camera, not the wide one, and let it correct its pictures."
)

_CROOKED = (
    "The seams are not straight enough to tell what the lens did, so the camera is known from the "
    "reference alone."
)


def _strange_lens(fit: Fit, tail: float) -> float:
    """Return by how much the radial terms' squares exceed what their prior expects, at least 1.

    Where the prior is wrong the estimate leans on it wrongly, and the covariance with it; so it
    grows by as much as the terms surprise.
    """
    from scipy.special import chdtri

    surprise = _bent(fit)
    return surprise / 3 if surprise > chdtri(3, tail) else 1.0


def _bent(fit: Fit) -> float:
    """Return the sum of squares of the radial terms, each over its prior's σ."""
    sigmas = ((fit.theta[LENS] - fit.problem.lens_mean) / fit.problem.lens_sigma)[3:]
    return float(sigmas @ sigmas)


def _in_frame_of(
    rectification: Rectification,
    photo: Photo,
    fit: Fit,
    worse: float,
    *,
    settings: FitSettings,
    rms: bool,
) -> Rectification:
    """Return a fit, its covariance times `worse`, laid on the frame of an earlier one."""
    modes = modes_from(photo, fit.theta, fit.covariance * worse, settings.negligible_in)
    old = rectification.view
    points = seen_on_cloth(photo, old)
    back = rigid_motion(fit.camera.view.top_from_px(old.px_from_top(points)), points)
    return replace(
        rectification,
        view=fit.camera.view.moved(back),
        modes=tuple(mode.moved(back) for mode in modes),
        rms_px=fit.rms_px if rms else rectification.rms_px,
    )


def _trimmed(
    first: Fit, evidence: LineEvidence, lines: LineSettings, limit: RefineSettings
) -> tuple[Fit, LineEvidence | None]:
    """Return the fit with the lines that are straight in it, or None for the lines."""
    fit, kept = first, evidence
    for _ in range(limit.rounds):
        fit = solve_near(_with(first, kept), fit.theta)
        rms = kept.line_rms(fit.camera)
        straight = rms <= lines.outlier_sigmas
        if straight.all():
            break
        again = kept.only(straight, fit.camera, lines)
        if again is None or straight.mean() < 0.5:
            return fit, None
        kept = again
        fit = solve_near(_with(first, kept), fit.theta)
    residual = kept(fit.camera, fit.theta)
    if float(residual @ residual) / kept.freedom > limit.most_chi2:
        return fit, None
    return fit, kept


def _with(first: Fit, lines: LineEvidence) -> Problem:
    """Return the problem of a first fit with seam lines added."""
    return replace(first.problem, extra=(*first.problem.extra, lines))


def _known(rectification: Rectification) -> Fit:
    """Return an estimate and its modes as a problem of its own, without references.

    The modes span what is unknown; the prior is a unit Gaussian on each.
    """
    best = theta_from_view(rectification.view)
    columns = [theta_from_view(mode) - best for mode in rectification.modes]
    spread = np.column_stack(columns) if columns else np.zeros((12, 0))
    problem = Problem(best[:6], np.ones(6), (), span=spread, origin=best)
    return Fit(problem, best, spread @ spread.T, 0.0, 0.0)


def align(rectification: Rectification, outline_in: ArrayLike) -> Rectification:
    """Return the same camera, its frame turned and shifted to the top.

    Parameters
    ----------
    rectification : Rectification
        Any frame with x roughly to the right in the picture.
    outline_in : (N, 2)
        The top's outline in that frame, inches, in order.

    Returns
    -------
    Rectification
        The top's edges lie along the axes as well as they can (length-weighted median of their
        directions, at most 45° from the picture's), and its bounding box starts at (0, 0).
    """
    p = np.asarray(outline_in, dtype=np.float64).reshape(-1, 2)
    turn = similarity(-_lie(p), (0.0, 0.0))
    low = (p @ turn[:2, :2].T).min(axis=0)
    turn[:2, 2] = -low
    return rectification.moved(turn)


def _lie(outline: Points) -> float:
    """Return the angle, within ± 45°, by which an outline's edges are off the axes."""
    edge = np.roll(outline, -1, axis=0) - outline
    length = np.hypot(*edge.T)
    edge, length = edge[length > 0], length[length > 0]
    angle = np.arctan2(edge[:, 1], edge[:, 0])
    # Four times the angle folds the four sides on one direction.
    start = float(np.angle(np.sum(length**2 * np.exp(4j * angle)))) / 4
    off = (angle - start + np.pi / 4) % (np.pi / 2) - np.pi / 4
    order = np.argsort(off)
    half = np.searchsorted(np.cumsum(length[order]), length.sum() / 2)
    middle = start + float(off[order][min(int(half), len(off) - 1)])
    return float((middle + np.pi / 4) % (np.pi / 2) - np.pi / 4)
