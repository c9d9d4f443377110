"""Straight lines, crosshatch and outline rings."""

import math
from itertools import pairwise

import numpy as np
import pytest
from shapely import LineString, Point
from tests.motifs.asserts import line
from tests.motifs.tops import bordered, box, grid, on_point, pinwheels, sewn, top_from

from seamwalk.model.choice import MotifChoice
from seamwalk.model.machine import MachineProfile
from seamwalk.motifs.area import lay_out
from seamwalk.motifs.lines import crosshatch, lines
from seamwalk.motifs.motif import Region
from seamwalk.motifs.outline import outline


def region(top, patches=None):
    chosen = tuple(p.id for p in top.patches) if patches is None else tuple(patches)
    return Region(lay_out(top), chosen, MachineProfile())


def run(motif, top, patches=None, **measures):
    here = region(top, patches)
    return motif(here, MotifChoice(here.patches, motif.__name__, **measures))


def test_border_lines_run_along_it_evenly_spaced():
    top = bordered(6, 6, 3.0, 4.0)
    border = [p.id for p in top.patches if p.polygon.area > 10]
    plan = run(lines, top, border, spacing_in=1.0)
    for patch in border:
        mine = [s for s in plan.strokes if s.patch == patch]
        assert len(mine) == 3  # 4 in in four gaps of 1 in
        gaps = [line(a.curve).distance(line(b.curve)) for a, b in pairwise(mine)]
        assert gaps == pytest.approx([1.0, 1.0])
        assert min(s.curve.length for s in mine) >= 18 - 1e-9


def test_lines_meet_in_a_mitre():
    # A border of four trapezoids: equally many lines meet on the mitre seams.
    b = [(-0.25, -0.25), (20.25, -0.25), (20.25, 20.25), (-0.25, 20.25)]
    i = [(4, 4), (16, 4), (16, 16), (4, 16)]
    top = top_from([i, *([b[k], b[(k + 1) % 4], i[(k + 1) % 4], i[k]] for k in range(4))])
    plan = run(lines, top, [p.id for p in top.patches[1:]], spacing_in=1.0)
    ends = np.array([q for s in plan.strokes for q in (s.curve.start, s.curve.end)])
    gap = np.hypot(*np.moveaxis(ends[:, None] - ends[None], -1, 0)) + 9 * np.eye(len(ends))
    assert gap.min(axis=1).max() < 1e-9
    # 4 in in four gaps of 1 in, though the mitre is √2 times as long.
    mine = [s for s in plan.strokes if s.patch == top.patches[1].id]
    gaps = [line(a.curve).distance(line(b.curve)) for a, b in pairwise(mine)]
    assert gaps == pytest.approx([1.0, 1.0])


@pytest.mark.parametrize("spacing", [0.75, 1.5, 2.25])
def test_ruled_lines_are_parallel_and_cover_the_whole_top(spacing):
    top = grid(5, 4, 3.0)
    plan = run(lines, top, angle_deg=30.0, spacing_in=spacing)
    inside = lay_out(top).binding
    # Reference: the same lines over the whole, cut once by shapely.
    u = np.array([math.cos(math.radians(30)), math.sin(math.radians(30))])
    n = np.array([-u[1], u[0]])
    middle = np.array(inside.centroid.coords[0])
    whole = sum(
        LineString([middle + n * k * spacing - 99 * u, middle + n * k * spacing + 99 * u])
        .intersection(inside)
        .length
        for k in range(-40, 41)
    )
    assert sum(s.curve.length for s in plan.strokes) == pytest.approx(whole, rel=2e-2)
    for s in plan.strokes:
        off = math.remainder(s.curve.start_heading_rad - math.radians(30), math.pi)
        assert abs(off) * s.curve.length < 2 / 16 + 1e-9  # only to go through a junction


def test_rows_follow_one_another_across_seams():
    plan = run(lines, grid(5, 4, 3.0), angle_deg=20.0)
    rows = {}
    for s in plan.strokes:
        rows.setdefault(s.line, []).append(s)
    for mine in rows.values():
        ends = np.array([q for s in mine for q in (s.curve.start, s.curve.end)])
        gap = np.hypot(*np.moveaxis(ends[:, None] - ends[None], -1, 0)) + 9 * np.eye(len(ends))
        assert (gap.min(axis=1) < 1e-9).sum() == len(ends) - 2


def test_a_crosshatch_through_the_corners_uses_the_junctions():
    top = sewn(grid(4, 4, 3.0), np.random.default_rng(3), 1 / 64)
    side = 3.0 / math.sqrt(2)
    plan = run(crosshatch, top, spacing_in=side)
    at = {j.xy for j in top.junctions}
    inner = [s for s in plan.strokes if s.curve.length > 4]
    assert inner
    assert sum(s.curve.start in at or s.curve.end in at for s in inner) > 0.8 * len(inner)


def test_where_a_line_lies_in_a_seam_the_ditch_is_stitched():
    # Three level seam lines of four seams each: left out, they would leave gaps twice as wide.
    top = grid(4, 4, 3.0)
    plan = run(lines, top, angle_deg=0.0, spacing_in=3.0)  # counted from a seam in the middle
    assert {s.kind for s in plan.strokes} == {"ditch"}
    assert all(s.required and s.curve.start[1] == s.curve.end[1] for s in plan.strokes)
    assert len(plan.strokes) == 12
    assert sorted({round(s.curve.start[1], 6) for s in plan.strokes}) == [3.25, 6.25, 9.25]
    assert run(lines, top, angle_deg=0.0, spacing_in=1.5).strokes


def test_crosshatch_has_both_directions():
    headings = {
        round(math.degrees(s.curve.start_heading_rad)) % 180
        for s in run(crosshatch, on_point(2, 2), angle_deg=0.0, spacing_in=1.0).strokes
    }
    assert headings == {0, 90}


@pytest.mark.parametrize("depth", [None, 0.5])
def test_outline_keeps_its_distance_from_every_side(depth):
    top = pinwheels(4, 4)
    area = lay_out(top)
    plan = run(outline, top, depth_in=depth)
    rings = [s for s in plan.strokes if s.required]
    assert len(rings) == len(top.patches)
    for s in rings:
        shape = area.outlines[s.patch].polygon.exterior
        assert s.curve.start == s.curve.end
        gaps = [shape.distance(Point(q)) for q in s.curve.sampled()]
        assert gaps == pytest.approx([depth or 0.25] * len(gaps), abs=1e-6)


def test_outline_leads_join_the_ring_to_the_seams():
    top = grid(3, 3)
    plan = run(outline, top)
    seams = [LineString(s.points) for s in top.seams]
    for ring in (s for s in plan.strokes if s.required):
        leads = [s for s in plan.strokes if s.patch == ring.patch and not s.required]
        assert len(leads) == 2
        assert all(s.curve.start == ring.curve.start for s in leads)
        assert len({s.curve.end for s in leads}) == 2
        for s in leads:
            assert min(seam.distance(Point(s.curve.end)) for seam in seams) < 1e-9
            assert s.curve.length < 0.5


def test_thin_patches_have_no_room_for_a_ring():
    top = top_from([box(0, 0, 9, 3), box(0, 3, 9, 3.45), box(0, 3.45, 9, 7)])
    assert run(outline, top).left_out == (1,)
