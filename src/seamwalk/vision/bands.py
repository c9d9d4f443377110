"""Edges of a dark band or of a plain square, to a hundredth of a pixel.

A side is looked at through *strips*: short windows across it, averaged along it.  To each strip
belongs a profile of light, and to each profile a model: light, dark, light with two blurred steps
(a band), or one blurred step (an edge).  The middle between a band's two steps does not move when
the picture is blurred, when ink spreads, or when the light is coded with another curve than sRGB:
all three act on both steps alike.

References
----------
Gauss–Newton on separable models: Golub and Pereyra, SIAM J. Numer. Anal. 10(2), 1973 (the levels
are linear and eliminated in each step).  Line through points: total least squares, Golub and Van
Loan, Matrix Computations, ch. 6.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.projective import Matrix, Points, apply
from seamwalk.vision.linear_light import Light

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class BandSettings:
    """How a side is sampled and when a strip is thrown out.

    Attributes
    ----------
    strips : int
        Windows along one side: enough for a robust line, each still many pixels long.
    samples_per_px : float
        Samples across, per pixel of the picture.
    least_contrast : float
        Step in linear light below which there is no edge (paper 0.7, ink 0.05; in deep shade a
        tenth of that).
    outlier_sigmas : float
        Strips farther from the line than this many robust standard deviations are left out
        (creases, shadows, a thread across).
    """

    strips: int = 12
    samples_per_px: float = 2.0
    least_contrast: float = 0.03
    outlier_sigmas: float = 3.5


@dataclass(frozen=True, slots=True)
class Step:
    """A fitted profile.

    Attributes
    ----------
    at : float
        Middle of the band, or place of the edge, along the profile.
    width : float
        Of the band; 0 for an edge.
    blur : float
        Standard deviation of the blur, in the profile's unit.
    contrast : float
        Light minus dark, the lesser of both sides of a band.
    misfit : float
        Root mean square residual over the contrast.
    """

    at: float
    width: float
    blur: float
    contrast: float
    misfit: float


@dataclass(frozen=True, slots=True, eq=False)
class FittedLine:
    """A straight line n · p = c with unit normal, and how well the points lie on it.

    Attributes
    ----------
    normal : (2,) float64
    offset : float
    sigma_px : float
        Root mean square distance of the points used.
    used : int
        Number of points used.
    """

    normal: Points
    offset: float
    sigma_px: float
    used: int


def profiles(
    light: Light,
    px_from_plane: Matrix,
    along: tuple[float, float],
    across: tuple[Floats, Floats],
    strips: int,
) -> tuple[Floats, Floats]:
    """Return strips' profiles of light along straight paths of a plane seen in the picture.

    Parameters
    ----------
    light : (H, W) float32
        Linear luminance.
    px_from_plane : (3, 3)
        Homography from the plane to pixels.
    along : (float, float)
        Range along the side, in units of the plane's first coordinate.
    across : ((S,) float64, (2, 3) float64)
        Offsets at which to sample, and the affine map that makes plane points of
        (along, across, 1).
    strips : int
        Number of strips.

    Returns
    -------
    (strips, S) float64
        Mean light; nan where the picture does not reach.
    (strips,) float64
        Middle of each strip along the side.
    """
    import cv2

    offsets, plane_from_side = across
    ends = apply(
        px_from_plane,
        np.array([[along[0], 0, 1.0], [along[1], 0, 1.0]]) @ plane_from_side.T,
    )
    length = float(np.hypot(*(ends[1] - ends[0])))
    lanes = max(3, round(length / strips))
    u = along[0] + (along[1] - along[0]) * (np.arange(strips * lanes) + 0.5) / (strips * lanes)
    uu, ss = np.meshgrid(u, offsets, indexing="ij")
    side = np.column_stack([uu.ravel(), ss.ravel(), np.ones(uu.size)])
    px = apply(px_from_plane, side @ plane_from_side.T)
    low = np.floor(px.min(axis=0)).astype(int) - 2
    low = np.clip(low, 0, np.array([light.shape[1] - 1, light.shape[0] - 1]))
    high = np.ceil(px.max(axis=0)).astype(int) + 3
    crop = np.ascontiguousarray(light[low[1] : max(high[1], low[1] + 1), low[0] : high[0]])
    local = (px - low).astype(np.float32).reshape(*uu.shape, 2)
    values = np.empty(uu.shape, dtype=np.float32)
    # The library's remap takes at most 32767 rows or columns.
    for a in range(0, uu.shape[0], 8192):
        part = local[a : a + 8192]
        values[a : a + 8192] = cv2.remap(
            crop,
            np.ascontiguousarray(part[..., 0]),
            np.ascontiguousarray(part[..., 1]),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_CONSTANT,
            borderValue=(float("nan"),),
        )
    mean = values.astype(np.float64).reshape(strips, lanes, -1).mean(axis=1)
    return mean, u.reshape(strips, lanes).mean(axis=1)


def fit_band(s: Floats, light: Floats, blur: float, inner_gap: float) -> Step | None:
    """Return the dark band in a profile, or None where there is none.

    Parameters
    ----------
    s : (S,) float64
        Positions, in units of the band's nominal width, 0 near the band's middle.
    light : (S,) float64
        Linear light.
    blur : float
        First guess of the blur, same unit.
    inner_gap : float
        Distance from the band's outer edge to the next dark thing on the far side (a marker's
        border), same unit; ink that spreads moves both alike.
    """

    def columns(p: Floats) -> Floats:
        a, width, sigma = p[0] - p[1] / 2, p[1], _positive(p[2])
        left, right, far = (
            _rise(s, a, sigma),
            _rise(s, a + width, sigma),
            _rise(s, a + inner_gap, sigma),
        )
        # light before, dark inside (and beyond the far edge), light between
        return np.column_stack([1 - left, left - right + far, right - far])

    return _solve(columns, np.array([0.0, 1.0, blur]), light, dark=1)


def fit_edge(s: Floats, light: Floats, blur: float) -> Step | None:
    """Return the single step in a profile, or None where there is none.

    Parameters
    ----------
    s, light : (S,) float64
        Positions (0 near the edge) and linear light.
    blur : float
        First guess of the blur, in the unit of `s`.
    """

    def columns(p: Floats) -> Floats:
        rise = _rise(s, p[0], _positive(p[1]))
        return np.column_stack([1 - rise, rise])

    return _solve(columns, np.array([0.0, blur]), light, dark=None)


def _positive(sigma: float) -> float:
    return max(abs(sigma), 1e-3)


def _rise(s: Floats, at: float, sigma: float) -> Floats:
    from scipy.special import ndtr

    return np.asarray(ndtr((s - at) / sigma), dtype=np.float64)


def _solve(
    columns: Callable[[Floats], Floats], start: Floats, light: Floats, dark: int | None
) -> Step | None:
    """Variable projection by Levenberg–Marquardt with numerical derivatives."""
    if not np.isfinite(light).all():
        return None

    def reduced(p: Floats) -> tuple[Floats, Floats]:
        basis = columns(p)
        levels, *_ = np.linalg.lstsq(basis, light, rcond=None)
        return basis @ levels - light, np.asarray(levels, dtype=np.float64)

    p, damping = start.copy(), 1e-3
    residual, levels = reduced(p)
    cost = float(residual @ residual)
    for _ in range(40):
        step_size = 1e-4
        jac = np.column_stack(
            [(reduced(p + step_size * e)[0] - residual) / step_size for e in np.eye(len(p))]
        )
        normal = jac.T @ jac
        scale = np.diag(normal).copy()
        if not np.isfinite(scale).all() or scale.max() <= 0:
            return None
        move = np.linalg.lstsq(
            normal + damping * np.diag(scale + 1e-12), -jac.T @ residual, rcond=None
        )[0]
        move = np.clip(move, -0.5, 0.5)
        trial, trial_levels = reduced(p + move)
        trial_cost = float(trial @ trial)
        if trial_cost <= cost:
            p, residual, levels = p + move, trial, trial_levels
            cost, damping = trial_cost, damping / 5
            if np.abs(move).max() < 1e-5:
                break
        else:
            damping *= 8
            if damping > 1e8:
                break
    if dark is None:
        contrast, width, blur = abs(float(levels[1] - levels[0])), 0.0, _positive(p[1])
    else:
        contrast = float(min(levels[0], levels[2]) - levels[1])
        width, blur = float(p[1]), _positive(p[2])
    rms = float(np.sqrt(cost / len(light)))
    return Step(float(p[0]), width, blur, contrast, rms / max(abs(contrast), 1e-9))


def robust_line(points: Points, outlier_sigmas: float) -> FittedLine | None:
    """Return the line through `points` (N, 2) pixels by total least squares, outliers left out.

    Returns None when fewer than four points agree.
    """
    keep = np.ones(len(points), dtype=bool)
    line: FittedLine | None = None
    for _ in range(6):
        if keep.sum() < 4:
            return None
        centre = points[keep].mean(axis=0)
        _, _, axes = np.linalg.svd(points[keep] - centre)
        normal = axes[1]
        distance = (points - centre) @ normal
        rms = float(np.sqrt(np.mean(distance[keep] ** 2) * keep.sum() / (keep.sum() - 2)))
        line = FittedLine(normal, float(normal @ centre), rms, int(keep.sum()))
        middle = float(np.median(distance[keep]))
        spread = 1.4826 * float(np.median(np.abs(distance[keep] - middle))) + 0.01
        again = np.abs(distance - middle) <= outlier_sigmas * spread
        if (again == keep).all():
            break
        keep = again
    return line


def crossing(a: FittedLine, b: FittedLine) -> Points:
    """Return the point (2,) where two lines meet."""
    out: Points = np.linalg.solve(np.array([a.normal, b.normal]), np.array([a.offset, b.offset]))
    return out
