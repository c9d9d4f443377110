"""What figures are called and how they are counted."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from seamwalk.geometry.curve import Arc, Point
from seamwalk.model.route import Network, Piece, PieceId
from seamwalk.routing.telling.seam_chains import Axis, Chain, axis_of, levels

MOST_COUNTED = 30
"""Where there are more levels of seams than this no finger counts them: they get no numbers."""

STRAIGHT = 0.15
"""Share of its length that a figure may reach to the side and still run one way."""

MARGIN_IN = 1.0
"""Lines this close to the outermost nodes lie along the edge, inches: the binding takes 1/4 in,
and a photographed edge wavers."""

NOUNS = {
    "leaf-lines": "leaf line",
    "leaf-diagonals": "leaf diagonal",
    "lines": "straight line",
    "crosshatch": "crosshatch line",
    "waves": "wave",
    "cable": "cable strand",
    "three-strand-cable": "cable strand",
    "clamshells": "clamshell row",
    "piano-keys": "piano key",
    "spiral": "spiral",
    "fans": "fan",
}
"""What one line of a motif is called."""

Key = tuple[str, object]


@dataclass(frozen=True, slots=True)
class Figure:
    """Something that is sewn in one go and has a name.

    Attributes
    ----------
    sort : str
        "line", "fan", "chain", "patch", "stream", "sweep" or "travel".
    name : str
        As it is told.
    motif : str
        Empty for travel.
    axis : Axis or None
        How it lies; None for what does not run one way.
    length_in : float
        From its one end to its other, inches; 0 for what does not run one way.
    large : bool
        Goes round most of the top.
    centre : Point or None
        What it goes round, where it is made of arcs.
    counted : bool
        Its name has a number.
    """

    sort: str
    name: str
    motif: str
    axis: Axis | None
    length_in: float
    large: bool = False
    centre: Point | None = None
    counted: bool = True


def lines(
    network: Network, members: dict[Key, list[Piece]], box: tuple[float, float, float, float]
) -> dict[Key, Figure]:
    """Return what has a line of its own, counted within its kind."""
    out: dict[Key, Figure] = {}
    kinds: dict[tuple[str, str], list[tuple[Key, Point]]] = {}
    found: dict[Key, Axis | None] = {}
    for key, pieces in members.items():
        places = [network.nodes[n] for p in pieces for n in (p.u, p.v)]
        xs, ys = [x for x, _ in places], [y for _, y in places]
        motif = pieces[0].stroke.motif
        axis = None
        if key[0] == "fan":
            (x, y), lie = key[1], "round"  # type: ignore[misc]
        else:
            axis = axis_of(places)
            one_way = _runs_one_way(places, axis) and not any(_turns_round(p) for p in pieces)
            axis = axis if one_way else None
            x, y = (axis.level, axis.level) if axis else (min(xs), min(ys))
            lie = axis.lie if axis else "round"
        kinds.setdefault((NOUNS.get(motif, f"{_plain(motif)} line"), lie), []).append(
            (key, (x, y))
        )
        found[key] = axis
        length = _extent(places, axis)[0] if axis else 0.0
        reach = (max(xs) - min(xs)) * (max(ys) - min(ys))
        large = axis is None and reach > (box[2] - box[0]) * (box[3] - box[1]) / 4
        centre = None if axis else _centre(pieces)
        out[key] = Figure(key[0], "", motif, axis, length, large, centre)
    for (noun, lie), rows in kinds.items():
        for (key, _), words in zip(rows, _numbers(noun, lie, [p for _, p in rows]), strict=True):
            out[key] = replace(out[key], name=words)
    return out


def _centre(pieces: Iterable[Piece]) -> Point | None:
    """Return what arcs go round: the mean of their centres, long arcs for more."""
    arcs = [s for p in pieces for s in p.curve if isinstance(s, Arc)]
    if not arcs:
        return None
    sizes = [s.length for s in arcs]
    x = sum(n * s.centre[0] for n, s in zip(sizes, arcs, strict=True)) / sum(sizes)
    y = sum(n * s.centre[1] for n, s in zip(sizes, arcs, strict=True)) / sum(sizes)
    return x, y


def _runs_one_way(places: Sequence[Point], axis: Axis) -> bool:
    length, aside = _extent(places, axis)
    return length > 0 and aside <= STRAIGHT * length


def _turns_round(piece: Piece) -> bool:
    """Return whether a piece turns back on itself, like a spiral that nothing cuts."""
    return abs(sum(s.sweep_rad for s in piece.curve if isinstance(s, Arc))) > math.pi + 1e-9


def _extent(places: Sequence[Point], axis: Axis) -> tuple[float, float]:
    """Return how far places reach along an axis, and to the side of it."""
    ux, uy = axis.along
    along = [x * ux + y * uy for x, y in places]
    aside = [y * ux - x * uy for x, y in places]
    return max(along) - min(along), max(aside) - min(aside)


def _numbers(noun: str, lie: str, at: Sequence[Point]) -> list[str]:
    """Return names with numbers; one alone of what goes round needs none."""
    if noun == "fan":
        row = levels([y for _, y in at])
        out = [""] * len(at)
        for r in set(row):
            mine = sorted((x, i) for i, (x, _) in enumerate(at) if row[i] == r)
            for k, (_, i) in enumerate(mine, start=1):
                out[i] = f"fan {k} in row {r}"
        return out
    if lie == "round":
        order = sorted(range(len(at)), key=lambda i: (at[i][1], at[i][0], i))
        place = {i: k for k, i in enumerate(order, start=1)}
        return [noun if len(at) == 1 else f"{noun} {place[i]}" for i in range(len(at))]
    return [f"{noun} {k}" for k in levels([level for level, _ in at])]


def along_chains(
    members: dict[Key, list[Piece]],
    chain_of: dict[PieceId, Chain],
    box: tuple[float, float, float, float],
) -> dict[Key, Figure]:
    """Return the ditch of each line, and what is sewn along it."""
    number = _counted(chain_of.values())
    out: dict[Key, Figure] = {}
    for key, pieces in members.items():
        if key[0] != "chain":
            continue
        chain, stroke = chain_of[pieces[0].id], pieces[0].stroke
        counted_as = number.get(chain.name)
        edge = None if chain.in_ditch else _edge(chain.axis, box)
        if stroke.kind == "edge":
            name = "margin"
        elif stroke.kind == "ditch":
            name = "ditch" if counted_as is None else f"ditch of line {counted_as}"
        elif counted_as is not None:
            name = f"{_plain(stroke.motif)} along line {counted_as}"
        else:
            name = _plain(stroke.motif) + (f" along the {edge} edge" if edge else "")
        motif = stroke.motif if stroke.required else ""
        told = counted_as is not None
        out[key] = Figure("chain", name, motif, chain.axis, chain.length_in, counted=told)
    return out


def _counted(chains: Iterable[Chain]) -> dict[object, int]:
    """Return the numbers of seam lines; none where there are too many one way or the other."""
    whole = {c.name: c for c in chains if c.in_ditch}
    number: dict[object, int] = {}
    for pair in (("across", "down"), ("falling", "rising")):
        both: dict[object, int] = {}
        for lie in pair:
            mine = [c for c in whole.values() if c.axis.lie == lie]
            counted = levels([c.axis.level for c in mine])
            both.update((c.name, k) for c, k in zip(mine, counted, strict=True))
        if max(both.values(), default=0) <= MOST_COUNTED:
            number |= both
    return number


def _edge(axis: Axis, box: tuple[float, float, float, float]) -> str | None:
    """Return the edge of the top that a line lies along."""
    left, top, right, bottom = box
    near = {
        "across": (("upper", top), ("lower", bottom)),
        "down": (("left", left), ("right", right)),
    }
    for name, level in near.get(axis.lie, ()):
        if abs(axis.level - level) <= MARGIN_IN:
            return name
    return None


def _plain(motif: str) -> str:
    return motif.replace("-", " ") or "motif"
