"""Rows of kinds.  Numbers that patterns give for shapes: facts of the craft, common practice."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.sheets.sampler import grid_top, sampler_sizes

from seamwalk.model.sizes import Finished
from seamwalk.sheets.kinds import PLURALS, counted, kinds, pattern_size, said_with_chance

SHAPES = list(PLURALS)


def _patches(rows):
    """Sizes with a patch for each (shape, class, sides, verdict, chance)."""
    top = grid_top(max(len(rows), 1), 1)
    sizes = sampler_sizes(top)
    patches = tuple(
        replace(
            p,
            shape=shape,
            class_name=name,
            finished=Finished(tuple(sides), 0.0, verdict, chance),
        )
        for p, (shape, name, sides, verdict, chance) in zip(sizes.patches, rows, strict=True)
    )
    return replace(sizes, patches=patches)


@given(
    st.lists(
        st.tuples(
            st.sampled_from(SHAPES),
            st.integers(1, 30),
            st.sampled_from(["right", "off", "cannot tell"]),
        ),
        min_size=1,
        max_size=60,
    ),
    st.integers(1, 12),
)
@settings(max_examples=60, deadline=None)
def test_every_patch_is_counted_once_in_few_rows(found, most):
    sizes = _patches([(s, f"{s} {n}", (float(n),) * 4, v, 1.0) for s, n, v in found])
    rows = kinds(sizes, "in", most)
    assert 1 <= len(rows) <= most
    names = [name for row in rows for name in row.classes]
    assert sorted(names) == sorted({p.class_name for p in sizes.patches})
    for row in rows:
        inside = [p for p in sizes.patches if p.class_name in row.classes]
        verdicts = [p.finished.verdict for p in inside]
        assert row.count == len(inside) == row.right + row.off + row.unsure
        assert (row.right, row.off) == (verdicts.count("right"), verdicts.count("off"))
    assert [row.gathered for row in rows[:-1]] == [False] * (len(rows) - 1)
    counts = [row.count for row in rows if not row.gathered]
    assert counts == sorted(counts, reverse=True)


def test_odd_shapes_share_the_last_row():
    rows = kinds(
        _patches(
            [("square", "square 3", (3.0,) * 4, "right", 1.0)] * 2
            + [("rectangle", "rectangle 3 x 40", (40.0, 3.0, 40.0, 3.0), "off", 1.0)]
            + [("other", f"other {k}", (1.0, 2.0, 3.0), "cannot tell", 1.0) for k in range(9)]
            + [("trapezoid", "trapezoid 5 x 2", (5.0, 2.0, 3.0, 2.0), "right", 1.0)]
        ),
        "in",
    )
    assert [(r.count, r.name, r.size) for r in rows] == [
        (2, "squares", "3 × 3"),
        (1, "rectangle", "3 × 40"),
        (10, "other shapes", ""),
    ]
    assert rows[-1].unsure == 9


@pytest.mark.parametrize(
    ("shape", "sides", "units", "text"),
    [
        ("square", (3.0,) * 4, "in", "3 × 3"),
        ("rectangle", (40.125, 3.0, 40.125, 3.0), "in", "3 × 40 1/8"),
        # Half-square triangles go by their short sides, quarter-square ones by their long one,
        # whose height is half of it.
        ("half-square triangle", (3.0, 4.2426, 3.0), "in", "3 × 3"),
        ("quarter-square triangle", (6.0, 4.2426, 4.2426), "in", "6 × 3"),
        ("hexagon", (2.0,) * 6, "in", "sides 2"),
        ("diamond", (2.5,) * 4, "in", "sides 2 1/2"),
        ("parallelogram", (2.0, 4.0, 2.0, 4.0), "in", "sides 2 × 4"),
        ("kite", (2.0, 2.0, 4.0, 4.0), "in", "2 × 4"),
        ("trapezoid", (5.0, 2.0, 3.0, 2.0), "in", "5 · 2 · 3 · 2"),
        ("square", (4.0 / 2.54,) * 4, "cm", "4.0 × 4.0"),
    ],
)
def test_numbers_are_those_of_a_pattern(shape, sides, units, text):
    assert pattern_size(shape, sides, units) == text


@pytest.mark.parametrize(
    ("chance", "text"),
    [
        (1.0, "3"),
        (0.95, "3"),
        (0.949, "3? 94%"),
        (0.8, "3? 80%"),
        (0.5, "3? 50%"),
        (0.49, "about 3"),
    ],
)
def test_a_size_that_is_not_sure_says_so_and_is_never_rounded_up(chance, text):
    assert said_with_chance("3", chance) == text


def test_a_pattern_in_other_units_has_its_own_numbers_first():
    # 3 in are 7.62 cm, 1.5 in are 3.81 cm (25.4 mm exactly).
    assert pattern_size("rectangle", (1.5, 3, 1.5, 3), "cm", "in") == (
        "1 1/2 × 3 in (3.8 × 7.6 cm)"
    )
    assert pattern_size("square", (4 / 2.54,) * 4, "in", "cm") == "4.0 × 4.0 cm (1 5/8 × 1 5/8 in)"
    sizes = _patches([("square", "square 3 in", (3.0,) * 4, "right", 0.8)])
    assert kinds(replace(sizes, grain_in=0.125), "cm")[0].size_or_question == (
        "3 × 3 in (7.6 × 7.6 cm)? 80%"
    )
    assert kinds(replace(sizes, grain_in=0.5 / 2.54), "cm")[0].size == "7.6 × 7.6"


def test_the_commonest_finished_size_and_the_middle_chance_are_shown():
    rows = [("square", "square 3", (3.0,) * 4, "right", c) for c in (0.5, 0.8, 0.9)]
    assert kinds(_patches(rows), "in")[0].size_or_question == "3 × 3? 80%"


def test_counts_in_words_leave_out_what_there_is_none_of():
    top = grid_top(5, 4)
    assert counted(sampler_sizes(top)) == "20 right"
    assert counted(sampler_sizes(top, off=(1,), unsure=(2, 3))) == "17 right, 1 off, 2 can't tell"
