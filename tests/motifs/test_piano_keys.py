"""Piano keys: spacing, corners, seams."""

import math
from collections import Counter

import numpy as np
import pytest
from tests.motifs.asserts import assert_stitchable
from tests.motifs.framed import framed, run
from tests.motifs.test_plan import shape
from tests.motifs.tops import grid, moved, sewn, sizes_of

from seamwalk.model.choice import MotifChoice
from seamwalk.model.machine import MachineProfile
from seamwalk.motifs.piano_keys import piano_keys
from seamwalk.motifs.plan import make_strokes
from seamwalk.routing.graph import network
from seamwalk.routing.route import plan_route

CORNERS = ["mitred", "butted", "log cabin", "corner square"]


@pytest.mark.parametrize("spacing", [1.0, 1.5, 1.7])
@pytest.mark.parametrize("corner", CORNERS)
def test_keys_divide_each_side_into_equal_parts(corner, spacing):
    # 30 × 40 in finished, 4 in wide: between the inner corners 22 and 32 in.
    top, (patches,) = framed(30, 40, [(4, corner)])
    plan = run(piano_keys, top, patches, spacing_in=spacing)
    at_top = [s for s in plan.strokes if max(s.curve.start[1], s.curve.end[1]) < 4.25 + 1e-6]
    upright = [s for s in at_top if abs(s.curve.start[0] - s.curve.end[0]) < 1e-9]
    xs = np.array(sorted({round(s.curve.start[0], 6) for s in upright}))
    inner = xs[(xs > 4.25 + 1e-6) & (xs < 26.25 - 1e-6)]
    count = round(22 / spacing)
    assert inner == pytest.approx(4.25 + 22 * np.arange(1, count) / count)
    for s in upright:
        if 4.3 < s.curve.start[0] < 26.2:
            assert s.curve.length == pytest.approx(4)


@pytest.mark.parametrize("corner", CORNERS)
def test_keys_of_two_sides_meet_on_a_corners_diagonal(corner):
    top, (patches,) = framed(30, 40, [(4, corner)])
    plan = run(piano_keys, top, patches, spacing_in=1.0)
    ends = Counter(q for s in plan.strokes for q in (s.curve.start, s.curve.end))
    # Four keys in 4 in; on the diagonal from (0.25, 0.25) to (4.25, 4.25) they meet at 1, 2, 3 in.
    for d in (1.25, 2.25, 3.25):
        meeting = [q for q in ends if math.dist(q, (d, d)) < 1e-9]
        assert sum(ends[q] for q in meeting) == 2


def test_a_key_in_a_seam_is_left_to_the_ditch():
    # At a butted corner one of the two keys through the inner corner is the strip's own seam.
    top, (patches,) = framed(30, 40, [(4, "butted")])
    plan = run(piano_keys, top, patches, spacing_in=2.0)
    through = [
        s
        for s in plan.strokes
        if min(math.dist(q, (4.25, 4.25)) for q in (s.curve.start, s.curve.end)) < 1e-9
    ]
    assert len(through) == 1
    assert through[0].curve.start[0] == pytest.approx(through[0].curve.end[0])


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("corner", CORNERS)
def test_they_can_be_stitched_on_a_top_with_piecing_errors(corner, seed):
    top, (patches,) = framed(24, 30, [(3, corner)])
    top = sewn(top, np.random.default_rng(seed))
    choices = [MotifChoice(tuple(patches), "piano-keys")]
    plan = make_strokes(top, sizes_of(top), choices)
    assert_stitchable(plan.strokes, top)
    assert sum(s.required for s in plan.strokes) > 50


def test_patches_that_are_no_strips_are_left_out():
    top = grid(3, 3)
    plan = run(piano_keys, top)
    assert plan.strokes == ()
    assert plan.left_out == tuple(p.id for p in top.patches)


@pytest.mark.parametrize("mirror", [False, True])
def test_turning_and_mirroring_the_top_does_the_same_to_its_keys(mirror):
    top, (patches,) = framed(24, 30, [(3, "mitred")])
    cos, sin = math.cos(0.7), math.sin(0.7)

    def place(p):
        x, y = (-p[0], p[1]) if mirror else p
        return (cos * x - sin * y + 3.0, sin * x + cos * y - 11.0)

    before = run(piano_keys, top, patches).strokes
    after = run(piano_keys, moved(top, place), patches).strokes
    rows = np.array([shape(s) for s in after])
    rows = np.vstack([rows, rows[:, [2, 3, 0, 1, 4, 5]]])
    assert len(after) == len(before)
    for s in before:
        assert np.abs(rows - shape(s, place)).max(axis=1).min() < 1e-6


def test_twice_the_size_has_the_same_keys_twice_as_far_apart():
    # Reference: similarity; the allowance stays 1/4 in, so the finished sizes are doubled.
    small, (patches,) = framed(20, 26, [(3, "butted")])
    large, _ = framed(40, 52, [(6, "butted")])
    one = run(piano_keys, small, patches, spacing_in=1.0).strokes
    two = run(piano_keys, large, patches, spacing_in=2.0).strokes
    assert len(one) == len(two)
    for a, b in zip(one, two, strict=True):
        for p, q in ((a.curve.start, b.curve.start), (a.curve.end, b.curve.end)):
            assert q == pytest.approx([2 * (v - 0.25) + 0.25 for v in p], abs=1e-9)


@pytest.mark.parametrize("corner", CORNERS)
def test_no_end_is_buried(corner):
    top, (patches,) = framed(24, 30, [(3, corner)])
    plan = make_strokes(top, sizes_of(top), [MotifChoice(tuple(patches), "piano-keys")])
    route = plan_route(network(plan.strokes), MachineProfile())
    assert route.totals.buried_ends == 0
