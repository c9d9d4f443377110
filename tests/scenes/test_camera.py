"""The scenes' camera against OpenCV's, and the frame it chooses.

Sources: cv2.projectPoints (general reference library); 35 mm film frame 36 × 24 mm.
"""

import cv2
import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from seamwalk.scenes.camera import Camera, focal_px, framed, looking

SIZE = (4000, 3000)
TOP = np.array([[0.0, 0.0], [40.0, 0.0], [40.0, 60.0], [0.0, 60.0]])

# Hundredths of a degree: OpenCV rounds smaller rotations to none.
poses = st.tuples(st.integers(0, 4500), st.integers(0, 36000), st.integers(-18000, 18000)).map(
    lambda hundredths: tuple(v / 100 for v in hundredths)
)
lenses = st.tuples(st.floats(-0.1, 0.1), st.floats(-0.05, 0.05), st.floats(-0.01, 0.01))


def camera(pose: tuple, radial: tuple = (0.0, 0.0, 0.0), margin: float = 0.04) -> Camera:
    return framed(
        TOP,
        size_px=SIZE,
        focal=focal_px(26.0, *SIZE),
        radial=radial,
        rotation=looking(*pose),
        margin=margin,
        centre_px=(2003.0, 1496.5),
    )


@settings(max_examples=40, deadline=None)
@given(pose=poses, radial=lenses)
@example(pose=(1.46, 1.46, 180.0), radial=(0.0, 0.0, 0.0))
def test_pixels_are_opencvs(pose: tuple, radial: tuple) -> None:
    cam = camera(pose, radial)
    world = np.column_stack([TOP, [0.0, -0.4, 0.1, -2.0]])
    k = np.array(
        [[cam.focal_px, 0, cam.centre_px[0]], [0, cam.focal_px, cam.centre_px[1]], [0, 0, 1]]
    )
    # Near half a turn OpenCV's own rotation vector is off by 1e-8, which a test to 1e-6 px sees.
    rvec = Rotation.from_matrix(cam.rotation).as_rotvec()
    dist = np.array([radial[0], radial[1], 0, 0, radial[2]])
    expected, _ = cv2.projectPoints(world, rvec, -cam.rotation @ cam.position_in, k, dist)
    np.testing.assert_allclose(cam.px_from_world(world), expected.reshape(-1, 2), atol=1e-6)


@settings(max_examples=40, deadline=None)
@given(pose=poses, radial=lenses, above=st.floats(-0.1, 1.0))
def test_pixel_and_plane_undo_each_other(pose: tuple, radial: tuple, above: float) -> None:
    cam = camera(pose, radial)
    px = cam.px_from_top(TOP, above)
    np.testing.assert_allclose(cam.top_from_px(px, above), TOP, atol=1e-6)


@settings(max_examples=40, deadline=None)
@given(pose=poses, radial=lenses)
def test_frame_shows_everything_and_is_filled(pose: tuple, radial: tuple) -> None:
    px = camera(pose, radial).px_from_top(TOP)
    low, high = px.min(axis=0), px.max(axis=0)
    w, h = SIZE
    assert low.min() >= 0
    assert (high <= [w - 1, h - 1]).all()
    filled = (high - low) / (np.array(SIZE) * (1 - 2 * 0.04))
    assert filled.max() == pytest.approx(1.0, abs=0.01)
    np.testing.assert_allclose((low + high) / 2, [(w - 1) / 2, (h - 1) / 2], atol=0.01 * h)


def test_straight_down_is_upright_and_to_scale() -> None:
    cam = framed(
        TOP,
        size_px=SIZE,
        focal=3000.0,
        radial=(0.0, 0.0, 0.0),
        rotation=looking(0, 90, 0),
        margin=0.1,
    )
    px = cam.px_from_top(TOP)
    # Height fills 80 % of 3000 px: 2400 px for 60 in.
    scale = 2400 / 60
    np.testing.assert_allclose(px - px[0], TOP * scale, atol=0.5)
    # Similar triangles: distance = focal / scale.
    assert -cam.position_in[2] == pytest.approx(3000 / scale, rel=1e-3)


def test_tilt_is_the_angle_of_the_view_and_azimuth_its_side() -> None:
    for tilt, azimuth in ((20.0, 90.0), (35.0, 200.0)):
        forward = looking(tilt, azimuth, 17.0)[2]
        assert np.degrees(np.arccos(forward[2])) == pytest.approx(tilt)
        stands = -forward[:2] / np.hypot(*forward[:2])
        a = np.radians(azimuth)
        np.testing.assert_allclose(stands, [np.cos(a), np.sin(a)], atol=1e-12)


def test_photographer_below_the_bottom_edge_sees_the_far_edge_smaller() -> None:
    px = camera((30.0, 90.0, 0.0)).px_from_top(TOP)
    upper, lower = px[1, 0] - px[0, 0], px[2, 0] - px[3, 0]
    assert 0 < upper < lower
    assert px[0, 1] < px[3, 1]


def test_focal_length_of_the_film_frame_itself() -> None:
    """A picture 3600 × 2400 px is the film frame at 100 px/mm."""
    assert focal_px(26.0, 3600, 2400) == pytest.approx(2600.0)


def test_raised_things_look_larger() -> None:
    """Source: object at height t above the plane reads H/(H − t) too large (similar triangles)."""
    cam = framed(
        TOP,
        size_px=SIZE,
        focal=3000.0,
        radial=(0.0, 0.0, 0.0),
        rotation=looking(0, 90, 0),
        margin=0.05,
    )
    far = -cam.position_in[2]
    flat, raised = (np.ptp(cam.px_from_top(TOP, t), axis=0) for t in (0.0, 0.8))
    np.testing.assert_allclose(raised / flat, far / (far - 0.8), rtol=1e-9)


def test_behind_the_camera_is_refused_and_the_horizon_is_nan() -> None:
    cam = camera((45.0, 90.0, 0.0))
    with pytest.raises(ValueError, match="behind"):
        cam.px_from_top(np.array([[20.0, 1e4]]))
    assert np.isnan(cam.top_from_px(np.array([[2000.0, -9000.0]]))).all()
