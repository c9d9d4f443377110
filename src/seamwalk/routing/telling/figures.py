"""What a leg belongs to, by its trade name: leaf line 7, the ring round patch 12, a ditch.

A piece may belong to several figures: an arch is one of its patch, and one along its seam line.
Which of them is told depends on what is sewn before and after (`words_runs`).  Numbers count as a
finger does: lines across from the top, others from the left, those at one level once.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from seamwalk.geometry.curve import Arc
from seamwalk.model.route import Network, Piece, PieceId
from seamwalk.routing.telling.figure_names import Figure, Key, along_chains, lines
from seamwalk.routing.telling.seam_chains import Chain, chains

TRAVEL: Key = ("travel", 0)

STREAMS = ("clamshells", "fans")
"""Motifs whose arcs of one row run on into those of the next: sewn across rows as well."""


@dataclass(frozen=True, slots=True, eq=False)
class Figures:
    """All figures of a network.

    Attributes
    ----------
    of : dict
        Keys of the figures that each piece belongs to, by how well they tell where it is.
    figure : dict
        By key.
    box : (float, float, float, float)
        Left, top, right and bottom of the outermost nodes, inches.
    """

    of: dict[PieceId, tuple[Key, ...]]
    figure: dict[Key, Figure]
    box: tuple[float, float, float, float]


def figures(network: Network) -> Figures:
    """Return the figures of a network, named and numbered."""
    xs = [x for x, _ in network.nodes.values()]
    ys = [y for _, y in network.nodes.values()]
    box = (min(xs), min(ys), max(xs), max(ys)) if xs else (0.0, 0.0, 0.0, 0.0)
    chain_of = chains(network)
    of: dict[PieceId, tuple[Key, ...]] = {}
    members: dict[Key, list[Piece]] = {}
    for piece in network.pieces.values():
        keys = tuple(_keys(piece, chain_of.get(piece.id)))
        of[piece.id] = keys
        for key in keys:
            members.setdefault(key, []).append(piece)
    figure: dict[Key, Figure] = {TRAVEL: Figure("travel", "travel", "", None, 0.0)}
    figure |= {("stream", m): Figure("stream", m, m, None, 0.0) for m in STREAMS}
    named = {k: v for k, v in members.items() if k[0] in ("line", "fan")}
    figure |= lines(network, named, box)
    for key, found in members.items():
        if key[0] == "patch":
            motif = found[0].stroke.motif
            figure[key] = Figure("patch", f"patch {found[0].stroke.patch}", motif, None, 0.0)
    figure |= along_chains(members, chain_of, box)
    return Figures(of, figure, box)


def _keys(piece: Piece, chain: Chain | None) -> Iterable[Key]:
    stroke = piece.stroke
    if stroke.line is not None:
        arc = piece.curve.pieces[0]
        if stroke.motif == "fans" and isinstance(arc, Arc):
            # The arcs of a fan have one centre; each of them is a line of its own.
            yield "fan", tuple(round(v, 3) for v in arc.centre)
        else:
            yield "line", (stroke.motif, stroke.line)
        if stroke.motif in STREAMS:
            yield "stream", stroke.motif
    elif stroke.kind == "motif" and stroke.patch is None and chain is None:
        # From another program, or what is left of a stroke cut at the needle.
        yield "line", (stroke.motif, str(stroke.id))
    # A lead is sewn only to get to its ring.
    if chain is not None and (stroke.required or stroke.kind != "motif"):
        yield "chain", (stroke.motif if stroke.kind == "motif" else stroke.kind, chain.name)
    told_by_line = stroke.line is not None and stroke.motif != "piano-keys"
    if stroke.kind == "motif" and stroke.patch is not None and not told_by_line:
        yield "patch", (stroke.motif, stroke.patch)
