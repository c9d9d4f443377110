"""Seams in doubt, gathered by the lines they lie on: a whole seam line is asked about once.

At each junction the seams that leave it in most nearly opposite directions are paired, straightest
first; paired seams follow one another in a line, sure ones too, so that pieces with a sure piece
between them still belong together.
"""

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

from seamwalk.model.top import JunctionId, Seam, SeamId, Top
from seamwalk.sheets.seam_style import Sureness, sureness

STRAIGHT_ON_DEG = 15.0
"""Largest bend at a junction at which a seam line still runs straight on, degrees: the eye follows
it as one line."""

_End = tuple[SeamId, int]
"""A seam and one of its ends, 0 or 1."""


@dataclass(frozen=True, slots=True)
class DoubtfulLine:
    """Pieces of one seam line, or of one side of the outer edge, that are not sure.

    Attributes
    ----------
    seams : tuple of Seam
        All pieces in doubt, in the order of the line.
    worst : tuple of Seam
        Those in the less sure of the classes on the line.
    sureness : {"likely", "unsure"}
        Class of the worst.
    sure : float
        Confidence of the worst, 0 to 1, each weighing as its length.
    """

    seams: tuple[Seam, ...]
    worst: tuple[Seam, ...]
    sureness: Sureness
    sure: float

    @property
    def inferred(self) -> bool:
        """Tell whether the worst pieces were all inferred, not seen."""
        return all(s.inferred for s in self.worst)

    @property
    def look_at(self) -> Seam:
        """Where to look first: of the worst the least sure, of equals the longest."""
        return min(self.worst, key=lambda s: (s.confidence, -length_in(s), s.id))

    @property
    def wrong_in(self) -> float:
        """Length of seam expected to be wrong, inches: doubt times length of all pieces."""
        return sum((1 - s.confidence) * length_in(s) for s in self.seams)


def doubtful_lines(
    top: Top, *, straight_on_deg: float = STRAIGHT_ON_DEG
) -> tuple[DoubtfulLine, ...]:
    """Return the seam lines that have a piece in doubt, each such piece in exactly one of them.

    Parameters
    ----------
    straight_on_deg : float
        Largest bend at a junction within a line, degrees.
    """
    out: list[DoubtfulLine] = []
    for kind in ("seam", "edge"):
        seams = [s for s in top.seams if s.kind == kind]
        for line in _lines(seams, math.radians(straight_on_deg)):
            doubted = tuple(s for s in line if sureness(s) != "sure")
            if doubted:
                out.append(_line(doubted))
    return tuple(out)


def length_in(seam: Seam) -> float:
    """Return the length of a seam along its points, inches."""
    return sum(math.dist(a, b) for a, b in zip(seam.points, seam.points[1:], strict=False))


def _line(seams: tuple[Seam, ...]) -> DoubtfulLine:
    unsure = tuple(s for s in seams if sureness(s) == "unsure")
    worst = unsure or seams
    # A seam of no length still counts a little: the weights must not add up to nothing.
    weights = [max(length_in(s), 1e-9) for s in worst]
    sure = sum(s.confidence * w for s, w in zip(worst, weights, strict=True)) / sum(weights)
    return DoubtfulLine(seams, worst, "unsure" if unsure else "likely", sure)


def _lines(seams: Sequence[Seam], limit_rad: float) -> list[list[Seam]]:
    """Return the straight-on chains, each seam in one of them, in the order of the chain."""
    by_id = {s.id: s for s in seams}
    follows = _paired(seams, limit_rad)
    out: list[list[Seam]] = []
    done: set[SeamId] = set()
    # Chains are walked from a loose end; what is left after that is closed.
    loose = [(s.id, end) for s in seams for end in (0, 1) if (s.id, end) not in follows]
    for start in [*loose, *((s.id, 0) for s in seams)]:
        if start[0] in done:
            continue
        chain: list[Seam] = []
        here: _End | None = start
        while here is not None and here[0] not in done:
            done.add(here[0])
            chain.append(by_id[here[0]])
            here = follows.get((here[0], 1 - here[1]))
        out.append(chain)
    return out


def _paired(seams: Sequence[Seam], limit_rad: float) -> dict[_End, _End]:
    """Return which end of which seam each end runs on into."""
    leaving: dict[JunctionId, list[tuple[_End, float]]] = defaultdict(list)
    for s in seams:
        leaving[s.ends[0]].append(((s.id, 0), _heading(s.points[0], s.points[1])))
        leaving[s.ends[1]].append(((s.id, 1), _heading(s.points[-1], s.points[-2])))
    follows: dict[_End, _End] = {}
    for ends in leaving.values():
        bends = sorted(
            (abs(math.remainder(h1 - h0 - math.pi, 2 * math.pi)), one, two)
            for (one, h0), (two, h1) in combinations(ends, 2)
        )
        for bend, one, two in bends:
            if bend <= limit_rad and one not in follows and two not in follows:
                follows[one], follows[two] = two, one
    return follows


def _heading(here: tuple[float, float], there: tuple[float, float]) -> float:
    return math.atan2(there[1] - here[1], there[0] - here[0])
