"""Curves laid over patches and cut at seams."""

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from tests.motifs.asserts import line
from tests.motifs.tops import box, grid, hexagons, sewn, top_from

from seamwalk.geometry.curve import Arc, Curve, Line
from seamwalk.model.choice import MotifChoice
from seamwalk.model.machine import MachineProfile
from seamwalk.motifs.area import lay_out
from seamwalk.motifs.laid_over import Laid, laid_over
from seamwalk.motifs.motif import Region


def region_of(top, patches=None):
    ids = tuple(p.id for p in top.patches) if patches is None else tuple(patches)
    return Region(lay_out(top), ids, MachineProfile())


def laid(*pieces, **more):
    return Laid("c", Curve(pieces), "row", "ruler", **more)


def test_a_line_over_squares_is_cut_at_each_seam_by_hand():
    # 3 in squares, the first seam 3 1/4 in from the raw edge, the binding line at 1/4 in.
    region = region_of(grid(3, 1))
    strokes = laid_over(region, [laid(Line((-5.0, 1.0), (20.0, 1.0)))], MotifChoice((), "m"))
    assert [s.curve.start[0] for s in strokes] == pytest.approx([0.25, 3.25, 6.25])
    assert [s.curve.end[0] for s in strokes] == pytest.approx([3.25, 6.25, 9.25])
    assert [s.patch for s in strokes] == [0, 1, 2]
    assert all(a.curve.end == b.curve.start for a, b in pairwise(strokes))


@pytest.mark.parametrize("seed", range(4))
def test_nothing_is_lost_and_each_part_stays_in_its_patch(seed):
    top = sewn(hexagons(4, 3), np.random.default_rng(seed))
    region = region_of(top)
    curves = [
        laid(Arc((-9.0 + k, 5.0), (25.0 + k, 6.0), (8.0 + k, 60.0), 0.6))
        for k in np.linspace(0.0, 3.0, 5)
    ]
    # An arc from its own ends, since the one above only names them roughly.
    curves = [
        laid(Arc.by_rise(c.curve.start, c.curve.end, rise))
        for c, rise in zip(curves, (-6.0, -3.0, 0.4, 2.0, 5.0), strict=True)
    ]
    area = region.area
    for one in curves:
        strokes = laid_over(region, [one], MotifChoice((), "m"))
        # Reference: GEOS cuts the sampled curve by the region's shape.
        whole = line(one.curve).intersection(region.polygon).length
        assert sum(s.curve.length for s in strokes) == pytest.approx(whole, abs=0.15)
        for s in strokes:
            assert area.outlines[s.patch].polygon.buffer(1e-5).covers(line(s.curve))
            (radius,) = {round(p.radius, 6) for p in s.curve}
            assert radius == pytest.approx(one.curve.smallest_radius, abs=1e-5)


def test_through_a_junction_there_is_one_cut():
    top = grid(2, 2)
    diagonal = laid(Line((0.0, 0.0), (6.5, 6.5)))
    strokes = laid_over(region_of(top), [diagonal], MotifChoice((), "m"))
    assert len(strokes) == 2
    assert strokes[0].curve.end == strokes[1].curve.start == pytest.approx((3.25, 3.25))


def test_a_curve_of_many_pieces_stays_one_between_seams():
    top = top_from([box(0, 0, 10, 4)])
    bends = [(1.0, 1.0), (3.0, 2.0), (5.0, 1.0), (7.0, 2.0), (12.0, 2.0)]
    pieces = [Line(a, b) for a, b in pairwise(bends)]
    (stroke,) = laid_over(region_of(top), [laid(*pieces)], MotifChoice((), "m"))
    assert len(stroke.curve.pieces) == 4
    assert stroke.curve.end == pytest.approx((9.75, 2.0))


def test_crumbs_at_the_border_are_dropped_and_real_parts_are_not():
    top = top_from([box(0, 0, 10, 4)])
    # Across the corner of the binding line at (0.25, 0.25), 0.1 in and 0.5 in from it.
    for gap, kept in ((0.05, 0), (0.25, 1)):
        across = Line((0.25 + gap + 1, -0.75), (-0.75, 0.25 + gap + 1))
        assert len(laid_over(region_of(top), [laid(across)], MotifChoice((), "m"))) == kept


def test_travel_on_top_is_the_same_curve_once_more():
    strokes = laid_over(
        region_of(grid(2, 1)),
        [laid(Line((-1.0, 1.0), (9.0, 1.0)), again=True)],
        MotifChoice((), "m"),
    )
    assert [s.required for s in strokes] == [True, False, True, False]
    assert strokes[0].curve == strokes[1].curve
    assert len({s.id for s in strokes}) == 4


def test_it_can_be_kept_to_some_of_the_patches():
    region = region_of(grid(3, 1))
    one = region.outlines[1]
    (stroke,) = laid_over(
        region, [laid(Line((-5.0, 1.0), (20.0, 1.0)))], MotifChoice((), "m"), [one]
    )
    assert stroke.patch == one.patch
    assert shapely.covers(one.polygon, line(stroke.curve))
    assert math.isclose(stroke.curve.length, 3.0, abs_tol=1e-9)
