"""How square and straight a top is: skew, taper, bows and waves with their ±.

Every figure is a weighted sum of the places of many points (:mod:`measure_field`), so one junction
out of place is no skew, and a camera that cannot tell skew from tilt says so in the ±.

References
----------
Weights that leave out stray lines: Beaton and Tukey, Technometrics 16:147, 1974 (biweight).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from shapely import Polygon

from seamwalk.geometry.projective import Points
from seamwalk.model.sizes import Angle, Length, Squareness, Straightness
from seamwalk.model.top import Top
from seamwalk.vision.measure_doubt import NINETY_FIVE, Doubt
from seamwalk.vision.measure_field import Field
from seamwalk.vision.measure_top import edge_runs
from seamwalk.vision.piecing_adjust import AdjustSettings, straight_through

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class StraightSettings:
    """What counts as a line, and when a top counts as square."""

    four_sided: float = 0.08
    """The four corners' area differs from the top's by more than this share where the top is
    not meant to be four-sided; a bow of 1 in on a 40 in top makes 0.02."""
    along_deg: float = 8.0
    """Lines this near to an axis of the top belong to its main directions, degrees."""
    line_in: float = 3.0
    """Shorter lines say nothing about the top's directions, inches."""
    jog_in: float = 1 / 32
    """Jog of a seam line at a junction that is usual in piecing, σ, inches."""
    stations: int = 41
    """Points at even distances that an edge is looked at; waves are longer than four of them."""
    unseen_in: float = 1 / 16
    """σ of the bow and wave of an edge that no seam reaches between its ends, inches: the traced
    outline is taken straight there."""
    tukey: float = 4.685
    """Lines off by this many σ count nothing (95 % efficiency for normal scatter)."""
    rounds: int = 4
    """Rounds of reweighting."""
    square_sigmas: float = 2.0
    """Square: every figure is within this many σ of it …"""
    shown_sigmas: float = 1.645
    """… and, with so many σ to spare (95 % sure), below …"""
    shown_deg: float = 1.0
    """… this angle …"""
    shown_in: float = 0.25
    """… and this much over the top's length, inches: what can be eased in."""
    skewed_sigmas: float = 2.6
    """Not square: one figure is off by more than this many σ; seven are looked at."""
    bent_in: float = 0.125
    """Bows below this are within the width of a binding's seam and leave a top square, inches."""


def straightness(
    top: Top, doubt: Doubt, settings: StraightSettings | None = None
) -> Straightness | None:
    """Return how square and straight the top is, with 95 % limits.

    None for a top that is not meant to have four corners, such as a hexagon.
    """
    s = settings or StraightSettings()
    edges = edge_runs(top)
    if abs(Polygon([run[0] for run in edges]).area / top.outline.area - 1) > s.four_sided:
        return None
    field = Field(top, np.concatenate(edges), doubt)
    runs = [field.index(run) for run in edges]
    skew = _skew(top, field, s)
    slopes = [_slope_of_edge(field, run, k, s) for k, run in enumerate(runs)]
    # Slopes turn x towards y.  The top widens downwards when its left edge turns more that way
    # than its right, and grows to the right when its lower edge does so more than its upper.
    across, down = slopes[3] - slopes[1], slopes[2] - slopes[0]
    bows, waves = [], []
    for k, run in enumerate(runs):
        bow, wave = _bow_and_wave(field, run, k, s)
        bows.append(bow)
        waves.append(wave)
    angles = [
        _skew_of_corners(edges, doubt) if skew is None else field.angle(skew),
        field.angle(across),
        field.angle(down),
    ]
    bow_lengths = [
        _with_unseen(field.length(g), run, s) for g, run in zip(bows, runs, strict=True)
    ]
    size = float(np.ptp(field.points, axis=0).max())
    return Straightness(
        angles[0],
        angles[1],
        angles[2],
        (bow_lengths[0], bow_lengths[1], bow_lengths[2], bow_lengths[3]),
        (waves[0], waves[1], waves[2], waves[3]),
        _verdict(angles, bow_lengths, size, s),
    )


def _verdict(
    angles: list[Angle], bows: list[Length], size_in: float, s: StraightSettings
) -> Squareness:
    """Return the verdict on figures with their 95 % limits."""
    shown = min(s.shown_deg, float(np.degrees(s.shown_in / size_in)))
    figures = [(abs(a.value_deg), a.plus_minus_deg / NINETY_FIVE, shown, 0.0) for a in angles]
    figures += [
        (abs(b.value_in), b.plus_minus_in / NINETY_FIVE, s.shown_in, s.bent_in) for b in bows
    ]
    if any(v > max(s.skewed_sigmas * sigma, least) for v, sigma, _, least in figures):
        return "not square"
    if all(
        v < max(s.square_sigmas * sigma, least) and v + s.shown_sigmas * sigma <= small
        for v, sigma, small, least in figures
    ):
        return "square"
    return "cannot tell"


def _skew(top: Top, field: Field, s: StraightSettings) -> Floats | None:
    """Return the influence of the skew: how much more downright lines turn than level ones.

    None where no lines run along the axes.
    """
    lines = _lines(top, field, s)
    level, downright = _direction(field, lines, 0, s), _direction(field, lines, 1, s)
    return None if level is None or downright is None else downright - level


def _skew_of_corners(edges: list[Points], doubt: Doubt) -> Angle:
    """Return the skew of the quadrilateral of the corners, (UL − UR + LR − LL) / 4."""
    p = np.array([run[0] for run in edges])
    angles = doubt.angles(p, np.roll(p, 1, axis=0), np.roll(p, -1, axis=0))
    value = sum(sign * a.value_deg for sign, a in zip((1, -1, 1, -1), angles, strict=True)) / 4
    return Angle(value, max(a.plus_minus_deg for a in angles))


def _lines(top: Top, field: Field, s: StraightSettings) -> list[NDArray[np.intp]]:
    """Return the seam lines and edges, each as places of its points in the field."""
    place = {j.id: field.place[j.xy] for j in top.junctions}
    pieces = []
    for seam in top.seams:
        way = field.points[[place[seam.ends[0]], place[seam.ends[1]]]]
        chord = float(np.hypot(*(way[1] - way[0])))
        d = np.diff(np.array(seam.points), axis=0)
        if chord > 0 and float(np.hypot(d[:, 0], d[:, 1]).sum()) < 1.01 * chord:
            pieces.append((place[seam.ends[0]], place[seam.ends[1]]))
    if not pieces:
        return []
    ends = np.array(pieces, dtype=np.intp)
    how = AdjustSettings(straight_sigma=s.jog_in, straight_deg=s.along_deg, node_noise=0.05)
    number = {frozenset(p): k for k, p in enumerate(pieces)}
    links = [
        (number[frozenset((a, b))], number[frozenset((b, c))])
        for a, b, c in straight_through(field.points, ends, how).tolist()
    ]
    n = len(pieces)
    i, j = np.array(links, dtype=np.intp).reshape(-1, 2).T
    _, line = connected_components(coo_matrix((np.ones(len(i)), (i, j)), shape=(n, n)))
    order = np.argsort(line, kind="stable")
    cuts = np.flatnonzero(np.diff(line[order])) + 1
    return [np.unique(ends[members]) for members in np.split(order, cuts)]


def _direction(
    field: Field, lines: list[NDArray[np.intp]], axis: int, s: StraightSettings
) -> Floats | None:
    """Return the influence of the direction that lines along an axis have in the middle.

    Parameters
    ----------
    axis : {0, 1}
        0 for level lines, whose y changes with x; 1 for downright ones.

    Notes
    -----
    Slopes are modelled as b0 + b1 · (offset from the middle), so that a taper is no skew.
    """
    slopes, offsets = [], []
    middle = (field.points.min(axis=0) + field.points.max(axis=0)) / 2
    steepest = np.tan(np.radians(s.along_deg))
    for line in lines:
        p = field.points[line]
        if np.ptp(p[:, axis]) < s.line_in:
            continue
        influence = _slope(field, line, axis)
        if abs(field.value(influence)) < steepest:
            slopes.append(influence)
            offsets.append(float(p[:, 1 - axis].mean() - middle[1 - axis]))
    if not slopes:
        return None
    every, at = np.array(slopes), np.array(offsets)
    rows = every[:, 1 - axis]
    value = np.array([field.value(g) for g in slopes])
    sigma = np.sqrt(((rows @ field.covariance) * rows).sum(axis=1))
    design = np.column_stack([np.ones(len(at)), at])
    if len(at) < 3 or np.ptp(at) < s.line_in:
        design = design[:, :1]
    robust = np.ones(len(at))
    for _ in range(s.rounds):
        w = np.sqrt(robust) / sigma
        solve = np.linalg.pinv(design * w[:, None]) * w
        rest = np.abs(value - design @ (solve @ value)) / sigma
        scale = max(1.0, 1.4826 * float(np.median(rest)))
        robust = np.maximum(1 - (rest / (s.tukey * scale)) ** 2, 0.0) ** 2
        if (robust > 0).sum() < 3:
            break
    out: Floats = np.tensordot(solve[0], every, axes=1)
    return out


def _slope(field: Field, line: NDArray[np.intp], axis: int) -> Floats:
    """Return the influence of a line's least-squares slope, radians, x turned towards y."""
    along = field.points[line, axis]
    c = along - along.mean()
    out = np.zeros((2, len(field.points)))
    # A downright line that turns from x towards y goes to the left: the sign changes.
    out[1 - axis, line] = c / (c @ c) * (1.0 if axis == 0 else -1.0)
    return out


def _stations(field: Field, run: NDArray[np.intp], axis: int, s: StraightSettings) -> Floats:
    """Return how stations at even distances along an edge follow from its points, (S, n)."""
    along = np.maximum.accumulate(np.abs(field.points[run, axis] - field.points[run[0], axis]))
    t = np.linspace(0.0, along[-1], s.stations)
    hat = np.eye(len(run))
    return np.column_stack([np.interp(t, along, hat[k]) for k in range(len(run))])


def _slope_of_edge(field: Field, run: NDArray[np.intp], edge: int, s: StraightSettings) -> Floats:
    """Return the influence of the direction of an edge (0 top, 1 right, 2 bottom, 3 left)."""
    axis = edge % 2
    at = _stations(field, run, axis, s)
    along = at @ field.points[run, axis]
    c = along - along.mean()
    out = np.zeros((2, len(field.points)))
    np.add.at(out[1 - axis], run, (c @ at) / (c @ c) * (1.0 if axis == 0 else -1.0))
    return out


def _bow_and_wave(
    field: Field, run: NDArray[np.intp], edge: int, s: StraightSettings
) -> tuple[Floats, Length]:
    """Return the influence of an edge's bow, and its wave.

    The bow is the rise of the parabola through the edge's ends that fits it best; the wave is
    what lies farthest from the best parabola.
    """
    axis = edge % 2
    outwards = -1.0 if edge in (0, 3) else 1.0
    at = _stations(field, run, axis, s)
    t = np.linspace(0.0, 1.0, s.stations)
    chord = np.zeros((s.stations, len(run)))
    chord[:, 0] += 1 - t
    chord[:, -1] += t
    off = outwards * (at - chord)
    hump = 4 * t * (1 - t)
    bow = np.zeros((2, len(field.points)))
    np.add.at(bow[1 - axis], run, (hump @ off) / (hump @ hump))
    fit = np.column_stack([np.ones_like(t), t, hump])
    rest = outwards * (at - fit @ (np.linalg.pinv(fit) @ at))
    worst = int(np.argmax(np.abs(rest @ field.points[run, 1 - axis])))
    wave = np.zeros((2, len(field.points)))
    np.add.at(wave[1 - axis], run, rest[worst])
    measured = _with_unseen(field.length(wave), run, s)
    return bow, Length(abs(measured.value_in), measured.plus_minus_in)


def _with_unseen(length: Length, run: NDArray[np.intp], s: StraightSettings) -> Length:
    """Return the length with a wider ± the fewer points between its ends show the edge."""
    unseen = NINETY_FIVE * s.unseen_in / np.sqrt(max(1, len(run) - 2))
    return Length(length.value_in, float(np.hypot(length.plus_minus_in, unseen)))
