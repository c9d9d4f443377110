"""How long a path is to describe: the number of phrases of its Lempel–Ziv factorisation.

A path that does the same again reads short: "the next four rows alike".  Each leg becomes a
token of what the hands do, told from the path and not from the page, so that equal blocks sewn
alike give equal tokens wherever they lie and however they are turned.  The tokens are cut into
phrases, each the shortest that has not occurred before; a phrase that has occurred costs no more
than pointing at it.

References
----------
Lempel and Ziv, On the complexity of finite sequences, IEEE Transactions on Information Theory
22, 1976 (the exhaustive history, of which this counts the components).  Ziv and Lempel, A
universal algorithm for sequential data compression, IEEE Transactions on Information Theory 23,
1977.
"""

import math
from collections.abc import Hashable, Iterable, Iterator, Sequence

from seamwalk.geometry.curve import Curve
from seamwalk.model.route import Network, PieceId, Thread
from seamwalk.routing.telling.directions import bow

CLASS_DEG = 45.0
"""Turns are told apart by eighths of a circle: straight on, half left, left, back …"""

TIE = 1e-6
"""In classes: turns half way between two are one class in every block, whatever the rounding."""

START = 8
"""In place of the turn into a thread's first leg, which has none: a class of its own."""

Token = tuple[str, int, int, bool]
"""Kind of stroke, turn into it, side that it bows to, and whether it is travel."""


def words_length(network: Network, threads: Iterable[Thread]) -> int:
    """Return how many phrases describe the threads in their order; 0 for no thread.

    Parameters
    ----------
    network : Network
        Pieces.
    threads : iterable of Thread
        In the order of sewing; steps are not needed.

    Notes
    -----
    About linear in legs for paths that people sew; quadratic at worst.
    """
    return phrases(list(tokens(network, threads)))


def tokens(network: Network, threads: Iterable[Thread]) -> Iterator[Token]:
    """Yield what the hands do, leg by leg.

    A thread's first leg is told apart by `START`.
    """
    known: dict[tuple[PieceId, bool], tuple[float, int]] = {}
    sewn: set[PieceId] = set()
    for thread in threads:
        before: float | None = None
        for leg in thread.legs:
            piece = network.pieces[leg.piece]
            key = (leg.piece, leg.reverse)
            if key not in known:
                heading, bow = _shape(piece.curve)
                known[leg.piece, False] = heading, bow
                known[leg.piece, True] = heading + math.pi, -bow
            heading, bow = known[key]
            turn = START if before is None else _turn_class(heading - before)
            travel = not piece.stroke.required or leg.piece in sewn
            sewn.add(leg.piece)
            yield piece.stroke.kind, turn, bow, travel
            before = heading


def _shape(curve: Curve) -> tuple[float, int]:
    """Return the heading of the chord, radians, and the side the curve bows to.

    1 to the right of the way, -1 to the left, 0 straight.  A closed curve heads where it starts.
    """
    (x0, y0), (x1, y1) = curve.start, curve.end
    dx, dy = x1 - x0, y1 - y0
    chord = math.hypot(dx, dy)
    if chord < 1e-6 * curve.length or chord == 0:
        turned = math.fsum(getattr(s, "sweep_rad", 0.0) for s in curve)
        return curve.start_heading_rad, (turned < 0) - (turned > 0)
    return math.atan2(dy, dx), bow(curve)


def _turn_class(turn_rad: float) -> int:
    """Return the eighth of a circle nearest to a turn, 0 to 7, positive to the right."""
    return math.floor(math.degrees(turn_rad) / CLASS_DEG + 0.5 + TIE) % 8


def phrases(sequence: Sequence[Hashable]) -> int:
    """Return the number of components of the exhaustive history of `sequence`.

    Each component but perhaps the last is the shortest that does not occur, overlaps allowed, in
    what lies before its own last symbol.
    """
    number: dict[Hashable, int] = {}
    # One character a symbol: searching text is the fastest search there is here.  Characters
    # from 0xE000 up would meet the surrogates below; 0x10000 on are plain.
    text = "".join(chr(0x10000 + number.setdefault(s, len(number))) for s in sequence)
    count = at = 0
    while at < len(text):
        length, found = 1, 0
        # A longer match cannot start before the first match of its own beginning.
        while (
            at + length <= len(text)
            and (found := text.find(text[at : at + length], found, at + length - 1)) >= 0
        ):
            length += 1
        at += length
        count += 1
    return count
