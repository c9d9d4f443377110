"""Passes: what is sewn in one go with the quilt lying one way.

The cheapest pairing, with turns of the quilt priced, falls into trails, closed ones among them.
Cut where the quilt has to be turned, or where the trail leaves its part of the top, and rid of
travel at both ends, they become *passes*: a whole seam line from edge to edge, one side of a row
of arches, a walk round a block.  Passes hold everything that must be sewn; which follows which,
and in which direction, is left to `sequence`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from seamwalk.geometry.curve import Point
from seamwalk.routing.order.bulk import share_right
from seamwalk.routing.solve.pairing import Pairing
from seamwalk.routing.solve.threads import Walk
from seamwalk.routing.turning import END, Bools, Costs, Floats, HalfEdges, Ints


def trails(pairing: Pairing) -> tuple[list[Walk], list[Walk]]:
    """Return the open trails of a pairing, end to end, and the closed ones, from anywhere."""
    mate: list[int] = pairing.mate.tolist()
    used: list[bool] = pairing.used.tolist()
    seen = [False] * len(used)

    def followed(h: int) -> Walk:
        walk = []
        while h != END and not seen[h >> 1]:
            walk.append(h)
            seen[h >> 1] = True
            h = mate[h ^ 1]
        return walk

    ends = [h for h in range(len(mate)) if used[h >> 1] and mate[h] == END]
    opened = [followed(h) for h in ends if not seen[h >> 1]]
    closed = [followed(2 * c) for c in range(len(used)) if used[c] and not seen[c]]
    return opened, closed


def passes(
    opened: Sequence[Walk],
    closed: Sequence[Walk],
    edges: HalfEdges,
    costs: Costs,
    strip: Ints | None = None,
) -> list[Walk]:
    """Return the passes that trails fall into, each in one of its two directions.

    Parameters
    ----------
    opened, closed : sequence of Walk
        As `trails` gives them, found with `edges.turning`; or threads and nothing.
    edges : HalfEdges
        The passes' copies.
    costs : Costs
        Of `edges`.
    strip : (C,) int, optional
        Cut where this changes from one required copy to the next; without it, where their main
        directions differ by more than `Turning.apart_deg`.

    Raises
    ------
    ValueError
        If `edges` has no `turning` and `strip` is not given.
    """
    if edges.turning is None and strip is None:
        raise ValueError("passes are cut where the quilt is turned: its price is needed")
    apart = 180.0 if edges.turning is None else edges.turning.apart_deg
    lies: list[float] = edges.lies_deg.tolist()
    required: list[bool] = edges.required.tolist()
    part: list[int] | None = None if strip is None else strip.tolist()

    def is_cut(a: int, b: int) -> bool:
        """Return whether a pass ends between required copies entered by `a`, then by `b`."""
        if part is not None:
            return part[a >> 1] != part[b >> 1]
        turn = abs(lies[a] - lies[b])
        return min(turn, 360 - turn) > apart + 1e-9

    out: list[Walk] = []
    for walk in [*opened, *(_from_dearest(w, costs) for w in closed)]:
        last: int | None = None
        now: Walk = []
        gap: Walk = []
        for h in walk:
            if not required[h >> 1]:
                gap.append(h)
                continue
            if last is not None and is_cut(last, h):
                out.append(now)
                now, gap = [], []
            if now:
                now += gap
            now.append(h)
            last, gap = h, []
        if now:
            out.append(now)
    return out


def _from_dearest(walk: Walk, costs: Costs) -> Walk:
    """Return the closed trail from its dearest joint on, at the edge of the top among equals."""
    dearest = max(
        range(len(walk)),
        key=lambda k: (
            round(costs.turn(walk[k - 1] ^ 1, walk[k]), 6),
            -costs.end_s[costs.node[walk[k]]],
        ),
    )
    return walk[dearest:] + walk[:dearest]


@dataclass(frozen=True, slots=True, eq=False)
class Lie:
    """Where passes lie in the top, each in both directions.

    State 2i is pass i as given, 2i + 1 the same one reversed.

    Attributes
    ----------
    length_in : (n,) float
        Stitched, travel within the pass included.
    group : (n,) int
        Family of lines and half of the top, or part of the top: 2 · family + (1 on the half
        above or left of the middle).
    out_in : (n,) float
        Distance from the middle across the lines of the family.
    heavy_in : (2n,) float
        Length stitched with more than `heavy` of the top right of the needle, by state.
    """

    length_in: Floats
    group: Ints
    out_in: Floats
    heavy_in: Floats


MIDDLE_IN = 0.5
"""Lines this near to the middle are the middle line, and belong to both halves, inches."""


def lie_of(
    found: list[Walk],
    edges: HalfEdges,
    where: list[Point],
    lengths_in: Floats,
    *,
    heavy: float,
    off_in: Floats | None = None,
) -> Lie:
    """Return where passes lie.

    Parameters
    ----------
    found : list of Walk
        As `passes` gives them.
    edges : HalfEdges
        The copies.
    where : list of (x, y)
        Of the nodes, by number, inches.
    lengths_in : (C,) float
        Of the copies.
    heavy : float
        Share of the top right of the needle that is too much.
    off_in : (C,) float, optional
        How far copies lie from the middle, negative in one half (`parts.Parts`); without it
        halves and distances are those across the lines' own directions.
    """
    xy = np.array(where, dtype=np.float64)
    low, high = xy.min(axis=0), xy.max(axis=0)
    centre = (low + high) / 2
    n = len(found)
    owner = np.repeat(np.arange(n), [len(w) for w in found])
    h = np.array([g for w in found for g in w], dtype=np.intp)
    span = lengths_in[h >> 1]
    middle = (xy[edges.node[h]] + xy[edges.node[h ^ 1]]) / 2
    lies = np.where(np.isnan(edges.lies_deg[h]), edges.heading_deg[h], edges.lies_deg[h])
    right = share_right(middle, lies, low, high)
    length: Floats = np.bincount(owner, span, n).astype(np.float64)
    heavy_in = np.empty(2 * n)
    heavy_in[0::2] = np.bincount(owner, span * (right > heavy), n)
    heavy_in[1::2] = np.bincount(owner, span * (1 - right > heavy), n)
    from_centre = middle - centre
    if off_in is not None:
        off = np.bincount(owner, span * off_in[h >> 1], n) / length
        family = np.zeros(n, dtype=np.intp)
    else:
        frame = frame_deg(lies, span, edges.required[h >> 1])
        doubled = np.exp(2j * np.radians(lies - frame)) * span
        mean = np.bincount(owner, doubled.real, n) + 1j * np.bincount(owner, doubled.imag, n)
        family = np.round(np.degrees(np.angle(mean)) / 2 / 45).astype(np.intp) % 4
        along = np.radians(frame + 45 * family[owner])
        across = -from_centre[:, 0] * np.sin(along) + from_centre[:, 1] * np.cos(along)
        off = np.bincount(owner, span * across, n) / length
    group = (2 * family + (off < -MIDDLE_IN)).astype(np.intp)
    return Lie(length, group, np.abs(off), heavy_in)


def frame_deg(lies_deg: Floats, length_in: Floats, wanted: Bools) -> float:
    """Return the direction, −45 to 45 degrees, of the right-angled frame that lines follow most.

    The mean of directions times four, so that all four of a right-angled frame are one.
    """
    mean = (np.exp(4j * np.radians(lies_deg)) * length_in * wanted).sum()
    return float(np.degrees(np.angle(mean))) / 4
