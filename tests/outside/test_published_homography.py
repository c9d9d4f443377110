"""Homographies against a published picture pair.

Source: graf1.png and graf3.png with H1to3p.xml as Debian's package opencv-doc carries them, the
planar wall of Mikolajczyk and Schmid, A performance evaluation of local descriptors, PAMI
27(10):1615, 2005: a real wall, a real camera, a homography measured by its authors.
"""

import cv2
import numpy as np
import pytest
from tests.outside.debian_data import FOLDER, needs

from seamwalk.geometry.projective import apply, fit

pytestmark = needs("graf1.png", "graf3.png", "H1to3p.xml")


def published():
    file = cv2.FileStorage(str(FOLDER / "H1to3p.xml"), cv2.FILE_STORAGE_READ)
    return np.asarray(file.getFirstTopLevelNode().mat(), dtype=np.float64)


@pytest.fixture(scope="module")
def matches():
    """Return pairs of places that look alike in the two pictures, (N, 2) each."""
    sift = cv2.SIFT_create(2000)
    places, descriptions = [], []
    for name in ("graf1.png", "graf3.png"):
        keys, described = sift.detectAndCompute(
            cv2.imread(str(FOLDER / name), cv2.IMREAD_GRAYSCALE), None
        )
        places.append(np.array([k.pt for k in keys]))
        descriptions.append(described)
    found = cv2.BFMatcher().knnMatch(*descriptions, k=2)
    # Lowe's ratio test, IJCV 60:91, 2004.
    sure = [a for a, b in found if a.distance < 0.75 * b.distance]
    return (
        places[0][[m.queryIdx for m in sure]],
        places[1][[m.trainIdx for m in sure]],
    )


def test_apply_is_opencvs_over_the_whole_picture():
    x, y = np.meshgrid(np.linspace(0, 799, 21), np.linspace(0, 639, 17))
    points = np.column_stack([x.ravel(), y.ravel()])
    theirs = cv2.perspectiveTransform(points[:, None], published()).reshape(-1, 2)
    assert apply(published(), points) == pytest.approx(theirs, abs=1e-9)


def test_published_homography_explains_what_matches(matches):
    first, third = matches
    miss = np.hypot(*(apply(published(), first) - third).T)
    # The two views are 50° apart: a share of the matches is wrong, the rest falls on the wall.
    assert len(miss) > 200
    assert np.mean(miss < 3) > 0.5
    assert np.median(miss[miss < 3]) < 1.2


def test_fit_from_matches_is_the_published_homography(matches):
    first, third = matches
    near = np.hypot(*(apply(published(), first) - third).T) < 3
    ours = fit(first[near], third[near])
    corners = np.array([[0.0, 0], [799, 0], [799, 639], [0, 639]])
    apart = np.hypot(*(apply(ours, corners) - apply(published(), corners)).T)
    inside = np.hypot(*(apply(ours, first[near]) - apply(published(), first[near])).T)
    # The authors' own accuracy is about a pixel.
    assert inside.max() < 1.5
    assert apart.max() < 3
    theirs, _ = cv2.findHomography(first[near], third[near])
    assert np.hypot(*(apply(ours, corners) - apply(theirs, corners)).T).max() < 1


def test_inverse_takes_the_third_picture_back():
    points = np.random.default_rng(2).uniform(0, 1, (200, 2)) * [799, 639]
    back = apply(np.linalg.inv(published()), apply(published(), points))
    assert back == pytest.approx(points, abs=1e-7)
