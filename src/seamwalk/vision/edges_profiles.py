"""Where each seam crosses short profiles drawn across it in the photo, in linear light.

A camera mixes light, not code values, so an edge lies where the *light* is half way between its
two sides; taken from gamma-coded values it would shift towards the darker one by a pixel.
Between prints the two sides are told apart along the colour direction that separates them best
for the scatter that they have (Fisher's discriminant), with the shading beside a pressed seam
counted as scatter: it brightens or darkens both sides but is no edge.

A photo's file keeps colour at half the resolution of light (chroma subsampling), which smears an
edge of colour over two pixels and more, the same along a whole seam.  So where light alone tells
the two sides apart, colour has no say.

References
----------
ITU-T T.871 (2011), JPEG File Interchange Format: luma and chroma, and where chroma is sampled.
Rec. ITU-R BT.709: luminance of linear light.
Fisher, The use of multiple measurements in taxonomic problems, Annals of Eugenics 7, 1936.
"""

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.blur import STEP_WIDTH
from seamwalk.geometry.projective import Points
from seamwalk.model.picture import Photo, View
from seamwalk.vision.edges_shade import SIDES, Profiles, ShadeSettings, fitted, shift_in
from seamwalk.vision.linear_light import LUMINANCE, linear_from_srgb

LEVEL_FROM = 0.3
"""Share of the reach from which on the light of either side is averaged."""

GAMMA = 2.2
"""Of code values, near enough: sRGB's own curve has a straight foot."""

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class ProfileSettings:
    """How seams are sampled; inches on the cloth."""

    spacing_in: float = 0.08
    """Profiles stand this far apart along a seam: two pixels at 25 px/in."""
    most_profiles: int = 240
    """Of a very long seam no more profiles than this are taken, spread over it."""
    in_block: int = 4
    """So many neighbouring profiles are averaged before the edge is sought."""
    clear_in: float = 0.2
    """Profiles keep this clear of junctions, where other fabrics come in."""
    reach_in: float = 0.35
    """Profiles reach this far to both sides, less beside narrow patches."""
    least_reach_in: float = 0.12
    """But never less than this."""
    half_steps: int = 12
    """Samples on each side of the middle: 0.7 px apart at 25 px/in."""
    noise: float = 0.004
    """Least scatter of a fabric's colour in linear light: sensor noise in a well-lit photo."""
    shading: float = 0.12
    """Scatter by shading beside seams, as a share of the fabric's own light."""
    by_light: float = 5.0
    """Contrast in luminance, standard deviations, from which an edge is sought in it alone: plain
    and tonal cloth; busy prints need their colours."""
    farther_is_rarer: float = 0.8
    """Price of an edge at the end of the profile, in samples of full contrast."""
    sharp_from: float = 3.0
    """Contrast of seams that tell how blurred the photo is."""
    shade: ShadeSettings = field(default_factory=ShadeSettings)
    """How the shade beside the top is fitted."""


@dataclass(frozen=True, slots=True, eq=False)
class Blocks:
    """Edges found, one per block of neighbouring profiles.

    Attributes
    ----------
    piece : (B,) int
        The piece of seam crossed.
    base : (B, 2) float64
        Middle of the block on the piece as it was believed, inches.
    normal : (B, 2) float64
        Unit vector across the piece.
    offset : (B,) float64
        Where along the normal the edge was found, inches; NaN where there is none.
    contrast : (M,) float64
        For each piece, how many standard deviations its two sides differ by.
    blur : (B,) float64
        Standard deviation of the blur of the edge, inches; NaN where there is none.
    coded : (B,) float64
        How much farther along the normal the edge would be, inches, had code values been mixed
        instead of light: software that makes a photo smaller, smoother or sharper does that.
    shifted : (M,) float64
        How far each piece's edges were moved out of the shade that the top throws, inches.
    """

    piece: Indices
    base: Points
    normal: Points
    offset: Floats
    contrast: Floats
    blur: Floats
    coded: Floats
    shifted: Floats


def cross(
    photo: Photo,
    view: View,
    start: Points,
    end: Points,
    room_in: Floats,
    settings: ProfileSettings | None = None,
    *,
    floor: Indices | None = None,
) -> Blocks:
    """Return where the photo shows each piece of seam.

    Parameters
    ----------
    start, end : (M, 2) float64
        Ends of the straight pieces, inches.
    room_in : (M,) float64
        How far profiles may reach on each side of the piece without leaving its two patches.
    floor : (M,) int, optional
        1 where there is floor on the side that the normal points to, -1 where on the other, 0
        for seams.  Edges beside floor are freed of the shade that the top throws there.
    """
    settings = settings or ProfileSettings()
    reach = np.clip(room_in, settings.least_reach_in, settings.reach_in)
    piece, base = _stations(start, end, settings)
    d = end - start
    size = np.maximum(np.hypot(d[:, 0], d[:, 1]), 1e-12)
    normal = np.column_stack([-d[:, 1], d[:, 0]]) / size[:, None]
    steps = np.arange(-settings.half_steps, settings.half_steps + 1) / settings.half_steps
    u = reach[piece][:, None] * steps
    points = base[:, None, :] + u[..., None] * normal[piece][:, None, :]
    light = sample_light(photo, view.px_from_top(points.reshape(-1, 2)))
    light = light.reshape(*u.shape, 3)
    m = len(start)
    step, level, contrast, middle_code = _as_steps(light, piece, m, steps, settings)
    # Stations come in whole blocks, see _stations.
    step = step.reshape(-1, settings.in_block, step.shape[1]).mean(axis=1)
    of = piece[:: settings.in_block]
    middle = base.reshape(-1, settings.in_block, 2).mean(axis=1)
    at, rise = _edge_at(step, steps, settings)
    per_in = rise / reach[of]
    blur = 1 / (STEP_WIDTH * per_in)
    coded = (middle_code[of] - 0.5) / per_in
    out = Blocks(of, middle, normal[of], at * reach[of], contrast, blur, coded, np.zeros(m))
    if floor is None or not floor.any():
        return out
    return _out_of_the_shade(out, step, level, reach, floor, settings)


def _out_of_the_shade(
    blocks: Blocks, step: Floats, level: Floats, reach: Floats, floor: Indices, s: ProfileSettings
) -> Blocks:
    """Return the blocks with edges beside floor where the cloth ends.

    Parameters
    ----------
    step : (B, K) float64
    level, reach, floor : (M,)
        Light of the left side in the step's own units; of each piece.
    """
    found = np.isfinite(blocks.offset)
    m = len(floor)
    count = np.bincount(blocks.piece[found], minlength=m)
    asked = np.flatnonzero((floor != 0) & (blocks.contrast >= s.shade.contrast) & (count > 1))
    contrast = blocks.contrast[blocks.piece]
    sharp = np.isfinite(blocks.blur) & (contrast >= s.sharp_from)
    if not len(asked) or not sharp.any():
        return blocks
    seams = sharp & (floor[blocks.piece] == 0)
    telling = seams if seams.any() else sharp
    # Weak edges look wider than they are.
    telling &= contrast >= np.median(contrast[telling])
    profiles = _outwards(blocks, step, level, reach, floor, asked)
    longest = np.argsort(-count[asked], kind="stable")[: s.shade.most]
    blur_in = float(np.median(blocks.blur[telling]))
    shade = fitted(profiles.of(np.sort(longest)), blur_in, s.shade)
    shifted = np.zeros(m)
    shifted[asked] = floor[asked] * shift_in(shade, profiles)
    return replace(blocks, offset=blocks.offset - shifted[blocks.piece], shifted=np.abs(shifted))


def _outwards(
    blocks: Blocks,
    step: Floats,
    level: Floats,
    reach: Floats,
    floor: Indices,
    asked: Indices,
) -> Profiles:
    """Return the mean profiles of some pieces, each block's taken from its own edge on."""
    along = np.linspace(-1, 1, step.shape[1])
    # Finer than the samples: blocks lie at all phases, and interpolating would blur them.
    bins = np.linspace(-1, 1, 3 * step.shape[1])
    first = np.searchsorted(blocks.piece, np.arange(len(floor) + 1))
    at, mean, scatter, side = [], [], [], []
    for p in asked.tolist():
        rows = np.arange(first[p], first[p + 1])
        rows = rows[np.isfinite(blocks.offset[rows])]
        x = floor[p] * (along[None, :] - blocks.offset[rows, None] / reach[p])
        y = step[rows] if floor[p] > 0 else 1 - step[rows]
        of = np.digitize(x, bins).ravel()
        count = np.bincount(of, minlength=len(bins) + 1)[1:-1]
        sums = [np.bincount(of, v.ravel(), minlength=len(bins) + 1)[1:-1] for v in (x, y, y * y)]
        place, value, square = (v / np.maximum(count, 1) for v in sums)
        at.append(reach[p] * place)
        mean.append(value)
        spread = np.sqrt(np.maximum(square - value**2, 0) / np.maximum(count, 1))
        scatter.append(np.where(count > 0, spread, np.inf))
        dx, dy = floor[p] * blocks.normal[rows[0]]
        side.append(int(np.round(np.arctan2(dy, dx) / (2 * np.pi / SIDES))) % SIDES)
    own = np.where(floor > 0, level + 1, -level)[asked]
    levels = along[along > LEVEL_FROM]
    return Profiles(
        np.array(at),
        np.array(mean),
        np.array(scatter),
        own,
        reach[asked],
        np.array(side, dtype=np.intp),
        levels,
    )


def _stations(start: Points, end: Points, s: ProfileSettings) -> tuple[Indices, Points]:
    """Return the piece and the place of every profile, whole blocks for each piece."""
    d = end - start
    size = np.hypot(d[:, 0], d[:, 1])
    clear = np.minimum(s.clear_in, size / 5)
    room = size - 2 * clear
    blocks = np.clip(np.floor(room / (s.spacing_in * s.in_block)), 2, None)
    blocks = np.minimum(blocks, s.most_profiles // s.in_block).astype(np.intp)
    count = blocks * s.in_block
    piece = np.repeat(np.arange(len(start)), count)
    place = np.arange(len(piece)) - np.repeat(np.cumsum(count) - count, count)
    t = (clear[piece] + room[piece] * (place + 0.5) / count[piece]) / np.maximum(
        size[piece], 1e-12
    )
    base: Points = start[piece] + t[:, None] * d[piece]
    return piece, base


def sample_light(photo: Photo, pixels: Points) -> NDArray[np.float32]:
    """Return the linear light at photo positions (N, 2), shape (N, 3), in [0, 1].

    Bilinear between pixel centres; the edge is repeated outside the picture.
    """
    import cv2

    low = np.clip(np.floor(pixels.min(axis=0)).astype(int) - 1, 0, None)
    high = np.ceil(pixels.max(axis=0)).astype(int) + 2
    part = photo.rgb[low[1] : high[1], low[0] : high[0]]
    if not part.size:
        return np.zeros((len(pixels), 3), np.float32)
    source = linear_from_srgb(part)
    # OpenCV takes no map with a side of 32768 or more.
    width = 4096
    padded = np.full((-(-len(pixels) // width) * width, 2), -1.0, dtype=np.float32)
    padded[: len(pixels)] = pixels - low
    across, down = np.moveaxis(padded.reshape(-1, width, 2), -1, 0).copy()
    out = np.empty((*across.shape, 3), np.float32)
    for row in range(0, len(across), 4096):
        rows = slice(row, row + 4096)
        out[rows] = cv2.remap(
            source,
            across[rows],
            down[rows],
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
    return out.reshape(-1, 3)[: len(pixels)]


def _as_steps(
    light: NDArray[np.float32], piece: Indices, m: int, steps: Floats, s: ProfileSettings
) -> tuple[Floats, Floats, Floats, Floats]:
    """Return the profiles as 0 on the left side, 1 on the right, and three figures of each piece.

    They are the left side's light, its contrast, and where on the way from 0 to 1 the middle of
    the code values lies.
    """
    count = np.maximum(np.bincount(piece, minlength=m), 1).astype(np.float64)
    means, spreads = [], np.zeros((m, 3, 3))
    for side in (steps < -LEVEL_FROM, steps > LEVEL_FROM):
        part = light[:, side].astype(np.float64)
        n = part.shape[1]
        total = _by_piece(part.sum(axis=1), piece, m)
        square = _by_piece(np.einsum("ski,skj->sij", part, part), piece, m)
        mean = total / (count * n)[:, None]
        spread = square / (count * n)[:, None, None] - mean[:, :, None] * mean[:, None, :]
        # Shading scales all channels alike.
        spread += (s.shading * mean)[:, :, None] * (s.shading * mean)[:, None, :]
        means.append(mean)
        spreads += spread / 2
    spreads += np.eye(3) * s.noise**2
    difference = means[1] - means[0]
    way = np.linalg.solve(spreads, difference[..., None])[..., 0]
    power = np.maximum((way * difference).sum(axis=1), 1e-12)
    way /= power[:, None]
    luminance = np.array(LUMINANCE)
    lighter = difference @ luminance
    scatter = np.einsum("i,mij,j->m", luminance, spreads, luminance)
    by_light = np.abs(lighter) >= s.by_light * np.sqrt(scatter)
    way[by_light] = luminance / lighter[by_light][:, None]
    level = (means[0] * way).sum(axis=1)
    step = np.einsum("ski,si->sk", light, way[piece]) - level[piece][:, None]
    codes = [np.maximum(mean @ luminance, 1e-4) ** (1 / GAMMA) for mean in means]
    middle = ((codes[0] + codes[1]) / 2) ** GAMMA - codes[0] ** GAMMA
    clear = np.abs(lighter) > 1e-3
    middle_code = np.divide(middle, lighter, out=np.full(m, 0.5), where=clear)
    return step, level, np.sqrt(power), np.clip(middle_code, 0.0, 1.0)


def _by_piece(values: Floats, piece: Indices, m: int) -> Floats:
    """Return the sums over each piece's profiles of values (S, …); profiles are in order."""
    out = np.zeros((m, *values.shape[1:]))
    present, first = np.unique(piece, return_index=True)
    out[present] = np.add.reduceat(values, first, axis=0)
    return out


def _edge_at(step: Floats, steps: Floats, s: ProfileSettings) -> tuple[Floats, Floats]:
    """Return where each profile passes from 0 to 1, and how steeply; NaN for nowhere.

    Both are in shares of its reach.

    The likeliest place of one step between known levels: a running sum of how much each sample
    is on the wrong side is least there.  Between two samples the half-way level decides.
    """
    y = np.clip(step, -0.5, 1.5)
    wrong = np.cumsum(2 * y - 1, axis=1)
    price = wrong + s.farther_is_rarer * (steps + 0.5 / s.half_steps) ** 2
    k = np.argmin(price[:, :-1], axis=1)
    rows = np.arange(len(y))
    low, high = y[rows, k], y[rows, np.minimum(k + 1, y.shape[1] - 1)]
    rise = high - low
    ok = (low <= 0.5) & (high >= 0.5) & (rise > 0.05) & (k > 0) & (k < y.shape[1] - 2)
    share = np.divide(0.5 - low, rise, out=np.full(len(y), 0.5), where=rise > 0.05)
    found = steps[k] + np.clip(share, 0.0, 1.0) / s.half_steps
    steep = np.where(ok, rise * s.half_steps, np.nan)
    return np.where(ok, found, np.nan), steep
