"""Density of stitching: closed cases by geometry, and what is called lopsided."""

import math

import numpy as np
import pytest
from scipy.special import erf
from tests.motifs.tops import box, grid, sizes_of, top_from

from seamwalk.geometry.curve import Arc, Curve
from seamwalk.model.choice import MotifChoice
from seamwalk.motifs.area import lay_out
from seamwalk.motifs.density import DensitySettings, density_report
from seamwalk.motifs.plan import choose, make_strokes

SIDE = 40.0
TOP = top_from(
    [box(0, 0, SIDE / 2 + 0.25, SIDE + 0.5), box(SIDE / 2 + 0.25, 0, SIDE + 0.5, SIDE + 0.5)]
)
AREA = lay_out(TOP)
LEFT, RIGHT = MotifChoice((0,), "lines"), MotifChoice((1,), "crosshatch")


def upright(spacing, x0=0.25, x1=SIDE + 0.25):
    """Return lines half a spacing from the edge, then a spacing apart, inside the binding."""
    at = np.arange(x0 + spacing / 2, x1, spacing)
    return [Curve.through([(x, 0.25), (x, SIDE + 0.25)]) for x in at]


def value_at(report, x, y):
    found = report.map
    column, row = ((v - o) / found.cell_in for v, o in zip((x, y), found.origin, strict=True))
    return found.per_sq_in[int(row), int(column)]


@pytest.mark.parametrize("spacing", [1.0, 2.0, 2.5])
def test_parallel_lines_have_the_density_of_one_over_their_distance(spacing):
    # s inches of line for every s × s of cloth: 1/s (geometry by hand).
    report = density_report(upright(spacing), AREA, [LEFT, RIGHT])
    assert report.whole.mean == pytest.approx(1 / spacing, rel=1e-6)
    assert value_at(report, 20, 20) == pytest.approx(1 / spacing, rel=0.02)
    assert report.whole.variation < 0.03
    assert report.between_regions == pytest.approx(1.0, rel=0.01)
    assert not report.lopsided


def test_length_is_kept_and_every_pass_counts():
    circle = Curve((Arc((15, 20), (25, 20), (20, 20), math.pi),))
    once = density_report([circle], AREA, [LEFT])
    twice = density_report([circle, circle.reversed()], AREA, [LEFT])
    assert once.whole.mean * SIDE**2 == pytest.approx(5 * math.pi, rel=1e-6)
    assert twice.whole.mean == pytest.approx(2 * once.whole.mean)


def test_what_lies_beyond_the_binding_line_does_not_count():
    margin = Curve.through([(0.1, 0.1), (0.1, 40.0)])
    assert density_report([margin], AREA, [LEFT]).whole.mean == 0


def test_the_mean_is_a_gaussian_one_as_wide_as_it_says():
    """Half the top stitched: across the border the profile is erf (a Gaussian's integral)."""
    sigma = DensitySettings().across_in / 4
    # Lines through the middles of every other cell; each stands for 1/4 in on both sides.
    report = density_report(upright(0.5, 0.125, 20.2), AREA, [LEFT, RIGHT])
    cell, (x0, _) = report.map.cell_in, report.map.origin
    for column in (65, 75, 79, 81, 85, 95):
        away = x0 + (column + 0.5) * cell - 20.125
        expected = 2.0 * (1 - erf(away / sigma / math.sqrt(2))) / 2
        assert report.map.per_sq_in[80, column] == pytest.approx(expected, abs=0.02)


def test_the_edge_is_no_sparser_than_the_middle():
    report = density_report(upright(1.0), AREA, [LEFT])
    assert value_at(report, 1.0, 1.0) == pytest.approx(1.0, rel=0.1)


@pytest.mark.parametrize(("times", "lopsided"), [(2, False), (4, True)])
def test_regions_that_differ_are_lopsided_from_three_times(times, lopsided):
    half = SIDE / 2 + 0.25
    curves = upright(2.0, 0.25, half) + upright(2.0 / times, half)
    report = density_report(curves, AREA, [LEFT, RIGHT])
    assert [r.motif for r in report.regions] == ["crosshatch", "lines"]
    assert report.between_regions == pytest.approx(times, rel=0.01)
    assert report.lopsided is lopsided


def test_ends_of_one_region_that_differ_are_lopsided_too():
    curves = upright(4.0, 0.25, 20.25) + upright(0.5, 20.25)
    report = density_report(curves, AREA, [MotifChoice((0, 1), "lines")])
    assert report.between_regions == 1.0
    assert report.between_ends > 3
    assert report.densest[0] > 20 > report.sparsest[0]


def test_a_region_without_stitching_is_infinitely_sparser():
    report = density_report(upright(1.0, 0.25, 20.25), AREA, [LEFT, MotifChoice((1,), "none")])
    assert report.between_regions == math.inf
    assert report.lopsided


def test_what_repeats_from_block_to_block_is_not_lopsided():
    # Arches leave the middles of 6 in squares open: uneven, but the same all over.
    top = grid(6, 6, 6.0)
    area, sizes = lay_out(top), sizes_of(top)
    choices = choose(top, sizes, ["all=arches"], area=area)
    strokes = make_strokes(top, sizes, choices, area=area).strokes
    report = density_report([s.curve for s in strokes if s.required], area, choices)
    assert report.whole.ratio > 1.5
    assert not report.lopsided


def test_mirroring_the_stitching_mirrors_the_map():
    rng = np.random.default_rng(5)
    ends = rng.uniform(2, 38, (30, 2, 2))
    one = density_report([Curve.through(e) for e in ends], AREA, [LEFT])
    mirrored = [Curve.through((SIDE + 0.5 - x, y) for x, y in e) for e in ends]
    other = density_report(mirrored, AREA, [LEFT])
    # A line that runs exactly between two cells belongs to the one on its right.
    assert np.allclose(one.map.per_sq_in, other.map.per_sq_in[:, ::-1], atol=0.005)


def test_a_small_region_pulls_nothing():
    # Squares at the corners, 4 % of the cloth, without stitching.
    corners = [box(0, 0, 4.25, 4.25), box(36.25, 0, 40.5, 4.25)]
    rest = [box(4.25, 0, 36.25, 4.25), box(0, 4.25, 40.5, 40.5)]
    area = lay_out(top_from([*corners, *rest]))
    lines = [Curve.through([(0.25, y), (40.25, y)]) for y in np.arange(4.5, 40.2, 0.5)]
    lines += [Curve.through([(4.3, y), (36.2, y)]) for y in np.arange(0.5, 4.2, 0.5)]
    report = density_report(
        lines, area, [MotifChoice((0, 1), "none"), MotifChoice((2, 3), "lines")]
    )
    assert report.regions[-1].motif == "none"
    assert report.between_regions == 1.0
    assert not report.lopsided
