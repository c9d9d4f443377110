"""Leaf lines (orange peel): shallow arcs along a seam line, from junction to junction.

The arcs lie on alternating sides, so that the foot runs straight through each junction, and a
second pass mirrors the first.  All arcs of a line leave their seams at the same angle rather than
rise equally high: then the line stays smooth where patches differ in length.
"""

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from seamwalk.geometry.curve import Arc, Curve, Line, Point
from seamwalk.model.choice import MotifChoice
from seamwalk.model.stitching import Stroke, StrokeId
from seamwalk.model.top import PatchId, SeamId
from seamwalk.motifs.circles import rise_at_tangent, tangent_rad
from seamwalk.motifs.motif import Region, StrokePlan
from seamwalk.motifs.outlines import Outline
from seamwalk.motifs.seam_lines import StraightLine, seam_lines


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
    """

    start: Point
    end: Point
    most_rad: float
    patch: PatchId | None = None

    @property
    def length(self) -> float:
        """Straight from start to end, inches."""
        return math.dist(self.start, self.end)


def leaf_lines(
    region: Region, choice: MotifChoice, settings: LeafSettings | None = None
) -> StrokePlan:
    """Return both passes of leaves along the region's seam lines.

    Seams between two patches of the region are used; a region without any uses the seams round
    it.  `choice.depth_in` is the rise wished for on the region's middle-sized seam.
    """
    settings = settings or LeafSettings()
    mine = set(region.patches)
    inner = [s for s in region.seams if s.left in mine and s.right in mine]
    lines = seam_lines(region.area, inner or region.seams)
    runs = [(line, run) for line in lines for run in _runs(region, line, settings)]
    wish = wished_rad([c for _, run in runs for c in run], choice, settings)
    strokes: list[Stroke] = []
    count: dict[str, int] = {}
    for line, run in runs:
        # The lowest seam id names a line, whatever the order.
        name = f"seam-line-{min(s for s, _ in line.segments)}"
        count[name] = count.get(name, 0) + 1
        if count[name] > 1:
            name = f"{name}-{count[name]}"
        strokes += passes(run, name, wish, region.machine.smallest_radius_in, choice, settings)
    return StrokePlan(tuple(strokes))


def _runs(region: Region, line: StraightLine[SeamId], settings: LeafSettings) -> list[list[Chord]]:
    """Return the line's chords inside the binding line, cut where it goes outside."""
    area = region.area
    chords: list[Chord] = []
    for seam_id, backwards in line.segments:
        seam = area.seams[seam_id]
        parts = (
            [p.reversed() for p in reversed(area.ditches[seam_id])]
            if backwards
            else list(area.ditches[seam_id])
        )
        neighbours = [area.outlines[p] for p in (seam.left, seam.right) if p in area.outlines]
        if len(neighbours) < 2:
            continue  # beyond the seam lies only the margin
        for part in parts:
            most = most_rad(part.start, part.end, neighbours, settings)
            chords.append(Chord(part.start, part.end, most))
    out: list[list[Chord]] = [[chords[0]]] if chords else []
    for one, other in pairwise(chords):
        if one.end == other.start:
            out[-1].append(other)
        else:
            out.append([other])
    return out


def wished_rad(chords: list[Chord], choice: MotifChoice, settings: LeafSettings) -> float:
    """Return the angle between chord and arc that gives the depth asked for, or the default."""
    if choice.depth_in is None or not chords:
        return math.radians(settings.tangent_deg)
    return tangent_rad(float(np.median([c.length for c in chords])), choice.depth_in)


def most_rad(start: Point, end: Point, neighbours: list[Outline], settings: LeafSettings) -> float:
    """Return the largest tangent angle that suits the patches on both sides of a chord.

    The arc stays clear of a convex patch's other sides when it leaves the corners inside their
    angles and rises to less than the patch's depth.
    """
    chord = math.dist(start, end)
    ux, uy = (end[0] - start[0]) / chord, (end[1] - start[1]) / chord
    most = math.pi / 2
    for outline in neighbours:
        q = outline.ring - np.array(start)
        along, across = q @ np.array([ux, uy]), np.abs(q @ np.array([-uy, ux]))
        depth = float(across.max())
        off = across > 1e-3 * depth
        at_start = np.arctan2(across[off], along[off]).max()
        at_end = np.arctan2(across[off], chord - along[off]).max()
        corner = settings.corner_most * float(min(at_start, at_end))
        most = min(most, corner, tangent_rad(chord, settings.narrowest * depth))
    return most


def passes(
    run: list[Chord],
    name: str,
    wish_rad: float,
    smallest_in: float,
    choice: MotifChoice,
    settings: LeafSettings,
) -> list[Stroke]:
    """Return both passes of one line."""
    least = math.radians(settings.least_deg)
    common = min(wish_rad, max(least, min(c.most_rad for c in run)))
    out: list[Stroke] = []
    for number in (1, 2):
        side = 1.0 if number == 1 else -1.0
        for k, chord in enumerate(run, start=1):
            # On a circle of radius R a chord c turns by asin(c/2R): the foot's limit.
            foot = math.asin(min(1.0, chord.length / (2 * smallest_in)))
            rise = rise_at_tangent(chord.length, min(common, chord.most_rad, foot))
            piece = (
                Line(chord.start, chord.end)
                if rise < settings.straight_in
                else Arc.by_rise(chord.start, chord.end, side * rise)
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
                    marking="none" if isinstance(piece, Line) else "circle",
                )
            )
            side = -side
    return out
