"""One run in words: what it is called, which way it goes, and what is worth knowing of it."""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from seamwalk.geometry.curve import Curve, Point
from seamwalk.model.top import PatchId
from seamwalk.routing.telling.directions import Box, bow, corner, sense, side, way
from seamwalk.routing.telling.figure_names import Figure
from seamwalk.routing.telling.figures import Figures
from seamwalk.routing.telling.patch_places import PatchPlaces
from seamwalk.routing.telling.runs import DITCHES, SWEEP, Pass, Run
from seamwalk.units import Units, format_length

WHOLE = 0.95
"""Share of a figure's length from which on all of it is sewn: ends are cut at the binding."""

LONG = 2
"""Lengths on the way are told to the half inch: nobody measures them."""


@dataclass(frozen=True, slots=True, eq=False)
class Told:
    """What telling a run needs to know."""

    known: Figures
    units: Units
    places: PatchPlaces


def run_words(run: Run, told: Told, after: Run | None) -> str:
    """Return what is sewn in a run; `after` is where travel leads to."""
    if run.key == SWEEP:
        return ", ".join(_sweep(run))
    if run.key == DITCHES:
        return ", ".join(_ditches(run, told))
    figure = told.known.figure[run.key]
    start, end = run.passes[0].curve.start, run.passes[-1].curve.end
    if figure.sort == "stream":
        words = _stream(run, told)
    elif figure.sort == "travel":
        words = _travel(run, told)
    elif figure.sort == "patch":
        words = _in_patch(run, figure)
    elif figure.axis is not None:
        anywhere = _in_patches(_patches(run)) if _lies_anywhere(figure) else ""
        words = [f"{figure.name} {anywhere}".rstrip(), way(start, end)]
        if figure.sort == "chain" or figure.motif.startswith("leaf"):
            words += filter(None, [_arcs(run, start, end)])
        words += _part(run, figure, told)
    else:
        words = _round(run, figure, told.known.box)
    if figure.sort != "travel":
        between = math.fsum(p.curve.length for p in run.passes if _is_way(p))
        if between:
            words.append(f"with {format_length(between, told.units, LONG)} of travel between")
    stops = run.passes[-1].step - run.passes[0].step
    if stops:
        words.append(f"{stops} pivot{'' if stops == 1 else 's'}")
    if figure.sort == "travel" and after is not None:
        words.append(f"to {_goal(after, told)}")
    return ", ".join(words)


def run_place(run: Run, told: Told) -> str:
    """Return where the patches lie that the words of a run name; empty where none is named."""
    if run.key[0] in ("patch", "sweep") or _lies_anywhere(told.known.figure.get(run.key)):
        return told.places.words(_patches(run))
    return ""


def _lies_anywhere(figure: Figure | None) -> bool:
    """Return whether the name of a figure along a seam does not tell where it is."""
    return figure is not None and figure.sort == "chain" and not figure.counted


def _patches(run: Run) -> list[PatchId]:
    """Return the patches that a run is sewn in, in their order."""
    found = (p.piece.stroke.patch for p in run.passes if not p.travel)
    return list(dict.fromkeys(p for p in found if p is not None))


def _in_patches(patches: Sequence[PatchId]) -> str:
    if len(patches) > 2:
        return f"from patch {patches[0]} to patch {patches[-1]}"
    many = "es" if len(patches) == 2 else ""
    return f"in patch{many} {' and '.join(map(str, patches))}" if patches else ""


def _goal(run: Run, told: Told) -> str:
    """Return what a run is called by those who come to it."""
    if run.key in (SWEEP, DITCHES) or run.key[0] == "stream":
        name = _called(run.passes[0], told)
    else:
        name = told.known.figure[run.key].name
    return name if name != "ditch" else "the next ditch"


def _called(one: Pass, told: Told) -> str:
    """Return what tells best where a single leg lies."""
    names = {key[0]: told.known.figure[key].name for key in told.known.of[one.piece.id]}
    return next(names[k] for k in ("fan", "line", "patch", "chain") if k in names)


def _sweep(run: Run) -> list[str]:
    """Return arcs that run straight on through junctions."""
    first, last = run.passes[0], run.passes[-1]
    patches = [p.piece.stroke.patch for p in (first, last)]
    name = first.piece.stroke.motif.replace("-", " ") or "stitching"
    words = [f"{name} straight on through {len(run.passes) - 1} junctions"]
    if None not in patches:
        words.append(f"from patch {patches[0]} to patch {patches[1]}")
    return [*words, way(first.curve.start, last.curve.end)]


def _ditches(run: Run, told: Told) -> list[str]:
    """Return many short ditches in few words; each step tells its own."""
    start, end = run.passes[0].curve.start, run.passes[-1].curve.end
    length = math.fsum(p.curve.length for p in run.passes)
    travel = math.fsum(p.curve.length for p in run.passes if p.travel)
    words = ["ditches one after another", way(start, end).replace("round", "there and back")]
    words.append(format_length(length, told.units, LONG))
    if travel:
        words.append(f"{format_length(travel, told.units, LONG)} of it travel")
    stops = run.passes[-1].step - run.passes[0].step
    return [*words, f"{stops} pivots"] if stops > 1 else words


def _stream(run: Run, told: Told) -> list[str]:
    """Return arcs that are sewn across their rows."""
    first, last = _called(run.passes[0], told), _called(run.passes[-1], told)
    over = way(run.passes[0].curve.start, run.passes[-1].curve.end)
    motif = run.passes[0].piece.stroke.motif
    if first == last:
        return [first, over]
    return [motif, over, f"from {first} to {last}".replace("clamshell row", "row")]


def and_back(there: Run, back: Run, told: Told) -> str:
    """Return a line sewn to its end and back to where it began; nothing if it is not that."""
    if there.key in (SWEEP, DITCHES):
        return ""
    figure = told.known.figure[there.key]
    start, turn = there.passes[0].curve.start, there.passes[-1].curve.end
    if figure.axis is None or there.key != back.key or back.passes[-1].curve.end != start:
        return ""
    if any(_is_way(p) for p in (*there.passes, *back.passes)):
        return ""
    words = [figure.name, f"{way(start, turn)} and back"]
    if figure.sort == "chain" or figure.motif.startswith("leaf"):
        words += _both_ways(_arcs(there, start, turn), _arcs(back, turn, start))
    words += _part(there, figure, told)
    stops = back.passes[-1].step - there.passes[0].step
    # To turn at the far end is one of them, and is said already.
    return ", ".join([*words, *([f"{stops} pivots"] if stops > 1 else [])])


def _both_ways(there: str, back: str) -> list[str]:
    """Return in one what is said of the arcs of a line on the way there and back."""
    if not there and not back:
        return []
    one, other = there.split(", start "), back.split(", start ")
    if one[0] == other[0]:
        starts = dict.fromkeys(one[1:] + other[1:])
        return [f"{one[0]} both ways", *([f"start {', then '.join(starts)}"] if starts else [])]
    return [there or "straight", f"on the way back {back or 'straight'}"]


def _is_way(one: Pass) -> bool:
    """Return whether a leg within a figure is no part of it; a ring's leads are."""
    return one.travel and one.piece.stroke.kind != "motif"


def _travel(run: Run, told: Told) -> list[str]:
    """Return where travel runs, which way and how far."""
    names = {"ditch": "in the ditch", "edge": "in the margin"}
    kinds = dict.fromkeys(p.piece.stroke.kind for p in run.passes)
    # The lead to a ring needs no words of its own.
    where = " and ".join(names[k] for k in kinds if k in names) or "along the motif"
    length = math.fsum(p.curve.length for p in run.passes)
    direction = way(run.passes[0].curve.start, run.passes[-1].curve.end)
    if direction == "round":
        direction = "there and back"
    return [f"travel {where}", direction, format_length(length, told.units, LONG)]


def _in_patch(run: Run, figure: Figure) -> list[str]:
    """Return what is sewn in a patch that has no line of its own."""
    sewn = [p for p in run.passes if not p.travel] or list(run.passes)
    curves = [p.curve for p in sewn]
    motif = figure.motif
    over = way(curves[0].start, curves[-1].end)
    if motif == "outline":
        rings = len({p.piece.stroke.id for p in sewn})
        what = "ring" if rings == 1 else f"{rings} rings"
        return [f"{what} round {figure.name}", sense(curves)]
    if motif == "piano-keys":
        count = len({p.piece.stroke.line for p in sewn})
        if count == 1:
            return [f"piano key in {figure.name}", over]
        over = way(_middle(curves[0]), _middle(curves[-1]))
        return [f"{count} piano keys in {figure.name}", over]
    if len(sewn) == 1 and motif == "arches":
        a, b = curves[0].start, curves[0].end
        bows = bow(curves[0])
        # An arch bows into its patch, away from the side that it stands on.
        names = {"above": "upper", "below": "lower", "left": "left", "right": "right"}
        of = f"{names[side(a, b, bows < 0)]} " if bows else ""
        return [f"arch over the {of}side of {figure.name}", over]
    name = motif.replace("-", " ") or "stitching"
    closed = curves[0].start == curves[-1].end or len(sewn) > 2
    return [f"{name} in {figure.name}", sense(curves) if closed else over]


def _middle(curve: Curve) -> Point:
    (x0, y0), (x1, y1) = curve.start, curve.end
    return (x0 + x1) / 2, (y0 + y1) / 2


def _arcs(run: Run, start: Point, end: Point) -> str:
    """Return on which side the arcs of a line lie; nothing where there are none."""
    bows = [b for p in run.passes if not p.travel and (b := bow(p.curve))]
    if not bows:
        return ""
    sides = [side(start, end, b > 0) for b in bows]
    first = f"on the {sides[0]}" if sides[0] in ("left", "right") else sides[0]
    if len(sides) == 1:
        return f"arc {first}"
    if len(set(sides)) == 1:
        return f"all arcs {first}"
    if all(a != b for a, b in itertools.pairwise(sides)):
        return f"arcs alternate, start {first}"
    return f"arcs change sides, start {first}"


def _part(run: Run, figure: Figure, told: Told) -> list[str]:
    """Return how much of a line is sewn, where that is not all of it or the line has no number."""
    places = [p for one in run.passes for p in (one.curve.start, one.curve.end)]
    assert figure.axis is not None
    ux, uy = figure.axis.along
    along = [x * ux + y * uy for x, y in places]
    sewn = max(along) - min(along)
    # A piece shorter than that is told to the eighth.
    text = format_length(sewn, told.units, LONG if sewn >= 1 / LONG else 8)
    if not figure.counted:
        return [text]
    return [] if sewn >= WHOLE * figure.length_in else [f"{text} of it"]


def _round(run: Run, figure: Figure, box: Box) -> list[str]:
    """Return how something that goes round, or no one way, is sewn."""
    curves = [p.curve for p in run.passes]
    start, end = curves[0].start, curves[-1].end
    words = [f"border, {figure.name}" if figure.large and "cable" in figure.motif else figure.name]
    inner, outer = (
        (0.0, 0.0)
        if figure.centre is None
        else (math.dist(figure.centre, start), math.dist(figure.centre, end))
    )
    if figure.motif == "fans":
        if abs(outer - inner) < 1e-3:
            return [*words, way(start, end)]
        return [*words, "from the inside out" if outer > inner else "from the outside in"]
    words.append(sense(curves))
    if figure.motif == "spiral":
        return [*words, "outwards" if outer > inner else "inwards"]
    if figure.large:
        words[-1] += f" from the {corner(start, box)}"
    return words
