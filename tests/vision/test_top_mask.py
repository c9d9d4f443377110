"""The mask of the top, from planes drawn by hand."""

import numpy as np
import pytest
from skimage.draw import disk, polygon2mask

from seamwalk.errors import TopNotFoundError
from seamwalk.vision.top_mask import mask_of

SHAPE = (300, 400)
CORNERS = np.array([[60, 80], [55, 330], [250, 320], [240, 70]])


def planes(*rings, sure=0.97):
    top = np.full(SHAPE, 1 - sure, np.float32)
    for ring in rings:
        top[polygon2mask(SHAPE, ring)] = sure
    return top, np.zeros(SHAPE, np.float32)


def iou(a, b):
    return (a & b).sum() / (a | b).sum()


def test_a_top_is_its_own_pixels():
    true = polygon2mask(SHAPE, CORNERS)
    assert iou(mask_of(*planes(CORNERS)), true) > 0.99


def test_what_lies_on_the_top_belongs_to_it():
    true = polygon2mask(SHAPE, CORNERS)
    top, thing = planes(CORNERS)
    # A pair of scissors in the middle, and a card over one corner.
    on = np.zeros(SHAPE, bool)
    on[disk((150, 200), 30)] = True
    on[45:95, 70:130] = True
    top[on], thing[on] = 0.02, 0.95
    assert iou(mask_of(top, thing), true) > 0.98


def test_a_thing_beside_the_top_does_not():
    top, thing = planes(CORNERS)
    beside = np.zeros(SHAPE, bool)
    beside[265:295, 150:200] = True
    top[beside], thing[beside] = 0.02, 0.95
    assert iou(mask_of(top, thing), polygon2mask(SHAPE, CORNERS)) > 0.99


def test_a_known_card_may_be_taken_for_cloth_by_the_network():
    top, thing = planes(CORNERS)
    card = np.zeros(SHAPE, bool)
    card[20:58, 150:200] = True
    top[card] = 0.9
    mask = mask_of(top, thing, ignore=card)
    assert iou(mask, polygon2mask(SHAPE, CORNERS)) > 0.98


def test_no_top_two_tops_and_a_top_cut_off_are_told_apart():
    with pytest.raises(TopNotFoundError, match="can't find a pieced top"):
        mask_of(*planes())
    with pytest.raises(TopNotFoundError, match="can't find a pieced top"):
        mask_of(*planes(CORNERS, sure=0.6))
    left = np.array([[60, 30], [60, 180], [250, 180], [250, 30]])
    with pytest.raises(TopNotFoundError, match="more than one"):
        mask_of(*planes(left, left + [0, 190]))
    with pytest.raises(TopNotFoundError, match="not wholly in the picture"):
        mask_of(*planes(CORNERS - [0, 120]))
