"""The circle chooser against all subsets, an integer program, and handbook rows."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

from seamwalk.model.circles import ArcClass
from seamwalk.motifs.circle_choice import choose_circles, tried


def arc_class(chord, share, count=1, most=0.5, least=0.01):
    """Return a class over one chord that wishes for a rise of `share` of it."""
    wish = share * chord
    return ArcClass(
        "arches", "sides", (), count, chord, chord, wish, least * chord, most * chord,
        chord * math.tan(math.pi / 8) / 2,
    )  # fmt: skip


CLASSES = st.lists(
    st.builds(
        arc_class,
        st.floats(1, 12),
        st.floats(0.03, 0.45),
        st.integers(1, 50),
    ),
    max_size=7,
)
CIRCLES = st.lists(st.sampled_from([k / 4 for k in range(4, 100)]), max_size=9)


def deviation(arcs, diameter):
    """Return the sum over a class of |ln(rise / wish)| by the textbook form, inf past a limit.

    h = R − √(R² − c²/4): Machinery's Handbook, 31st ed., pp. 50, 79.  The limits 0.7 and 1.35 are
    the chooser's own settings.
    """
    if diameter < arcs.longest_in:
        return math.inf
    rise = diameter / 2 - math.sqrt(max(0.0, diameter**2 - arcs.chord_in**2)) / 2
    low, high = max(0.7 * arcs.wish_in, arcs.least_in), min(1.35 * arcs.wish_in, arcs.most_in)
    if arcs.wish_in <= arcs.overlap_in:
        high = min(high, arcs.overlap_in)
    if not low <= rise <= high:
        return math.inf
    return arcs.count * abs(math.log(rise / arcs.wish_in))


def near_a_limit(classes, circles):
    """Return True where rounding alone decides whether a circle fits."""
    for arcs in classes:
        for d in circles:
            if abs(d - arcs.longest_in) < 1e-6:
                return True
            if d > arcs.longest_in:
                rise = d / 2 - math.sqrt(d**2 - arcs.chord_in**2) / 2
                limits = (
                    0.7 * arcs.wish_in,
                    1.35 * arcs.wish_in,
                    arcs.least_in,
                    arcs.most_in,
                    arcs.overlap_in,
                )
                if any(abs(rise - limit) < 1e-6 for limit in limits):
                    return True
    return False


def result(choice):
    """Return the number of circles and the deviation as they are seen from outside."""
    used = [c for c in choice.classes if c.circle is not None]
    total = sum(deviation(c.arcs, c.circle.diameter_in) for c in used)
    return len({c.circle.diameter_in for c in used}), total


@settings(max_examples=150, deadline=None)
@given(CLASSES, CIRCLES)
def test_no_choice_has_fewer_circles_or_is_nearer(classes, circles):
    if near_a_limit(classes, circles):
        return
    choice = choose_circles(classes, circles)
    number, total = result(choice)
    suited = [k for k in classes if any(deviation(k, d) < math.inf for d in circles)]
    assert sum(c.circle is not None for c in choice.classes) == len(suited)
    best = (math.inf, math.inf)
    for size in range(len(set(circles)) + 1):
        for some in itertools.combinations(sorted(set(circles)), size):
            costs = [min((deviation(k, d) for d in some), default=math.inf) for k in suited]
            if all(c < math.inf for c in costs):
                best = min(best, (size, sum(costs)))
        if best[0] < math.inf:
            break
    assert number == best[0]
    assert total == pytest.approx(best[1], abs=1e-9)
    assert choice.deviation == pytest.approx(total, abs=1e-9)


@settings(max_examples=12, deadline=None)
@given(st.integers(0, 10**6))
def test_an_integer_program_finds_nothing_better(seed):
    # HiGHS: least number of circles, then the least deviation with that number.
    rng = np.random.default_rng(seed)
    classes = [
        arc_class(
            float(rng.uniform(1.5, 9)), float(rng.uniform(0.08, 0.2)), int(rng.integers(1, 99))
        )
        for _ in range(25)
    ]
    circles = [k / 2 for k in range(3, 60)]
    number, total = result(choose_circles(classes, circles))
    cost = np.array([[deviation(k, d) for d in circles] for k in classes])
    suited = np.isfinite(cost).any(axis=1)
    cost = cost[suited]
    n, m = cost.shape
    # Variables: use circle j, then class k takes circle j.
    size = m + n * m
    takes = np.zeros((n, size))
    linked = np.zeros((n * m, size))
    for k in range(n):
        for j in range(m):
            takes[k, m + k * m + j] = 1
            linked[k * m + j, [m + k * m + j, j]] = 1, -1
    upper = np.concatenate([np.ones(m), np.isfinite(cost).ravel().astype(float)])
    rules = [LinearConstraint(takes, 1, 1), LinearConstraint(linked, -np.inf, 0)]
    count = np.concatenate([np.ones(m), np.zeros(n * m)])
    first = milp(count, constraints=rules, integrality=np.ones(size), bounds=Bounds(0, upper))
    assert number == round(first.fun)
    finite = np.concatenate([np.zeros(m), np.where(np.isfinite(cost), cost, 0.0).ravel()])
    rules.append(LinearConstraint(count, 0, number))
    second = milp(finite, constraints=rules, integrality=np.ones(size), bounds=Bounds(0, upper))
    assert total == pytest.approx(second.fun, rel=1e-5, abs=1e-6)


@given(CLASSES, CIRCLES, st.randoms(use_true_random=False))
def test_order_and_repetition_change_nothing(classes, circles, random):
    one = choose_circles(classes, circles)
    mixed = [*circles, *circles]
    random.shuffle(mixed)
    assert choose_circles(classes, mixed) == one


@given(CLASSES, CIRCLES, st.sampled_from([0.5, 2.0, 4.0]))
def test_a_top_twice_as_large_takes_circles_twice_as_large(classes, circles, k):
    larger = [
        ArcClass(c.motif, c.over, (), c.count, *(v * k for v in (
            c.chord_in, c.longest_in, c.wish_in, c.least_in, c.most_in, c.overlap_in)))
        for c in classes
    ]  # fmt: skip
    one = choose_circles(classes, circles).diameters_in
    assert choose_circles(larger, [d * k for d in circles]).diameters_in == tuple(
        d * k for d in one
    )


@pytest.mark.parametrize(
    ("side", "orange_peel"),
    # Quarter-circle leaves on a square: D = side · sqrt 2 is where neighbours begin to overlap
    # (exact geometry).
    [(2, 2.8284), (4, 5.6569), (6, 8.4853), (8, 11.3137), (12, 16.9706)],
)
def test_overlap_begins_at_the_orange_peel(side, orange_peel):
    arcs = arc_class(side, 0.18)
    assert tried(arcs, orange_peel + 0.001).overlap is False
    assert tried(arcs, orange_peel - 0.001).overlap is True


def test_an_optical_disc_over_patch_sides():
    # 120 mm (ISO/IEC 10149) over 2, 3 and 4 in sides rises 5.64, 13.65 and 28.07 mm.
    for side, rise_mm in ((2, 5.64), (3, 13.65), (4, 28.07)):
        found = tried(arc_class(side, 0.18), 120 / 25.4)
        assert found.rise_in * 25.4 == pytest.approx(rise_mm, abs=0.005)
    assert tried(arc_class(5, 0.18), 120 / 25.4).rise_in is None


def test_one_circle_serves_where_two_would_be_nearer():
    # c 6, h 1 is D 10 and c 8, h 1 is D 17 (whole-number arcs); D 13 rises 0.73 and 1.38 there,
    # which suits wishes of 0.9 and 1.2 alike.
    classes = [arc_class(6, 0.9 / 6), arc_class(8, 1.2 / 8)]
    assert choose_circles(classes, [10, 17]).diameters_in == (10, 17)
    assert choose_circles(classes, [10, 13, 17]).diameters_in == (13,)


def test_a_class_without_a_circle_says_so_and_shows_why():
    (found,) = choose_circles([arc_class(6, 0.18)], [5, 20]).classes
    assert found.circle is None
    assert (found.smaller.verdict, found.larger.verdict) == ("too small", "too flat")
    (deep,) = choose_circles([arc_class(6, 0.18)], [6.2]).classes
    assert deep.smaller.verdict == "too deep"
    (none,) = choose_circles([arc_class(6, 0.18)], []).classes
    assert (none.circle, none.smaller, none.larger) == (None, None, None)


def test_the_next_sizes_are_shown():
    (found,) = choose_circles([arc_class(6, 0.18)], [7, 8, 9, 10]).classes
    # D 9 over 6 rises (9 − sqrt 45)/2 = 1.146, the nearest to 1.08 (hand calculation).
    assert found.circle.diameter_in == 9
    assert found.circle.rise_in == pytest.approx((9 - math.sqrt(45)) / 2)
    assert (found.smaller.diameter_in, found.larger.diameter_in) == (8, 10)
    assert found.smaller.rise_in > found.circle.rise_in > found.larger.rise_in


def test_arches_that_are_not_to_overlap_do_not():
    # 6 in squares: neighbours overlap from 0.2071 · 6 = 1.243 in on, that is below D 8.485.
    shy, bold = arc_class(6, 0.19), arc_class(6, 0.22)
    assert tried(shy, 8.4).verdict == "too deep"
    assert tried(shy, 8.5).verdict == "fits"
    assert tried(bold, 8.4).verdict == "fits"
    assert tried(bold, 8.5).verdict == "fits"


def test_hard_limits_hold_whatever_the_wish():
    arcs = arc_class(6, 0.3, most=0.2)
    assert tried(arcs, 8).verdict == "too deep"
    assert tried(arc_class(6, 0.03, least=0.04), 45).verdict == "too flat"
