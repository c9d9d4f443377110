"""Whole looks proposed from the top itself.

A look is a list of wishes, so that whoever likes it can sew exactly that.  Each group of patches
gets the first of a few motifs that suit its part in the top; where a circle without stitching is
then wider than the batting stands, the groups there move on to their next, denser motif.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from seamwalk.model.choice import MotifChoice
from seamwalk.model.machine import MachineProfile
from seamwalk.model.sizes import Sizes
from seamwalk.model.top import PatchId, Top
from seamwalk.motifs.area import Area
from seamwalk.motifs.gaps import HAIR_IN, largest_of_patches
from seamwalk.motifs.look_groups import LookGroup, Role
from seamwalk.motifs.look_ladders import (
    LADDERS,
    Ladder,
    LadderSettings,
    balanced,
    in_the_seams,
    like,
    rich,
    ruled,
)
from seamwalk.motifs.look_words import wishes_for
from seamwalk.motifs.motif import StrokePlan
from seamwalk.motifs.plan import make_strokes
from seamwalk.motifs.wish import written
from seamwalk.motifs.wish_places import WishPlaces

Wishes = tuple[str, ...]

SQUARES_SHARE = 0.4
"""With at least this share of its middle in squares a top's rich look follows the piecing; else
fans cover the middle: leaves need squares."""

SMALL_SHARE = 0.6
"""With more than this share of its middle in patches too small or too odd for arches a top gets
waves over all of it: in so many ditches the foot turns all the time."""

CLOSER = 3
"""How many spacings are tried for lines over everything, each a step closer."""

ROUNDS = 4
"""How often groups with too wide gaps move on: no ladder is longer."""


@dataclass(frozen=True, slots=True, eq=False)
class LookedAt:
    """A top as looks are made for it.

    Attributes
    ----------
    groups : tuple of LookGroup
        Of `look_groups`.
    circles_in : tuple of float or None
        As for `make_strokes`.
    """

    top: Top
    sizes: Sizes
    area: Area
    places: WishPlaces
    groups: tuple[LookGroup, ...]
    machine: MachineProfile
    circles_in: tuple[float, ...] | None = None
    ladders: LadderSettings = LADDERS

    def strokes(self, likes: Mapping[str, MotifChoice]) -> StrokePlan:
        """Return the strokes with a motif for each group, by its word."""
        covered: dict[MotifChoice, list[PatchId]] = {}
        group_of = {p: g.word for g in self.groups for p in g.patches}
        for size in self.sizes.patches:
            if size.patch in group_of:
                covered.setdefault(likes[group_of[size.patch]], []).append(size.patch)
        choices = [replace(c, patches=tuple(p)) for c, p in covered.items()]
        return make_strokes(
            self.top, self.sizes, choices, self.machine, area=self.area, circles_in=self.circles_in
        )


def quick_looks(seen: LookedAt, gap_in: float) -> tuple[Wishes, ...]:
    """Return looks of which one is likely the quickest that keeps the gap, to be compared.

    Long lines over everything stop least; in the ditch there is nothing to mark, and where
    patches are small enough there may be less to stitch.
    """
    x0, y0, x1, y1 = seen.area.binding.bounds
    along = 0.0 if x1 - x0 >= y1 - y0 else 90.0
    ladders = in_the_seams(gap_in, along, seen.ladders)
    return _all_lines(seen, gap_in, along), _kept(seen, gap_in, lambda g: ladders[g.role])


def _all_lines(seen: LookedAt, gap_in: float, angle_deg: float) -> Wishes:
    """Return lines over everything, as far apart as keeps the gap.

    Where a row runs beside a seam the ditch takes its place, and the gap beside it grows.
    """
    for closer in range(CLOSER):
        spacing = ruled(gap_in - closer * seen.ladders.step_in, gap_in, seen.ladders)
        lines = like("lines", spacing, angle_deg)
        plan = seen.strokes({g.word: lines for g in seen.groups})
        if not too_wide(plan, seen.area, gap_in):
            break
    return (written("all", lines),)


def balanced_look(seen: LookedAt, gap_in: float) -> Wishes:
    """Return a look of arches, leaves and waves that follows the piecing where it can."""
    inner = _inner(seen)
    if _share(seen, inner, inner, ("small", "log")) > SMALL_SHARE:
        waves = (like("waves"), like("waves", ruled(gap_in, gap_in, seen.ladders)))
        along = (like("lines", ruled(seen.ladders.strip_in, gap_in, seen.ladders)),)
        return _kept(seen, gap_in, lambda group: waves if group in inner else along)
    return _kept(seen, gap_in, lambda group: balanced(group, gap_in, seen.ladders))


def rich_look(seen: LookedAt, gap_in: float) -> Wishes:
    """Return a dense look: leaves in squares, else fans, and cables along borders and sashing."""
    open_to = [g for g in _inner(seen) if g.role not in ("sashing", "cornerstone")]
    leafy = [g for g in open_to if g.width_in <= seen.ladders.leaf_most_in]
    follows = _share(seen, open_to, leafy, ("square",)) >= SQUARES_SHARE
    fans = (like("fans", ruled(seen.ladders.rich_in, gap_in, seen.ladders)),)

    def own(group: LookGroup) -> Ladder:
        return rich(group, gap_in, seen.ladders)

    return _kept(seen, gap_in, lambda g: own(g) if follows or g not in open_to else fans)


def _inner(seen: LookedAt) -> tuple[LookGroup, ...]:
    return tuple(g for g in seen.groups if g.role not in ("border", "corner"))


def _share(
    seen: LookedAt,
    groups: Sequence[LookGroup],
    some: Sequence[LookGroup],
    roles: Sequence[Role],
) -> float:
    """Return which share of the groups' cloth some of them with these roles have, 0 to 1."""

    def cloth(which: Sequence[LookGroup]) -> float:
        return sum(seen.area.outlines[p].polygon.area for g in which for p in g.patches)

    return cloth([g for g in some if g.role in roles]) / max(cloth(groups), 1e-9)


def _kept(seen: LookedAt, gap_in: float, ladder: Callable[[LookGroup], Ladder]) -> Wishes:
    """Return the words for the first motifs of the groups' ladders that keep the gap."""
    ladders = {g.word: ladder(g) for g in seen.groups}
    step = dict.fromkeys(ladders, 0)
    for _ in range(ROUNDS):
        likes = {word: ladders[word][k] for word, k in step.items()}
        wide = too_wide(seen.strokes(likes), seen.area, gap_in)
        moved = False
        for group in seen.groups:
            if group.patches & wide and step[group.word] + 1 < len(ladders[group.word]):
                step[group.word] += 1
                moved = True
        if not moved:
            break
    likes = {word: ladders[word][k] for word, k in step.items()}
    return wishes_for(seen.groups, likes, seen.sizes, seen.places)


def too_wide(plan: StrokePlan, area: Area, gap_in: float) -> frozenset[PatchId]:
    """Return the patches in which a circle without required stitching is wider than `gap_in`."""
    sewn = [s.curve for s in plan.strokes if s.required]
    most = gap_in + HAIR_IN
    found = largest_of_patches(sewn, area, most / 2)
    return frozenset(c.patch for c in found if c.across_in > most)
