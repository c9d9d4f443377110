"""Where many exact pieces meet many straight segments, all found together in arrays.

A quilt's motifs cross its seams tens of thousands of times; one by one that takes minutes.
"""

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from seamwalk.geometry.clip import SAME_PLACE_IN
from seamwalk.geometry.curve import Arc, Piece

Floats = NDArray[np.float64]


def crossings(pieces: Sequence[Piece], segments: Floats) -> list[list[float]]:
    """Return for each piece the fractions of its length where it meets a segment, sorted.

    Parameters
    ----------
    pieces : sequence of Line or Arc
        Exact.
    segments : ndarray (M, 2, 2)
        First and last point of each, in the unit of the pieces.

    Notes
    -----
    An end on a segment counts; a place where two segments join may come twice.  Pieces along a
    segment cross it nowhere.  O((N + M) log M + K) for N pieces and K pairs that come close.
    """
    start = np.array([p.start for p in pieces])
    end = np.array([p.end for p in pieces])
    centre = np.array([p.centre if isinstance(p, Arc) else p.start for p in pieces])
    sweep = np.array([p.sweep_rad if isinstance(p, Arc) else 0.0 for p in pieces])
    tree = shapely.STRtree(np.atleast_1d(np.asarray(shapely.linestrings(segments))))
    which, by = tree.query(_boxes(start, end, centre, sweep))
    a, d = segments[by, 0], segments[by, 1] - segments[by, 0]
    # Rounding must not let a curve slip through between two segments of a seam.
    slack = SAME_PLACE_IN / 100 / np.maximum(np.hypot(*d.T), SAME_PLACE_IN)
    round_ = sweep[which] != 0
    found: list[tuple[NDArray[np.intp], Floats]] = []
    k = which[~round_]
    found.append(
        (k, _on_lines(start[k], end[k] - start[k], a[~round_], d[~round_], slack[~round_]))
    )
    k = which[round_]
    for sign in (-1.0, 1.0):
        found.append(
            (k, _on_arcs(start[k], centre[k], sweep[k], a[round_], d[round_], slack[round_], sign))
        )
    out: list[list[float]] = [[] for _ in pieces]
    hits = np.concatenate([f[0] for f in found]), np.concatenate([f[1] for f in found])
    good = np.isfinite(hits[1])
    order = np.lexsort((hits[1][good], hits[0][good]))
    for piece, t in zip(hits[0][good][order].tolist(), hits[1][good][order].tolist(), strict=True):
        out[piece].append(t)
    return out


def middles(pieces: Sequence[Piece]) -> Floats:
    """Return the point half way along each piece, (N, 2)."""
    start = np.array([p.start for p in pieces])
    end = np.array([p.end for p in pieces])
    centre = np.array([p.centre if isinstance(p, Arc) else p.start for p in pieces])
    half = np.array([p.sweep_rad / 2 if isinstance(p, Arc) else 0.0 for p in pieces])
    arm = start - centre
    c, s = np.cos(half), np.sin(half)
    turned = np.column_stack([c * arm[:, 0] - s * arm[:, 1], s * arm[:, 0] + c * arm[:, 1]])
    straight = half[:, None] == 0
    out: Floats = np.where(straight, (start + end) / 2, centre + turned)
    return out


def _boxes(start: Floats, end: Floats, centre: Floats, sweep: Floats) -> NDArray[np.object_]:
    """Return the rectangle round each piece."""
    t = np.linspace(0, 1, 9)
    turns = sweep[:, None] * t
    arm = start - centre
    c, s = np.cos(turns), np.sin(turns)
    x = centre[:, :1] + c * arm[:, :1] - s * arm[:, 1:]
    y = centre[:, 1:] + s * arm[:, :1] + c * arm[:, 1:]
    # Between two of the nine points an arc bulges by no more than its rise over that part.
    bulge = np.hypot(*arm.T) * (1 - np.cos(sweep / 16)) + SAME_PLACE_IN
    straight = sweep == 0
    x[straight] = start[straight, :1] + t * (end - start)[straight, :1]
    y[straight] = start[straight, 1:] + t * (end - start)[straight, 1:]
    return np.asarray(
        shapely.box(
            x.min(axis=1) - bulge,
            y.min(axis=1) - bulge,
            x.max(axis=1) + bulge,
            y.max(axis=1) + bulge,
        )
    )


def _on_lines(p: Floats, e: Floats, a: Floats, d: Floats, slack: Floats) -> Floats:
    """Return the fractions t of the lines p + t·e on the segments a + u·d, NaN where apart."""
    cross = e[:, 0] * d[:, 1] - e[:, 1] * d[:, 0]
    w = a - p
    with np.errstate(divide="ignore", invalid="ignore"):
        t = (w[:, 0] * d[:, 1] - w[:, 1] * d[:, 0]) / cross
        u = (w[:, 0] * e[:, 1] - w[:, 1] * e[:, 0]) / cross
    near = SAME_PLACE_IN / np.maximum(np.hypot(*e.T), SAME_PLACE_IN)
    meets = (u >= -slack) & (u <= 1 + slack) & (t >= -near) & (t <= 1 + near)
    return np.where(meets, np.clip(t, 0, 1), np.nan)


def _on_arcs(
    start: Floats,
    centre: Floats,
    sweep: Floats,
    a: Floats,
    d: Floats,
    slack: Floats,
    sign: float,
) -> Floats:
    """Return the fractions of the arcs on the segments a + u·d, for one root of the two.

    They solve |a + u·d − centre|² = radius².
    """
    arm = start - centre
    w = a - centre
    qa = (d * d).sum(axis=1)
    qb = (w * d).sum(axis=1)
    qc = (w * w).sum(axis=1) - (arm * arm).sum(axis=1)
    with np.errstate(invalid="ignore", divide="ignore"):
        u = (-qb + sign * np.sqrt(qb * qb - qa * qc)) / qa
        q = w + u[:, None] * d
        turn = np.arctan2(
            arm[:, 0] * q[:, 1] - arm[:, 1] * q[:, 0], (arm * q).sum(axis=1)
        ) * np.sign(sweep)
    whole = 2 * np.pi
    near = SAME_PLACE_IN / np.hypot(*arm.T)
    # A hair before the start counts as the start.
    turn = np.where(turn < -near, turn + whole, turn)
    meets = (u >= -slack) & (u <= 1 + slack) & (turn <= np.abs(sweep) + near)
    return np.where(meets, np.clip(turn / np.abs(sweep), 0, 1), np.nan)
