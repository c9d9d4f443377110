"""Does blur or a tone curve change the size that a card is measured at?

Cards are drawn sample by sample in linear light, blurred there, and coded with five curves: sRGB
(IEC 61966-2-1), plain powers of 1.8, 2.2 and 2.4, and no curve at all.  The measuring side always
takes the code for sRGB.  The limit, 0.01 % of the side, is the design's own target.
"""

from contextlib import suppress
from functools import cache

import cv2
import numpy as np
import pytest
from tests.vision.drawn_cards import area, camera_over, corners_in, light_of, photo_of, through

from seamwalk.errors import ReferenceNotFoundError, ScaleUncertainError
from seamwalk.vision.reference import find_cards

CODES = {"sRGB": None, "1.8": 1.8, "2.2": 2.2, "2.4": 2.4, "linear": 1.0}
POSES = {"sRGB": (0, 2), "1.8": (0, 33), "2.2": (20, 200), "2.4": (35, 75), "linear": (20, 310)}
"""Tilt and turn, degrees: another for each curve, so that both are walked through together."""

FINE, COARSE = 36, 20
"""Pixels per inch: a 60 × 80 in top filling 12 MP, and its far side in a photo at 45°."""


@cache
def sharp(px_per_in, pose):
    side = round(12.2 * px_per_in)
    h = camera_over(px_per_in, *pose, (side / 2 + 0.31, side / 2 - 0.17))
    return h, light_of(h, (side, side), samples=6)


def size_error(px_per_in, blur_px, code):
    """Return measured over true side − 1, in per cent."""
    h, light = sharp(px_per_in, POSES[code])
    if blur_px:
        light = cv2.GaussianBlur(light, (0, 0), blur_px, borderType=cv2.BORDER_REPLICATE)
    (card,) = find_cards(photo_of(light, gamma=CODES[code]))
    true = area(through(h, corners_in()))
    return 100 * (float(np.sqrt(area(card.corners_px) / true)) - 1)


@pytest.mark.parametrize("code", CODES)
@pytest.mark.parametrize(
    ("px_per_in", "blur_px"),
    [(FINE, 0), (FINE, 1), (FINE, 2), (FINE, 3), (COARSE, 0), (COARSE, 0.8), (COARSE, 1.6)],
)
def test_size_keeps_to_a_hundredth_of_a_per_cent(px_per_in, blur_px, code):
    # Up to a blur of one sixth of the frame's width.
    assert abs(size_error(px_per_in, blur_px, code)) <= 0.01


@pytest.mark.parametrize("code", CODES)
def test_strong_blur_costs_little_or_is_refused(code):
    # Over a fifth of the frame's width the light of what lies beyond the white margin reaches the
    # frame.  1/16 in on a side of 80 in, the finest that matters, is 0.08 %.
    assert abs(size_error(COARSE, 2.0, code)) <= 0.02
    with suppress(ReferenceNotFoundError, ScaleUncertainError):
        assert abs(size_error(COARSE, 3.0, code)) <= 0.05
