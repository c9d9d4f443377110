"""A seam line in doubt is asked about once, and every seam in doubt is on exactly one line."""

from collections import Counter
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.sheets.sampler import grid_top
from tests.vision.exact_tops import exact_top

from seamwalk.sheets.doubtful_lines import doubtful_lines
from seamwalk.sheets.seam_style import sureness

TOP = grid_top(5, 4)


def with_confidence(top, of):
    """The top with a confidence for each seam; the others as they are."""
    seams = tuple(replace(s, confidence=of.get(s.id, s.confidence)) for s in top.seams)
    return replace(top, seams=seams)


def on_line(top, axis, value):
    """Ids of the seams that lie on x = value (axis 0) or y = value."""
    return [s.id for s in top.seams if all(p[axis] == value for p in s.points)]


def test_a_whole_line_is_one():
    pieces = on_line(TOP, 0, 8.0)
    (line,) = doubtful_lines(with_confidence(TOP, dict.fromkeys(pieces, 0.5)))
    assert len(pieces) == 4
    assert {s.id for s in line.seams} == set(pieces)
    ys = [s.points[0][1] for s in line.seams]
    assert ys in (sorted(ys), sorted(ys, reverse=True))
    assert line.sureness == "unsure"
    assert line.sure == pytest.approx(0.5)
    assert line.wrong_in == pytest.approx(0.5 * 16)


def test_a_sure_piece_between_does_not_part_a_line_but_a_crossing_does():
    first, *_, last = on_line(TOP, 0, 8.0)
    across = on_line(TOP, 1, 8.0)[0]
    lines = doubtful_lines(with_confidence(TOP, {first: 0.5, last: 0.8, across: 0.7}))
    assert sorted(len(line.seams) for line in lines) == [1, 2]
    mixed = max(lines, key=lambda line: len(line.seams))
    # The worst piece speaks for the line and is where to look.
    assert [s.id for s in mixed.worst] == [first]
    assert (mixed.look_at.id, mixed.sure, mixed.sureness) == (first, 0.5, "unsure")


def test_the_outer_edge_is_apart_from_seams_and_turns_its_corners():
    edges = [*on_line(TOP, 1, 0.0), *on_line(TOP, 0, 20.0)]
    seam = on_line(TOP, 0, 8.0)[0]
    lines = doubtful_lines(with_confidence(TOP, dict.fromkeys([*edges, seam], 0.7)))
    assert sorted(len(line.seams) for line in lines) == [1, 4, 5]


@settings(max_examples=25, deadline=None)
@given(st.lists(st.sampled_from([0.2, 0.7, 0.95]), min_size=49, max_size=49))
def test_every_doubt_is_told_exactly_once_and_lines_are_straight(values):
    top = with_confidence(TOP, {s.id: v for s, v in zip(TOP.seams, values, strict=True)})
    lines = doubtful_lines(top)
    told = Counter(s.id for line in lines for s in line.seams)
    assert told == Counter(s.id for s in top.seams if sureness(s) != "sure")
    for line in lines:
        points = np.array([p for s in line.seams for p in s.points])
        assert (np.ptp(points, axis=0) == 0).any()
    # Straight lines of a grid: three across and four upright inside, four sides outside.
    assert len(lines) <= 3 + 4 + 4


def test_a_seam_that_closes_on_itself_is_one_line():
    turn = np.linspace(0, 2 * np.pi, 36, endpoint=False) + np.pi / 2
    ring = [(round(float(np.cos(a)) * 3, 9), round(float(np.sin(a)) * 3, 9)) for a in turn]
    circle = shapely.Polygon(ring)
    left = [ring[0], *ring[1:19], (0.0, -5.0), (-5.0, -5.0), (-5.0, 5.0), (0.0, 5.0)]
    right = [ring[18], *ring[19:], ring[0], (0.0, 5.0), (5.0, 5.0), (5.0, -5.0), (0.0, -5.0)]
    top = exact_top([circle, shapely.Polygon(left), shapely.Polygon(right)])
    round_seams = {s.id: 0.7 for s in top.seams if all(np.hypot(*p) < 4 for p in s.points)}
    assert len(round_seams) == 36
    (line,) = doubtful_lines(with_confidence(top, round_seams))
    assert {s.id for s in line.seams} == set(round_seams)


def test_of_two_ways_on_the_straighter_is_taken():
    def on_circle(deg):
        a = np.radians(deg)
        return (round(float(np.cos(a)) * 5, 9), round(float(np.sin(a)) * 5, 9))

    ends = [on_circle(d) for d in (-8, 5, 90, 180, 270)]
    pieces = [shapely.Polygon([(0.0, 0.0), a, b]) for a, b in pairwise([*ends, ends[0]])]
    top = exact_top(pieces)
    of = {
        s.id: 0.5
        for s in top.seams
        if s.kind == "seam" and abs(s.points[0][0] + s.points[1][0]) > 1
    }
    assert len(of) == 3
    lines = doubtful_lines(with_confidence(top, of))
    joined = max(lines, key=lambda line: len(line.seams))
    assert sorted(len(line.seams) for line in lines) == [1, 2]
    assert {p for s in joined.seams for p in s.points} == {(0.0, 0.0), ends[1], ends[3]}


def test_nothing_in_doubt_gives_no_line():
    assert doubtful_lines(TOP) == ()
