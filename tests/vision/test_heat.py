"""From heat to regions: promises kept for any heat, and drawn tops found as they were drawn.

Bounds on shares of patches are common practice, no source; the maps themselves are exact.
"""

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon
from tests.vision.drawn_heat import PPI, cracks, evidence_of, flat_of, labels_of
from tests.vision.drawn_tops import bricks, grid, pinwheels
from tests.vision.tiling import assert_tiles

from seamwalk.errors import SeamwalkError, TopNotFoundError
from seamwalk.model.picture import SeamEvidence
from seamwalk.vision.heat import partition_of


def found(labels, truth, at_least=0.9):
    """Return the F1 of regions matched with that intersection over union."""
    n, m = int(labels.max()) + 1, int(truth.max()) + 1
    common = np.bincount(labels.ravel() * m + truth.ravel(), minlength=n * m).reshape(n, m)
    either = common.sum(1)[:, None] + common.sum(0)[None] - common
    hits = ((common / either)[1:, 1:] >= at_least).sum()
    return 2 * hits / (n - 1 + m - 1)


DESIGNS = {
    "squares": lambda: grid(5, 6, 40),
    "uneven squares": lambda: grid(5, 6, 40, np.random.default_rng(1), 2.0),
    "pinwheels": lambda: pinwheels(4, 5, 60),
    "bricks": lambda: bricks(6, 4, 70, 30),
}


@pytest.mark.parametrize("design", DESIGNS)
@pytest.mark.parametrize("fabrics", ["many", "one"])
def test_clear_heat_gives_the_drawn_patches(design, fabrics):
    truth = labels_of(DESIGNS[design]())
    words = None if fabrics == "many" else np.zeros(truth.max(), int)
    out = partition_of(evidence_of(truth), flat_of(truth, words), truth > 0)
    assert_tiles(out.labels, truth > 0)
    assert found(out.labels, truth) == 1.0
    assert out.inferred is None


def test_gaps_in_the_heat_are_closed():
    truth = labels_of(grid(5, 6, 40))
    rng = np.random.default_rng(2)
    faint = np.ones(truth.shape, np.float32)
    y, x = np.nonzero(cracks(truth))
    for k in rng.choice(len(y), 40, replace=False):
        cv2.circle(faint, (int(x[k]), int(y[k])), 4, 0.0, -1)
    out = partition_of(evidence_of(truth, faint=faint), flat_of(truth), truth > 0)
    assert_tiles(out.labels, truth > 0)
    assert found(out.labels, truth) == 1.0


def test_short_stray_ridges_are_no_seams():
    truth = labels_of(grid(4, 5, 60))
    stray = np.zeros(truth.shape, np.uint8)
    for x, y in ((30, 32), (150, 95), (210, 160)):
        cv2.line(stray, (x, y), (x + 18, y + 11), 1, 1)
    words = np.arange(20)
    out = partition_of(evidence_of(truth, stray=stray > 0), flat_of(truth, words), truth > 0)
    assert found(out.labels, truth) == 1.0


def test_a_seam_that_only_other_blocks_show_is_inferred():
    halves = []
    for a, b, c, d in (p.exterior.coords[:4] for p in grid(5, 6, 60)):
        halves += [Polygon([a, b, c]), Polygon([a, c, d])]
    truth = labels_of(halves)
    hidden = np.isin(truth, (29, 30))
    faint = np.ones(truth.shape, np.float32)
    within = cv2.erode(hidden.astype(np.uint8), np.ones((9, 9), np.uint8)) > 0
    faint[within] = 0.02
    words = np.arange(60) % 2
    words[28:30] = 2
    out = partition_of(evidence_of(truth, faint=faint), flat_of(truth, words), truth > 0)
    assert found(out.labels, truth, 0.8) == 1.0
    assert out.inferred is not None
    assert hidden[out.inferred].mean() > 0.9


def test_confidence_lies_along_the_seams_only():
    truth = labels_of(grid(4, 4, 50))
    out = partition_of(evidence_of(truth), flat_of(truth), truth > 0)
    line = cracks(out.labels) & (cv2.erode((truth > 0).astype(np.uint8), np.ones((5, 5))) > 0)
    away = cv2.distanceTransform((~line).astype(np.uint8), cv2.DIST_L2, 5)
    assert out.confidence.shape == truth.shape
    assert out.confidence[line].min() > 0.9
    assert (out.confidence[away > 8] == 0).all()
    assert out.confidence.max() <= 1


def test_a_plain_top_is_one_patch():
    mask = np.zeros((120, 160), bool)
    mask[10:110, 10:150] = True
    zero = np.zeros(mask.shape, np.float32)
    out = partition_of(SeamEvidence(zero, zero, zero, zero), flat_of(mask.astype(int)), mask)
    assert np.array_equal(out.labels, mask.astype(np.int32))


def test_no_top_is_said():
    zero = np.zeros((40, 40), np.float32)
    picture = flat_of(np.ones((40, 40), int))
    with pytest.raises(TopNotFoundError):
        partition_of(SeamEvidence(zero, zero, zero, zero), picture, zero > 0)


def test_a_frame_is_cut_into_strips():
    truth = np.zeros((200, 220), np.int32)
    truth[10:190, 10:210] = 1
    truth[50:150, 50:170] = 2
    out = partition_of(evidence_of(truth), flat_of(truth), truth > 0)
    assert_tiles(out.labels, truth > 0)
    assert out.labels.max() == 5
    assert out.inferred is not None


@settings(max_examples=12, deadline=None)
@given(st.integers(0, 10_000), st.sampled_from([3.0, 8.0, 20.0]))
def test_any_heat_gives_regions_that_tile(seed, coarse):
    rng = np.random.default_rng(seed)
    shape = (int(rng.integers(60, 160)), int(rng.integers(60, 160)))
    heat = cv2.GaussianBlur(rng.random(shape).astype(np.float32), (0, 0), coarse / 3)
    heat = np.clip((heat - heat.mean()) / (6 * heat.std()) + 0.2, 0, 1)
    mask = np.zeros(shape, np.uint8)
    middle = (shape[1] // 2, shape[0] // 2)
    cv2.ellipse(mask, middle, (middle[0] - 4, middle[1] - 4), 0, 0, 360, 1, -1)
    cos = rng.uniform(-1, 1, shape).astype(np.float32)
    evidence = SeamEvidence(heat, 0 * heat, cos, np.sqrt(1 - cos**2))
    picture = flat_of((mask * rng.integers(1, 5, shape)).astype(int), seed=seed)
    try:
        out = partition_of(evidence, picture, mask > 0)
    except SeamwalkError:
        # Nothing large enough for a patch: said, not drawn.
        assert mask.sum() < 40 * PPI**2
        return
    assert_tiles(out.labels, mask > 0)
    again = partition_of(evidence, picture, mask > 0)
    assert np.array_equal(out.labels, again.labels)
