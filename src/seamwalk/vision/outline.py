"""Where the pieced top lies in a picture of it on a floor.

The floor is described by what shows round the picture's rim; everything is described by words
(colour and busyness together).  A quadrilateral is then moved, side by side, until the words
inside and outside it differ most: the two histograms and the quadrilateral are improved in turn.
Floors may have lines, checks or planks of their own: what counts is the balance of whole areas,
and only the last fit of each side looks for an edge.

References
----------
Zhu and Yuille, Region competition, IEEE PAMI 18(9), 1996; Rother, Kolmogorov and Blake, GrabCut,
ACM TOG 23(3), 2004 (models of both sides improved in turn).
"""

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from seamwalk.errors import TopNotFoundError
from seamwalk.geometry.projective import Points
from seamwalk.vision import outline_sides as sides
from seamwalk.vision.workpicture import lab_of

Mask = NDArray[np.bool_]
Float = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class OutlineSettings:
    """How the top is told from the floor."""

    rough_px: int = 480
    """Long side of the picture for the balance of areas, pixels: enough for 1 in at 40 in."""
    fine_px: int = 1200
    """Long side for the last fit of the sides, pixels."""
    rims: tuple[float, ...] = (0.02, 0.08, 0.16)
    """Widths of the rim taken for floor at the start, as shares of the short side: a thin one is
    surely floor, a wide one knows more of a floor that is not the same all over."""
    same_px: float = 3.0
    """Summits whose corners differ by less are one, pixels of the rough picture."""
    still_px: float = 0.5
    """A quadrilateral that moves by less has arrived, pixels of the rough picture."""
    words: int = 32
    """Words that describe top and floor."""
    rounds: int = 6
    """Rounds of improving models and quadrilateral; it settles after three or four."""
    hand: float = 0.16
    """Width about each place in which the variety of words counts, share of the short side."""
    varied: tuple[float, ...] = (0.25, 0.5)
    """How far above the common variety, towards the greatest, patchwork may begin."""
    sizes: tuple[float, ...] = (0.6, 0.75, 0.87, 1.07, 1.15, 1.25, 1.4)
    """Enlargements of a summit that are looked at, for borders left out and floor taken in."""
    resizings: int = 2
    """How often."""
    most_nats: float = 3.0
    """No pixel speaks more surely than this for top or floor, nats."""
    least_area: float = 0.04
    """A top covers at least this share of the picture."""
    least_nats: float = 1.2
    """Mean evidence per pixel inside below which there is no top, nats: rendered tops have 2.7
    and more, halves of one floor 0.4 and less."""
    full: float = 0.82
    """Share of the picture above which only the rim is left to compare with."""
    full_nats: float = 2.6
    """Least mean evidence for a top that fills the picture, nats: the rim of a checked floor
    differs from its middle by 2.4."""
    edges: float = 0.85
    """A larger quadrilateral is preferred if its weakest side shows an edge along at least this
    share of what the best one's does; one that took in floor loses a third and more."""
    touching: float = 0.08
    """Share of one side that may lie on the picture's rim."""


def find_top(
    rgb: NDArray[np.uint8],
    *,
    ignore: Mask | None = None,
    seen: Mask | None = None,
    settings: OutlineSettings | None = None,
) -> Mask:
    """Return the pixels (H, W) of the one pieced top in the picture, filled.

    Parameters
    ----------
    rgb : (H, W, 3) uint8
        A flat picture, or a photo scaled down.
    ignore : (H, W) bool or None
        Things that are neither top nor floor, such as the cards.
    seen : (H, W) bool or None
        Where the picture shows anything; None for everywhere.

    Raises
    ------
    TopNotFoundError
        If nothing stands apart from the floor, or the top reaches the rim of the picture.
    """
    s = settings or OutlineSettings()
    h, w = rgb.shape[:2]
    shown = np.ones((h, w), dtype=np.bool_) if seen is None else seen.astype(np.bool_)
    usable = shown if ignore is None else shown & ~ignore
    if min(h, w) < 16 or usable.mean() < 0.02:
        raise _nothing()
    rough, rough_shown, rough_usable, k = _scaled(rgb, shown, usable, s.rough_px)
    vocabulary = _words(rough, rough_usable, s)
    # Busyness spills over the edge by its window; the edge itself is found by colour alone.
    colours = _words(rough, rough_usable, s, busy=False)
    fine, fine_shown, fine_usable, kf = _scaled(rgb, shown, usable, s.fine_px)
    size = (fine.shape[1], fine.shape[0])
    found: list[_Candidate] = []
    known: list[Points] = []
    for rough_quad, evidence, gain in _balances(vocabulary, rough_shown, rough_usable, s):
        within = _drawn(rough_quad, rough_shown.shape)
        if any(np.abs(rough_quad - other).max() < s.same_px for other in known):
            continue
        known.append(rough_quad)
        if not _stands_apart(within, evidence, rough_shown, s):
            continue
        evidence = _evidence(
            colours, within & rough_usable, rough_usable & ~within, rough_usable, s
        )
        big = np.asarray(
            cv2.resize(evidence, size, interpolation=cv2.INTER_LINEAR), dtype=np.float32
        )
        quad = sides.settle((rough_quad + 0.5) * (kf / k) - 0.5, fine, big, fine_usable)
        area = float(cv2.contourArea(quad.astype(np.float32)))
        found.append(_Candidate(quad, gain, sides.edge_share(quad, fine, fine_usable), area))
    if not found:
        raise _nothing()
    quad = _outermost(found, s).quad
    _judge_place(quad, fine_shown, s)
    return _drawn((quad + 0.5) / kf - 0.5, (h, w)) & shown


@dataclass(frozen=True, slots=True, eq=False)
class _Candidate:
    """A settled quadrilateral: what it gains, how far its sides are edges, and its area."""

    quad: Points
    gain: float
    edges: float
    area_px: float


def _outermost(found: list[_Candidate], s: OutlineSettings) -> _Candidate:
    """Return the largest candidate with an edge all round.

    A border stands between patchwork and floor, and the models may count it to either; inside
    it there is an edge and outside it there is one, and the top ends at the outer one.  A
    candidate that took in floor has no edge where the floor goes on.
    """
    best = max(c.edges for c in found)
    return max((c for c in found if c.edges >= s.edges * best), key=lambda c: (c.area_px, c.gain))


def _nothing() -> TopNotFoundError:
    return TopNotFoundError(
        "No quilt top could be told from the floor.",
        "Lay the top flat on a plain floor of another colour, or give its corners with --corners.",
    )


def _cut_off() -> TopNotFoundError:
    return TopNotFoundError(
        "The top is not wholly in the picture.",
        "Take the photo from further away, with some floor showing on all sides.",
    )


def _scaled(
    rgb: NDArray[np.uint8], shown: Mask, usable: Mask, long_px: int
) -> tuple[Float, Mask, Mask, float]:
    """Return CIELAB, both masks, and the scale, with the long side at most `long_px`."""
    h, w = shown.shape
    k = min(1.0, long_px / max(h, w))
    size = (max(8, round(w * k)), max(8, round(h * k)))
    lab = lab_of(rgb, size)
    both = [
        np.asarray(cv2.resize(m.astype(np.float32), size, interpolation=cv2.INTER_AREA)) > 0.99
        for m in (shown, usable)
    ]
    return lab, both[0], both[1], k


def _words(lab: Float, usable: Mask, s: OutlineSettings, *, busy: bool = True) -> NDArray[np.intp]:
    """Return the word at each pixel, (h, w): colour, and if wanted busyness at two scales."""
    light = lab[..., 0]
    near = [
        cv2.GaussianBlur(np.abs(light - cv2.GaussianBlur(light, (0, 0), a)), (0, 0), b)
        for a, b in ((1.0, 2.0), (3.0, 5.0))
    ]
    soft = cv2.GaussianBlur(lab, (0, 0), 0.8)
    # Busyness of 3 lightness units is as telling as a colour difference of 6.
    features = np.concatenate([soft, 2 * np.stack(near, axis=2)], axis=2).astype(np.float32)
    if not busy:
        features = np.ascontiguousarray(features[..., :3])
    pool = features[usable]
    sample = pool[:: max(1, len(pool) // 5000)]
    centres = sample.mean(axis=0, keepdims=True)
    gap = ((sample - centres[0]) ** 2).sum(axis=1)
    for _ in range(s.words - 1):
        # Not the farthest of all: single stray pixels must not take a word each.
        rank = int(0.98 * (len(gap) - 1))
        pick = int(np.argpartition(gap, rank)[rank])
        centres = np.concatenate([centres, sample[pick : pick + 1]])
        gap = np.minimum(gap, ((sample - sample[pick]) ** 2).sum(axis=1))
    for _ in range(6):
        nearest = _nearest(sample, centres)
        count = np.bincount(nearest, minlength=len(centres))[:, None]
        total = np.stack(
            [np.bincount(nearest, sample[:, c], len(centres)) for c in range(features.shape[2])],
            axis=1,
        )
        centres = np.where(count > 0, total / np.maximum(count, 1), centres).astype(np.float32)
    flat = features.reshape(-1, features.shape[2])
    return _nearest(flat, centres).reshape(usable.shape)


def _nearest(a: Float, centres: Float) -> NDArray[np.intp]:
    d2 = (centres**2).sum(axis=1) - 2 * a @ centres.T
    out: NDArray[np.intp] = d2.argmin(axis=1)
    return out


def _balances(
    words: NDArray[np.intp], shown: Mask, usable: Mask, s: OutlineSettings
) -> Iterator[tuple[Points, Float, float]]:
    """Yield quadrilaterals, the evidence for top (+) or floor (−) in nats, and what they gain.

    Improving models and quadrilateral in turn only climbs to the nearest summit, so it is started
    from several pictures of the floor, and each summit's surroundings are looked over once more.
    """
    summits: list[Points] = []
    for start in _starts(words, shown, usable, s):
        climbed = _climbed(start, words, usable, s)
        if climbed is None:
            continue
        quad, evidence = climbed
        if any(np.abs(quad - other).max() < s.same_px for other in summits):
            continue
        summits.append(quad)
        gain = _gain(words, _drawn(quad, shown.shape) & usable, usable)
        for _ in range(s.resizings):
            middle = quad.mean(axis=0)
            others = [middle + (quad - middle) * share for share in s.sizes]
            gains = [_gain(words, _drawn(q, shown.shape) & usable, usable) for q in others]
            if max(gains) <= 1.005 * gain:
                break
            again = _climbed(others[int(np.argmax(gains))], words, usable, s)
            if again is None:
                break
            better = _gain(words, _drawn(again[0], shown.shape) & usable, usable)
            if better <= 1.005 * gain:
                break
            (quad, evidence), gain = again, better
        yield quad, evidence, gain


def _starts(
    words: NDArray[np.intp], shown: Mask, usable: Mask, s: OutlineSettings
) -> Iterator[Points]:
    """Yield quadrilaterals round what is unlike the rim, and round what is most varied."""
    h, w = shown.shape
    depth = _depth(shown)
    for share in s.rims:
        floor = usable & (depth <= max(3.0, share * min(h, w)))
        top = usable & ~floor
        if not floor.any() or top.sum() < s.least_area * usable.sum():
            continue
        quad = _first_quad(_evidence(words, top, floor, usable, s), depth)
        if quad is not None:
            yield quad
    # Patchwork shows many fabrics within a hand's breadth, a floor one: the entropy of the words
    # about each place, wherever the light makes the floor look like another one.
    size = max(5, round(s.hand * min(h, w))) | 1
    seen = cv2.blur(usable.astype(np.float32), (size, size))
    entropy = np.zeros((h, w), np.float32)
    for word in range(int(words.max()) + 1):
        share_of = cv2.blur(((words == word) & usable).astype(np.float32), (size, size))
        p = share_of / np.maximum(seen, 1e-3)
        entropy -= p * np.log(np.maximum(p, 1e-6))
    level = np.median(entropy[usable])
    for part in s.varied:
        high = float(np.percentile(entropy[usable], 99))
        quad = _first_quad(
            np.where(usable, entropy - (level + part * (high - level)), -1).astype(np.float32),
            depth,
        )
        if quad is not None:
            yield quad


def _climbed(
    quad: Points, words: NDArray[np.intp], usable: Mask, s: OutlineSettings
) -> tuple[Points, Float] | None:
    """Return a quadrilateral moved to where the words inside and outside differ most."""
    h, w = usable.shape
    evidence: Float | None = None
    for step in range(s.rounds):
        within = _drawn(quad, (h, w))
        if within.sum() < s.least_area * h * w / 2 or (usable & ~within).sum() < 20:
            break
        evidence = _evidence(words, within & usable, usable & ~within, usable, s)
        reach = (0.25, 0.2, 0.12, 0.08, 0.05, 0.03)[min(step, 5)]
        moved = sides.best_quad(quad, evidence, reach * min(h, w))
        still = np.abs(moved - quad).max() < s.still_px
        quad = moved
        if still:
            break
    return None if evidence is None else (quad, evidence)


def _gain(words: NDArray[np.intp], top: Mask, usable: Mask) -> float:
    """Return what telling top from floor saves in describing all words, nats."""
    n = int(words.max()) + 1
    a = np.bincount(words[top], minlength=n).astype(np.float64)
    b = np.bincount(words[usable & ~top], minlength=n).astype(np.float64)

    def cost(counts: NDArray[np.float64]) -> float:
        share = counts[counts > 0] / max(counts.sum(), 1.0)
        return float(-counts.sum() * (share * np.log(share)).sum())

    return cost(a + b) - cost(a) - cost(b)


def _depth(shown: Mask) -> Float:
    """Return the distance of each pixel from the rim of what the picture shows."""
    padded = np.pad(shown.astype(np.uint8), 1)
    whole = np.asarray(cv2.distanceTransform(padded, cv2.DIST_L2, 5), dtype=np.float32)
    return whole[1:-1, 1:-1]


def _evidence(
    words: NDArray[np.intp], top: Mask, floor: Mask, usable: Mask, s: OutlineSettings
) -> Float:
    n = int(words.max()) + 1
    a = np.bincount(words[top], minlength=n) + 1e-9
    b = np.bincount(words[floor], minlength=n) + 1e-9
    # A word seen less than about 20 times says little: pull its ratio towards zero.
    both = a / a.sum() + b / b.sum()
    few = 20.0 / (a + b + 20.0)
    a, b = a / a.sum() + few * both + 1e-4, b / b.sum() + few * both + 1e-4
    ratio = np.clip(np.log(a / b), -s.most_nats, s.most_nats).astype(np.float32)
    out: Float = np.where(usable, ratio[words], 0).astype(np.float32)
    return out


def _first_quad(evidence: Float, depth: Float) -> Points | None:
    """Return the rectangle round the largest area that speaks for a top, if any does."""
    h, w = depth.shape
    soft = cv2.GaussianBlur(evidence, (0, 0), 0.008 * (h + w))
    parts, n = ndimage.label((soft > 0) & (depth > 1))
    if n == 0:
        return None
    size = np.bincount(parts.ravel())
    size[0] = 0
    y, x = np.nonzero(parts == int(size.argmax()))
    hull = np.asarray(
        cv2.convexHull(np.stack([x, y], axis=1).astype(np.float32)), dtype=np.float32
    )
    return sides.ordered(np.asarray(sides.quad_of(hull), dtype=np.float64))


def _drawn(quad: Points, shape: tuple[int, int]) -> Mask:
    """Return the pixels whose centres lie in the polygon, (H, W)."""
    from skimage.draw import polygon2mask

    out: Mask = np.asarray(polygon2mask(shape, quad[:, ::-1]), dtype=np.bool_)
    return out


def _stands_apart(within: Mask, evidence: Float, shown: Mask, s: OutlineSettings) -> bool:
    """Return whether what lies within is large enough and unlike the rest."""
    area = float(within.sum()) / max(float(shown.sum()), 1.0)
    if area < s.least_area:
        return False
    least = s.least_nats if area < s.full else s.full_nats
    return float(evidence[within].mean()) >= least


def _judge_place(quad: Points, shown: Mask, s: OutlineSettings) -> None:
    depth = _depth(shown)
    h, w = depth.shape
    for a, b in zip(quad, np.roll(quad, -1, axis=0), strict=True):
        t = np.linspace(0, 1, 200)[:, None]
        p = np.rint(a + (b - a) * t).astype(np.intp)
        p = np.clip(p, 0, [w - 1, h - 1])
        if float((depth[p[:, 1], p[:, 0]] <= 2.5).mean()) > s.touching:
            raise _cut_off()


four_corners = sides.four_corners
outline_polygon = sides.outline_polygon
