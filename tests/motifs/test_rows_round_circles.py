"""Clamshells and cables drawn round circles that she owns: exactly these, and as few as suit."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.motifs.asserts import assert_stitchable
from tests.motifs.framed import framed
from tests.motifs.tops import DESIGNS, box, grid, sizes_of, top_from

from seamwalk.model.machine import MachineProfile
from seamwalk.motifs.circle_choice import CircleSettings
from seamwalk.motifs.plan import choose, make_strokes

OWNED = (2.125, 2.75, 3.3, 4.1, 5.2, 6.6)


def planned(top, wish, circles=OWNED, radius=1.0):
    sizes = sizes_of(top)
    machine = MachineProfile(smallest_radius_in=radius)
    return make_strokes(top, sizes, choose(top, sizes, [wish]), machine, circles_in=circles)


def radii(plan):
    return [p.radius for s in plan.strokes if s.required and s.kind == "motif" for p in s.curve]


@settings(max_examples=15, deadline=None)
@given(st.sampled_from(sorted(DESIGNS)), st.floats(1.1, 3.2))
def test_scales_take_the_circle_that_is_nearest_in_size(design, radius):
    plan = planned(DESIGNS[design](), f"all=clamshells spacing={radius:.3f}")
    (found,) = plan.circles.classes
    # Nearest by the ratio of sizes, as for arches (a class of its own has nothing to share).
    nearest = min(OWNED, key=lambda d: abs(math.log(d / (2 * radius))))
    assert found.circle.diameter_in == nearest
    assert radii(plan) == pytest.approx([nearest / 2] * len(radii(plan)), abs=1e-6)


def test_scales_without_a_circle_keep_their_size_and_need_a_template():
    plan = planned(grid(3, 3, 4.0), "all=clamshells", circles=(1.5, 9.0))
    assert plan.circles.diameters_in == ()
    assert {s.marking for s in plan.strokes if s.required} == {"template"}
    assert radii(plan) == pytest.approx([2.0] * len(radii(plan)))


def test_limits_of_the_look_hold_for_scales_too():
    limits = CircleSettings()
    smallest, largest = 4.0 / limits.fullest, 4.0 / limits.flattest
    top = grid(3, 3, 4.0)
    for diameter, fits in ((smallest + 0.01, True), (smallest - 0.01, False)):
        assert bool(planned(top, "all=clamshells", (diameter,)).circles.diameters_in) is fits
    for diameter, fits in ((largest - 0.01, True), (largest + 0.01, False)):
        assert bool(planned(top, "all=clamshells", (diameter,)).circles.diameters_in) is fits


def test_no_scale_is_tighter_than_the_foot():
    plan = planned(grid(3, 3, 4.0), "all=clamshells spacing=2.1", (3.3, 4.1, 5.2), radius=2.06)
    assert plan.circles.diameters_in == (5.2,)


def test_one_circle_for_arches_and_scales():
    # Arches of 3 in wish for 4.66 in, scales of 2 1/4 in for 4 1/2 in: one of 4.6 in serves both.
    top = grid(4, 4, 3.0)
    sizes = sizes_of(top)
    wishes = ["all=arches", *(f"patch {k}=clamshells spacing=2 1/4" for k in range(8))]
    plan = make_strokes(top, sizes, choose(top, sizes, wishes), circles_in=(4.3, 4.6, 5.0))
    assert {c.arcs.motif for c in plan.circles.classes} == {"arches", "clamshells"}
    assert plan.circles.diameters_in == (4.6,)


@pytest.mark.parametrize("motif", ["cable", "three-strand-cable"])
@given(st.floats(24, 60), st.floats(3.0, 5.0))
@settings(max_examples=15, deadline=None)
def test_a_strip_s_arcs_are_all_of_one_circle_and_fill_it(motif, length, width):
    top = top_from([box(0, 0, length + 0.5, width + 0.5)])
    plan = planned(top, f"all={motif}")
    (found,) = plan.circles.classes
    # Strips of these widths wish for 3.5 to 5.8 in.
    assert found.circle is not None
    drawn = radii(plan)
    assert drawn == pytest.approx([found.circle.diameter_in / 2] * len(drawn), abs=1e-6)
    # Whole arcs: strand number one meets the middle line at both ends of the strip.
    ends = [q for s in plan.strokes if s.required for q in (s.curve.start, s.curve.end)]
    middle = 0.25 + width / 2
    for x in (0.25, length + 0.25):
        assert min(math.dist(q, (x, middle)) for q in ends) < 1e-6
    assert_stitchable(plan.strokes, top)


def test_strips_of_any_length_share_a_circle():
    # Sashing of four lengths: fitted one by one each would have its own.
    rings = []
    y = 0.0
    for length in (21.0, 24.5, 28.0, 33.0):
        rings += [box(0, y, length, y + 3), box(length, y, 40.0, y + 3)]
        y += 3
    top = top_from(rings)
    plan = planned(top, "all=cable")
    assert len(plan.circles.diameters_in) == 1
    assert np.ptp(radii(plan)) < 1e-6


def test_a_border_that_turns_corners_is_fitted_to_its_sides():
    top, (patches,) = framed(33, 42, [(4, "mitred")])
    plan = planned(top, "all=cable")
    assert plan.circles.classes == ()
    assert any(s.patch in patches for s in plan.strokes if s.required)
