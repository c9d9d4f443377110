"""Polylines by closed forms and properties."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from seamwalk.geometry.polyline import corners, length, resample, turning_rad


@given(st.integers(3, 12), st.floats(0.1, 40))
def test_regular_polygons_turn_once_round(n, r):
    a = 2 * np.pi * np.arange(n) / n
    ring = r * np.c_[np.cos(a), np.sin(a)]
    assert turning_rad(ring, closed=True) == pytest.approx(2 * np.pi / n)
    assert length(np.vstack([ring, ring[:1]])) == pytest.approx(2 * n * r * np.sin(np.pi / n))
    assert len(corners(ring)) == n


def test_points_on_a_side_are_no_corners():
    ring = np.array([[0, 0], [2, 0.02], [4, 0], [4, 4], [0, 4]])
    assert corners(ring).tolist() == [0, 2, 3, 4]


@given(st.floats(0.05, 3))
def test_resampled_lines_keep_ends_and_length(spacing):
    p = np.array([[0.0, 0], [3, 0], [3, 4]])
    q = resample(p, spacing)
    assert q[0].tolist() == [0, 0]
    assert q[-1].tolist() == [3, 4]
    assert np.hypot(*np.diff(q, axis=0).T).max() <= spacing + 1e-9
