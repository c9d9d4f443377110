"""Partitions: promises kept for any strength map, and drawn tops cut as they were drawn."""

import cv2
import numpy as np
import pytest
from scipy import ndimage
from tests.vision.tiling import assert_tiles

from seamwalk.errors import TopNotFoundError
from seamwalk.geometry.lens import Lens
from seamwalk.model.picture import FlatPicture, Rectification, SeamMap, View
from seamwalk.vision.partition import partition
from seamwalk.vision.rings import cut_rings
from seamwalk.vision.seams import find_seams

PPI = 12.0


def flat_picture(rgb):
    view = View(Lens(1000.0, (0.0, 0.0)), np.eye(3))
    seen = np.ones(rgb.shape[:2], bool)
    return FlatPicture(rgb, seen, PPI, (0.0, 0.0), Rectification(view, (), "none", 1.0, 0.0))


def photographed(picture, seed):
    rng = np.random.default_rng(seed)
    soft = cv2.GaussianBlur(picture.astype(np.float32), (0, 0), 0.6)
    return np.clip(soft + rng.normal(0, 2, soft.shape), 0, 255).astype(np.uint8)


def cut(picture, mask, seed=0):
    flat = flat_picture(photographed(picture, seed))
    return partition(flat, find_seams(flat, mask))


def matched(labels, truth, at_least=0.8):
    """Share of true regions found with an intersection over union of at least `at_least`."""
    hits = 0
    for k in np.unique(truth[truth > 0]):
        here = truth == k
        best = np.bincount(labels[here])[1:]
        if not len(best):
            continue
        j = int(best.argmax()) + 1
        hits += (here & (labels == j)).sum() / (here | (labels == j)).sum() >= at_least
    return hits / len(np.unique(truth[truth > 0]))


COLOURS = np.array(
    [(200, 60, 50), (60, 90, 170), (230, 200, 90), (70, 130, 80), (235, 230, 220), (90, 60, 100)]
)


def grid(rows, cols, cell):
    index = np.indices((rows * cell, cols * cell)) // cell
    truth = (index[0] * cols + index[1] + 1).astype(np.int32)
    return truth, (index[0] * 2 + index[1]) % len(COLOURS)


def test_squares_come_out_one_by_one():
    truth, fabric = grid(4, 5, 36)
    found = cut(COLOURS[fabric], truth > 0)
    assert_tiles(found.labels, truth > 0)
    assert found.labels.max() == 20
    assert matched(found.labels, truth, 0.9) == 1.0
    assert found.inferred is None


def test_half_square_triangles_come_out_one_by_one():
    truth, fabric = grid(3, 3, 48)
    rows, cols = np.indices(truth.shape) % 48
    upper = cols > rows
    both = np.where(upper, 2 * truth - 1, 2 * truth)
    found = cut(COLOURS[np.where(upper, fabric, (fabric + 3) % 6)], truth > 0)
    assert_tiles(found.labels, truth > 0)
    assert matched(found.labels, both) == 1.0
    assert found.labels.max() == 18


def test_the_top_may_lie_anywhere_in_the_picture():
    truth, fabric = grid(3, 4, 36)
    picture = np.full((180, 220, 3), 120.0)
    picture[31:139, 47:191] = COLOURS[fabric]
    whole = np.zeros((180, 220), np.int32)
    whole[31:139, 47:191] = truth
    found = cut(picture, whole > 0)
    assert_tiles(found.labels, whole > 0)
    assert matched(found.labels, whole) == 1.0


def test_one_piece_of_cloth_stays_whole():
    mask = np.ones((150, 150), bool)
    found = cut(np.full((150, 150, 3), (90, 120, 160)), mask)
    assert found.labels.max() == 1


def test_a_frame_is_cut_into_strips_and_the_cuts_are_marked():
    labels = np.ones((100, 140), np.int32)
    labels[30:70, 35:105] = 2
    done, inferred = cut_rings(labels, np.zeros(labels.shape, np.float32), 10.0)
    assert_tiles(done, labels > 0)
    # Four strips round the middle: two run through, two lie between them.
    assert done.max() == 5
    assert np.array_equal(done == 2, labels == 2)
    assert inferred.any()
    edge = (done[1:] != done[:-1])[:, :-1] | (done[:, 1:] != done[:, :-1])[:-1]
    through = edge & (labels[:-1, :-1] == 1) & (labels[1:, 1:] == 1)
    assert inferred[:-1, :-1][through].mean() > 0.9


def test_a_ragged_frame_is_cut_as_well():
    rng = np.random.default_rng(11)
    for _ in range(20):
        labels = np.ones((120, 140), np.int32)
        top, bottom = rng.integers(28, 32, 140), rng.integers(88, 92, 140)
        rows = np.arange(120)[:, None]
        inside = (rows >= top) & (rows < bottom)
        inside[:, :35] = inside[:, 105:] = False
        labels[inside] = 2
        done, _ = cut_rings(labels, np.zeros(labels.shape, np.float32), 10.0)
        assert_tiles(done, labels > 0)


def test_cuts_that_are_seen_are_not_called_inferred():
    labels = np.ones((100, 140), np.int32)
    labels[30:70, 35:105] = 2
    strength = np.zeros(labels.shape, np.float32)
    strength[:, 34:36] = strength[:, 104:106] = 0.9
    done, inferred = cut_rings(labels, strength, 10.0)
    assert done.max() == 5
    assert not inferred.any()
    # The seen cuts run from top to bottom, so the outer strips do.
    assert done[0, 0] == done[-1, 0]


def test_a_background_round_many_patches_has_no_holes():
    labels = np.ones((160, 160), np.int32)
    for k in range(4):
        y, x = 20 + 70 * (k // 2), 20 + 70 * (k % 2)
        labels[y : y + 40, x : x + 40] = k + 2
    done, _ = cut_rings(labels, np.zeros(labels.shape, np.float32), 10.0)
    assert_tiles(done, labels > 0)


def test_a_hole_that_fills_no_rectangle_is_cut_free_too():
    rows, cols = np.indices((120, 120)) - 60
    diamond = np.abs(rows) + np.abs(cols) <= 30
    labels = np.where(diamond, 2, 1).astype(np.int32)
    done, _ = cut_rings(labels, np.zeros(labels.shape, np.float32), 10.0)
    assert_tiles(done, labels > 0)
    star = (np.abs(rows * cols) < 60) & (np.hypot(rows, cols) < 40)
    labels = np.where(star, 2, 1).astype(np.int32)
    done, _ = cut_rings(labels, np.zeros(labels.shape, np.float32), 10.0)
    assert_tiles(done, labels > 0)


@pytest.mark.parametrize("seed", range(6))
def test_any_strength_map_gives_a_valid_partition(seed):
    rng = np.random.default_rng(seed)
    shape = (int(rng.integers(30, 130)), int(rng.integers(30, 130)))
    blobs = cv2.GaussianBlur(rng.normal(size=shape), (0, 0), float(rng.uniform(0.5, 8)))
    strength = np.clip(blobs / np.abs(blobs).max() + rng.uniform(-0.3, 0.6), 0, 1)
    mask = cv2.GaussianBlur(rng.normal(size=shape), (0, 0), 12) > -0.01
    if not mask.any():
        mask[:] = True
    rgb = rng.integers(0, 255, (*shape, 3)).astype(np.uint8)
    flat = flat_picture(rgb)
    angle = np.zeros(shape, np.float32)
    found = partition(flat, SeamMap(strength.astype(np.float32), angle, mask))
    parts, n = ndimage.label(mask)
    largest = parts == 1 + int(np.bincount(parts.ravel())[1:].argmax())
    assert n >= 1
    assert_tiles(found.labels, ndimage.binary_fill_holes(largest, np.ones((3, 3))))


@pytest.mark.parametrize("shape", [(12, 12), (9, 200), (200, 9)])
def test_tiny_and_thin_tops_do_not_crash(shape):
    rgb = np.random.default_rng(1).integers(0, 255, (*shape, 3)).astype(np.uint8)
    mask = np.ones(shape, bool)
    found = partition(flat_picture(rgb), find_seams(flat_picture(rgb), mask))
    assert_tiles(found.labels, mask)


def test_no_top_is_said_so():
    rgb = np.zeros((40, 40, 3), np.uint8)
    empty = np.zeros((40, 40), np.float32)
    with pytest.raises(TopNotFoundError):
        partition(flat_picture(rgb), SeamMap(empty, empty, np.zeros((40, 40), bool)))
