"""Piecing as it comes out: corners off, seams that miss each other, sides that bow."""

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from seamwalk.training.pieces import Ints, Points, following
from seamwalk.training.shared_corners import Sheet, with_corners


@dataclass(frozen=True, slots=True)
class SewingSettings:
    """How exactly training tops are sewn.

    Attributes
    ----------
    jitter : tuple of float
        Range of the corners' scatter, share of the narrowest patch at the corner, log-uniform.
    bad_share : float
        Share of tops sewn three times worse.
    warp : tuple of float
        Range of the slope of the smooth stretch over the top, inch per inch, log-uniform.
    missed_share : float
        Share of tops in which seams miss each other where four patches meet.
    miss : tuple of float
        Range of the miss, share of the narrowest patch there.
    bowed_share : float
        Share of tops with bowed sides.
    bow : tuple of float
        Range of the bow's height, share of the side, log-uniform.
    bow_from_in : float
        Shortest side that bows, inches: shorter ones don't show it.
    """

    jitter: tuple[float, float] = (0.003, 0.03)
    bad_share: float = 0.12
    warp: tuple[float, float] = (0.001, 0.03)
    missed_share: float = 0.5
    miss: tuple[float, float] = (0.02, 0.14)
    bowed_share: float = 0.4
    bow: tuple[float, float] = (0.001, 0.015)
    bow_from_in: float = 1.5


SETTINGS = SewingSettings()

STRAIGHT = 0.97
"""Cosine of the turn up to which a seam runs straight on."""


def sewn(sheet: Sheet, rng: np.random.Generator, settings: SewingSettings = SETTINGS) -> Sheet:
    """Return the sheet with the errors of one maker's piecing.

    Notes
    -----
    Scatter is a share of the narrowest patch at each corner. What would still make an outline
    cross itself is left out.
    """
    room = _room(sheet)
    warped = _warped(sheet.at, rng, settings)
    spread = _log_uniform(rng, settings.jitter) * (3.0 if rng.random() < settings.bad_share else 1)
    scatter = rng.normal(0, spread, warped.shape).clip(-0.12, 0.12) * room[:, None]
    out = sheet
    calm = np.ones((len(warped), 1))
    for share in (0.3, 0.0):
        out = Sheet(warped + scatter * calm, sheet.index, sheet.counts, sheet.outline)
        crossed = crossing(out)
        if not crossed.any():
            break
        # Slim tips, as where an arc meets a side, have less room than their patch is wide.
        calm[sheet.index[np.repeat(crossed, sheet.counts)]] = share
    else:
        out = Sheet(warped + scatter * calm, sheet.index, sheet.counts, sheet.outline)
        out = sheet if crossing(out).any() else out
    for share_of_tops, change in (
        (settings.missed_share, _missed),
        (settings.bowed_share, _bowed),
    ):
        if rng.random() < share_of_tops:
            changed = change(out, room, rng, settings)
            out = out if crossing(changed).any() else changed
    return out


def crossing(sheet: Sheet) -> NDArray[np.bool_]:
    """Return which patches have outlines that cross themselves (n,)."""
    rings = np.repeat(np.arange(len(sheet.counts)), sheet.counts)
    at = sheet.at[sheet.index].astype(np.float32).astype(np.float64)
    closed = np.insert(at, np.cumsum(sheet.counts), at[np.cumsum(sheet.counts) - sheet.counts], 0)
    rings = np.insert(rings, np.cumsum(sheet.counts), np.arange(len(sheet.counts)))
    patches = shapely.polygons(shapely.linearrings(closed, indices=rings))
    return np.logical_not(shapely.is_valid(patches))


def _room(sheet: Sheet) -> Points:
    """Return the narrowest width of patch or side at each corner (V,), inches."""
    p = sheet.at[sheet.index]
    starts = np.cumsum(sheet.counts) - sheet.counts
    step = sheet.at[sheet.after] - p
    side = np.hypot(step[:, 0], step[:, 1])
    q = p + step
    area = np.abs(np.add.reduceat(p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0], starts)) / 2
    extent = (np.maximum.reduceat(p, starts) - np.minimum.reduceat(p, starts)).max(axis=1)
    room = np.full(len(sheet.at), np.inf)
    np.minimum.at(room, sheet.index, np.repeat(area / extent, sheet.counts))
    np.minimum.at(room, sheet.index, side)
    np.minimum.at(room, sheet.after, side)
    return room


def _log_uniform(rng: np.random.Generator, span: tuple[float, float]) -> float:
    return math.exp(rng.uniform(math.log(span[0]), math.log(span[1])))


def _warped(at: Points, rng: np.random.Generator, settings: SewingSettings) -> Points:
    """Return positions moved by a few long waves."""
    slope = _log_uniform(rng, settings.warp)
    size = float(np.ptp(at, axis=0).max())
    waves = int(rng.integers(2, 6))
    length = size * np.exp(rng.uniform(math.log(0.25), math.log(2.5), waves))
    angle, phase, way = rng.uniform(0, 2 * math.pi, (3, waves))
    number = 2 * math.pi / length
    reach = slope / number / math.sqrt(waves)
    wave = np.sin(
        at[:, :1] * (number * np.cos(angle)) + at[:, 1:] * (number * np.sin(angle)) + phase
    )
    wave *= reach
    out: Points = at + np.stack([wave @ np.cos(way), wave @ np.sin(way)], axis=1)
    return out


def _missed(
    sheet: Sheet, room: Points, rng: np.random.Generator, settings: SewingSettings
) -> Sheet:
    """Return the sheet with some crossings of four patches pulled apart into two T-joins.

    Rows are sewn to rows: the seam that runs on is the one nearer to the rows' direction.
    """
    at, index, before, after = sheet.at, sheet.index, sheet.before, sheet.after
    degree = np.bincount(index, minlength=len(at))
    cross = degree == 4
    cross[sheet.outline] = False
    cross &= rng.random(len(at)) < rng.uniform(0.1, 1.0)
    upright = rng.random() < 0.5
    places = np.flatnonzero(cross[index])
    if not len(places):
        return sheet
    entries = places[np.argsort(index[places], kind="stable")].reshape(-1, 4)
    here = index[entries[:, 0]]
    way = at[after[entries]] - at[here][:, None]
    # Downward angle: each patch then starts on the side where the one before it ended.
    order = np.argsort(-np.arctan2(way[..., 1], way[..., 0]), axis=1, kind="stable")
    entries = np.take_along_axis(entries, order, axis=1)
    fits = (before[entries] == np.roll(after[entries], 1, axis=1)).all(axis=1)
    entries, here = entries[fits], here[fits]
    if not len(here):
        return sheet
    way = at[after[entries]] - at[here][:, None]
    way /= np.hypot(way[..., 0], way[..., 1])[..., None]
    across = np.abs(way[..., 1 if upright else 0])
    # Only a seam that runs straight on can be the one that others miss each other on.
    straight = -(way * np.roll(way, 2, axis=1)).sum(axis=2)[:, :2] > STRAIGHT
    runs = straight.any(axis=1)
    entries, here, across, straight = entries[runs], here[runs], across[runs], straight[runs]
    first = across[:, 1] + across[:, 3] > across[:, 0] + across[:, 2]
    first = np.where(straight.all(axis=1), first, straight[:, 1]).astype(np.int64)
    first += 2 * rng.integers(0, 2, len(here))
    entries = np.take_along_axis(entries, (first[:, None] + np.arange(4)) % 4, axis=1)
    toward = at[after[entries[:, 2]]] - at[here]
    toward /= np.hypot(*toward.T)[:, None]
    step = rng.uniform(*settings.miss, len(here)) * rng.uniform(0.3, 1.0) * room[here]
    new = len(at) + np.arange(len(here))
    index, many = index.copy(), np.zeros(len(index), dtype=np.int64)
    follow = np.zeros(len(index), dtype=np.int64)
    # Patches in turn: side 0 and side 2 lie on the seam that runs on, the new corner towards
    # side 2 takes the stem between patches 3 and 0.
    many[entries[:, 2]], follow[entries[:, 2]] = 1, new
    index[entries[:, 3]] = new
    index[entries[:, 0]] = new
    many[entries[:, 0]], follow[entries[:, 0]] = 1, here
    at = np.vstack([at, at[here] + toward * step[:, None]])
    index, counts = with_corners(index, sheet.counts, many, follow[many > 0])
    return Sheet(at, index, counts, sheet.outline)


def _bowed(
    sheet: Sheet, room: Points, rng: np.random.Generator, settings: SewingSettings
) -> Sheet:
    """Return the sheet with some long sides bent to shallow arcs."""
    at, index, after = sheet.at, sheet.index, sheet.after
    low, high = np.minimum(index, after), np.maximum(index, after)
    code = low * len(at) + high
    once, which = np.unique(code, return_inverse=True)
    a, b = once // len(at), once % len(at)
    way = at[b] - at[a]
    length = np.hypot(*way.T)
    take = (length > settings.bow_from_in) & (rng.random(len(once)) < rng.uniform(0.2, 1.0))
    height = rng.normal(0, _log_uniform(rng, settings.bow), len(once)).clip(-0.03, 0.03)
    # A narrow neighbour leaves less room than a long side asks for; missed corners are new.
    room = _room(sheet) if len(room) < len(at) else room
    height *= np.minimum(length, 4 * np.minimum(room[a], room[b]))
    normal = np.stack([-way[:, 1], way[:, 0]], axis=1) / np.maximum(length, 1e-9)[:, None]
    share = np.array([0.25, 0.5, 0.75])
    lift = np.array([0.75, 1.0, 0.75])
    bend = at[a][:, None] + way[:, None] * share[:, None]
    bend = bend + (height[:, None] * lift)[..., None] * normal[:, None]
    rank = np.cumsum(take) - 1
    new = len(at) + 3 * rank[:, None] + np.arange(3)
    outline = _along(sheet.outline, len(at), once, take, new)
    many = np.where(take[which], 3, 0).astype(np.int64)
    forward = (index < after)[:, None]
    extra = np.where(forward, new[which], new[which][:, ::-1])[take[which]].ravel()
    index, counts = with_corners(index, sheet.counts, many, extra)
    return Sheet(np.vstack([at, bend[take].reshape(-1, 2)]), index, counts, outline)


def _along(outline: Ints, size: int, once: Ints, take: Points, new: Ints) -> Ints:
    """Return the outer ring with the bends of its sides."""
    counts = np.array([len(outline)])
    after = outline[following(counts)]
    which = np.searchsorted(once, np.minimum(outline, after) * size + np.maximum(outline, after))
    many = np.where(take[which], 3, 0).astype(np.int64)
    forward = (outline < after)[:, None]
    extra = np.where(forward, new[which], new[which][:, ::-1])[take[which] > 0].ravel()
    return with_corners(outline, counts, many, extra)[0]
