"""The course of one boundary between two junctions: straight, with corners, or bent.

A chain of cracks is jagged by a pixel or two.  The fewest straight pieces that explain it are
found by dynamic programming; where the pieces meet, the boundary either turns a corner or the
pieces stand for a smooth bend, which is then drawn as a smooth polyline.

References
----------
Bellman, On the approximation of curves by line segments using dynamic programming,
Communications of the ACM 4(6), 1961.
"""

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.polyline import turning_rad
from seamwalk.geometry.projective import Points


@dataclass(frozen=True, slots=True)
class ChainSettings:
    """When a boundary turns, and when it is only jagged."""

    gain_px2: float = 25.0
    """One more piece must lower the sum of squared distances by this, px²: a turn of 90° with
    arms of 6 px does, the steps of a straight edge do not (measured: at most 4)."""
    gain_by_noise: float = 240.0
    """And by this many times the chain's own variance: of straight chains jagged by 0.6 to
    1.5 px, 99 % gain less (measured on drawn label maps)."""
    noise_cracks: int = 16
    """Cracks over which that variance is taken: an inch at 16 px/in."""
    shortest_in: float = 0.2
    """No straight piece is shorter, inches: pieced sides are longer, noise is not."""
    shortest_px: float = 5.0
    """Nor shorter than this, pixels."""
    ends_px: int = 3
    """Cracks left out at both ends, where the junction blurs the line, pixels."""
    hook_px: float = 18.0
    """A piece at a chain's end shorter than this, pixels, …"""
    hook_deg: float = 30.0
    """… that turns by less than this is the blur of a junction where many seams meet."""
    most_knots: int = 40
    """Places where a piece may end, per chain: bounds the work to its square."""
    corner_deg: float = 15.0
    """A sharper turn is a corner unless a bend explains it better, degrees."""
    sure_corner_deg: float = 50.0
    """A turn sharper than this is a corner in any case, degrees."""
    bend_deg: float = 6.0
    """A bend is drawn with turns no larger than this, degrees (8 would count as corners)."""
    smooth_px: float = 12.0
    """A bend is smoothed over this many pixels to both sides."""

    def shortest(self, px_per_in: float) -> float:
        """Return the least length of a straight piece, pixels."""
        return max(self.shortest_px, self.shortest_in * px_per_in)

    def skipped(self, cracks: int) -> int:
        """Return how many cracks are left out at both ends of a chain."""
        return self.ends_px if cracks > 6 * self.ends_px else 0

    def price(self, middles: Points) -> float:
        """Return by how much one more piece must lower the sum of squared distances, px²."""
        return max(self.gain_px2, self.gain_by_noise * roughness(middles, self.noise_cracks))


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """A chain as straight pieces.

    Attributes
    ----------
    nodes_px : (K, 2) float64
        Ends of the pieces, the chain's own ends included.
    corner : (K,) bool
        Whether the boundary turns a corner there; True at both ends.
    breaks : (K,) int
        Index of the crack at which each node lies; piece i rests on cracks breaks[i] to
        breaks[i + 1].
    arcs : tuple of (int, int)
        First and last node of each run of pieces that stands for one circular arc.
    """

    nodes_px: Points
    corner: NDArray[np.bool_]
    breaks: NDArray[np.intp]
    arcs: tuple[tuple[int, int], ...] = ()


def course(corners_px: Points, px_per_in: float, settings: ChainSettings | None = None) -> Course:
    """Return the course of a chain given by the pixel corners it passes, (N + 1, 2)."""
    settings = settings or ChainSettings()
    middles = (corners_px[1:] + corners_px[:-1]) / 2
    n = len(middles)
    shortest, skip = settings.shortest(px_per_in), settings.skipped(n)
    knots = knots_of(n, skip, shortest, settings.most_knots)
    chosen = _fewest_pieces(middles, knots, shortest, settings)
    inner = _refined(middles, chosen, int(shortest / 2))[1:-1]
    breaks = _without_hooks(middles, np.array([0, *inner, n], dtype=np.intp), skip, settings)
    inner = breaks[1:-1]
    nodes = np.concatenate([corners_px[:1], np.zeros((len(inner), 2)), corners_px[-1:]])
    lines = [_line(middles, int(a), int(b)) for a, b in _spans(breaks, skip)]
    corner = np.ones(len(nodes), dtype=bool)
    for i in range(1, len(nodes) - 1):
        nodes[i], turn_deg = _meeting(lines[i - 1], lines[i], middles[min(breaks[i], n - 1)])
        bend = turn_deg < settings.corner_deg or (
            turn_deg < settings.sure_corner_deg
            and _bends(middles, int(breaks[i - 1]), int(breaks[i]), int(breaks[i + 1]))
        )
        corner[i] = not bend
    if corner.all():
        return Course(nodes, corner, breaks)
    return _with_bends(middles, nodes, corner, breaks, settings)


def knots_of(n: int, skip: int, shortest: float, most: int) -> NDArray[np.intp]:
    """Return the crack indices at which a piece may end, both outermost included."""
    room = n - 2 * skip
    count = int(min(most, max(1, room // max(2.0, shortest / 3))))
    return np.unique(np.round(np.linspace(skip, n - skip, count + 1)).astype(np.intp))


def running_sums(middles: Points) -> NDArray[np.float64]:
    """Return running sums of 1, x, y, xx, xy, yy over the cracks, (N + 1, 6)."""
    x, y = (middles - middles[0]).T
    terms = np.column_stack([np.ones_like(x), x, y, x * x, x * y, y * y])
    return np.concatenate([np.zeros((1, 6)), np.cumsum(terms, axis=0)])


def line_misfit(sums: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the sum of squared distances from the best line, for sums (..., 6)."""
    n, sx, sy, sxx, sxy, syy = np.moveaxis(sums, -1, 0)
    n = np.maximum(n, 1.0)
    a, b, c = sxx - sx * sx / n, sxy - sx * sy / n, syy - sy * sy / n
    out: NDArray[np.float64] = np.maximum((a + c) / 2 - np.hypot((a - c) / 2, b), 0.0)
    return out


def _fewest_pieces(
    middles: Points, knots: NDArray[np.intp], shortest: float, settings: ChainSettings
) -> NDArray[np.intp]:
    """Return the knots between which straight pieces explain the chain best for their number."""
    m = len(knots) - 1
    whole = knots[[0, -1]]
    if m < 2 or knots[-1] - knots[0] < 2 * shortest:
        return whole
    sums = running_sums(middles)[knots]
    if line_misfit(sums[-1] - sums[0]) < settings.gain_px2:
        return whole
    cost = line_misfit(sums[None, :] - sums[:, None])
    length = knots[None, :] - knots[:, None]
    cost[length < shortest] = np.inf
    price = settings.price(middles)
    best = np.full(m + 1, np.inf)
    best[0] = -price
    came = np.zeros(m + 1, dtype=np.intp)
    for j in range(1, m + 1):
        total = best[:j] + cost[:j, j] + price
        came[j] = int(np.argmin(total))
        best[j] = total[came[j]]
    if not np.isfinite(best[m]):
        return whole
    chosen = [m]
    while chosen[-1]:
        chosen.append(int(came[chosen[-1]]))
    return knots[chosen[::-1]]


def roughness(middles: Points, cracks: int) -> float:
    """Return the middle variance about a line of every run of so many cracks, px²."""
    if len(middles) < cracks + 2:
        return 0.0
    sums = running_sums(middles)
    return float(np.median(line_misfit(sums[cracks:] - sums[:-cracks]))) / (cracks - 2)


def _refined(middles: Points, chosen: NDArray[np.intp], reach: int) -> NDArray[np.intp]:
    """Return the chosen breaks moved to the crack where they fit best."""
    sums = running_sums(middles)
    out = chosen.copy()
    for i in range(1, len(out) - 1):
        low = max(out[i - 1] + 2, out[i] - reach)
        high = min(out[i + 1] - 2, out[i] + reach)
        if low >= high:
            continue
        at = np.arange(low, high + 1)
        before = line_misfit(sums[at] - sums[out[i - 1]])
        after = line_misfit(sums[out[i + 1]] - sums[at])
        out[i] = at[int(np.argmin(before + after))]
    return out


def _without_hooks(
    middles: Points, breaks: NDArray[np.intp], skip: int, settings: ChainSettings
) -> NDArray[np.intp]:
    """Return the breaks without slight turns close to either end."""
    for end in (1, -2):
        while len(breaks) > 2:
            tip = 0 if end == 1 else -1
            size = float(np.hypot(*(middles[min(breaks[end], len(middles) - 1)] - middles[tip])))
            spans = _spans(breaks, skip)
            pair = spans[:2] if end == 1 else spans[-2:]
            (_, d), (_, e) = (_line(middles, a, b) for a, b in pair)
            turn = np.degrees(np.abs(np.arctan2(d[0] * e[1] - d[1] * e[0], d @ e)))
            if size >= settings.hook_px or turn >= settings.hook_deg:
                break
            breaks = np.delete(breaks, end)
    return breaks


def _spans(breaks: NDArray[np.intp], skip: int) -> list[tuple[int, int]]:
    """Return the cracks that each piece is fitted to, clear of the chain's ends."""
    spans = []
    last = len(breaks) - 2
    for i in range(last + 1):
        a = int(breaks[i]) + (skip if i == 0 else 1)
        b = int(breaks[i + 1]) - (skip if i == last else 1)
        spans.append((a, b) if b - a >= 3 else (int(breaks[i]), int(breaks[i + 1])))
    return spans


def _line(points: Points, a: int, b: int) -> tuple[Points, Points]:
    """Return a point of, and the direction along, the best line through points[a:b]."""
    part = points[a:b]
    centre = part.mean(axis=0)
    direction = np.linalg.svd(part - centre, full_matrices=False)[2][0]
    if direction @ (part[-1] - part[0]) < 0:
        direction = -direction
    return centre, direction


def _meeting(
    one: tuple[Points, Points], two: tuple[Points, Points], near: Points
) -> tuple[Points, float]:
    """Return where two lines meet and by how much they turn, degrees.

    Lines that hardly turn, or that meet far off, meet half way between their feet from `near`.
    """
    (p, d), (q, e) = one, two
    cross = float(d[0] * e[1] - d[1] * e[0])
    turn_deg = float(np.degrees(np.abs(np.arctan2(cross, d @ e))))
    feet = (p + d * (d @ (near - p)) + q + e * (e @ (near - q))) / 2
    if abs(cross) > 0.2:
        w = q - p
        met = p + d * ((w[0] * e[1] - w[1] * e[0]) / cross)
        if np.hypot(*(met - near)) < 8.0:
            return met, turn_deg
    return feet, turn_deg


def _bends(middles: Points, a: int, b: int, c: int) -> bool:
    """Return whether one parabola explains cracks a to c better than lines a–b and b–c."""
    part = middles[a:c]
    sums = running_sums(middles)
    two_lines = float(line_misfit(sums[b] - sums[a]) + line_misfit(sums[c] - sums[b]))
    s = np.linspace(-1.0, 1.0, len(part))
    basis = np.column_stack([np.ones_like(s), s, s * s])
    rest = part - basis @ np.linalg.lstsq(basis, part, rcond=None)[0]
    chord = part[-1] - part[0]
    across = rest @ np.array([-chord[1], chord[0]]) / max(float(np.hypot(*chord)), 1e-9)
    return float(across @ across) < two_lines


def _with_bends(
    middles: Points,
    nodes: Points,
    corner: NDArray[np.bool_],
    breaks: NDArray[np.intp],
    settings: ChainSettings,
) -> Course:
    """Return the course with every run of bent pieces drawn as a smooth polyline."""
    smooth = _smoothed(middles, settings.smooth_px)
    xy, is_corner, at = [nodes[0]], [True], [0]
    ends = np.flatnonzero(corner)
    for i, j in itertools.pairwise(ends):
        if j > i + 1:
            turn = np.degrees(np.abs(turning_rad(nodes[i : j + 1]))).sum()
            room = (breaks[j] - breaks[i]) / max(settings.smooth_px / 2, 1.0)
            count = int(np.clip(np.ceil(turn / settings.bend_deg), 1, max(room, 1.0)))
            inner = np.linspace(breaks[i], breaks[j], count + 2)[1:-1].astype(np.intp)
            xy.extend(smooth[inner])
            is_corner.extend([False] * count)
            at.extend(inner.tolist())
        xy.append(nodes[j])
        is_corner.append(True)
        at.append(int(breaks[j]))
    return Course(np.array(xy), np.array(is_corner), np.array(at, dtype=np.intp))


def _smoothed(middles: Points, reach_px: float) -> Points:
    """Return each crack moved on to the parabola through its neighbours (Savitzky–Golay)."""
    from scipy.signal import savgol_filter

    window = min(2 * int(reach_px) + 1, (len(middles) - 1) // 2 * 2 + 1)
    if window < 5:
        return middles
    out: Points = savgol_filter(middles, window, 2, axis=0)
    return out
