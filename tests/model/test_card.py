"""The card's marker against OpenCV's own AprilTag 36h11 dictionary."""

import cv2
import numpy as np
import pytest

from seamwalk.model.card import CELLS, IDS, MARKER_AT, figure


@pytest.mark.parametrize("card_id", IDS)
def test_marker_is_the_published_code(card_id):
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    published = cv2.aruco.generateImageMarker(dictionary, card_id, 8) < 128
    dark = np.array(figure(card_id).dark)
    assert (dark[MARKER_AT : MARKER_AT + 8, MARKER_AT : MARKER_AT + 8] == published).all()


def test_frame_is_a_dark_ring_round_a_white_ring():
    dark = np.array(figure(0, 6).dark)
    assert dark.shape == (CELLS, CELLS)
    ring = np.ones((CELLS, CELLS), bool)
    ring[1:-1, 1:-1] = False
    assert dark[ring].all()
    white = np.ones((CELLS, CELLS), bool)
    white[2:-2, 2:-2] = False
    assert not dark[white & ~ring].any()
    assert figure(0, 6).cell_in == 0.5


def test_unknown_cards_are_refused():
    with pytest.raises(ValueError, match="card ids"):
        figure(4)
    with pytest.raises(ValueError, match="above zero"):
        figure(0, 0)
