from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import gaussian_filter
from tests.vision.drawn_tops import (
    assert_tiles,
    bricks,
    draw,
    flat,
    grid,
    hexagons,
    junction_errors,
    pinwheels,
)

from seamwalk.errors import TopologyError
from seamwalk.model.picture import Partition, SeamMap
from seamwalk.vision.piecing import trace
from seamwalk.vision.piecing_cracks import follow
from seamwalk.vision.piecing_fabric import fabrics
from seamwalk.vision.piecing_regions import tidy

PPI = 16.0


def traced(polygons, ppi=PPI, **how):
    labels, origin = draw(polygons, ppi, **how)
    return trace(Partition(labels), flat(labels, ppi, origin), None)


@pytest.mark.parametrize("jagged_px", [0.0, 0.7, 1.0])
@pytest.mark.parametrize("design", [grid, pinwheels])
def test_patches_junctions_and_seams_are_those_drawn(design, jagged_px):
    polygons = design(5, 6, 3.0, np.random.default_rng(1), 1 / 32)
    top = traced(polygons, jagged_px=jagged_px)
    assert_tiles(top)
    assert len(top.patches) == len(polygons)
    assert len(top.junctions) == 6 * 7
    # Half a pixel; a clean label map itself leaves a line uncertain by that much.
    limit = 1 / 24 if not jagged_px else 1 / 12
    assert np.percentile(junction_errors(top, polygons), 95) <= limit


def test_clean_seams_on_pixel_borders_come_out_exactly():
    polygons = grid(4, 5, 3.0)
    top = traced(polygons)
    assert junction_errors(top, polygons).max() < 1e-9


def test_t_junctions_stay_t_junctions():
    polygons = bricks(4, 4, 4.0, 2.0)
    top = traced(polygons, jagged_px=0.7)
    assert_tiles(top)
    degree = np.bincount([int(j) for s in top.seams for j in s.ends])
    assert degree.max() == 3
    assert (degree == 2).sum() == 4
    assert junction_errors(top, polygons).max() < 1 / 8


def test_hexagons_keep_their_corners():
    polygons = hexagons(4, 5, 2.0)
    top = traced(polygons, jagged_px=0.5)
    assert_tiles(top)
    assert len(top.patches) == len(polygons)
    assert junction_errors(top, polygons).max() < 1 / 8


def test_a_square_set_into_a_corner_makes_an_l_shaped_seam():
    labels = np.zeros((180, 180), np.int32)
    labels[20:160, 20:160] = 1
    labels[20:90, 20:90] = 2
    top = trace(Partition(labels), flat(labels, PPI), None)
    assert_tiles(top)
    # Two ends on the outer edge, the L's corner, four corners of the top less the shared one.
    inner = [s for s in top.seams if s.kind == "seam"]
    assert len(inner) == 2
    corner = set(inner[0].ends) & set(inner[1].ends)
    place = {j.id: j.xy for j in top.junctions}[corner.pop()]
    assert place == pytest.approx((90 / PPI, 90 / PPI), abs=0.02)


def test_a_curved_seam_is_smooth_and_has_one_geometry():
    rows, cols = np.mgrid[:200, :200]
    labels = np.zeros((200, 200), np.int32)
    labels[10:190, 10:190] = 1
    quarter = (np.hypot(rows - 9.5, cols - 9.5) < 110) & (labels > 0)
    labels[quarter] = 2
    top = trace(Partition(labels), flat(labels, PPI), None)
    assert_tiles(top)
    (seam,) = [s for s in top.seams if s.kind == "seam"]
    assert len(seam.points) > 8
    radius = np.hypot(*(np.array(seam.points) - 10 / PPI).T)
    assert radius == pytest.approx(np.full(len(radius), 110 / PPI), abs=1 / 16)
    turns = np.diff(np.unwrap(np.arctan2(*np.diff(np.array(seam.points), axis=0).T[::-1])))
    assert np.degrees(np.abs(turns)).max() < 8


def test_a_region_inside_another_opens_it_into_strips_marked_inferred():
    labels = np.zeros((160, 200), np.int32)
    labels[10:150, 10:190] = 1
    labels[50:110, 60:140] = 2
    top = trace(Partition(labels), flat(labels, PPI), None)
    assert_tiles(top)
    assert len(top.patches) == 5
    guessed = [s for s in top.seams if s.inferred]
    assert len(guessed) == 4
    assert all(s.confidence <= 0.3 for s in guessed)
    # Upper and lower strip run full width.
    wide = [p for p in top.patches if np.ptp(np.array(p.polygon.exterior.coords)[:, 0]) > 11]
    assert len(wide) == 2


def test_confidence_is_the_strength_along_the_seam():
    labels, origin = draw(grid(1, 2, 4.0), PPI)
    strength = np.full(labels.shape, 0.7, np.float32)
    seam_map = SeamMap(strength, np.zeros_like(strength), labels > 0)
    top = trace(Partition(labels), flat(labels, PPI, origin), seam_map)
    (seam,) = [s for s in top.seams if s.kind == "seam"]
    assert seam.confidence == pytest.approx(0.7, abs=1e-6)


def test_fabrics_share_a_word_when_they_look_alike():
    labels, _ = draw(grid(2, 2, 3.0), PPI)
    colours = np.array(
        [(255, 255, 255), (200, 30, 30), (30, 30, 160), (30, 30, 160), (200, 30, 30)]
    )
    noise = np.random.default_rng(0).normal(0, 3, (*labels.shape, 3))
    rgb = np.clip(colours[labels] + noise, 0, 255).astype(np.uint8)
    a, b, c, d = fabrics(rgb, labels)
    assert a == d != b == c


def noisy(seed, kind):
    """Label maps of the kinds that a bad day gives."""
    rng = np.random.default_rng(seed)
    height, width = rng.integers(20, 60, 2)
    rows, cols = np.mgrid[:height, :width]
    if kind == "cells":
        at = rng.uniform(0, 1, (rng.integers(2, 25), 2)) * [height, width]
        out = np.argmin((rows[..., None] - at[:, 0]) ** 2 + (cols[..., None] - at[:, 1]) ** 2, -1)
        return (out + 1) * (np.hypot(rows / height - 0.5, cols / width - 0.5) < 0.48)
    if kind == "blobs":
        field = gaussian_filter(rng.normal(size=(height, width)), rng.uniform(1, 4))
        return np.digitize(field, np.quantile(field, np.linspace(0.2, 1, 5)))
    if kind == "noise":
        return rng.integers(0, 5, (height, width))
    if kind == "rings":
        far = np.hypot(rows - height / 2, cols - width / 2)
        return np.digitize(-far, [-height / 2.2, -height / 4, -height / 9])
    out = (rows // 7) * 20 + cols // 9 + 1
    spots = rng.random((height, width)) < 0.1
    out[spots] = rng.integers(0, 50, spots.sum())
    return out


@settings(max_examples=12, deadline=None)
@given(
    st.integers(0, 10**6),
    st.sampled_from(["cells", "blobs", "noise", "rings", "spots"]),
    st.sampled_from([6.0, 10.0, 25.0]),
)
def test_any_label_map_gives_a_valid_top_or_says_why_not(seed, kind, ppi):
    labels = noisy(seed, kind).astype(np.int32)
    try:
        top = trace(Partition(labels), flat(labels, ppi), None)
    except TopologyError:
        return
    assert_tiles(top)


def test_one_region_is_a_top_of_one_patch():
    labels = np.zeros((60, 60), np.int32)
    labels[10:50, 10:50] = 7
    top = trace(Partition(labels), flat(labels, 10.0), None)
    assert_tiles(top)
    assert top.outline.area == pytest.approx(16.0, rel=1e-3)


@pytest.mark.parametrize("labels", [np.zeros((30, 30), int), np.eye(30, dtype=int)])
def test_nothing_large_enough_is_said(labels):
    with pytest.raises(TopologyError):
        trace(Partition(labels.astype(np.int32)), flat(labels, 10.0), None)


def test_renaming_regions_changes_nothing():
    labels, origin = draw(grid(3, 3, 3.0), PPI, jagged_px=0.7)
    new = np.random.default_rng(0).permutation(np.arange(1, labels.max() + 1))
    other = np.concatenate([[0], new])[labels].astype(np.int32)
    picture = flat(labels, PPI, origin)
    one, two = trace(Partition(labels), picture, None), trace(Partition(other), picture, None)
    assert one == two


def test_shifting_the_picture_shifts_the_top():
    labels, origin = draw(grid(2, 3, 3.0), PPI, jagged_px=0.7)
    picture = flat(labels, PPI, origin)
    moved = replace(picture, origin_in=(origin[0] + 5, origin[1] - 3))
    one, two = trace(Partition(labels), picture, None), trace(Partition(labels), moved, None)
    a, b = (np.array([j.xy for j in t.junctions]) for t in (one, two))
    assert b == pytest.approx(a + [5, -3], abs=1e-9)


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10**6), st.sampled_from(["cells", "blobs", "noise", "spots"]))
def test_tidy_leaves_regions_and_their_outsides_whole(seed, kind):
    from skimage.measure import label

    try:
        labels, _ = tidy(noisy(seed, kind).astype(np.int32), 10.0)
    except TopologyError:
        return
    for k in range(labels.max() + 1):
        inside = np.pad(labels == k, 1, constant_values=k == 0)
        assert label(inside, connectivity=1).max() == 1
        assert label(~inside, connectivity=1).max() == 1


def test_cracks_have_the_right_labels_beside_them():
    labels = np.array([[1, 1, 2], [1, 1, 2], [3, 3, 3]], np.int32)
    raw = follow(labels)
    assert len(raw.junctions_px) == 4
    for chain in raw.chains:
        a, b = chain.corners_px[:2]
        way = b - a
        right = np.array([-way[1], way[0]])
        for beside, sign in ((chain.right, 0.5), (chain.left, -0.5)):
            col, row = np.round((a + b) / 2 + sign * right).astype(int)
            inside = 0 <= row < 3 and 0 <= col < 3
            assert beside == (labels[row, col] if inside else 0)
