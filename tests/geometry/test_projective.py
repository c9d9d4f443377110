"""Homographies against OpenCV, the general reference library."""

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from seamwalk.geometry.projective import apply, fit, from_unit_square, jacobian, similarity

SQUARE = np.array([[0.0, 0], [10, 0], [10, 10], [0, 10]])
corner = st.tuples(st.floats(-2, 2), st.floats(-2, 2))


@given(st.lists(corner, min_size=4, max_size=4))
def test_four_points_give_opencvs_homography(shifts):
    target = SQUARE * 100 + np.array(shifts) * 50
    ours = fit(SQUARE, target)
    theirs = cv2.getPerspectiveTransform(SQUARE.astype(np.float32), target.astype(np.float32))
    inside = np.random.default_rng(0).uniform(0, 10, (50, 2))
    expected = cv2.perspectiveTransform(inside[:, None], theirs)[:, 0]
    assert apply(ours, inside) == pytest.approx(expected, abs=0.02)


@given(st.lists(corner, min_size=4, max_size=4))
def test_a_unit_square_goes_where_opencv_takes_it(shifts):
    corners = SQUARE * 100 + np.array(shifts) * 50
    unit = (SQUARE / 10).astype(np.float32)
    theirs = cv2.getPerspectiveTransform(unit, corners.astype(np.float32))
    inside = np.random.default_rng(0).uniform(-0.2, 1.2, (50, 2))
    expected = cv2.perspectiveTransform(inside[:, None], theirs)[:, 0]
    assert apply(from_unit_square(corners), inside) == pytest.approx(expected, abs=0.05)


def test_many_noisy_points_are_as_good_as_opencvs_fit():
    rng = np.random.default_rng(3)
    h = np.array([[1.1, 0.2, 5], [-0.1, 0.9, 3], [1e-3, -2e-3, 1]])
    source = rng.uniform(0, 100, (200, 2))
    target = apply(h, source) + rng.normal(0, 0.2, (200, 2))
    theirs, _ = cv2.findHomography(source, target)

    def rms(m):
        return np.sqrt(((apply(m, source) - apply(h, source)) ** 2).mean())

    assert rms(fit(source, target)) < 1.2 * rms(theirs) + 1e-3


def test_inverse_undoes():
    h = np.array([[1.1, 0.2, 5], [-0.1, 0.9, 3], [1e-3, -2e-3, 1]])
    assert apply(np.linalg.inv(h), apply(h, SQUARE)) == pytest.approx(SQUARE)


def test_jacobian_is_the_derivative():
    h = np.array([[1.1, 0.2, 5], [-0.1, 0.9, 3], [1e-3, -2e-3, 1]])
    e = 1e-6
    for k, step in enumerate(np.eye(2) * e):
        slope = (apply(h, SQUARE + step) - apply(h, SQUARE - step)) / (2 * e)
        assert jacobian(h, SQUARE)[:, :, k] == pytest.approx(slope, rel=1e-5, abs=1e-8)


def test_similarity_turns_x_towards_y():
    assert apply(similarity(np.pi / 2, (1, 2)), [[1.0, 0.0]])[0] == pytest.approx([1, 3])


@pytest.mark.parametrize(
    "bad", [SQUARE[:3], np.zeros((4, 2)), np.c_[np.arange(5.0), np.arange(5.0)]]
)
def test_degenerate_points_are_refused(bad):
    with pytest.raises(ValueError, match=r"homography|coincide"):
        fit(bad, bad + 1)


def test_corners_on_a_line_take_no_unit_square():
    with pytest.raises(ValueError, match="homography"):
        from_unit_square([[0, 0], [1, 1], [2, 2], [3, 3]])
