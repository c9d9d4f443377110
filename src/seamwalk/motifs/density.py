"""How dense the stitching is, and how evenly it lies.

Stitching takes cloth up: where there is more of it, a top shrinks more.  What counts for its
shape is not the single line but how much of it there is over a hand's width, so lengths are
averaged with a Gaussian of σ = 1 1/2 in.  It averages over as much cloth as a circle 6 in across
(a Gaussian's equivalent area is 4πσ², a circle's πD²/4, so that D = 4σ), and shows lines up to
3 in apart as an even tone: their period p keeps the share exp(−2π²σ²/p²) of its contrast.  At the
edge the mean is taken over what of that circle lies inside the binding line.  Every pass counts,
and travel in the ditch too.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from seamwalk.geometry.along import Pieces
from seamwalk.geometry.curve import Curve
from seamwalk.model.choice import MotifChoice
from seamwalk.model.density import DensityMap, DensityReport, Evenness, RegionDensity, times
from seamwalk.model.route import Route
from seamwalk.motifs.area import Area

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class DensitySettings:
    """How density is averaged and judged."""

    cell_in: float = 0.25
    """Cells of the map, inches: a sixth of σ."""
    across_in: float = 6.0
    """Width of the circle that a value is a mean over, inches: blocks and borders are told apart,
    single lines not."""
    lopsided: float = 3.0
    """Densest over sparsest region from which the stitching counts as lopsided.  A quilted top
    ends some 2 % smaller (common practice, no source).  If that goes with the stitching, regions
    with half and with one and a half times the mean differ by 2 %: 3/4 in over the 36 in of a
    side, three times what can be eased in (`trade.SIZE_TOLERANCE_IN`)."""
    far_across_in: float = 24.0
    """Width of the circle for telling one end of the top from another, inches: two blocks, so
    that what repeats from block to block, which pulls evenly, is averaged away."""
    coarser: int = 4
    """For that, cells are taken together by so many each way."""
    small: float = 0.05
    """A region with less than this share of the cloth is too small to pull the top."""
    share: float = 0.05
    """Share of the cloth that is left out at both ends: the sparsest inch says nothing."""


def every_pass(route: Route) -> tuple[Curve, ...]:
    """Return what a route sews, a piece sewn twice twice."""
    pieces = route.network.pieces
    return tuple(pieces[leg.piece].curve for t in route.threads for leg in t.legs)


def density_report(
    curves: Iterable[Curve],
    area: Area,
    choices: Sequence[MotifChoice],
    settings: DensitySettings | None = None,
) -> DensityReport:
    """Return the map of density and how even it is, for the whole top and for every choice.

    Parameters
    ----------
    curves : iterable of Curve
        Every pass; what lies outside the binding line doesn't count.
    choices : sequence of MotifChoice
        The regions.
    """
    settings = settings or DensitySettings()
    lengths, inside, origin = _lengths(curves, area, settings.cell_in)
    mean = _mean(lengths, inside.astype(np.float64), settings.across_in, settings.cell_in)
    smooth = np.where(inside, mean, np.nan)
    found = DensityMap(smooth, origin, settings.cell_in, settings.across_in)
    far = _far(lengths, inside, settings)
    places, mass = found.middles(), lengths[inside]
    owner = _owners(area, found)[inside]
    regions = [
        _region(c, smooth[inside][mine], mass[mine], settings)
        for c in choices
        if (mine := np.isin(owner, c.patches)).any()
    ]
    regions.sort(key=lambda r: -r.evenness.mean)
    least = settings.small * len(mass) * settings.cell_in**2
    large = [r for r in regions if r.area_sq_in >= least]
    high, low = int(far.argmax()), int(far.argmin())
    return DensityReport(
        found,
        _evenness(smooth[inside], mass, settings),
        tuple(regions),
        (large[0], large[-1]) if large else None,
        times(float(far[high]), float(far[low])),
        (float(places[high, 0]), float(places[high, 1])),
        (float(places[low, 0]), float(places[low, 1])),
        settings.lopsided,
    )


def _lengths(
    curves: Iterable[Curve], area: Area, cell_in: float
) -> tuple[Floats, NDArray[np.bool_], tuple[float, float]]:
    """Return the length of stitching in each cell, which cells lie inside, and their origin."""
    x0, y0, x1, y1 = area.binding.bounds
    w, h = (max(1, int(np.ceil((b - a) / cell_in))) for a, b in ((x0, x1), (y0, y1)))
    # The map is centred, so that a mirrored top has the mirrored map.
    origin = ((x0 + x1 - w * cell_in) / 2, (y0 + y1 - h * cell_in) / 2)
    ys, xs = np.mgrid[:h, :w] + 0.5
    middles = np.column_stack([xs.ravel(), ys.ravel()]) * cell_in + np.array(origin)
    shapely.prepare(area.binding)
    inside = shapely.contains_xy(area.binding, middles[:, 0], middles[:, 1]).reshape(h, w)
    pieces = Pieces.of(curves)
    points, _, length = pieces.samples(cell_in / 2)
    within = shapely.intersects_xy(area.binding, points[:, 0], points[:, 1])
    at = np.clip(((points[within] - origin) / cell_in).astype(np.intp), 0, (w - 1, h - 1))
    flat = np.bincount(at[:, 1] * w + at[:, 0], weights=length[within], minlength=h * w)
    return np.asarray(flat.reshape(h, w), np.float64), np.asarray(inside), origin


def _mean(lengths: Floats, cloth: Floats, across_in: float, cell_in: float) -> Floats:
    """Return inches on the square inch, averaged over what of each circle is cloth.

    Parameters
    ----------
    lengths, cloth : ndarray (H, W)
        Stitching in each cell, inches, and its share that is cloth.
    """
    from scipy.ndimage import gaussian_filter

    sigma = across_in / 4 / cell_in
    share = gaussian_filter(cloth, sigma, mode="constant")
    thread = gaussian_filter(lengths, sigma, mode="constant")
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(thread / share / cell_in**2)


def _far(lengths: Floats, inside: NDArray[np.bool_], settings: DensitySettings) -> Floats:
    """Return the density over a wide circle in each cell inside, worked out on coarser cells."""
    k = settings.coarser
    h, w = lengths.shape
    pad = ((0, -h % k), (0, -w % k))

    def coarse(cells: Floats) -> Floats:
        full = np.pad(cells, pad)
        blocks = full.reshape(full.shape[0] // k, k, full.shape[1] // k, k)
        return np.asarray(blocks.sum(axis=(1, 3)))

    cloth = coarse(inside.astype(np.float64)) / k**2
    mean = _mean(coarse(lengths), cloth, settings.far_across_in, k * settings.cell_in)
    rows, columns = np.nonzero(inside)
    return np.asarray(mean[rows // k, columns // k])


def _owners(area: Area, found: DensityMap) -> NDArray[np.intp]:
    """Return the patch that each cell's middle lies in, -1 where it lies in none, (H, W)."""
    h, w = found.per_sq_in.shape
    out = np.full((h, w), -1, dtype=np.intp)
    origin, cell = np.array(found.origin), found.cell_in
    for patch, outline in area.outlines.items():
        x0, y0, x1, y1 = outline.polygon.bounds
        low = np.maximum(0, np.floor((np.array([x0, y0]) - origin) / cell)).astype(int)
        high = np.ceil((np.array([x1, y1]) - origin) / cell).astype(int)
        ys, xs = np.mgrid[low[1] : min(h, high[1]), low[0] : min(w, high[0])]
        at = np.stack([xs, ys], axis=-1) * cell + cell / 2 + origin
        mine = shapely.intersects_xy(outline.polygon, at[..., 0], at[..., 1])
        out[ys[mine], xs[mine]] = patch
    return out


def _region(
    choice: MotifChoice, values: Floats, mass: Floats, settings: DensitySettings
) -> RegionDensity:
    size = len(mass) * settings.cell_in**2
    return RegionDensity(choice.motif, choice.patches, size, _evenness(values, mass, settings))


def _evenness(values: Floats, mass: Floats, settings: DensitySettings) -> Evenness:
    mean = float(mass.sum()) / (len(mass) * settings.cell_in**2)
    low, high = np.quantile(values, [settings.share, 1 - settings.share])
    spread = float(values.std()) / float(values.mean()) if values.mean() > 0 else 0.0
    return Evenness(mean, float(low), float(high), spread)
