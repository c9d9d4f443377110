"""Lines as a finger follows them: what runs straight on from junction to junction.

Ditches, the margin and single curves from junction to junction, like arches, are looked at as
straight links between their two nodes.  At each node the links that leave it in most nearly
opposite directions are paired, straightest first; paired links are one chain, so that each link
is in exactly one.  The chain is what she calls line 3, whatever is sewn along it.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from seamwalk.geometry.curve import Point
from seamwalk.model.route import Network, NodeId, Piece, PieceId

STRAIGHT_ON_DEG = 15.0
"""Largest bend at a junction that still counts as straight on, degrees: half of what is steered
through without a pivot."""

LEVEL_IN = 0.5
"""Lines less than this apart are at one level, inches: measured seams wander by up to 1/4 in, and
hardly a strip is narrower than 1/2 in finished (common practice, no source)."""

Link = tuple[NodeId, NodeId]


@dataclass(frozen=True, slots=True)
class Axis:
    """A straight way, as one counts it.

    Attributes
    ----------
    lie : str
        "across", "down", "falling" (to the lower right) or "rising".
    along : (float, float)
        Unit vector, to the right or, of what lies down, downwards.
    level : float
        Distance from the top, or, of all but "across", from the left; inches.
    """

    lie: str
    along: Point
    level: float


@dataclass(frozen=True, slots=True)
class Chain:
    """Links that run straight on.

    Attributes
    ----------
    name : Link
        Its first link.
    axis : Axis
        How it lies.
    length_in : float
        From its one end to its other.
    in_ditch : bool
        Some of it is a seam.
    """

    name: Link
    axis: Axis
    length_in: float
    in_ditch: bool


def is_single(piece: Piece) -> bool:
    """Return whether the piece is a link: a way from junction to junction that has no name."""
    if piece.u == piece.v or piece.stroke.line is not None:
        return False
    return piece.stroke.kind != "motif" or str(piece.id) == str(piece.stroke.id)


def chains(network: Network) -> dict[PieceId, Chain]:
    """Return the chain of every piece that is a link."""
    pieces: dict[Link, list[Piece]] = {}
    for piece in network.pieces.values():
        if is_single(piece):
            pieces.setdefault(_link(piece), []).append(piece)
    root: dict[Link, Link] = {link: link for link in pieces}

    def found(link: Link) -> Link:
        while root[link] != link:
            root[link] = root[root[link]]
            link = root[link]
        return link

    at: dict[NodeId, list[Link]] = {}
    for link in sorted(pieces, key=lambda ends: [network.nodes[n] for n in ends]):
        for node in link:
            at.setdefault(node, []).append(link)
    for node, links in at.items():
        for one, other in _straight_on(network, node, links):
            root[found(one)] = found(other)
    members: dict[Link, list[Link]] = {}
    for link in pieces:
        members.setdefault(found(link), []).append(link)
    out: dict[PieceId, Chain] = {}
    for links in members.values():
        places = [network.nodes[n] for link in links for n in link]
        axis = axis_of(places)
        along = [x * axis.along[0] + y * axis.along[1] for x, y in places]
        mine = [p for link in links for p in pieces[link]]
        in_ditch = any(p.stroke.kind == "ditch" for p in mine)
        chain = Chain(min(links), axis, max(along) - min(along), in_ditch)
        out.update((p.id, chain) for p in mine)
    return out


def _link(piece: Piece) -> Link:
    return (piece.u, piece.v) if piece.u <= piece.v else (piece.v, piece.u)


def _straight_on(network: Network, node: NodeId, links: Sequence[Link]) -> list[tuple[Link, Link]]:
    """Return the links that are one line at a node, each at most once."""
    x0, y0 = network.nodes[node]
    headings = []
    for u, v in links:
        x, y = network.nodes[v if u == node else u]
        headings.append(math.atan2(y - y0, x - x0))
    limit = math.radians(STRAIGHT_ON_DEG)
    bends = []
    for j in range(len(links)):
        for i in range(j):
            bend = math.pi - abs(math.remainder(headings[i] - headings[j], 2 * math.pi))
            if bend <= limit:
                # Rounding must not choose between two ways that are equally straight.
                bends.append((round(bend, 6), i, j))
    taken: set[int] = set()
    out = []
    for _, i, j in sorted(bends):
        if i not in taken and j not in taken:
            taken |= {i, j}
            out.append((links[i], links[j]))
    return out


def axis_of(places: Sequence[Point]) -> Axis:
    """Return how points that lie along a line lie: their principal direction."""
    n = len(places)
    mx, my = sum(x for x, _ in places) / n, sum(y for _, y in places) / n
    xx = sum((x - mx) ** 2 for x, _ in places)
    yy = sum((y - my) ** 2 for _, y in places)
    xy = sum((x - mx) * (y - my) for x, y in places)
    heading = math.atan2(2 * xy, xx - yy) / 2
    # In eighths of a half circle, so that what lies nearly across counts as across.
    lie = ("across", "falling", "down", "rising")[round(heading / (math.pi / 4)) % 4]
    ux, uy = math.cos(heading), math.sin(heading)
    if (uy if lie == "down" else ux) < 0:
        ux, uy = -ux, -uy
    if lie == "across":
        level = my
    elif lie == "down":
        level = mx
    else:
        # How far right, seen across the line.
        level = (mx * uy - my * ux) * math.copysign(1.0, uy)
    return Axis(lie, (ux, uy), level)


def levels(found: Sequence[float]) -> list[int]:
    """Return the number of each level, counted from 1; levels close together are one."""
    order = sorted(range(len(found)), key=lambda i: found[i])
    out = [0] * len(found)
    number = 0
    for k, i in enumerate(order):
        if k == 0 or found[i] - found[order[k - 1]] > LEVEL_IN:
            number += 1
        out[i] = number
    return out
