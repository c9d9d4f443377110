"""Arcs by hand: sagitta relation D = c²/(4h) + h, inscribed angles, Euclid III.20 (textbook)."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from seamwalk.geometry.arc_fit import (
    MOST_TURN_DEG,
    arc_over,
    fitted_circle,
    fitted_sweep,
    off_arc,
    sampled_arc,
    sampled_steps,
)
from seamwalk.geometry.curve import CHORD_TOLERANCE_IN
from seamwalk.geometry.polyline import turning_rad

sweeps = st.floats(0.1, 3.5).flatmap(lambda s: st.sampled_from([s, -s]))
places = st.tuples(st.floats(-9, 9), st.floats(-9, 9))


@pytest.mark.parametrize(
    ("chord", "rise", "diameter"),
    # D = c²/(4h) + h by hand: 36/8 + 2, 64/12 + 3, 16/8 + 2 (a half circle).
    [(6.0, 2.0, 6.5), (8.0, 3.0, 25 / 3), (4.0, 2.0, 4.0)],
)
def test_chord_rise_and_diameter_of_the_handbook(chord, rise, diameter):
    sweep = 4 * math.atan(2 * rise / chord)
    arc = arc_over((0.0, 0.0), (chord, 0.0), sweep)
    assert 2 * arc.radius == pytest.approx(diameter)
    assert arc.rise == pytest.approx(rise)


@given(places, st.floats(0.5, 12), st.floats(0, 6.28), sweeps)
def test_an_arc_turns_by_its_sweep_from_x_towards_y(start, chord, way, sweep):
    end = (start[0] + chord * math.cos(way), start[1] + chord * math.sin(way))
    points = sampled_arc(start, end, sweep, 64)
    assert points[0] == pytest.approx(start)
    assert points[-1] == pytest.approx(end)
    # A polyline of n equal chords turns n - 1 times, by the sweep over n each.
    assert turning_rad(points) == pytest.approx(np.full(63, sweep / 64), abs=1e-6)


@given(places, st.floats(0.3, 40), sweeps)
def test_sampled_points_show_the_arc(start, chord, sweep):
    end = (start[0] + chord, start[1])
    points = sampled_arc(start, end, sweep)
    assert len(points) == sampled_steps(chord, sweep) + 1
    assert np.degrees(np.abs(turning_rad(points))).max() <= MOST_TURN_DEG + 1e-6
    arc = arc_over(start, end, sweep)
    middles = (points[1:] + points[:-1]) / 2
    sagitta = arc.radius - np.hypot(*(middles - arc.centre).T)
    assert sagitta.max() <= CHORD_TOLERANCE_IN * 1.01


@given(places, st.floats(0.5, 12), st.floats(0, 6.28), sweeps, st.integers(1, 40))
def test_points_on_an_arc_give_its_sweep_back(start, chord, way, sweep, n):
    end = (start[0] + chord * math.cos(way), start[1] + chord * math.sin(way))
    points = sampled_arc(start, end, sweep, n + 1)[1:-1]
    found, doubt = fitted_sweep(points, start, end, 0.01)
    assert found == pytest.approx(sweep, abs=1e-7)
    assert 0 < doubt < math.inf
    assert off_arc(points, start, end, sweep) == pytest.approx(np.zeros(n), abs=1e-7)


def test_a_circle_is_found_through_noise_and_a_few_strays():
    rng = np.random.default_rng(3)
    turn = np.linspace(0.2, 1.6, 60)
    points = np.column_stack([4 * np.cos(turn), 4 * np.sin(turn)]) + [2.0, -7.0]
    points += rng.normal(0, 0.01, points.shape)
    points[::15] += 0.3
    circle = fitted_circle(points)
    # σ of the radius of an arc of 80° through 60 points of 0.01 in is about 0.01 in; three of it.
    assert circle.radius == pytest.approx(4.0, abs=0.03)
    assert circle.centre == pytest.approx([2.0, -7.0], abs=0.03)
    assert np.hypot(*(circle.nearest(points) - circle.centre).T) == pytest.approx(circle.radius)


def test_the_stated_doubt_of_a_sweep_is_the_scatter_of_many():
    rng = np.random.default_rng(5)
    start, end, sweep = (0.0, 0.0), (5.0, 0.0), 1.4
    inner = sampled_arc(start, end, sweep, 21)[1:-1]
    found = [
        fitted_sweep(inner + rng.normal(0, 0.02, inner.shape), start, end, 0.02)
        for _ in range(400)
    ]
    values, doubts = np.array(found).T
    assert values.mean() == pytest.approx(sweep, abs=3 * values.std() / 20)
    assert np.median(doubts) == pytest.approx(values.std(), rel=0.2)


def test_strays_do_not_bend_a_sweep():
    inner = sampled_arc((0.0, 0.0), (5.0, 0.0), 1.4, 21)[1:-1]
    inner[3] += [0.0, 0.4]
    inner[11] -= [0.0, 0.5]
    assert fitted_sweep(inner, (0.0, 0.0), (5.0, 0.0), 0.02)[0] == pytest.approx(1.4, abs=0.02)
