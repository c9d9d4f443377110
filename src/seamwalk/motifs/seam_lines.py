"""Seam lines: maximal chains of seams that run straight on through junctions.

At each junction the seams that leave it in most nearly opposite directions are paired, straightest
pair first, as long as they bend by no more than a limit.  Paired seams follow one another in a
line, so that every seam belongs to exactly one line.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from seamwalk.model.top import JunctionId, Seam, SeamId
from seamwalk.motifs.area import Area

STRAIGHT_ON_DEG = 15.0
"""Largest bend at a junction that still counts as straight on, degrees: half of what is steered
through without a pivot."""


@dataclass(frozen=True, slots=True)
class SeamLine:
    """Seams in the order of the line.

    Attributes
    ----------
    seams : tuple of (SeamId, bool)
        True when the seam is run from its last junction to its first.
    closed : bool
        The last seam runs on into the first.
    """

    seams: tuple[tuple[SeamId, bool], ...]
    closed: bool = False

    @property
    def name(self) -> str:
        """Stable name: the lowest seam id of the line."""
        return f"seam-line-{min(s for s, _ in self.seams)}"


def seam_lines(
    area: Area, seams: Iterable[Seam], *, straight_on_deg: float = STRAIGHT_ON_DEG
) -> tuple[SeamLine, ...]:
    """Return the maximal straight-on chains over `seams`, each seam in exactly one of them."""
    chosen = {s.id: s for s in seams}
    at: dict[JunctionId, list[tuple[SeamId, float]]] = {}
    for seam in chosen.values():
        a, b = (area.junctions[j].xy for j in seam.ends)
        heading = math.atan2(b[1] - a[1], b[0] - a[0])
        at.setdefault(seam.ends[0], []).append((seam.id, heading))
        at.setdefault(seam.ends[1], []).append((seam.id, heading + math.pi))
    follows: dict[tuple[SeamId, JunctionId], SeamId] = {}
    for junction, leaving in at.items():
        for one, other in _pairs(leaving, math.radians(straight_on_deg)):
            follows[one, junction] = other
            follows[other, junction] = one
    lines: list[SeamLine] = []
    done: set[SeamId] = set()
    for seam in chosen.values():
        if seam.id not in done:
            line = _line_through(seam, chosen, follows)
            done.update(s for s, _ in line.seams)
            lines.append(line)
    return tuple(lines)


def _pairs(leaving: list[tuple[SeamId, float]], limit_rad: float) -> list[tuple[SeamId, SeamId]]:
    """Return pairs of seams that leave one junction in opposite directions, straightest first."""
    bends = sorted(
        (abs(math.remainder(h1 - h0 - math.pi, 2 * math.pi)), s0, s1)
        for i, (s0, h0) in enumerate(leaving)
        for s1, h1 in leaving[i + 1 :]
        if s0 != s1
    )
    taken: set[SeamId] = set()
    out: list[tuple[SeamId, SeamId]] = []
    for bend, s0, s1 in bends:
        if bend <= limit_rad and not taken & {s0, s1}:
            taken |= {s0, s1}
            out.append((s0, s1))
    return out


def _line_through(
    seam: Seam,
    seams: dict[SeamId, Seam],
    follows: dict[tuple[SeamId, JunctionId], SeamId],
) -> SeamLine:
    """Return the line that `seam` belongs to, run so that `seam` keeps its own direction."""
    ahead: list[tuple[SeamId, bool]] = [(seam.id, False)]
    junction = seam.ends[1]
    here = seam.id
    while (here, junction) in follows:
        here = follows[here, junction]
        if here == seam.id:
            return SeamLine(tuple(ahead), closed=True)
        backwards = seams[here].ends[1] == junction
        ahead.append((here, backwards))
        junction = seams[here].ends[0 if backwards else 1]
    behind: list[tuple[SeamId, bool]] = []
    junction, here = seam.ends[0], seam.id
    while (here, junction) in follows:
        here = follows[here, junction]
        backwards = seams[here].ends[0] == junction
        behind.append((here, backwards))
        junction = seams[here].ends[1 if backwards else 0]
    return SeamLine((*reversed(behind), *ahead))
