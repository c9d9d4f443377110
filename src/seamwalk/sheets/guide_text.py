"""The stitching guide as plain text: circles, marking, thread and time, in order of need.

Plain text is read on any phone or sheet of paper at the sewing table.
"""

import textwrap
from collections.abc import Sequence

from seamwalk.model.circles import ArcClass, CircleChoice, CircleTry
from seamwalk.model.marking import MarkingGuide, MarkingStep
from seamwalk.model.route import BobbinChange, Totals
from seamwalk.model.sizes import Sizes
from seamwalk.model.top import PatchId
from seamwalk.sheets.kinds import PLURALS
from seamwalk.trade import LARGEST_TOP_IN, MARKING_WHEN, SAFETY_MACHINE, SAFETY_MARKING
from seamwalk.units import Units, format_length, format_whole, from_inches

WIDTH = 78
"""Columns: what a terminal and a printed page hold."""

IN_PER_YD = 36.0

HOW_TO_DRAW = (
    "Lay the circle so that its rim meets both ends of the side, seam or diagonal, and draw from "
    "one end to the other."
)
"""Common practice, no source."""

HOW_TO_DRAW_ROWS = (
    "Where rows of arcs take the circle's size, rule their middle lines first and draw from tick "
    "to tick."
)
"""Common practice, no source."""

NO_CIRCLES_NAMED = (
    "These are plain sizes: name the round things that you own in your settings "
    "(seamwalk settings --write)."
)

_VERDICTS = {
    "fits": "",
    "too small": "does not reach from end to end",
    "too deep": "too deep",
    "too flat": "too flat",
    "too large": "too large",
}

_ARCS = {"sides": "over sides of", "seams": "over seams of", "diagonals": "over diagonals of"}


def guide_text(
    guide: MarkingGuide,
    circles: CircleChoice | None,
    totals: Totals,
    changes: Sequence[BobbinChange],
    sizes: Sizes,
    units: Units = "in",
    *,
    circles_named: bool = True,
    hold: tuple[Sequence[str], Sequence[str]] = ((), ()),
    path: Sequence[str] = (),
    worth: Sequence[str] = (),
    warnings: Sequence[str] = (),
) -> str:
    """Return the whole guide.

    Parameters
    ----------
    guide : MarkingGuide
        What to mark.
    circles : CircleChoice or None
        Circles of the arcs.
    totals, changes
        Of the route.
    sizes : Sizes
        Names the patches.
    units : {"in", "cm"}
        Of every length.
    circles_named : bool
        The circles are her own.
    hold : (sequence of str, sequence of str)
        Sentences on gaps and on density.
    path : sequence of str
        Lines that tell the path, as `path_text.path_lines` gives them.
    worth : sequence of str
        Sentences on what the path saves and how near it is to the best.
    warnings : sequence of str
        Sentences on what isn't as it was asked for.
    """
    parts: list[list[str]] = []
    if warnings:
        told = [row for line in warnings for row in _wrapped(line, 2, first="! ")]
        parts.append(["KNOW THIS FIRST", *told])
    if circles is not None and circles.classes:
        note = [] if circles_named else _wrapped(NO_CIRCLES_NAMED)
        parts.append(["CIRCLES (circles.png)", *note, *circle_lines(circles, sizes, units)])
    parts.append(["MARKING, in this order", *marking_lines(guide, sizes, units)])
    parts.append(_wrapped(f"{MARKING_WHEN} {SAFETY_MARKING}"))
    for title, sentences in zip(("GAPS", "DENSITY (density.png)"), hold, strict=True):
        if sentences:
            parts.append([title, *(row for line in sentences for row in _wrapped(line))])
    sums = thread_lines(totals, changes, units)
    sums += [row for sentence in worth for row in _wrapped(sentence)]
    parts.append(["THREAD AND TIME", *sums])
    parts.append(_wrapped(SAFETY_MACHINE))
    if path:
        parts.append(["THE PATH", *path])
    parts.append(["The makers' manuals for machine, foot and pen come first."])
    return "\n\n".join("\n".join(lines) for lines in parts) + "\n"


def circle_lines(circles: CircleChoice, sizes: Sizes, units: Units) -> list[str]:
    """Return for every class of arcs its circle, and what its neighbours in size would do."""
    free = [c.arcs.free for c in circles.classes]
    out = [] if all(free) else _wrapped(HOW_TO_DRAW)
    out += _wrapped(HOW_TO_DRAW_ROWS) if any(free) else []
    for found in circles.classes:
        arcs = found.arcs
        out += _wrapped(class_words(arcs, sizes, units))
        if found.circle is None:
            out.append(f"  no circle fits: {template_words(arcs, units)}")
        else:
            out.append(f"  draw round    {_tried(found.circle, units)}".rstrip())
        for name, other in (("one smaller  ", found.smaller), ("one larger   ", found.larger)):
            if other is not None:
                tried = _tried(other, units, free=arcs.free)
                out.append(f"  {name} {tried}".rstrip())
    return out


def class_words(arcs: ArcClass, sizes: Sizes, units: Units) -> str:
    """Return what a class of arcs is, how many there are and where."""
    where = _where(arcs.patches, sizes)
    what = "round circles of about" if arcs.free else _ARCS[arcs.over]
    return (
        f"{arcs.motif} {what} {format_length(arcs.chord_in, units)}: "
        f"{arcs.count} arc{'' if arcs.count == 1 else 's'}{', ' + where if where else ''}"
    )


def template_words(arcs: ArcClass, units: Units) -> str:
    """Return what template a class of arcs needs that no circle fits."""
    if arcs.free:
        return "make a template of that size"
    return f"make a template with a rise of {fine_length(arcs.wish_in, units)}"


def verdict_words(found: CircleTry, *, free: bool = False) -> str:
    """Return the limit that a circle breaks, nothing where it fits."""
    return "" if found.verdict == "fits" else found.verdict if free else _VERDICTS[found.verdict]


def crossing_words(crossing: bool) -> str:
    """Return whether arcs cross, at a corner or in the middle of a narrow patch."""
    return "arcs cross" if crossing else "arcs do not cross"


def _tried(found: CircleTry, units: Units, *, free: bool = False) -> str:
    """Return a circle with its rise, whether its arcs cross, and the limit that it breaks."""
    words = []
    if found.rise_in is not None:
        words.append(f"rise {fine_length(found.rise_in, units)}")
    if found.overlap is not None and found.rise_in is not None:
        words.append(crossing_words(found.overlap))
    if found.verdict != "fits":
        words.append(verdict_words(found, free=free))
    return f"{circle_name(found.diameter_in, units):<18} {', '.join(words)}"


def circle_name(diameter_in: float, units: Units) -> str:
    """Return a circle by its diameter as it is owned, converted beside it if need be."""
    own = format_whole(diameter_in, units)
    if own is None:
        return fine_length(diameter_in, units)
    return own if own.endswith(units) else f"{own} ({format_length(diameter_in, units)})"


def fine_length(value_in: float, units: Units) -> str:
    """Return a rise to the sixteenth of an inch or the millimetre."""
    return format_length(value_in, units, 16)


def marking_lines(guide: MarkingGuide, sizes: Sizes, units: Units) -> list[str]:
    """Return what to mark, numbered, then what needs no mark."""
    out: list[str] = []
    for number, step in enumerate(guide.to_mark, start=1):
        out += _wrapped(f"{_step(step, sizes, units)}", 4, first=f"{number:>2}. ")
    if out:
        out.append(f"    {long_text(guide.marked_in, units)} of marks in all")
    else:
        out.append("Nothing needs a mark.")
    for step in guide.steps:
        if step.tool in ("eye", "none"):
            how = "stitched by eye" if step.tool == "eye" else "no mark, along the seam"
            out += _wrapped(f"{how}: {_step(step, sizes, units, tool=False)}", 4, first="    ")
    return out


def _step(step: MarkingStep, sizes: Sizes, units: Units, *, tool: bool = True) -> str:
    words = [_tool(step, units)] if tool else []
    what = "line" if step.diameter_in is None else "arc"
    many = f"{step.count} {what}{'' if step.count == 1 else 's'}"
    words.append(f"{step.motif}, {many}, {long_text(step.length_in, units)}")
    where = _where(step.patches, sizes)
    return ": ".join(words) + (f", {where}" if where else "")


def _tool(step: MarkingStep, units: Units) -> str:
    if step.diameter_in is None:
        return step.tool
    if step.tool == "circle":
        return f"circle of {circle_name(step.diameter_in, units)}"
    if step.diameter_in > LARGEST_TOP_IN:
        return "template of a very flat arc"
    return f"template of a circle of {circle_name(step.diameter_in, units)}"


def thread_lines(totals: Totals, changes: Sequence[BobbinChange], units: Units) -> list[str]:
    """Return thread, bobbins with the stops to change them at, and time by cause."""
    thread = totals.thread_yd * IN_PER_YD
    bobbins = f"{totals.bobbins} bobbin{'' if totals.bobbins == 1 else 's'}"
    out = [f"{long_text(thread, units)} of thread, needle and bobbin together; {bobbins}"]
    places = {
        "thread end": "a new thread starts there",
        "margin": "at the edge",
        "inside": "inside: bury the ends",
    }
    for number, change in enumerate(changes, start=2):
        out += _wrapped(
            f"change to bobbin {number} before stop {change.step} ({places[change.where]}), "
            f"after {long_text(change.sewn_in, units)}",
            4,
            first="  ",
        )
    found = [(cause, m) for cause, m in totals.minutes.items() if round(m)]
    causes = ", ".join(f"{cause} {time_text(m)}" for cause, m in found)
    whole = f"{time_text(sum(totals.minutes.values()))} at the machine"
    out += _wrapped(f"{whole}: {causes}" if causes else whole)
    return out


def time_text(minutes: float) -> str:
    """Return a time in hours and minutes."""
    hours, rest = divmod(round(minutes), 60)
    return f"{hours} h {rest:02} min" if hours else f"{rest} min"


def long_text(value_in: float, units: Units) -> str:
    """Return a long length in yards or metres, a short one as usual."""
    if value_in < IN_PER_YD:
        return format_length(value_in, units)
    if units == "cm":
        return f"{from_inches(value_in, units) / 100:.1f} m"
    return f"{value_in / IN_PER_YD:.1f} yd"


def _where(patches: Sequence[PatchId], sizes: Sizes) -> str:
    """Return the shapes that patches have, by their plural names."""
    mine = set(patches)
    shapes = dict.fromkeys(s.shape for s in sizes.patches if s.patch in mine)
    return " and ".join(PLURALS[s] for s in shapes)


def _wrapped(text: str, indent: int = 0, first: str | None = None) -> list[str]:
    start = " " * indent if first is None else first
    return textwrap.wrap(
        text,
        WIDTH,
        initial_indent=start,
        subsequent_indent=" " * indent,
        break_long_words=False,
        break_on_hyphens=False,
    )
