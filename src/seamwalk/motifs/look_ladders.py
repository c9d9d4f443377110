"""Which motifs a look has for each part of a top: what suits it best first, then denser ones."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from seamwalk.model.choice import MotifChoice
from seamwalk.motifs.look_groups import LookGroup, Role

Ladder = tuple[MotifChoice, ...]


@dataclass(frozen=True, slots=True)
class LadderSettings:
    """Measures of the looks' motifs; all are common practice without a published source."""

    step_in: float = 1 / 8
    """Spacings are multiples of this, inches: what a ruler has.  5 mm on a metric one."""
    crosshatch_in: float = 2.0
    """Crosshatch where nothing finer is needed."""
    strip_in: float = 1.25
    """Lines along a strip, where these are chosen for their look."""
    rings_in: float = 1.0
    """Distance of the rings of an outline."""
    rich_in: float = 1.0
    """Distance of lines and of the arcs of fans in a rich look."""
    waves_from_in: float = 2.5
    """A border at least this wide has room for waves."""
    cable_from_in: float = 1.5
    """A border or sashing at least this wide has room for a cable …"""
    strands_from_in: float = 3.0
    """… and one this wide for three strands."""
    leaf_most_in: float = 6.0
    """Squares wider than this have fans instead of leaves on their diagonals."""


LADDERS = LadderSettings()


def like(
    motif: str, spacing_in: float | None = None, angle_deg: float | None = None
) -> MotifChoice:
    """Return a motif with its measures, for no patch yet."""
    return MotifChoice((), motif, spacing_in=spacing_in, angle_deg=angle_deg)


def ruled(most_in: float, gap_in: float, settings: LadderSettings = LADDERS) -> float:
    """Return the widest spacing that a ruler has, `most_in` at most and within the gap."""
    steps = (min(most_in, gap_in) + 1e-9) // settings.step_in
    return max(1.0, steps) * settings.step_in


def in_the_seams(
    gap_in: float, angle_deg: float, settings: LadderSettings = LADDERS
) -> Mapping[Role, Ladder]:
    """Return the ladders of a look that stitches in the ditch as far as it may."""
    ditch, filled = like("ditch"), like("lines", ruled(gap_in, gap_in, settings), angle_deg)
    along = like("lines", ruled(gap_in, gap_in, settings))
    patches: Ladder = (ditch, filled)
    return {
        "border": (ditch, along),
        "corner": patches,
        "sashing": (ditch, along),
        "cornerstone": patches,
        "strip": (ditch, along),
        "log": (ditch, along),
        "square": patches,
        "compact": patches,
        "small": patches,
    }


def balanced(group: LookGroup, gap_in: float, settings: LadderSettings = LADDERS) -> Ladder:
    """Return the ladder of a group in a look of arches, leaves and waves."""
    hatch = like("crosshatch", ruled(settings.crosshatch_in, gap_in, settings))
    along = like("lines", ruled(settings.strip_in, gap_in, settings))
    if group.role in ("border", "corner"):
        wide = group.width_in >= settings.waves_from_in
        waves = like("waves", ruled(settings.strip_in, gap_in, settings))
        return (waves, along) if wide else (along,)
    if group.role == "strip":
        return (along,)
    if group.role in ("sashing", "log"):
        return (like("ditch"), along)
    if group.role in ("small", "cornerstone"):
        rings = like("outline", ruled(settings.rings_in, gap_in, settings))
        return (like("ditch"), rings, hatch)
    return (like("arches"), replace(like("arches"), edge="arch"), hatch)


def rich(group: LookGroup, gap_in: float, settings: LadderSettings = LADDERS) -> Ladder:
    """Return the ladder of a group in a look that follows the piecing, but densely."""
    fine = ruled(settings.rich_in, gap_in, settings)
    along, hatch = like("lines", fine), like("crosshatch", fine)
    if group.role in ("border", "sashing", "corner"):
        if group.width_in >= settings.strands_from_in and group.role != "sashing":
            return (like("three-strand-cable"), along)
        return (like("cable"), along) if group.width_in >= settings.cable_from_in else (along,)
    if group.role in ("strip", "log"):
        return (along,)
    rings = like("outline", fine)
    if group.role in ("square", "cornerstone"):
        small = group.width_in <= settings.leaf_most_in
        return (like("leaf-diagonals"), rings, hatch) if small else (like("fans", fine), hatch)
    # Arches run on from patch to patch; rings and fans in small patches turn and turn again.
    return (like("arches"), hatch) if group.role == "compact" else (like("ditch"), rings, hatch)
