"""Leaves over chords: shallow arcs on alternating sides, how deep they are, and on which circle.

All leaves of a line wish for one angle at its junctions; where circles are chosen, leaves of
nearly equal chord and depth are drawn round one.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from seamwalk.geometry.curve import Arc, Curve, Line, Point
from seamwalk.model.choice import MotifChoice
from seamwalk.model.circles import ArcClass, Over
from seamwalk.model.stitching import Marking, Stroke, StrokeId
from seamwalk.model.top import PatchId
from seamwalk.motifs.arc_classes import WishedArc, alike, arc_class
from seamwalk.motifs.circles import diameter_for, rise_at_tangent, rise_for, tangent_rad
from seamwalk.motifs.instead import KEPT_IN, instead
from seamwalk.motifs.outlines import Outline
from seamwalk.units import Units


@dataclass(frozen=True, slots=True)
class LeafSettings:
    """Shape of leaves where nothing else is asked for."""

    tangent_deg: float = 22.5
    """Angle between seam and arc at a junction: rises of 0.4 to 0.6 in on 4 to 6 in patches (soft
    arch of about 1/2 in: common practice, no source)."""
    narrowest: float = 0.45
    """Share of the narrower neighbouring patch that a leaf may take: under a half."""
    corner_most: float = 0.75
    """Share of a patch's corner that a leaf may use up."""
    least_deg: float = 10.0
    """A line isn't flattened below this for the sake of one narrow patch; that patch's own leaf
    is."""
    straight_in: float = 1 / 32
    """A flatter arc is a straight line to the hand."""


@dataclass(frozen=True, slots=True)
class Chord:
    """What one pair of leaves is drawn over.

    Attributes
    ----------
    start, end : Point
        Junctions, or places on the binding line.
    most_rad : float
        Largest angle between chord and arc that suits the patches beside it.
    patch : PatchId or None
        Patch that the leaves lie in; None for those along a seam.
    corner_rad : float or None
        Smallest corner that a leaf shares with the leaf of another seam; None where it shares
        none.
    facing_in : float or None
        Rise at which a leaf meets an equal one over the facing seam of a patch; None where there
        is no such seam.
    """

    start: Point
    end: Point
    most_rad: float
    patch: PatchId | None = None
    corner_rad: float | None = None
    facing_in: float | None = None

    @property
    def length(self) -> float:
        """Straight from start to end, inches."""
        return math.dist(self.start, self.end)


def wished_rad(chords: list[Chord], choice: MotifChoice, settings: LeafSettings) -> float:
    """Return the angle between chord and arc that gives the depth asked for, or the default."""
    if choice.depth_in is None or not chords:
        return math.radians(settings.tangent_deg)
    return tangent_rad(float(np.median([c.length for c in chords])), choice.depth_in)


def limits_rad(
    start: Point, end: Point, neighbours: Sequence[Outline], settings: LeafSettings
) -> tuple[float, float]:
    """Return what suits the patches on both sides of a chord.

    Returns
    -------
    most_rad : float
        Largest tangent angle: the arc stays clear of a convex patch's other sides when it leaves
        the corners inside their angles and rises to less than the patch's depth.
    corner_rad : float
        Smallest corner that the chord makes with a patch.
    """
    chord = math.dist(start, end)
    most = math.pi / 2
    smallest = math.inf
    for outline in neighbours:
        corner, depth = _beside(start, end, outline)
        smallest = min(smallest, corner)
        most = min(most, tangent_rad(chord, settings.narrowest * depth))
    return min(most, settings.corner_most * smallest), smallest


def _beside(start: Point, end: Point, outline: Outline) -> tuple[float, float]:
    """Return the smaller angle between a chord and the patch beside it, and the patch's depth."""
    chord = math.dist(start, end)
    ux, uy = (end[0] - start[0]) / chord, (end[1] - start[1]) / chord
    # A handful of vertices: plain numbers are faster here than arrays.
    ring = [(x - start[0], y - start[1]) for x, y in outline.ring.tolist()]
    placed = [(x * ux + y * uy, abs(y * ux - x * uy)) for x, y in ring]
    depth = max(across for _, across in placed)
    off = [(along, across) for along, across in placed if across > 1e-3 * depth]
    at_start = max(math.atan2(across, along) for along, across in off)
    at_end = max(math.atan2(across, chord - along) for along, across in off)
    return min(at_start, at_end), depth


@dataclass(frozen=True, slots=True)
class _Leaf:
    """Both leaves over a chord: which chord of which line, and how deep."""

    line: str
    number: int
    wished: WishedArc


def leaves(
    lines: Mapping[str, Sequence[Chord]],
    over: Over,
    wish_rad: float,
    smallest_in: float,
    choice: MotifChoice,
    settings: LeafSettings,
    units: Units,
) -> tuple[tuple[Stroke, ...], tuple[ArcClass, ...], tuple[str, ...]]:
    """Return both passes of all lines, the classes of their arcs, and warnings.

    Parameters
    ----------
    lines : mapping of str to sequence of Chord
        Chords that follow one another, by the name of their line.
    over : {"seams", "diagonals"}
        What the chords are.
    wish_rad : float
        Angle between chord and arc that is wished for.
    smallest_in : float
        Tightest radius of the foot.
    units : {"in", "cm"}
        Of the warnings.
    """
    wanted = [
        leaf
        for name, run in lines.items()
        for leaf in _wished(name, run, wish_rad, smallest_in, settings)
    ]
    rises: dict[tuple[str, int], tuple[float, Marking]] = {
        (leaf.line, leaf.number): (0.0, "none") for leaf in wanted
    }
    classes: list[ArcClass] = []
    round_ones = [leaf for leaf in wanted if leaf.wished.wish_in >= settings.straight_in]
    for group in alike(round_ones, lambda leaf: leaf.wished):
        arcs = [leaf.wished for leaf in group]
        middle = float(np.median([tangent_rad(a.chord_in, a.wish_in) for a in arcs]))
        chord = float(np.median([a.chord_in for a in arcs]))
        classes.append(
            arc_class(
                arcs,
                motif=choice.motif,
                over=over,
                wished_diameter_in=diameter_for(chord, rise_at_tangent(chord, middle)),
                smallest_in=2 * smallest_in,
                least_in=settings.straight_in,
                count=2 * len(arcs),
            )
        )
        diameter, marking = choice.circle(len(classes) - 1)
        for leaf in group:
            rise = leaf.wished.wish_in
            if diameter is not None:
                rise = rise_for(leaf.wished.chord_in, max(diameter, leaf.wished.chord_in))
            rises[leaf.line, leaf.number] = (rise, marking)
    strokes = tuple(
        stroke
        for name, run in lines.items()
        for stroke in _passes(name, run, [rises[name, k] for k in range(len(run))], choice)
    )
    lower = [
        rises[leaf.line, leaf.number][0]
        for leaf in wanted
        if leaf.wished.wish_in < rise_at_tangent(leaf.wished.chord_in, wish_rad) - KEPT_IN
    ]
    room = "the patches beside them, or the foot, leave no room for more"
    return (
        strokes,
        tuple(classes),
        tuple(instead("Leaves rise by {}", choice.depth_in, lower, room, units)),
    )


def _wished(
    name: str,
    run: Sequence[Chord],
    wish_rad: float,
    smallest_in: float,
    settings: LeafSettings,
) -> list[_Leaf]:
    """Return how deep the leaves of one line want to be."""
    least = math.radians(settings.least_deg)
    common = min(wish_rad, max(least, min(c.most_rad for c in run)))
    out: list[_Leaf] = []
    for k, chord in enumerate(run):
        # On a circle of radius R a chord c turns by asin(c/2R): the foot's limit.
        foot = math.asin(min(1.0, chord.length / (2 * smallest_in)))
        rise = rise_at_tangent(chord.length, min(common, chord.most_rad, foot))
        most = rise_at_tangent(chord.length, min(chord.most_rad, foot))
        wished = WishedArc(
            chord.length, rise, most, chord.corner_rad, chord.patch, chord.facing_in
        )
        out.append(_Leaf(name, k, wished))
    return out


def _passes(
    name: str, run: Sequence[Chord], rises: Sequence[tuple[float, Marking]], choice: MotifChoice
) -> list[Stroke]:
    """Return both passes of one line; a rise of nothing is a straight line."""
    out: list[Stroke] = []
    for number in (1, 2):
        side = 1.0 if number == 1 else -1.0
        for k, (chord, (rise, marking)) in enumerate(zip(run, rises, strict=True), start=1):
            piece = (
                Arc.by_rise(chord.start, chord.end, side * rise)
                if rise > 0
                else Line(chord.start, chord.end)
            )
            out.append(
                Stroke(
                    StrokeId(f"leaf-{name}-{number}-{k}"),
                    Curve((piece,)),
                    "motif",
                    required=True,
                    motif=choice.motif,
                    patch=chord.patch,
                    line=name,
                    pass_no=number,
                    marking=marking,
                )
            )
            side = -side
    return out
