"""Runs and stops against the route they come from."""

import itertools
import math

import pytest
from tests.sheets.sampler import Builder, line, sampler_route

from seamwalk.sheets.walk import chopped, length_in, runs, stops


def test_runs_follow_on_and_add_up_to_the_stitched_length():
    route = sampler_route()
    walk = runs(route)
    assert len(walk) == sum(len(t.legs) for t in route.threads)
    for a, b in itertools.pairwise(walk):
        assert b.from_in == a.to_in
        if a.thread == b.thread:
            assert math.dist(a.curve.end, b.curve.start) < 1e-9
    assert length_in(walk) == pytest.approx(route.totals.stitched_in)


def test_styles_tell_passes_and_travel_apart():
    b = Builder()
    b.stitch(line((0, 0), (1, 0)), "ditch")
    b.stitch(line((1, 0), (2, 0)), "ditch", required=False)
    b.stitch(line((2, 0), (1, 0)), "ditch", required=False)
    b.stitch(line((1, 0), (0, 0)), "ditch")
    b.stitch(line((0, 0), (0, 1)), pass_no=2)
    walk = runs(b.route())
    assert [r.style for r in walk] == ["first", "travel", "travel", "second", "second"]


def test_two_passes_in_one_place_move_to_different_sides_of_the_cloth():
    b = Builder()
    b.stitch(line((0, 0), (1, 0)), "ditch")
    b.stitch(line((1, 0), (0, 0)), "ditch")
    out, back = runs(b.route())
    # Right of "to the right" is down the page; right of "to the left" is up.
    aside = [r.side * math.cos(r.curve.start_heading_rad) for r in (out, back)]
    assert sorted(aside) == pytest.approx([-1, 1])
    assert [r.side for r in runs(sampler_route())].count(0) > 40


def test_every_thread_has_one_start_and_one_end_at_its_ends():
    route = sampler_route()
    walk = runs(route)
    found = stops(walk)
    for number in range(len(route.threads)):
        legs = [r for r in walk if r.thread == number]
        start = [s for s in found if s.thread == number and s.kind == "start"]
        end = [s for s in found if s.thread == number and s.kind == "end"]
        assert [s.at for s in start] == [legs[0].curve.start]
        assert [s.at for s in end] == [legs[-1].curve.end]
    steps = {r.step for r in walk}
    assert {s.step for s in found if s.kind != "end"} == steps


@pytest.mark.parametrize("steps", [1, 7, 48])
def test_chopped_pieces_make_up_the_run_and_their_shares_rise(steps):
    walk = runs(sampler_route())
    total = length_in(walk)
    shares = []
    for run in walk:
        parts = chopped(run, total, steps)
        assert sum(c.length for c, _ in parts) == pytest.approx(run.curve.length)
        assert parts[0][0].start == run.curve.start
        assert math.dist(parts[-1][0].end, run.curve.end) < 1e-9
        shares += [s for _, s in parts]
    assert shares == sorted(shares)
    assert 0 < shares[0] < shares[-1] < 1
