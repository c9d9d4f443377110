"""A plain square of known side, for whoever has no printed card.

A plain square has no number and no frame, so two things are harder.  It must not be confused with
a patch of the top: it has to lie by itself, on a ground of one kind all round, away from the
picture's middle.  And its edge moves when the light is coded with another curve, since there is no
second edge to cancel that; so its corners are less certain than a card's.

References
----------
Quadrilaterals from contours at several levels: the usual maximally stable idea, Matas et al.,
BMVC 2002.  Ramer 1972, Douglas and Peucker 1973 (corners of a contour).
"""

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from seamwalk.errors import ReferenceNotFoundError, ScaleUncertainError
from seamwalk.geometry.projective import Matrix, Points, apply, fit
from seamwalk.model.picture import Photo, Reference
from seamwalk.vision.bands import (
    BandSettings,
    FittedLine,
    crossing,
    fit_edge,
    profiles,
    robust_line,
)
from seamwalk.vision.linear_light import luminance

Floats = NDArray[np.float64]

_UNIT = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], dtype=np.float64)
# Plane (sides) from (u along the side, s inwards from the edge, 1), side by side.
_SIDES = (
    np.array([[1, 0, 0.0], [0, 1, 0.0]]),
    np.array([[0, -1, 1.0], [1, 0, 0.0]]),
    np.array([[-1, 0, 1.0], [0, -1, 1.0]]),
    np.array([[0, 1, 0.0], [-1, 0, 1.0]]),
)
_ADVICE = (
    "Lay it flat on the floor beside the top, with floor of one kind all round it, or use the "
    "printed card (seamwalk card)."
)


@dataclass(frozen=True, slots=True)
class SquareSettings:
    """What may be a square laid beside the top.

    Attributes
    ----------
    search_px : int
        Longer side of the picture at which squares are looked for, pixels.
    levels : int
        Thresholds of each channel; steps must be finer than the least contrast.
    least_side_px : float
        Shorter side, pixels of the photo, below which an edge fit is too coarse.
    most_side : float
        Side over the picture's longer side; larger is the top itself.
    least_fill : float
        Area of the contour over that of its quadrilateral.
    least_contrast : float
        Difference from the ground, CIELAB.
    most_spread : float
        Spread of the ground, and of the square itself, over the contrast.
    proportion_slack : float
        How far from square it may look with the lens taken into account: the lens is known to
        about this.
    middle : float
        Share of width and height, round the picture's middle, where a square is a patch.
    floor_sigma_px : float
        What a corner is never known better than, pixels (measured in simulation: 0.12).
    """

    search_px: int = 1400
    levels: int = 14
    least_side_px: float = 60.0
    most_side: float = 0.3
    least_fill: float = 0.94
    least_contrast: float = 18.0
    most_spread: float = 0.35
    proportion_slack: float = 0.12
    middle: float = 0.4
    floor_sigma_px: float = 0.15
    band: BandSettings = field(default_factory=lambda: BandSettings(strips=16))


def find_square(
    photo: Photo, side_in: float, *, settings: SquareSettings | None = None
) -> Reference:
    """Return the one plain square in the photo.

    Parameters
    ----------
    photo : Photo
        Upright.
    side_in : float
        Its true side, inches.
    settings : SquareSettings, optional
        What may be one.

    Raises
    ------
    ReferenceNotFoundError
        If nothing looks like a square laid by itself.
    ScaleUncertainError
        If several things do.
    """
    s = settings or SquareSettings()
    found = _candidates(photo, s)
    if not found:
        raise ReferenceNotFoundError(
            "I can't see a plain square lying by itself in this photo.", _ADVICE
        )
    if len(found) > 1:
        where = ", ".join(f"({x:.0f},{y:.0f})" for x, y in (q.mean(axis=0) for q in found[:4]))
        raise ScaleUncertainError(
            f"There are {len(found)} plain squares in this photo, at {where}, and I cannot tell "
            "which one you measured.",
            "Take away or cover the others, or use the printed card (seamwalk card).",
        )
    corners, sigma = _measured(photo, found[0], s)
    return Reference(
        corners_px=corners,
        side_in=side_in,
        source="square",
        sigma_px=max(s.floor_sigma_px, sigma),
        by_sides=True,
        warnings=(
            "The scale comes from a plain square, which is less certain than the printed card.",
        ),
    )


def _candidates(photo: Photo, s: SquareSettings) -> list[Points]:
    """Return the corners (4, 2), clockwise, of each thing that may be the square."""
    import cv2

    scale = min(1.0, s.search_px / max(photo.width_px, photo.height_px))
    size = round(photo.width_px * scale), round(photo.height_px * scale)
    small = cv2.resize(np.ascontiguousarray(photo.rgb), size, interpolation=cv2.INTER_AREA)
    lab = np.asarray(
        cv2.cvtColor(small.astype(np.float32) / np.float32(255), cv2.COLOR_RGB2LAB),
        dtype=np.float32,
    )
    least = max(8.0, s.least_side_px * scale)
    most = s.most_side * max(size)
    kept: list[Points] = []
    for quad in _quadrilaterals(lab, s, least, most):
        edge = np.hypot(*(np.roll(quad, -1, axis=0) - quad).T)
        if any(
            float(np.hypot(*(quad.mean(axis=0) - other.mean(axis=0)))) < 0.5 * float(edge.min())
            for other in kept
        ):
            continue
        if _lies_alone(lab, quad, s) and _is_square(photo, quad / scale, s):
            kept.append(quad)
    ratio = np.array([photo.width_px / size[0], photo.height_px / size[1]])
    return [(quad + 0.5) * ratio - 0.5 for quad in kept]


def _quadrilaterals(
    lab: NDArray[np.float32], s: SquareSettings, least: float, most: float
) -> Iterator[Points]:
    """Yield convex four-cornered contours, clockwise, found at any level of any channel."""
    import cv2

    for channel in range(3):
        plane = cv2.GaussianBlur(lab[..., channel], (0, 0), 1.0)
        low, high = np.percentile(plane, (1, 99))
        for level in np.linspace(low, high, s.levels + 2)[1:-1]:
            for mask in (plane > level, plane <= level):
                contours, _ = cv2.findContours(
                    mask.astype(np.uint8), cv2.RETR_LIST, cv2.CHAIN_APPROX_SIMPLE
                )
                for contour in contours:
                    area = cv2.contourArea(contour)
                    if not (0.4 * least**2 <= area <= most**2):
                        continue
                    quad = cv2.approxPolyDP(contour, 0.04 * cv2.arcLength(contour, True), True)
                    if len(quad) != 4 or not cv2.isContourConvex(quad):
                        continue
                    if area < s.least_fill * cv2.contourArea(quad):
                        continue
                    q = np.asarray(quad, dtype=np.float64).reshape(4, 2)
                    edge = np.roll(q, -1, axis=0) - q
                    if np.hypot(*edge.T).min() < least or np.hypot(*edge.T).max() > most:
                        continue
                    clockwise = edge[0, 0] * edge[1, 1] - edge[0, 1] * edge[1, 0] > 0
                    yield q if clockwise else q[::-1]


def _lies_alone(lab: NDArray[np.float32], quad: Points, s: SquareSettings) -> bool:
    """Say whether a quadrilateral is plain, away from the middle, on a ground of one kind."""
    height, width = lab.shape[:2]
    off = np.abs(quad.mean(axis=0) / [width, height] - 0.5)
    if (off < s.middle / 2).all():
        return False
    plane = fit(_UNIT, quad)
    t = np.linspace(0.12, 0.88, 12)
    inside = _colours(lab, plane, np.stack(np.meshgrid(t, t), axis=-1).reshape(-1, 2))
    ring: list[Floats] = []
    along = np.linspace(-0.2, 1.2, 24)
    for away in (-0.15, -0.25, -0.35):
        for a, b in ((along, away), (along, 1 - away), (away, along), (1 - away, along)):
            at = np.column_stack(np.broadcast_arrays(a, b)).astype(np.float64)
            ring.append(_colours(lab, plane, at))
    ground = np.concatenate(ring)
    if not (np.isfinite(inside).all() and np.isfinite(ground).all()):
        return False
    own, other = np.median(inside, axis=0), np.median(ground, axis=0)
    contrast = float(np.linalg.norm(own - other))
    if contrast < s.least_contrast:
        return False
    limit = s.most_spread * contrast
    plain = np.percentile(np.linalg.norm(inside - own, axis=1), 80) <= limit
    even = np.percentile(np.linalg.norm(ground - other, axis=1), 85) <= 1.5 * limit
    alike = all(np.linalg.norm(np.median(side, axis=0) - other) <= limit for side in ring)
    return bool(plain and even and alike)


def _colours(lab: NDArray[np.float32], plane: Matrix, points: Points) -> Floats:
    """Return the colours (N, 3) at points of the square's plane; nan outside the picture."""
    at = np.rint(apply(plane, points)).astype(int)
    height, width = lab.shape[:2]
    ok = (at >= 0).all(axis=1) & (at[:, 0] < width) & (at[:, 1] < height)
    out = np.full((len(at), 3), np.nan)
    out[ok] = lab[at[ok, 1], at[ok, 0]]
    return out


def _is_square(photo: Photo, quad: Points, s: SquareSettings) -> bool:
    """Say whether a quadrilateral may be a square's picture, the lens taken into account."""
    focal = photo.focal_px or 0.72 * max(photo.width_px, photo.height_px)
    centre = np.array([(photo.width_px - 1) / 2, (photo.height_px - 1) / 2])
    h = fit(_UNIT, (quad - centre) / focal)
    a, b = h[:, 0], h[:, 1]
    proportion = abs(float(np.log(np.linalg.norm(a) / np.linalg.norm(b))))
    cosine = abs(float(a @ b / np.linalg.norm(a) / np.linalg.norm(b)))
    slack = s.proportion_slack if photo.focal_px else 1.5 * s.proportion_slack
    return proportion <= slack and cosine <= slack


def _measured(photo: Photo, quad: Points, s: SquareSettings) -> tuple[Points, float]:
    """Return the corners (4, 2) by fitted edges, and the standard deviation of a coordinate."""
    light = luminance(photo.rgb)
    corners = quad
    blur_px = 1.0
    for _ in range(3):
        plane = fit(_UNIT, corners)
        side_px = float(np.hypot(*(np.roll(corners, -1, axis=0) - corners).T).mean())
        reach = min(0.12, max(8.0, 4 * blur_px) / side_px)
        offsets = np.linspace(-reach, reach, max(16, round(2 * reach * side_px * 2)))
        lines: list[FittedLine] = []
        blurs: list[float] = []
        for plane_from_side in _SIDES:
            light_in, u = profiles(
                light, plane, (0.1, 0.9), (offsets, plane_from_side), s.band.strips
            )
            at: list[tuple[float, float, float]] = []
            for position, profile in zip(u, light_in, strict=True):
                step = fit_edge(offsets / reach, profile, blur_px / side_px / reach)
                if (
                    step is not None
                    and step.contrast >= s.band.least_contrast
                    and abs(step.at) < 0.8
                    and step.misfit < 0.15
                ):
                    at.append((float(position), step.at * reach, 1.0))
                    blurs.append(step.blur * reach * side_px)
            points = apply(plane, np.array(at).reshape(-1, 3) @ plane_from_side.T)
            line = robust_line(points, s.band.outlier_sigmas)
            if line is None:
                raise ReferenceNotFoundError(
                    "The plain square's edges are not clear on all four sides.", _ADVICE
                )
            lines.append(line)
        blur_px = float(np.median(blurs))
        corners = np.array([crossing(lines[k - 1], lines[k]) for k in range(4)])
    variances = [line.sigma_px**2 / line.used * (1 + 3 / 0.8**2) for line in lines]
    return corners, float(np.sqrt(np.mean(variances)))
