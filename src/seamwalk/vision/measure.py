"""Sizes of patches, of the block and of the whole top, each with its 95 % limits.

This module puts together what its neighbours find: finished shapes, kinds of patches and the
sizes that were meant, how straight the top is, which block repeats, and what to do about it.
"""

import itertools
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from seamwalk.geometry.projective import Points
from seamwalk.model.picture import Rectification
from seamwalk.model.sizes import Angle, Finished, Length, PatchSize, Sizes, Verdict
from seamwalk.model.top import Top
from seamwalk.units import Units
from seamwalk.vision.blocks import blocks_of
from seamwalk.vision.measure_advice import advice
from seamwalk.vision.measure_block import block_size
from seamwalk.vision.measure_classes import classes, kind_sizes, kinds
from seamwalk.vision.measure_curved import (
    between_tangents,
    curved_name,
    curved_sides,
    side_curves,
)
from seamwalk.vision.measure_doubt import Doubt, DoubtSettings
from seamwalk.vision.measure_evidence import Evidence
from seamwalk.vision.measure_finished import FinishedShape, finished_shapes
from seamwalk.vision.measure_grain import grain_of
from seamwalk.vision.measure_places import in_places
from seamwalk.vision.measure_straight import straightness
from seamwalk.vision.measure_top import top_size

SURE = 0.9
"""A patch is called off only from a finished size that was meant with this chance."""


def measure(
    top: Top,
    rectification: Rectification,
    *,
    units: Units = "in",
    grain_in: float | None = None,
    endpoint_sigma_in: float = 0.02,
    tolerance_in: float = 0.125,
    cards: int | None = None,
    settings: DoubtSettings | None = None,
) -> Sizes:
    """Return the sizes of all patches and of the whole top.

    Parameters
    ----------
    units : {"in", "cm"}
        The maker's own, for names and advice.
    grain_in : float or None
        Finished sizes are multiples of this, inches; None takes the usual one of the units, or
        that of the other units where the sizes fit it clearly better.
    endpoint_sigma_in : float
        σ of a junction across a side where the junction does not carry its own, inches.
    tolerance_in : float
        A patch is right when all its sides are surely within this of the finished size.
    cards : int or None
        How many reference cards were seen, for the advice; None when that is not known.
    """
    doubt = Doubt(top, rectification, endpoint_sigma_in, settings)
    seams = {s.id: s for s in top.seams}
    shapes = [
        replace(shape, name=curved_name(shape, patch, seams))
        for shape, patch in zip(finished_shapes(top), top.patches, strict=True)
    ]
    found, shapes = kinds(shapes)
    draft = blocks_of(top, shapes)
    found = in_places(found, shapes, draft)
    sized = kind_sizes(found, shapes, doubt)
    grain = grain_of(sized, units, grain_in)
    named = classes(sized, grain.grain_in, units)
    other = [] if grain.other_in is None else classes(sized, grain.other_in, units)
    sides = _sides(shapes, doubt, visible=True)
    finished = _sides(shapes, doubt, visible=False)
    curved = [
        curved_sides(patch, shape.corners, seams)
        for patch, shape in zip(top.patches, shapes, strict=True)
    ]
    curves = side_curves(sides, curved, shapes, doubt)
    angles = [between_tangents(*own) for own in zip(_angles(shapes, doubt), curved, strict=True)]
    patches = []
    for k, patch in enumerate(top.patches):
        size = [named[k].sides_in(shapes[k], grain.grain_in)]
        if grain.other_in is not None and grain.chance < SURE:
            size.append(other[k].sides_in(shapes[k], grain.other_in))
        verdict = _verdict(finished[k], size, tolerance_in, named[k].chance)
        raw = shapes[k].raw_edges
        patches.append(
            PatchSize(
                patch.id,
                named[k].shape,
                named[k].name,
                sides[k],
                verdict,
                raw,
                angles[k],
                curves[k],
            )
        )
    whole = top_size(top, doubt)
    straight = straightness(top, doubt)
    block = block_size(top, shapes, named, draft, doubt, grain.grain_in)
    evidence = Evidence(
        top,
        shapes,
        tuple(patches),
        named,
        other,
        grain,
        whole,
        straight,
        doubt,
        units,
        tolerance_in,
        cards,
    )
    return Sizes(
        tuple(patches),
        whole,
        straight,
        block,
        advice(evidence),
        grain.grain_in,
        tolerance_in,
    )


def _sides(
    shapes: list[FinishedShape], doubt: Doubt, *, visible: bool
) -> list[tuple[Length, ...]]:
    """Return the sides of every patch, measured at one go."""
    points, _, after, cuts = _joined([s.corners if visible else s.finished for s in shapes])
    every = doubt.lengths(points, points[after])
    return [tuple(every[a:b]) for a, b in itertools.pairwise(cuts)]


def _angles(shapes: list[FinishedShape], doubt: Doubt) -> list[tuple[Angle, ...]]:
    """Return the inner angles at the visible corners of every patch, measured at one go."""
    points, before, after, cuts = _joined([s.corners for s in shapes])
    every = doubt.angles(points, points[before], points[after])
    a, b = points - points[before], points[after] - points
    turn = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    # Twice the area, from each ring's own first point: its sign is the way round.
    origin = np.repeat(points[cuts[:-1]], np.diff(cuts), axis=0)
    p, q = points - origin, points[after] - origin
    area = np.add.reduceat(p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0], cuts[:-1])
    # A corner that turns against the way round has an inner angle above 180°.
    against = turn * np.repeat(area, np.diff(cuts)) < 0
    for k in np.flatnonzero(against).tolist():
        every[k] = Angle(360.0 - every[k].value_deg, every[k].plus_minus_deg)
    return [tuple(every[a:b]) for a, b in itertools.pairwise(cuts)]


def _joined(
    rings: list[Points],
) -> tuple[Points, NDArray[np.intp], NDArray[np.intp], list[int]]:
    """Return all points (N, 2), who comes before and after each, and where rings start."""
    size = np.array([len(r) for r in rings])
    cuts = np.concatenate([[0], np.cumsum(size)])
    before, after = np.arange(cuts[-1]) - 1, np.arange(cuts[-1]) + 1
    before[cuts[:-1]], after[cuts[1:] - 1] = cuts[1:] - 1, cuts[:-1]
    return np.concatenate(rings), before, after, cuts.tolist()


def _verdict(
    sides: tuple[Length, ...],
    sizes: list[NDArray[np.float64]],
    tolerance_in: float,
    chance: float,
) -> Finished:
    """Return how the sides compare with the first of the sizes that may have been meant."""
    value = np.array([s.value_in for s in sides])
    pm = np.array([s.plus_minus_in for s in sides])
    off = value - sizes[0]
    verdict: Verdict = "cannot tell"
    if (np.abs(off) + pm <= tolerance_in).all():
        verdict = "right"
    elif chance >= SURE and all((np.abs(value - s) - pm > tolerance_in).any() for s in sizes):
        # Off from a size that may never have been meant would be a false alarm.
        verdict = "off"
    worst = int(np.argmax(np.abs(off)))
    return Finished(tuple(float(v) for v in sizes[0]), float(off[worst]), verdict, chance)
