"""Choices of motifs tried in the patches of one place: how wide a gap each would leave.

What counts is what *must* be stitched.  What the path may use for travel doesn't, since another
path may use less.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import cast

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from seamwalk.geometry.along import Pieces
from seamwalk.geometry.curve import Curve
from seamwalk.model.choice import MotifChoice
from seamwalk.model.machine import MachineProfile
from seamwalk.model.stitching import Stroke
from seamwalk.model.top import PatchId
from seamwalk.motifs.area import Area
from seamwalk.motifs.circle_choice import choose_circles
from seamwalk.motifs.empty_circles import circles_between
from seamwalk.motifs.gaps import HAIR_IN
from seamwalk.motifs.motif import Region, find

ALONE = ("ditch", "outline", "crosshatch", "lines")
"""Motifs whose lines in a patch are the same whatever other patches have."""

WIDER_IN = 0.1
"""How far beyond a patch's seams centres are sought, inches: a widest place may lie on a seam."""


@dataclass(frozen=True, slots=True)
class Tried:
    """A choice, the widest gap that it leaves in some patches, and its stitching, inches."""

    choice: MotifChoice
    left_in: float
    length_in: float


@dataclass(frozen=True, slots=True, eq=False)
class Trials:
    """What is needed to try a choice in the patches of one place.

    Attributes
    ----------
    few, every : tuple of PatchId
        Patches with the widest gaps, and all of the place.
    rest : Pieces
        All that is stitched elsewhere, and the binding line.
    drawn : dict
        What was laid out already.
    """

    area: Area
    machine: MachineProfile
    limit_in: float
    few: tuple[PatchId, ...]
    every: tuple[PatchId, ...]
    rest: Pieces
    circles_in: tuple[float, ...]
    drawn: dict[MotifChoice, Pieces | None]

    def closes(self, tried: Tried) -> bool:
        """Return whether no gap that is left is too wide."""
        return tried.left_in <= self.limit_in + HAIR_IN

    def in_few(self, choice: MotifChoice) -> Tried:
        """Return what a choice does in the patches with the widest gaps."""
        if choice.motif not in ALONE:
            return self._in_each(choice, choice, self.few)
        # What lies in a patch doesn't depend on the others: these and those round them are enough.
        shapes = self.area.outlines
        tree = shapely.STRtree([shapes[p].polygon for p in choice.patches])
        few = [shapes[p].polygon for p in self.few]
        near = np.unique(tree.query(few, predicate="dwithin", distance=self.limit_in)[1])
        patches = tuple(choice.patches[k] for k in near.tolist())
        return self._in_each(choice, replace(choice, patches=patches), self.few)

    def in_every(self, choice: MotifChoice) -> Tried:
        """Return what a choice does in all patches of the place."""
        pieces = self._pieces(choice)
        if pieces is None:
            return Tried(choice, np.inf, 0.0)
        shapes = [self.area.outlines[p].polygon.buffer(WIDER_IN) for p in self.every]
        inside = shapely.union_all(shapes).intersection(self.area.binding)
        left = self._widest(pieces.joined(self.rest), inside)
        return Tried(choice, left, float(pieces.length.sum()))

    def _in_each(
        self, choice: MotifChoice, drawn: MotifChoice, patches: Iterable[PatchId]
    ) -> Tried:
        pieces = self._pieces(drawn)
        if pieces is None:
            return Tried(choice, np.inf, 0.0)
        widest, length = 0.0, 0.0
        for patch in patches:
            wider = self.area.outlines[patch].polygon.buffer(WIDER_IN)
            inside = wider.intersection(self.area.binding)
            mine = pieces.near(inside.bounds, self.limit_in)
            near = mine.joined(self.rest.near(inside.bounds, self.limit_in))
            widest = max(widest, self._widest(near, inside))
            length += float(mine.length.sum())
            if widest > self.limit_in + HAIR_IN:
                break
        return Tried(choice, widest, length)

    def _widest(self, pieces: Pieces, inside: shapely.Geometry) -> float:
        if not len(pieces.length):
            return np.inf
        _, radii = circles_between(
            pieces,
            cast("Polygon | MultiPolygon", inside),
            (self.limit_in + HAIR_IN) / 2,
            around_in=self.limit_in,
        )
        return 2 * float(radii.max(initial=0.0))

    def _pieces(self, choice: MotifChoice) -> Pieces | None:
        """Return what must be stitched of a choice, None if it doesn't fit."""
        if choice not in self.drawn:
            self.drawn[choice] = self._laid_out(choice)
        return self.drawn[choice]

    def _laid_out(self, choice: MotifChoice) -> Pieces | None:
        region = Region(self.area, choice.patches, self.machine)
        found = find(choice.motif)(region, choice)
        if found.classes and self.circles_in:
            chosen = choose_circles(found.classes, self.circles_in).classes
            sizes = tuple(None if c.circle is None else c.circle.diameter_in for c in chosen)
            found = find(choice.motif)(region, replace(choice, circles_in=sizes))
        if found.left_out:
            return None
        return Pieces.of(s.curve for s in found.strokes if s.required)

    def first(self, choices: Iterable[MotifChoice]) -> Tried | None:
        """Return the first choice that closes the few widest gaps."""
        return next((t for t in map(self.in_few, choices) if self.closes(t)), None)


def stitched_elsewhere(
    area: Area,
    choices: Sequence[MotifChoice],
    changed: set[PatchId],
    machine: MachineProfile,
) -> Pieces:
    """Return what must be stitched outside the changed patches, and the binding line."""
    strokes: dict[str, Stroke] = {}
    for choice in choices:
        patches = tuple(p for p in choice.patches if p not in changed)
        if not patches:
            continue
        found = find(choice.motif)(
            Region(area, patches, machine), replace(choice, patches=patches)
        )
        strokes.update((s.id, s) for s in found.strokes if s.required)
        if found.left_out:
            ditch = MotifChoice(found.left_out, "ditch")
            more = find("ditch")(Region(area, found.left_out, machine), ditch).strokes
            strokes.update((s.id, s) for s in more)
    ring = Curve.through(shapely.get_coordinates(area.binding.exterior))
    return Pieces.of([*(s.curve for s in strokes.values()), ring])
