"""What a card or a thing covers, inferred from drawn seams round it.

Expected patches are those that were drawn before anything was laid on them.
"""

import cv2
import numpy as np
import pytest
import shapely
from tests.vision.drawn_heat import cracks, evidence_of, flat_of, labels_of
from tests.vision.drawn_tops import bricks, grid, pinwheels
from tests.vision.test_heat import found
from tests.vision.tiling import assert_tiles

from seamwalk.vision.heat import partition_of
from seamwalk.vision.heat_under import apart
from seamwalk.vision.seam_network import without_seams


def laid(shape, centre, size, degrees):
    """A sheet (H, W) of `size` turned about its centre."""
    corners = cv2.boxPoints((centre, size, degrees))
    out = np.zeros(shape, np.uint8)
    cv2.fillPoly(out, [np.round(corners).astype(np.int32)], 1)
    return out > 0


def grown(mask, size):
    return cv2.dilate(mask.astype(np.uint8), np.ones((size, size))) > 0


def mapped(truth, hidden, fabrics=None):
    evidence = without_seams(evidence_of(truth), hidden)
    return partition_of(evidence, flat_of(truth, fabrics), truth > 0, hidden)


@pytest.mark.parametrize("degrees", [0.0, 12.0, 40.0])
@pytest.mark.parametrize("design", ["squares", "pinwheels", "bricks"])
def test_seams_run_straight_on_under_a_sheet(design, degrees):
    drawn = {"squares": grid(5, 6, 60), "pinwheels": pinwheels(3, 4, 90)}.get(
        design, bricks(6, 4, 90, 50)
    )
    truth = labels_of(drawn)
    hidden = laid(truth.shape, (190, 160), (62, 80), degrees)
    out = mapped(truth, hidden)
    assert_tiles(out.labels, truth > 0)
    # Nearly every patch is there, those under the sheet with an IoU of 0.6 at least.
    assert found(out.labels, truth, 0.6) >= 0.95
    away = ~grown(hidden, 9)
    assert not (cracks(out.labels) & ~grown(cracks(truth), 7) & away).any()


def test_what_is_drawn_under_a_sheet_is_inferred():
    truth = labels_of(grid(5, 6, 60))
    hidden = laid(truth.shape, (190, 160), (70, 90), 20.0)
    out = mapped(truth, hidden)
    inside = cv2.erode(hidden.astype(np.uint8), np.ones((7, 7))) > 0
    lines = cracks(out.labels) & inside
    assert lines.any()
    assert out.inferred is not None
    assert out.inferred[lines].all()
    assert out.confidence[lines].max() <= 0.3 + 1e-6
    assert not out.inferred[cracks(out.labels) & ~grown(hidden, 9)].any()


def test_a_strip_that_a_sheet_lies_across_stays_one_patch():
    truth = labels_of([shapely.box(0, 60 * k, 500, 60 * k + 60) for k in range(5)])
    hidden = laid(truth.shape, (260, 150), (80, 100), 8.0)
    out = mapped(truth, hidden)
    assert found(out.labels, truth, 0.95) == 1.0


def test_a_region_in_two_parts_is_two():
    labels = np.ones((20, 60), np.int32)
    hidden = np.zeros(labels.shape, bool)
    hidden[:, 25:35] = True
    parts = apart(labels, hidden)
    assert sorted(np.unique(parts)) == [0, 1, 2]
    assert parts[0, 0] != parts[0, 59]
    assert (parts[hidden] == 0).all()
