"""Squares that no camera shows so: the plane is known all the same, from four points of it.

The homography that drew the picture is the outside truth (Hartley and Zisserman, § 4.1).
"""

import cv2
import numpy as np
import pytest

from seamwalk.geometry.lens import Lens
from seamwalk.model.picture import Photo, Reference
from seamwalk.vision.camera_edited import EDITED
from seamwalk.vision.rectify import fit_camera, refine

SIZE = 1320, 760


def squeezed(points):
    """A slanted view, then squeezed from left to right as no lens does it, (N, 2) pixels."""
    corners = np.array([[0, 0], [40, 0], [40, 28], [0, 28]], np.float32)
    seen = np.array([[130, 80], [1190, 68], [1243, 688], [75, 691]], np.float32)
    h = cv2.getPerspectiveTransform(corners, seen)
    at = np.asarray(points, np.float64).reshape(-1, 1, 2)
    return cv2.perspectiveTransform(at, h).reshape(-1, 2)


def photo():
    return Photo(np.zeros((SIZE[1], SIZE[0], 3), np.uint8), "x.jpg")


def card(middle, number):
    square = np.array([[-3, -3], [3, -3], [3, 3], [-3, 3]]) + middle
    return Reference(squeezed(square), 6.0, "card", number, sigma_px=0.02)


@pytest.mark.parametrize("places", [((20, 14),), ((5, 5), (34, 22))])
def test_a_picture_that_no_camera_took_is_laid_flat(places):
    cards = tuple(card(np.array(at), k) for k, at in enumerate(places))
    found = fit_camera(photo(), cards)
    assert EDITED in found.warnings
    assert found.view.lens == Lens(found.view.lens.focal_px, found.view.lens.centre_px)
    top = np.array([[0, 0], [40, 0], [40, 28], [0, 28]])
    flat = found.view.top_from_px(squeezed(top))
    sides = np.hypot(*(np.roll(flat, -1, axis=0) - flat).T)
    assert sides == pytest.approx([40, 28, 40, 28], abs=0.05)
    # Nobody knows how well: a quarter pixel of each corner makes inches at the far side.
    assert found.modes
    assert refine(found, photo(), cards, []) is found
