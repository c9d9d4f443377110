"""How borders are recognised: sides, corners, nested frames, pieces, sashing."""

import math
from itertools import pairwise

import numpy as np
import pytest
from tests.motifs.framed import framed, region_of
from tests.motifs.tops import box, grid, sewn, top_from

from seamwalk.motifs.borders import borders

CORNERS = ["mitred", "butted", "log cabin", "corner square"]


def lengths(border):
    return [math.dist(*s.centre) for s in border.sides]


@pytest.mark.parametrize("corner", CORNERS)
def test_a_border_goes_round_whatever_its_corners(corner):
    # 30 × 40 in finished, 4 in wide: the middle lines are 26 and 36 in long.
    top, (patches,) = framed(30, 40, [(4, corner)])
    (border,) = borders(region_of(top, patches))
    assert border.closed
    assert border.corners == ("butted" if corner == "log cabin" else corner,) * 4
    assert sorted(lengths(border)) == pytest.approx([26, 26, 36, 36])
    assert border.patches == set(patches)
    assert len(border.squares) == (4 if corner == "corner square" else 0)
    for one, other in zip(border.sides, (*border.sides[1:], border.sides[0]), strict=True):
        assert one.width_in == pytest.approx(4)
        assert one.outer[1] == pytest.approx(other.outer[0])
        assert one.inner[1] == pytest.approx(other.inner[0])
        assert one.centre[1] == pytest.approx(other.centre[0])
        # To the right as seen on the page is inside.
        assert math.remainder(other.heading_rad - one.heading_rad, math.tau) == pytest.approx(
            math.pi / 2
        )
    outer = np.array([s.outer[0] for s in border.sides])
    assert np.ptp(outer, axis=0) == pytest.approx([30, 40])
    inner = np.array([s.inner[0] for s in border.sides])
    assert np.ptp(inner, axis=0) == pytest.approx([22, 32])


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("corner", CORNERS)
def test_piecing_errors_change_nothing(corner, seed):
    top, (patches,) = framed(24, 30, [(3, corner)])
    (border,) = borders(region_of(sewn(top, np.random.default_rng(seed)), patches))
    assert border.closed
    assert sorted(lengths(border)) == pytest.approx([21, 21, 27, 27], abs=0.3)


@pytest.mark.parametrize("outer", CORNERS)
@pytest.mark.parametrize("inner", CORNERS)
def test_borders_inside_one_another_are_told_apart(outer, inner):
    # The same width: only how far inside they lie tells a butted strip which side it turns into.
    top, groups = framed(30, 36, [(2.5, outer), (2.5, inner)])
    found = borders(region_of(top, [p for g in groups for p in g]))
    assert {b.patches for b in found} == {frozenset(g) for g in groups}
    assert all(b.closed for b in found)


def test_strips_in_pieces_are_one_side():
    top, (patches,) = framed(30, 40, [(3, "butted")], pieces=3)
    (border,) = borders(region_of(top, patches))
    assert [len(s.patches) for s in border.sides] == [3, 3, 3, 3]
    assert sorted(lengths(border)) == pytest.approx([27, 27, 37, 37])


def test_without_their_corner_squares_sides_stand_alone():
    top, (patches,) = framed(30, 40, [(4, "corner square")])
    found = borders(region_of(top, patches[:4]))
    assert [b.corners for b in found] == [("open",)] * 4
    assert sorted(x for b in found for x in lengths(b)) == pytest.approx([22, 22, 32, 32])


def test_three_sides_of_a_border_end_openly():
    top, (patches,) = framed(30, 40, [(4, "mitred")])
    (border,) = borders(region_of(top, patches[:3]))
    assert border.corners == ("mitred", "mitred", "open")
    assert not border.closed


def test_sashing_with_cornerstones_is_strips_one_by_one():
    xs = [0, 2, 10, 12, 20, 22]
    rings = [box(a, c, b, d) for a, b in pairwise(xs) for c, d in pairwise(xs)]
    found = borders(region_of(top_from(rings)))
    assert len(found) == 12
    assert all(b.corners == ("open",) for b in found)


def test_squares_are_no_strips():
    assert borders(region_of(grid(4, 4))) == ()
