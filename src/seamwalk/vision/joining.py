"""Which neighbouring regions are one piece of cloth.

Greedy joining of a region graph: the border least likely to be a seam goes first, what it changes
is judged anew, until every border left is more likely a seam than not.  The judge is a logistic
model of a few measures; their weights were fitted on rendered tops.

References
----------
Arbeláez et al., Contour detection and hierarchical image segmentation, IEEE PAMI 33(5), 2011
(greedy joining by boundary strength); Ren and Shakhnarovich, Image segmentation by cascaded region
agglomeration, CVPR 2013 (logistic model of border features).
"""

import heapq
import math
from dataclasses import dataclass

import numpy as np

from seamwalk.vision.regions import Array, RegionGraph

MEASURES = (
    "mean strength",
    "share of strong cracks",
    "word distance",
    "colour contrast",
    "colour difference",
    "busyness ratio",
    "log length",
    "bend",
    "relative length",
    "log smaller area",
    "gain in convexity",
    "strength × words",
    "jaggedness",
    "root of word distance",
    "strength squared",
)
"""What a border is judged by, in the order of the weights."""


@dataclass(frozen=True, slots=True)
class JoinSettings:
    """The judge of borders."""

    weights: tuple[float, ...] = (
        0.0, 0.0, 0.0, 0.0, 0.0, 0.331, -1.315, -7.61,
        3.002, 2.155, -5.638, 4.519, 1.013, 0.0, 6.234,
    )  # fmt: skip
    """Log-odds of a seam for each of `MEASURES`, fitted on rendered tops.  More contrast never
    speaks against a seam, a bent border never for one: their signs were held in the fit."""
    bias: float = -8.651
    stop: float = 0.85
    """Borders with a lower probability of a seam are dissolved.  The fit weighs rare seams as
    much as frequent borders without one, so its best stop lies above one half."""
    most_area_in2: float = 20.0
    """The smaller area counts up to this, square inches: large patches are likelier cut by a seam
    than small ones, but beyond a block's size more cloth says nothing more."""
    sure: float = 0.8
    """Mean strength above which a border is a seam whatever its shape, so that one wrong join,
    which makes a region ragged and its borders bent, does not bring on the next."""
    noise_lab: float = 2.0
    """Colour difference that never counts, CIELAB units."""


def measures(
    graph: RegionGraph, a: int, b: int, px_per_in: float, settings: JoinSettings
) -> Array:
    """Return the `MEASURES` of the border between regions `a` and `b`."""
    n, strength, strong, x, y, xx, xy, yy = graph.border[a][b].tolist()
    s = strength / n
    x, y = x / n, y / n
    cxx, cxy, cyy = xx / n - x * x, xy / n - x * y, yy / n - y * y
    half = (cxx + cyy) / 2
    root = math.sqrt(max((cxx - cyy) ** 2 / 4 + cxy * cxy, 0.0))
    length = math.sqrt(12 * (half + root) + 1)
    bend = math.sqrt(max(half - root, 0.0)) / px_per_in
    ca = graph.core[a] / max(graph.core[a, 0], 1e-9)
    cb = graph.core[b] / max(graph.core[b, 0], 1e-9)
    gap2 = (ca[1:4] - cb[1:4]) ** 2
    d2 = float(gap2.sum())
    spread = np.maximum(ca[4:7] - ca[1:4] ** 2, 0) + np.maximum(cb[4:7] - cb[1:4] ** 2, 0)
    along = float((gap2 * spread).sum()) / (d2 + 1e-3)
    floor2 = settings.noise_lab**2
    ha, hb = ca[8:], cb[8:]
    words = 0.5 * float(((ha - hb) ** 2 / (ha + hb + 1e-4)).sum())
    busy = abs(math.log((float(ca[7]) + 0.3) / (float(cb[7]) + 0.3)))
    size_a, size_b = float(graph.size[a]), float(graph.size[b])
    together = size_a + size_b
    apart = (
        size_a * size_a / float(graph.hull_area[a]) + size_b * size_b / float(graph.hull_area[b])
    ) / together
    gain = together / graph.joint_hull(a, b)[1] - apart
    small = min(size_a, size_b)
    return np.array(
        [
            s,
            strong / n,
            words,
            math.log1p(math.sqrt(d2 / (along + floor2))),
            math.log1p(math.sqrt(d2 / floor2)),
            busy,
            math.log(length / px_per_in),
            bend,
            min(1.0, length / math.sqrt(small)),
            math.log(min(small / px_per_in**2, settings.most_area_in2) + 0.01),
            gain,
            s * words,
            n / length,
            math.sqrt(words),
            s * s,
        ]
    )


def join_alike(graph: RegionGraph, px_per_in: float, settings: JoinSettings) -> None:
    """Join regions of `graph` until every border left is judged a seam."""
    weights = np.asarray(settings.weights)
    limit = math.log(settings.stop / (1 - settings.stop))
    heap: list[tuple[float, int, int]] = []
    current: dict[tuple[int, int], float] = {}

    def judge(a: int, b: int) -> None:
        key = (a, b) if a < b else (b, a)
        found = measures(graph, key[0], key[1], px_per_in, settings)
        odds = float(weights @ found) + settings.bias
        if found[0] > settings.sure:
            odds = max(odds, limit)
        current[key] = odds
        if odds < limit:
            heapq.heappush(heap, (odds, *key))

    for a in range(1, len(graph.parent)):
        for b in graph.border[a]:
            if b > a:
                judge(a, b)
    while heap:
        odds, a, b = heapq.heappop(heap)
        if current.get((a, b)) != odds or b not in graph.border[a]:
            continue
        keep, gone = (a, b) if graph.size[a] >= graph.size[b] else (b, a)
        graph.join(keep, gone)
        del current[(a, b)]
        for other in sorted(graph.border[keep]):
            if other:
                judge(keep, other)
