"""The paper round a card, against the sheet that was drawn."""

from dataclasses import replace

import numpy as np
import pytest

from seamwalk.geometry.lens import Lens
from seamwalk.model.picture import FlatPicture, Rectification, Reference, View
from seamwalk.vision.sheet import find_sheets, sheet_mask

PPI = 8.0
FLOOR, PAPER, INK = 90, 235, 15


def _picture(right_in, below_in, bar):
    """A 6 in frame at (5, 5) on a sheet that reaches 1 in left and up, and as given else."""
    side = 20.0
    n = round(side * PPI)
    grey = np.full((n, n), FLOOR, np.uint8)

    def fill(x0, y0, x1, y1, value):
        grey[round(y0 * PPI) : round(y1 * PPI), round(x0 * PPI) : round(x1 * PPI)] = value

    fill(4, 4, 11 + right_in, 11 + below_in, PAPER)
    fill(5, 5, 11, 11, INK)
    if bar:
        fill(5, 11.75, 11, 12, INK)
    rgb = np.repeat(grey[:, :, None], 3, axis=2)
    view = View(Lens(1000.0, (0.0, 0.0)), np.diag([100.0, 100.0, 1.0]))
    camera = Rectification(view, (), "card", 6.0, 0.1)
    flat = FlatPicture(rgb, np.ones((n, n), bool), PPI, (0.0, 0.0), camera)
    corners = view.px_from_top([[5, 5], [11, 5], [11, 11], [5, 11]])
    return flat, Reference(corners, 6.0, "card", 0)


@pytest.mark.parametrize("bar", [False, True])
@pytest.mark.parametrize(("right", "below"), [(0.5, 0.5), (1.25, 2.5), (1.0, 3.5)])
def test_the_whole_sheet_is_covered_and_little_more(right, below, bar):
    if bar and below < 1.5:
        pytest.skip("the bar would not lie on this sheet")
    flat, card = _picture(right, below, bar)
    mask = sheet_mask(flat, find_sheets(flat, (card,)))
    rows, cols = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    got = np.array([cols[0], rows[0], cols[-1] + 1, rows[-1] + 1]) / PPI
    wanted = np.array([4, 4, 11 + right, 11 + below])
    grown = (got - wanted) * [-1, -1, 1, 1]
    assert grown.min() >= -0.05  # all paper
    assert grown.max() <= 0.4  # one step, the rim and a pixel


def test_without_a_reference_nothing_is_covered():
    flat, _ = _picture(1, 1, False)
    assert not sheet_mask(flat, find_sheets(flat, ())).any()


def test_a_plain_square_covers_itself():
    flat, card = _picture(1, 1, False)
    square = Reference(card.corners_px, 6.0, "square")
    side = np.sqrt(sheet_mask(flat, find_sheets(flat, (square,))).sum()) / PPI
    assert 6.3 <= side <= 6.3 + 2 / PPI  # itself and its rim, to whole pixels


def test_white_cloth_round_a_sheet_is_no_paper():
    # All round is as white as the paper: no more is covered than the largest sheet reaches.
    flat, card = _picture(1, 1, False)
    rgb = np.where(flat.rgb == FLOOR, PAPER, flat.rgb).astype(np.uint8)
    mask = sheet_mask(flat, find_sheets(replace(flat, rgb=rgb), (card,)))
    rows, cols = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    # Letter is the wider, A4 the longer one.
    assert np.ptp(cols) / PPI < 8.5 + 0.5
    assert np.ptp(rows) / PPI < 11.7 + 0.5
