"""What was seen along a curved seam, taken together.

The short pieces that an arc is drawn by say little one by one, least of all where the seam ends.
All that was seen along it fixes one circle, and the pieces are then asked to be its chords, so
that the seam's ends come to lie where the circle meets the seams it ends on.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.arc_fit import fitted_circle
from seamwalk.geometry.projective import Points
from seamwalk.vision.piecing_adjust import Seen
from seamwalk.vision.piecing_round import Run

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class CircleSettings:
    """When what was seen along a run is a circle; lengths in the unit of the points."""

    clear: float
    """Nearer to the seam's ends other fabrics come in, and the junction blurs the line."""
    scatter: float
    """Points that scatter more than this about it are those of a print, not of the seam."""
    seam: float
    """What shading, blur or jagged labels shift a whole seam by, σ."""
    least_seen: int = 8
    """Fewer points do not fix a circle."""
    at_ends: float = 2.5
    """A circle is known less well at an arc's ends than in its middle, by about this factor
    (quadratic regression on even points: 3 at the very ends, 1.5 in the middle, times σ/√N)."""


def on_circles(
    seen: Seen,
    runs: Sequence[Run],
    nodes: Points,
    pieces: Indices,
    settings: CircleSettings,
) -> Seen:
    """Return what was seen, that along each run replaced by points on the chords of its circle.

    Parameters
    ----------
    nodes : (N, 2) float64
        Where the nodes are believed to be.
    pieces : (M, 2) int
        First and last node of each piece.

    Notes
    -----
    Runs that show no circle keep what was seen.
    """
    s = settings
    number = {(int(a), int(b)): p for p, (a, b) in enumerate(pieces.tolist())}
    gone: set[int] = set()
    piece, xy, sigma = [], [], []
    share = np.array([0.25, 0.5, 0.75])
    for run in runs:
        ends = nodes[run.nodes[[0, -1]]]
        gap = np.hypot(*(run.seen[:, None] - ends).T).min(axis=0)
        clear = run.seen[gap > s.clear]
        if len(clear) < s.least_seen:
            continue
        circle = fitted_circle(clear)
        if circle.scatter > s.scatter:
            continue
        corners = circle.nearest(nodes[run.nodes])
        doubt = np.hypot(s.at_ends * circle.scatter / np.sqrt(len(clear)), s.seam)
        for k in range(len(run.nodes) - 1):
            p = number[int(run.nodes[k]), int(run.nodes[k + 1])]
            gone.add(p)
            piece.append(np.full(len(share), p))
            xy.append(corners[k] + share[:, None] * (corners[k + 1] - corners[k]))
            # So many points together know the chord as well as the circle does.
            sigma.append(np.full(len(share), doubt * np.sqrt(len(share))))
    if not gone:
        return seen
    keep = ~np.isin(seen.piece, list(gone))
    return Seen(
        np.concatenate([seen.piece[keep], *piece]),
        np.concatenate([seen.xy[keep], *xy]),
        np.concatenate([seen.sigma[keep], *sigma]),
    )
