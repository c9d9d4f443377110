"""What would close a gap that is too wide: other measures or other motifs, each of them tried.

The same motif closer together changes the look least, and stitching the ditch is the least work:
they are tried first.  Else it is the shortest of what else closes the gap: lines along a strip, an
outline with one or more rings, crosshatch.  Each wish is laid out in the patches of the class, and
the largest circle is sought among what *must* be stitched.  What the path may use for travel
doesn't count, since another path may use less.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import cast

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from seamwalk.geometry.curve import Curve
from seamwalk.model.choice import MotifChoice
from seamwalk.model.gaps import Closing, GapPlace, GapReport
from seamwalk.model.machine import MachineProfile
from seamwalk.model.sizes import Sizes
from seamwalk.model.stitching import Stroke
from seamwalk.model.top import PatchId
from seamwalk.motifs.area import Area
from seamwalk.motifs.circle_choice import choose_circles
from seamwalk.motifs.defaults import ChooseSettings, is_strip
from seamwalk.motifs.empty_circles import circles_between
from seamwalk.motifs.gaps import HAIR_IN
from seamwalk.motifs.motif import Region, find
from seamwalk.motifs.wish import written

SPACED = ("clamshells", "crosshatch", "fans", "lines", "piano-keys", "spiral", "waves")
"""Motifs whose lines `spacing` brings closer together."""

WIDER_IN = 0.1
"""How far beyond a patch's seams centres are sought, inches: a widest place may lie on a seam."""


@dataclass(frozen=True, slots=True)
class ClosingSettings:
    """How far a gap is gone into."""

    places: int = 5
    """Kinds of places that closings are sought for, the widest first: as many as are told."""
    looked_at: int = 4
    """Patches of a place in which a wish is tried, those with the widest gaps; the wish that is
    named is tried in all of them."""
    spacings_in: tuple[float, ...] = (4.0, 3.0, 2.5, 2.0, 1.5, 1.25, 1.0, 0.75)
    """Spacings that people ask for, inches."""


@dataclass(frozen=True, slots=True)
class _Closed:
    """A choice that closes a gap, the widest that it leaves, and its stitching, inches."""

    choice: MotifChoice
    left_in: float
    length_in: float


@dataclass(frozen=True, slots=True, eq=False)
class _Bench:
    """What is needed to try a wish in the patches of one place."""

    area: Area
    machine: MachineProfile
    limit_in: float
    looked_at: int
    rest: tuple[Curve, ...]
    circles_in: tuple[float, ...]

    def tried(self, choice: MotifChoice, patches: Iterable[PatchId]) -> tuple[float, float]:
        """Return the widest gap in patches if they all got `choice`, and what that is to stitch.

        Both in inches; the gap is infinite where the motif doesn't fit.
        """
        region = Region(self.area, choice.patches, self.machine)
        found = find(choice.motif)(region, choice)
        if found.classes and self.circles_in:
            chosen = choose_circles(found.classes, self.circles_in).classes
            sizes = tuple(None if c.circle is None else c.circle.diameter_in for c in chosen)
            found = find(choice.motif)(region, replace(choice, circles_in=sizes))
        if found.left_out:
            return np.inf, 0.0
        mine = [s.curve for s in found.strokes if s.required]
        shapes = [self.area.outlines[p].polygon.buffer(WIDER_IN) for p in patches]
        inside = shapely.union_all(shapes).intersection(self.area.binding)
        _, radii = circles_between(
            [*mine, *self.rest],
            cast("Polygon | MultiPolygon", inside),
            (self.limit_in + HAIR_IN) / 2,
            around_in=self.limit_in,
        )
        return 2 * float(radii.max(initial=0.0)), sum(c.length for c in mine)

    def first(self, choices: Iterable[MotifChoice], place: GapPlace) -> _Closed | None:
        """Return the first choice that leaves no gap wider than the limit."""
        patches = [c.patch for c in place.circles]
        for choice in choices:
            few, _ = self.tried(choice, patches[: self.looked_at])
            if few > self.limit_in + HAIR_IN:
                continue
            left, length = self.tried(choice, patches)
            if left <= self.limit_in + HAIR_IN:
                return _Closed(choice, left, length)
        return None


def with_closings(
    report: GapReport,
    area: Area,
    sizes: Sizes,
    choices: Sequence[MotifChoice],
    machine: MachineProfile | None = None,
    *,
    circles_in: Sequence[float] | None = None,
    settings: ClosingSettings | None = None,
) -> GapReport:
    """Return the report with what would close the widest gaps.

    Parameters
    ----------
    choices : sequence of MotifChoice
        The plan that the report was made of.
    circles_in : sequence of float, optional
        Circles to draw round, inches: scales take their size.
    """
    settings = settings or ClosingSettings()
    machine = machine or MachineProfile()
    places = list(report.places)
    everywhere: list[MotifChoice] = []
    for k, place in enumerate(places[: settings.places]):
        target = _target(place, area, sizes, choices)
        rest = _rest(area, choices, set(target.like.patches), machine)
        bench = _Bench(
            area, machine, report.limit_in, settings.looked_at, rest, tuple(circles_in or ())
        )
        # What closed a wider place of the same choice is the first to try.
        known = [c for c in everywhere if c.patches == target.like.patches]
        found = bench.first(known, place) or _closed(bench, place, target, settings)
        if found is not None:
            wish = written(target.where, found.choice)
            places[k] = replace(place, closing=Closing(wish, found.left_in))
            everywhere.append(found.choice)
    return replace(report, places=tuple(places))


@dataclass(frozen=True, slots=True)
class _Target:
    """What a wish for a place would be for.

    Attributes
    ----------
    where : str
        As written in the wish.
    like : MotifChoice
        What the patches have, and which patches the wish would name.
    whole : bool
        These are all patches that share the choice, so that its lines may be moved.
    strip : bool
        They are strips, which lines along them suit.
    """

    where: str
    like: MotifChoice
    whole: bool
    strip: bool


def _target(place: GapPlace, area: Area, sizes: Sizes, choices: Sequence[MotifChoice]) -> _Target:
    first = place.largest.patch
    planned = next((c for c in choices if first in c.patches), MotifChoice((first,), "none"))
    strip = is_strip(area.outlines[first], area, ChooseSettings())
    if planned.motif in SPACED and set(area.outlines) <= set(planned.patches):
        return _Target("all", planned, True, strip)
    alike = {s.patch for s in sizes.patches if s.class_name == place.class_name}
    patches = tuple(p for p in planned.patches if p in alike)
    single = len(patches) == 1 < len(alike)
    where = f"patch {first}" if single else place.class_name.lower()
    like = replace(planned, patches=patches)
    return _Target(where, like, set(patches) == set(planned.patches), strip)


def _closed(
    bench: _Bench, place: GapPlace, target: _Target, settings: ClosingSettings
) -> _Closed | None:
    """Return what closes a place best, of all that is tried."""
    limit = bench.limit_in + HAIR_IN
    spacings, like = settings.spacings_in, target.like
    if like.motif in SPACED and target.whole:
        now = like.spacing_in or limit
        alike = [replace(like, spacing_in=s, circles_in=()) for s in spacings if s < now]
        found = bench.first(alike, place)
        if found is not None:
            return found
    plain = MotifChoice(like.patches, "ditch")
    found = bench.first([plain], place)
    if found is not None:
        return found
    closer = [s for s in spacings if s <= limit]
    families: list[tuple[str, Sequence[float | None]]] = [
        ("outline", [None, *closer]),
        ("crosshatch", closer),
    ]
    if target.strip:
        families.append(("lines", closer))
    every = (
        bench.first((replace(plain, motif=motif, spacing_in=s) for s in some), place)
        for motif, some in families
    )
    return min((e for e in every if e), key=lambda e: e.length_in, default=None)


def _rest(
    area: Area,
    choices: Sequence[MotifChoice],
    changed: set[PatchId],
    machine: MachineProfile,
) -> tuple[Curve, ...]:
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
    return (*(s.curve for s in strokes.values()), ring)
