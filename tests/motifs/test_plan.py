"""Strokes of whole tops: joined, inside, stitchable, the same however the top lies."""

import math

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from scipy.spatial import cKDTree
from tests.motifs.asserts import assert_stitchable
from tests.motifs.tops import DESIGNS, grid, moved, sewn, sizes_of

from seamwalk.model.choice import MotifChoice
from seamwalk.model.machine import MachineProfile
from seamwalk.model.stitching import Stroke
from seamwalk.model.top import Top
from seamwalk.motifs.plan import choose, make_strokes

EVERYWHERE = [
    "arches",
    "cable",
    "clamshells",
    "crosshatch",
    "ditch",
    "fans",
    "leaf-diagonals",
    "leaf-lines",
    "lines",
    "outline",
    "piano-keys",
    "spiral",
    "three-strand-cable",
    "waves",
]


def strokes_of(top: Top, *wishes: str) -> tuple[Stroke, ...]:
    sizes = sizes_of(top)
    return make_strokes(top, sizes, choose(top, sizes, wishes)).strokes


@pytest.mark.parametrize("design", DESIGNS)
def test_default_plan_is_stitchable(design):
    top = DESIGNS[design]()
    strokes = strokes_of(top)
    assert_stitchable(strokes, top)
    assert any(s.required for s in strokes)


@pytest.mark.parametrize("motif", EVERYWHERE)
@pytest.mark.parametrize("design", DESIGNS)
def test_every_motif_fits_every_top(design, motif):
    top = DESIGNS[design]()
    assert_stitchable(strokes_of(top, f"all={motif}"), top)


@settings(max_examples=25, deadline=None, phases=[Phase.generate])
@given(
    st.sampled_from(sorted(DESIGNS)),
    st.sampled_from([None, *EVERYWHERE, "lines angle=30 spacing=1.7", "waves angle=70"]),
    st.integers(0, 10**6),
)
def test_piecing_errors_change_nothing_that_must_hold(design, motif, seed):
    top = sewn(DESIGNS[design](), np.random.default_rng(seed))
    wishes = [] if motif is None else [f"all={motif}"]
    assert_stitchable(strokes_of(top, *wishes), top)


def shape(stroke: Stroke, place=lambda p: p) -> list[float]:
    """Return ends and middle: enough to tell two lines or arcs apart."""
    curve = stroke.curve
    half = curve.part(0, curve.length / 2).end
    return [*place(curve.start), *place(curve.end), *place(half)]


@settings(max_examples=15, deadline=None, phases=[Phase.generate])
@given(
    st.sampled_from(sorted(DESIGNS)),
    st.sampled_from(["default", "arches", "leaf-lines", "leaf-diagonals", "ditch"]),
    st.floats(-3.1, 3.1),
    st.floats(-50, 50),
    st.booleans(),
)
def test_turning_shifting_and_mirroring_the_top_moves_its_strokes(design, motif, angle, d, mirror):
    top = DESIGNS[design]()
    sizes = sizes_of(top)
    choices = choose(top, sizes, [] if motif == "default" else [f"all={motif}"])
    c, s = math.cos(angle), math.sin(angle)

    def place(p):
        x, y = (-p[0], p[1]) if mirror else p
        return (c * x - s * y + d, s * x + c * y - d / 2)

    before = [s for s in make_strokes(top, sizes, choices).strokes if s.required]
    after = [s for s in make_strokes(moved(top, place), sizes, choices).strokes if s.required]
    assert len(after) == len(before)
    rows = np.array([shape(s) for s in after])
    tree = cKDTree(np.vstack([rows, rows[:, [2, 3, 0, 1, 4, 5]]]))  # either direction
    gap, _ = tree.query(np.array([shape(s, place) for s in before]))
    assert gap.max() < 1e-5


def test_same_seam_asked_for_twice_is_sewn_once():
    top = grid(3, 3)
    sizes = sizes_of(top)
    patches = [p.patch for p in sizes.patches]
    one = make_strokes(top, sizes, [MotifChoice(tuple(patches), "ditch")]).strokes
    two = make_strokes(
        top,
        sizes,
        [MotifChoice(tuple(patches[:4]), "ditch"), MotifChoice(tuple(patches[4:]), "ditch")],
    ).strokes
    assert {s.id for s in one if s.required} == {s.id for s in two if s.required}
    assert len(two) == len(one)
    assert all(s.required for s in one if s.kind == "ditch")


def test_nothing_chosen_leaves_only_the_ground():
    top = grid(3, 2)
    strokes = strokes_of(top, "all=none")
    assert not any(s.required for s in strokes)
    assert {s.kind for s in strokes} == {"ditch", "edge"}


def test_a_patch_that_does_not_fit_gets_the_ditch_and_a_warning():
    top = grid(3, 3, side=0.7)
    sizes = sizes_of(top)
    plan = make_strokes(top, sizes, choose(top, sizes, ["all=outline"]))
    assert "ditch" in plan.warnings[0]
    assert any(s.kind == "ditch" and s.required for s in plan.strokes)


def test_a_foot_that_turns_wide_flattens_arches_and_says_so():
    top = grid(3, 3, side=2.0)
    sizes = sizes_of(top)
    plan = make_strokes(top, sizes, choose(top, sizes), MachineProfile(smallest_radius_in=2.5))
    arcs = [s for s in plan.strokes if s.required]
    assert min(s.curve.smallest_radius for s in arcs) == pytest.approx(2.5)
    assert "flatter" in plan.warnings[0]
