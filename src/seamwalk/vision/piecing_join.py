"""Junctions that a label map tore apart, joined again.

A crossing of two seams comes out of a jagged label map as two T-junctions, a star's middle as a
handful.  Whether they are one is decided by the lines that meet there: they pass through one
point, or they do not.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.projective import Points

Indices = NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class JoinSettings:
    """When raw junctions are one."""

    join_in: float = 0.15
    """Junctions closer than this are one: piecing is not exact enough to mean it, inches."""
    torn_px: float = 7.0
    """The label map's own jaggedness tears a crossing apart by up to this, pixels."""
    agree_in: float = 0.06
    """Their lines must pass within this of one point, inches, doubt not counted."""
    stub_px: float = 3.0
    """A seam that runs on from a block's tip to the raw edge is 1/4 in long and no tear: only
    shorter pieces between an inner junction and the outer edge are closed, pixels."""
    noise_px: float = 0.5
    """Scatter of a crack about its line, pixels."""
    correlated_px: float = 6.0
    """Length along which the scatter of cracks is alike, pixels."""
    doubt: float = 2.5
    """Lines may pass beside the common point by this many of their own σ more."""


@dataclass(frozen=True, slots=True, eq=False)
class RawNet:
    """The net before junctions are joined; `around` lists the pieces round each label."""

    nodes: Points
    corner: NDArray[np.bool_]
    pieces: Indices
    middles: tuple[Points, ...]
    around: dict[int, list[int]]


@dataclass(frozen=True, slots=True, eq=False)
class _Lines:
    """The best line of each piece: a point, a unit normal, its σ there and its slope's σ."""

    centre: Points
    normal: Points
    sigma: NDArray[np.float64]
    slope_sigma: NDArray[np.float64]


def _fit_lines(raw: RawNet, settings: JoinSettings) -> _Lines:
    n = len(raw.pieces)
    centre, normal = np.zeros((n, 2)), np.zeros((n, 2))
    sigma, slope = np.full(n, np.inf), np.full(n, np.inf)
    for p, points in enumerate(raw.middles):
        clear = min(int(settings.torn_px / 2), len(points) // 4)
        part = points[clear : len(points) - clear]
        if len(part) < 4:
            continue
        centre[p] = part.mean(axis=0)
        s, vt = np.linalg.svd(part - centre[p], full_matrices=False)[1:]
        normal[p] = vt[1]
        independent = max(1.0, len(part) / settings.correlated_px)
        noise = max(settings.noise_px, float(s[1]) / np.sqrt(len(part)))
        sigma[p] = noise / np.sqrt(independent)
        slope[p] = sigma[p] / max(float(s[0]) / np.sqrt(len(part)), 1e-9)
    return _Lines(centre, normal, sigma, slope)


def join(
    raw: RawNet, free: list[int], careful: set[int], px_per_in: float, settings: JoinSettings
) -> tuple[Indices, set[int], Points]:
    """Return who owns each node after joining, the pieces gone, and where owners lie."""
    owner = np.arange(len(raw.nodes))
    at = raw.nodes.copy()
    gone: set[int] = set()
    lines = _fit_lines(raw, settings)
    reach = max(settings.join_in * px_per_in, settings.torn_px)
    ends = raw.pieces
    length = np.hypot(*(raw.nodes[ends[:, 1]] - raw.nodes[ends[:, 0]]).T)
    short = [p for p in free if length[p] <= reach and raw.corner[ends[p]].all()]
    short = [p for p in short if not careful.intersection(ends[p].tolist())]
    edge = {v for p in raw.around[0] for v in ends[p].tolist()}
    inward = {p for p in short if len(edge.intersection(ends[p].tolist())) == 1}
    short = [p for p in short if p not in inward or length[p] <= settings.stub_px]
    agree_px = settings.agree_in * px_per_in
    if not short:
        return owner, gone, at
    meeting: dict[int, set[int]] = {}
    for p, (u, v) in enumerate(ends.tolist()):
        meeting.setdefault(u, set()).add(p)
        meeting.setdefault(v, set()).add(p)
    faces: dict[int, set[int]] = {v: set() for v in meeting}
    sides: dict[int, list[int]] = {}
    left_over: dict[int, int] = {}
    for label, around in raw.around.items():
        left_over[label] = len(around)
        for p in around:
            sides.setdefault(p, []).append(label)
            for v in ends[p].tolist():
                faces[v].add(label)
    waiting = sorted(short, key=lambda p: (length[p], p))
    before = None
    while before != len(gone):
        # Lines that could not be told apart at first may be, once others have met.
        before = len(gone)
        for p in waiting:
            if p in gone:
                continue
            u, v = owner[ends[p]].tolist()
            # Only the two faces beside the piece may touch both ends, and both must keep three
            # sides: else joining would pinch a patch or fold it flat.
            if u == v or faces[u] & faces[v] != set(sides[p]):
                continue
            if any(left_over[k] < 4 for k in sides[p]):
                continue
            others = sorted((meeting[u] | meeting[v]) - {p})
            near = (at[u] + at[v]) / 2
            met = _common_point(lines, others, near, agree_px, reach, settings)
            if met is None:
                continue
            gone.add(p)
            for k in sides[p]:
                left_over[k] -= 1
            owner[owner == v] = u
            at[u] = met
            meeting[u] = set(others)
            faces[u] |= faces[v]
    return owner, gone, at


def _common_point(
    lines: _Lines,
    pieces: list[int],
    near: Points,
    agree_px: float,
    reach_px: float,
    settings: JoinSettings,
) -> Points | None:
    """Return the point that all lines pass through within their doubt, else None."""
    use = np.array([p for p in pieces if np.isfinite(lines.sigma[p])], dtype=np.intp)
    if len(use) < 2:
        return None
    normal, centre = lines.normal[use], lines.centre[use]
    direction = np.column_stack([-normal[:, 1], normal[:, 0]])
    along = np.abs(((near - centre) * direction).sum(axis=1))
    sigma = np.hypot(lines.sigma[use], lines.slope_sigma[use] * along)
    weight = 1 / (sigma**2 + agree_px**2 / 4)
    offset = ((centre - near) * normal).sum(axis=1)
    matrix = (normal * weight[:, None]).T @ normal + np.eye(2) / reach_px**2
    step = np.linalg.solve(matrix, (normal * (weight * offset)[:, None]).sum(axis=0))
    rest = np.abs(offset - normal @ step)
    if np.hypot(*step) > reach_px or (rest > agree_px + settings.doubt * sigma).any():
        return None
    out: Points = near + step
    return out
