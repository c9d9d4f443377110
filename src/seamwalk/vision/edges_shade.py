"""The shade that a top throws on the floor beside it, and how far that shifts the outline.

Cloth is about a millimetre thick, and the floor right beside it sees less light.  An edge sought
half way between the light of the cloth and that of the floor farther away then lies outside a
dark cloth's true edge and inside a light one's, by half a pixel and more, the same along the
whole side.  Here the shade is fitted to what the photo shows across all outer edges at once, and
from it the shift of each is reckoned.

Beside an edge at d = 0 the floor's light is taken to be F (1 - a exp(-d / w)), blurred like the
photo: w is the width of the shade, common to all sides; its depth a may differ between them, since
light from one side shades the other.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

SIDES = 4
"""Edges are told apart by the quarter of the circle that they look to."""


@dataclass(frozen=True, slots=True)
class ShadeSettings:
    """How the shade is fitted; inches on the cloth.

    Attributes
    ----------
    contrast : float
        Edges of less contrast, in standard deviations, are neither asked nor moved: what a tile's
        joint or a board's grain does there is more than the shade.
    most : int
        So many edges are asked, the longest.
    depth, depth_sigma : float
        Share of the floor's light that is lost at the edge, before anything was seen.
    side_sigma : float
        How much the depth differs from side to side.
    width_in, width_factor : float
        Width of the shade: about a cloth's thickness and how hollow it lies; σ as a factor.
    least_width : float
        Of the shade, as a multiple of the blur's σ: a narrower one can't be told from an edge
        elsewhere.
    blur_factor : float
        The outline may be blurred otherwise than the seams are by this factor, σ.
    place_in : float
        How far edges may lie from where they were taken to be, σ.
    farthest : float
        Nothing is sought further off than so many σ.
    scatter : float
        Least scatter of a profile, as a share of its step.
    """

    contrast: float = 5.0
    most: int = 60
    depth: float = 0.4
    depth_sigma: float = 0.3
    side_sigma: float = 0.15
    width_in: float = 0.08
    width_factor: float = 2.0
    least_width: float = 1.2
    blur_factor: float = 1.35
    place_in: float = 0.05
    farthest: float = 3.0
    scatter: float = 0.008


@dataclass(frozen=True, slots=True, eq=False)
class Profiles:
    """Mean light across outer edges, from the cloth outwards.

    Attributes
    ----------
    at_in : (E, K) float64
        Places of the samples, outwards from where the step is half way, inches.
    step : (E, K) float64
        0 on the cloth, 1 on the floor, each the mean at `levels`.
    scatter : (E, K) float64
        Standard deviation of `step`; infinite where there is none.
    floor : (E,) float64
        The floor's own light on this scale: the way from black to the floor, as a multiple of
        the way from the cloth to the floor; negative where the floor is the darker one.
    reach_in : (E,) float64
    side : (E,) int
        Which of the `SIDES` the edge looks to.
    levels : (L,) float64
        Where the light of either side was taken, in shares of the reach.
    """

    at_in: Floats
    step: Floats
    scatter: Floats
    floor: Floats
    reach_in: Floats
    side: Indices
    levels: Floats

    def of(self, rows: Indices) -> "Profiles":
        """Return some of the profiles."""
        return Profiles(
            self.at_in[rows],
            self.step[rows],
            self.scatter[rows],
            self.floor[rows],
            self.reach_in[rows],
            self.side[rows],
            self.levels,
        )


@dataclass(frozen=True, slots=True, eq=False)
class Shade:
    """The shade beside a top.

    Attributes
    ----------
    depth : (SIDES,) float64
        Share of the floor's light that is lost right at the edge, by side.
    width_in, blur_in : float
        Of the shade, and standard deviation of the photo's blur there.
    """

    depth: Floats
    width_in: float
    blur_in: float


def fitted(seen: Profiles, blur_in: float, settings: ShadeSettings | None = None) -> Shade:
    """Return the shade that the profiles show.

    Parameters
    ----------
    blur_in : float
        Standard deviation of the photo's blur as seams show it.
    """
    from scipy.optimize import least_squares

    s = settings or ShadeSettings()
    scatter = np.hypot(s.scatter * np.maximum(1, np.abs(seen.floor[:, None])), seen.scatter)
    n = SIDES

    def rest(x: Floats) -> Floats:
        shade, mean = _shade(x), x[:n].mean()
        model = _step(seen.at_in - x[n + 2 :, None], shade, seen)
        priors = [
            (mean - s.depth) / s.depth_sigma,
            (x[n] - np.log(s.width_in)) / np.log(s.width_factor),
            (x[n + 1] - np.log(blur_in)) / np.log(s.blur_factor),
        ]
        return np.concatenate(
            [
                ((model - seen.step) / scatter).ravel(),
                (x[:n] - mean) / s.side_sigma,
                priors,
                x[n + 2 :] / s.place_in,
            ]
        )

    common = np.log([max(s.width_in, s.least_width * blur_in), blur_in])
    free = np.log([s.width_factor, s.blur_factor]) * s.farthest
    down = np.array([min(free[0], common[0] - np.log(s.least_width * blur_in)), free[1]]) + 1e-6
    away = np.full(len(seen.floor), s.farthest * s.place_in)
    start = np.concatenate([np.full(n, s.depth), common, 0 * away])
    low = np.concatenate([np.zeros(n), common - down, -away])
    high = np.concatenate([np.ones(n), common + free, away])
    scale = np.concatenate([np.full(n, s.depth), free, away]) / 10
    fit = least_squares(rest, start, bounds=(low, high), x_scale=scale, loss="soft_l1")
    return _shade(fit.x)


def shift_in(shade: Shade, edges: Profiles) -> Floats:
    """Return how far outside its true place each edge looks to be (E,), inches."""
    far = 4 * max(shade.blur_in, shade.width_in / 2)
    at = np.linspace(-far, far, 801)
    out = np.zeros(len(edges.floor))
    for k, row in enumerate(_step(at[None, :], shade, edges) - 0.5):
        crossed = np.flatnonzero(row[:-1] * row[1:] <= 0)
        if len(crossed):
            i = crossed[np.argmin(np.abs(at[crossed]))]
            out[k] = at[i] + (at[i + 1] - at[i]) * row[i] / (row[i] - row[i + 1])
    return out


def _shade(x: Floats) -> Shade:
    return Shade(x[:SIDES], float(np.exp(x[SIDES])), float(np.exp(x[SIDES + 1])))


def _step(at: Floats, shade: Shade, edges: Profiles) -> Floats:
    """Return the step at places (E or 1, K) outwards of each true edge, inches.

    What cloth and floor would be without blur and shade is reckoned back from their means.
    """
    depth, floor = shade.depth[edges.side][:, None], edges.floor[:, None]
    levels = edges.levels * edges.reach_in[:, None]
    inner, outer = (_parts(x, shade, depth) for x in (-levels, levels))
    (a, b), (c, d) = ((part.mean(axis=1, keepdims=True) for part in x) for x in (inner, outer))
    cloth = (d * (floor - 1) - b * floor) / (a * d - b * c)
    own = (a * floor - c * (floor - 1)) / (a * d - b * c)
    of_cloth, of_floor = _parts(at, shade, depth)
    out: Floats = cloth * of_cloth + own * of_floor - (floor - 1)
    return out


def _parts(at: Floats, shade: Shade, depth: Floats) -> tuple[Floats, Floats]:
    """Return what shares of the cloth's and of the floor's own light places (E, K) get.

    The shade's exponential, blurred, is an exponentially modified Gaussian.
    """
    from scipy.special import log_ndtr, ndtr

    blur, width = shade.blur_in, shade.width_in
    dim = np.exp((blur / width) ** 2 / 2 - at / width + log_ndtr(at / blur - blur / width))
    return ndtr(-at / blur), ndtr(at / blur) - depth * dim
