"""The camera from the top's own four corners, when no card lies beside it.

With the size known, the four corners give the pose as a card does, only that the top may be
slightly askew.  With one length known, the proportion of the sides follows from the corners if
the top is a rectangle, since only one tilt of a known lens shows a rectangle just so; that is
much less certain, and the ± says so.

References
----------
Zhang and He, Whiteboard scanning and image enhancement, 2007 (proportion of a rectangle from one
view).
"""

import math
import re
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from seamwalk.errors import ScaleUncertainError, UsageError
from seamwalk.geometry.lens import Lens
from seamwalk.geometry.projective import Points, fit
from seamwalk.model.picture import Photo, Rectification, ScaleSource
from seamwalk.vision.camera_edited import cropped
from seamwalk.vision.camera_fit import FitSettings, lens_prior, solve
from seamwalk.vision.camera_problem import Problem, Target
from seamwalk.vision.camera_report import (
    DoubtSettings,
    implausible,
    rectification_from,
    with_warnings,
)

_HOW = (
    "Give the top's corners in photo pixels, clockwise from its upper left: --corners \"x,y x,y "
    'x,y x,y".'
)

RIM_PX = 2.0
"""A corner given by a person may lie this far outside the picture and counts as on its rim."""


@dataclass(frozen=True, slots=True)
class CornerSettings:
    """How well corners and sizes given by a person are known.

    Attributes
    ----------
    corner_sigma_px : float
        Of a corner's coordinates, pixels: a fingertip on a zoomed picture.
    size_sigma_in : float
        Of a width or height measured with a tape, inches.
    known_sigma_in : float
        Of the one length that is known, inches.
    skew_sigma_deg : float
        How far from a right angle the top's corners may be.
    proportion_sigma : float
        Relative, of the other side's length found from the tilt alone, before the fit: only a
        start, wide.
    swapped_from : float
        Natural logarithm of the least factor between the proportion seen and said from which
        width and height may be swapped.
    """

    corner_sigma_px: float = 2.0
    size_sigma_in: float = 1 / 16
    known_sigma_in: float = 1 / 16
    skew_sigma_deg: float = 0.5
    proportion_sigma: float = 0.5
    swapped_from: float = 0.15


LEAST_PX = 60.0
"""Pixels between two corners of a top: an edge of 40 in with fewer shows no patches."""


def parse_corners(text: str) -> Points:
    """Return the corners (4, 2) that ``--corners`` gave, in pixels of the photo's file.

    Parameters
    ----------
    text : str
        Four pairs ``x,y``, clockwise from the top's upper left, in pixels of the file's picture
        turned upright.

    Raises
    ------
    UsageError
        If they are not four points, clockwise, round a convex shape.
    """
    number = r"[-+]?(?:\d+(?:\.\d*)?|\.\d+)"
    pairs = re.findall(rf"({number})\s*,\s*({number})", text)
    rest = re.sub(rf"{number}\s*,\s*{number}", "", text)
    if rest.strip(" ;\t\n"):
        raise UsageError(f"“{text}” is not a list of corners.", _HOW)
    if len(pairs) != 4:
        raise UsageError(f"There are {len(pairs)} corners in “{text}”, not four.", _HOW)
    corners = np.array([[float(x), float(y)] for x, y in pairs])
    _refuse_wrong_way(corners)
    return corners


def corners_on(photo: Photo, file_px: Points) -> Points:
    """Return corners (4, 2) in pixels of a photo's file as pixels of `photo`.

    Raises
    ------
    UsageError
        If they lie outside the picture, or are too near to one another.
    """
    return check_corners((file_px + 0.5) / photo.reduction - 0.5, photo)


def check_corners(corners_px: ArrayLike, photo: Photo) -> Points:
    """Return `corners_px` as (4, 2) float64 once they can be a top's, clockwise.

    Raises
    ------
    UsageError
        If they cannot.
    """
    corners = np.asarray(corners_px, dtype=np.float64)
    if corners.shape != (4, 2) or not np.isfinite(corners).all():
        raise UsageError("Four corners with two numbers each are needed.", _HOW)
    size = np.array([photo.width_px, photo.height_px])
    # Other programs count from 1 or to the far rim: a corner on the rim may be a pixel beyond.
    near = (corners >= -0.5 - RIM_PX) & (corners <= size - 0.5 + RIM_PX)
    for k in range(4):
        if not near[k].all():
            x, y = (corners[k] + 0.5) * photo.reduction - 0.5
            width, height = photo.file_size_px
            raise UsageError(
                f"Corner {k + 1} ({x:.0f},{y:.0f}) lies outside the picture of "
                f"{width} × {height} pixels.",
                "The whole top must be in the photo; count pixels from its upper left.",
            )
    edge = np.roll(corners, -1, axis=0) - corners
    shortest, longest = np.sort(np.hypot(*edge.T))[[0, -1]].tolist()
    if shortest > 0 and longest <= LEAST_PX:
        raise UsageError(
            f"The corners are only {longest:.0f} pixels apart: too few to measure a top.",
            "Count pixels in the photo itself, not in a smaller copy of it.",
        )
    _refuse_wrong_way(corners)
    return np.clip(corners, -0.5, size - 0.5)


def _refuse_wrong_way(corners: Points) -> None:
    """Refuse four corners that do not go clockwise round a convex shape, upper left first.

    Raises
    ------
    UsageError
        If they do not.
    """
    edge = np.roll(corners, -1, axis=0) - corners
    after = np.roll(edge, -1, axis=0)
    turn = edge[:, 0] * after[:, 1] - edge[:, 1] * after[:, 0]
    if (np.abs(turn) <= 1e-3 * np.hypot(*edge.T).max() ** 2).any():
        raise UsageError("Three of the corners lie on one line, or two are the same.", _HOW)
    if (turn < 0).all():
        raise UsageError("The corners go round the wrong way, as in a looking glass.", _HOW)
    if not (turn > 0).all():
        raise UsageError("The corners do not go round a top: two of them are swapped.", _HOW)
    first = int(np.argmin(corners.sum(axis=1)))
    if first != 0:
        # A diamond has two equally upper-left corners; only a clear mistake is refused.
        sums = np.sort(corners.sum(axis=1))
        if corners[0].sum() - sums[0] > 0.25 * (sums[-1] - sums[0]):
            raise UsageError("The first corner is not the upper left one.", _HOW)


def rectify_by_corners(
    photo: Photo,
    corners_px: ArrayLike,
    size_in: tuple[float, float],
    *,
    settings: CornerSettings | None = None,
    fit_settings: FitSettings | None = None,
) -> Rectification:
    """Return the camera from the top's corners and its size.

    Parameters
    ----------
    photo : Photo
        Upright.
    corners_px : (4, 2)
        Outer raw corners in this photo's pixels, clockwise from the upper left.
    size_in : (float, float)
        Width and height, inches.
    settings, fit_settings : optional
        How well all this is known.

    Raises
    ------
    UsageError
        If the corners cannot be a top's, or are those of one as wide as this is high.
    ScaleUncertainError
        If no camera shows such a rectangle so.
    """
    s, f = settings or CornerSettings(), fit_settings or FitSettings()
    corners = check_corners(corners_px, photo)
    _refuse_swapped(1 / _proportion(photo, corners, f), size_in, s)
    sigmas = (s.size_sigma_in, s.size_sigma_in)
    return _fitted(photo, corners, size_in, sigmas, ("size", max(size_in)), s, f)


def rectify_by_known(
    photo: Photo,
    corners_px: ArrayLike,
    side: Literal["width", "height"],
    length_in: float,
    *,
    settings: CornerSettings | None = None,
    fit_settings: FitSettings | None = None,
) -> Rectification:
    """Return the camera from the top's corners and one of its lengths.

    The top is taken for a rectangle; the other length follows from the lens.

    Parameters
    ----------
    photo : Photo
        Upright.
    corners_px : (4, 2)
        Outer raw corners in this photo's pixels, clockwise from the upper left.
    side : {"width", "height"}
        Which length is known.
    length_in : float
        That length, inches.
    settings, fit_settings : optional
        How well all this is known.

    Raises
    ------
    UsageError
        If the corners cannot be a top's.
    ScaleUncertainError
        If no camera shows a rectangle so.
    """
    s, f = settings or CornerSettings(), fit_settings or FitSettings()
    corners = check_corners(corners_px, photo)
    proportion = _proportion(photo, corners, f)
    if side == "width":
        size = length_in, length_in * proportion
        sigma = s.known_sigma_in, s.proportion_sigma * size[1]
    else:
        size = length_in / proportion, length_in
        sigma = s.proportion_sigma * size[0], s.known_sigma_in
    found = _fitted(photo, corners, size, sigma, ("known-length", length_in), s, f)
    return with_warnings(
        found,
        f"Only the {side} is known: the other side is worked out as if the top were an exact "
        "rectangle, and is much less certain. Lay two cards beside the top for real sizes.",
    )


def _refuse_swapped(seen: float, size_in: tuple[float, float], s: CornerSettings) -> None:
    """Raise if width and height the other way round are by far nearer to what is seen.

    Parameters
    ----------
    seen : float
        Width over height, as the corners show it.
    """
    said = size_in[0] / size_in[1]
    off, swapped = abs(math.log(seen / said)), abs(math.log(seen * said))
    if off > s.swapped_from and swapped < off / 2:
        wider = "wider than high" if seen > 1 else "higher than wide"
        raise UsageError(
            f"The corners show a top that is {wider}, and --size says the opposite.",
            "Give the width first and then the height, and the corners clockwise from the upper "
            "left.",
        )


def _proportion(photo: Photo, corners: Points, settings: FitSettings) -> float:
    """Return height over width of the rectangle whose picture the corners are."""
    mean, _ = lens_prior(photo, settings)
    lens = Lens(math.exp(mean[0]), (float(mean[1]), float(mean[2])))
    h = fit([[0, 0], [1, 0], [1, 1], [0, 1]], lens.ray_from_px(corners))
    return float(np.linalg.norm(h[:, 1]) / np.linalg.norm(h[:, 0]))


def _fitted(
    photo: Photo,
    corners: Points,
    size: tuple[float, float],
    size_sigma: tuple[float, float],
    scale: tuple[ScaleSource, float],
    settings: CornerSettings,
    fit_settings: FitSettings,
) -> Rectification:
    mean, sigma = lens_prior(photo, fit_settings)
    target = Target(
        corners_px=corners,
        size_in=size,
        sigma_px=settings.corner_sigma_px,
        size_sigma_in=size_sigma,
        skew_sigma_rad=math.radians(settings.skew_sigma_deg),
    )
    problem = Problem(mean, sigma, (target,))
    try:
        found = solve(problem)
        if implausible(found):
            found = solve(cropped(problem, photo, fit_settings))
    except (ValueError, np.linalg.LinAlgError):
        raise ScaleUncertainError(
            "No camera shows a rectangle with its corners there.",
            "Check the four corners; each must be where two raw edges of the top meet.",
        ) from None
    made = rectification_from(photo, found, scale, fit_settings, DoubtSettings())
    return replace(made, reference_in=scale[1])
