"""What would close a gap that is too wide: other measures or other motifs, each of them tried.

The same motif closer together changes the look least, and stitching the ditch is the least work:
they are tried first.  Else it is the shortest of what else closes the gap: lines along a strip, an
outline with one or more rings, crosshatch.  Each wish is laid out in the patches of the class, and
the largest circle is sought among what *must* be stitched.  What the path may use for travel
doesn't count, since another path may use less.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from seamwalk.geometry.along import Pieces
from seamwalk.model.choice import MotifChoice
from seamwalk.model.gaps import Closing, GapPlace, GapReport
from seamwalk.model.machine import MachineProfile
from seamwalk.model.sizes import Sizes
from seamwalk.motifs.area import Area
from seamwalk.motifs.defaults import ChooseSettings, is_strip
from seamwalk.motifs.gap_trials import Trials, Tried, stitched_elsewhere
from seamwalk.motifs.gaps import HAIR_IN
from seamwalk.motifs.wish import written
from seamwalk.units import Units, to_inches

SPACED = ("clamshells", "crosshatch", "fans", "lines", "piano-keys", "spiral", "waves")
"""Motifs whose lines `spacing` brings closer together."""


@dataclass(frozen=True, slots=True)
class ClosingSettings:
    """How far a gap is gone into."""

    places: int = 5
    """Kinds of places that closings are sought for, the widest first: as many as are told."""
    looked_at: int = 3
    """Patches of a place in which a wish is tried, those with the widest gaps; the wish that is
    named is tried in all of them."""
    spacings_in: tuple[float, ...] = (4.0, 3.0, 2.5, 2.0, 1.5, 1.25, 1.0, 0.75)
    """Spacings that people ask for, inches."""
    spacings_cm: tuple[float, ...] = (10.0, 8.0, 6.0, 5.0, 4.0, 3.0, 2.5, 2.0)
    """The same of people with a metric ruler, centimetres."""

    def spacings(self, units: Units) -> tuple[float, ...]:
        """Return the spacings that people with these units ask for, inches."""
        if units == "cm":
            return tuple(to_inches(s, units) for s in self.spacings_cm)
        return self.spacings_in


def with_closings(
    report: GapReport,
    area: Area,
    sizes: Sizes,
    choices: Sequence[MotifChoice],
    machine: MachineProfile | None = None,
    *,
    circles_in: Sequence[float] | None = None,
    units: Units = "in",
    settings: ClosingSettings | None = None,
) -> GapReport:
    """Return the report with what would close the widest gaps.

    Parameters
    ----------
    choices : sequence of MotifChoice
        The plan that the report was made of.
    circles_in : sequence of float, optional
        Circles to draw round, inches: scales take their size.
    units : {"in", "cm"}
        That wishes are worded in.
    """
    settings = settings or ClosingSettings()
    spacings = settings.spacings(units)
    machine = machine or MachineProfile()
    places = list(report.places)
    named: list[MotifChoice] = []
    drawn: dict[MotifChoice, Pieces | None] = {}
    for k, place in enumerate(places[: settings.places]):
        target = _target(place, area, sizes, choices)
        rest = stitched_elsewhere(area, choices, set(target.like.patches), machine)
        every = tuple(c.patch for c in place.circles)
        trials = Trials(
            area,
            machine,
            report.limit_in,
            every[: settings.looked_at],
            every,
            rest,
            tuple(circles_in or ()),
            drawn,
        )
        # What closed a wider place of the same choice is the first to try.
        same = [c for c in named if c.patches == target.like.patches]
        found = next(_closing(trials, target, same, spacings), None)
        if found is not None:
            wish = written(target.where, found.choice, units)
            places[k] = replace(place, closing=Closing(wish, found.left_in))
            named.append(found.choice)
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


def _closing(
    trials: Trials, target: _Target, same: Sequence[MotifChoice], spacings: Sequence[float]
) -> Iterator[Tried]:
    """Yield what closes all gaps of a place, the best first."""
    limit = trials.limit_in + HAIR_IN
    like = target.like
    plain = MotifChoice(like.patches, "ditch")
    closer = [s for s in spacings if s <= limit]
    alike: list[MotifChoice] = []
    if like.motif in SPACED and target.whole:
        now = like.spacing_in or limit
        alike = [replace(like, spacing_in=s, circles_in=()) for s in spacings if s < now]
    for choices in (same, alike, [plain]):
        tried = trials.first(choices)
        if tried is not None and trials.closes(found := trials.in_every(tried.choice)):
            yield found
    families: list[tuple[str, Sequence[float | None]]] = [
        ("outline", [None, *closer]),
        ("crosshatch", closer),
    ]
    if target.strip:
        families.append(("lines", closer))
    others = (
        trials.first(replace(plain, motif=motif, spacing_in=s) for s in some)
        for motif, some in families
    )
    for tried in sorted((o for o in others if o), key=lambda o: o.length_in):
        if trials.closes(found := trials.in_every(tried.choice)):
            yield found
