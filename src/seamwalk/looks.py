"""Three whole looks of a top, each planned for real, to choose from by looking.

Only this module knows in which order looks are made, planned and compared.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from seamwalk.model.look import Look, LookName
from seamwalk.model.settings import OwnSettings
from seamwalk.pipeline import MeasuredTop, PlannedTop, plan_top
from seamwalk.trade import BATTING_GAP_MOST_IN
from seamwalk.units import to_inches

if TYPE_CHECKING:
    from seamwalk.motifs.area import Area

METRIC_STEP_CM = 0.5
"""Spacings on a metric ruler."""


def _silent(stage: str) -> None:
    del stage


def propose(
    measured: MeasuredTop, own: OwnSettings, *, progress: Callable[[str], None] = _silent
) -> tuple[Look, ...]:
    """Return three looks of a top: the quickest, one in between, and the one with most work.

    The quickest keeps the gap that the batting stands, or where nothing is known of the batting
    the narrowest that any does.  The other two keep the batting's too; where nothing is known of
    it they keep the widest that is advised for any, so that what they need of a batting has to be
    looked at.

    Parameters
    ----------
    own : OwnSettings
        Machine, batting, circles, binding.
    """
    from seamwalk.motifs.area import lay_out
    from seamwalk.motifs.look_groups import look_groups
    from seamwalk.motifs.look_ladders import LADDERS
    from seamwalk.motifs.looks import LookedAt, balanced_look, quick_looks, rich_look
    from seamwalk.motifs.wish_places import wish_places
    from seamwalk.vision.blocks import find_blocks

    progress("making looks")
    area = lay_out(measured.top, binding_in=own.binding_in)
    blocks = find_blocks(measured.top, measured.sizes)
    places = wish_places(measured.sizes, area, blocks)
    groups = look_groups(measured.sizes, area, places)
    ladders = LADDERS
    if measured.units == "cm":
        ladders = replace(LADDERS, step_in=to_inches(METRIC_STEP_CM, "cm"))
    circles = replace(own, units=measured.units).circles_in
    seen = LookedAt(
        measured.top, measured.sizes, area, places, groups, own.machine, circles, ladders
    )

    strict_in = own.batting.gap_in

    def planned(wishes: tuple[str, ...]) -> Look:
        result = plan_top(
            measured,
            wishes,
            own.machine,
            circles_in=circles,
            binding_in=own.binding_in,
            area=area,
            blocks=blocks,
        )
        return _look(result, wishes, area, strict_in)

    design_in = strict_in if own.batting.named else BATTING_GAP_MOST_IN
    progress("planning the quickest look")
    first = quickest([planned(w) for w in dict.fromkeys(quick_looks(seen, strict_in))])
    others = []
    for make, stage in ((balanced_look, "planning a second look"), (rich_look, "and a third")):
        progress(stage)
        look = planned(make(seen, design_in))
        if look.minutes <= first.minutes and not look.kept:
            look = planned(make(seen, strict_in))
        others.append(look)
    return named([first, *others])


def quickest(looks: Sequence[Look]) -> Look:
    """Return the look that takes least time of those that keep the gap, or else comes nearest."""
    kept = [look for look in looks if look.kept]
    if kept:
        return min(kept, key=lambda look: look.minutes)
    return min(looks, key=lambda look: look.widest.across_in)


def named(looks: Sequence[Look]) -> tuple[Look, ...]:
    """Return three looks by the time that they take, named after that."""
    names: tuple[LookName, ...] = ("quickest", "in between", "most work")
    ordered = sorted(looks, key=lambda look: look.minutes)
    return tuple(replace(x, name=n) for x, n in zip(ordered, names, strict=True))


def _look(result: PlannedTop, wishes: tuple[str, ...], area: "Area", gap_in: float) -> Look:
    from seamwalk.motifs.density import density_report, every_pass
    from seamwalk.motifs.gaps import HAIR_IN, largest_of_patches, sewn_curves

    widest = largest_of_patches(sewn_curves(result.route), area, area.binding.length)[0]
    return Look(
        "in between",
        wishes,
        result.route,
        result.guide,
        widest,
        widest.across_in <= gap_in + HAIR_IN,
        density_report(every_pass(result.route), area, ()).whole,
        result.warnings,
    )
