"""The parts of the road from heat to regions, each against an outside reference."""

import itertools
from dataclasses import replace

import cv2
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage, signal
from skimage.feature import match_template
from tests.vision.drawn_heat import cracks, evidence_of, labels_of
from tests.vision.drawn_tops import grid, pinwheels

from seamwalk.vision.heat_basins import BasinSettings, coarse_basins, halved, sharpened
from seamwalk.vision.heat_copies import _correlation
from seamwalk.vision.heat_features import MEASURES, measures
from seamwalk.vision.heat_graph import HEAT, STEPS, N, Planes, border_sums, region_map
from seamwalk.vision.heat_lines import Field, LineSettings, continuations, fits
from seamwalk.vision.heat_merge import fitted, weakest
from seamwalk.vision.heat_repeat import repeats


def planes_of(evidence):
    zero = np.zeros_like(evidence.seam)
    return Planes(evidence.seam, evidence.cos2, evidence.sin2, zero, zero, zero, zero)


def mapped(labels, seed=0):
    rng = np.random.default_rng(seed)
    lab = rng.normal(50, 10, (*labels.shape, 3)).astype(np.float32)
    evidence = evidence_of(labels)
    return region_map(labels, planes_of(evidence), lab, 0.3), lab, evidence


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10_000))
def test_joining_regions_adds_up_to_the_map_of_the_joined_labels(seed):
    rng = np.random.default_rng(seed)
    truth = labels_of(grid(4, 4, 14), margin=3)
    regions, lab, evidence = mapped(truth)
    into = np.arange(17)
    for a, b in regions.pair[rng.permutation(len(regions.pair))[:6]].tolist():
        if into[a] == a and into[b] == b and not (into == b).sum() > 1:
            into[b] = a
    joined = regions.joined(into)
    labels = joined.home[truth].astype(np.int32)
    fresh = region_map(labels, planes_of(evidence), lab, 0.3)
    assert np.array_equal(joined.pair, fresh.pair)
    assert np.allclose(joined.sums, fresh.sums)
    assert np.allclose(joined.size, fresh.size)
    assert np.allclose(joined.cloth, fresh.cloth)
    assert np.allclose(joined.outer, fresh.outer)
    assert np.allclose(joined.hull_area, fresh.hull_area)
    kept = joined.before >= 0
    assert np.allclose(regions.sums[joined.before[kept]], joined.sums[kept])


def test_measures_kept_from_the_last_map_equal_fresh_ones():
    truth = labels_of(pinwheels(3, 3, 30))
    regions, _, evidence = mapped(truth)
    field = Field(evidence.seam, evidence.cos2, evidence.sin2)
    first = measures(regions, field, 30.0)
    into = weakest(regions, -np.arange(len(regions.pair), dtype=float), 0.0)
    joined = regions.joined(into)
    kept = measures(joined, field, 30.0, first)
    assert (joined.before >= 0).any()
    assert np.allclose(kept, measures(joined, field, 30.0))
    assert kept.shape == (len(joined.pair), len(MEASURES))


def test_cracks_are_counted_once_each_by_their_heat():
    truth = labels_of(grid(2, 3, 20))
    regions, *_ = mapped(truth)
    inner = sum(((a != b) & (a > 0) & (b > 0)).sum() for a, b in (
        (truth[1:], truth[:-1]), (truth[:, 1:], truth[:, :-1])
    ))  # fmt: skip
    assert regions.sums[:, N].sum() == inner
    assert np.array_equal(regions.sums[:, STEPS].sum(axis=1), regions.sums[:, N])


@pytest.mark.parametrize("degrees", [0, 17, 45, 90, 133])
def test_lines_are_those_of_a_least_squares_fit(degrees):
    angle = np.radians(degrees)
    y, x = np.mgrid[:120, :120] - 60.0
    labels = np.where(x * np.sin(angle) - y * np.cos(angle) > 0, 1, 2).astype(np.int32)
    labels[np.hypot(x, y) > 50] = 0
    zero = np.zeros(labels.shape, np.float32)
    sums = border_sums(labels, zero, zero, zero)
    line = fits(sums)
    # numpy's singular vectors of the crack middles (total least squares) as the reference.
    points = []
    for dy, dx in ((1, 0), (0, 1)):
        a, b = labels[: 120 - dy, : 120 - dx], labels[dy:, dx:]
        r, c = np.nonzero((a != b) & (a > 0) & (b > 0))
        points.append(np.stack([c + 0.5 + dx / 2, r + 0.5 + dy / 2], axis=1))
    points = np.concatenate(points)
    ways = np.linalg.svd(points - points.mean(axis=0))[2]
    assert np.allclose(line.middle[0], points.mean(axis=0))
    assert abs(ways[0] @ line.way[0]) == pytest.approx(1, abs=1e-9)
    assert line.bend[0] == pytest.approx(
        np.std((points - points.mean(axis=0)) @ ways[1]), abs=1e-6
    )
    assert line.length[0] == pytest.approx(100, rel=0.03)
    assert abs(np.degrees(np.arccos(abs(line.way[0] @ [np.cos(angle), np.sin(angle)])))) < 1


@pytest.mark.parametrize(("gap", "parted"), [(6, True), (10, True), (26, False)])
def test_a_ridge_with_a_gap_parts_what_is_clearly_wider_than_the_gap(gap, parted):
    heat = np.zeros((60, 100), np.float32)
    heat[:, 49:51] = 0.9
    heat[30 - gap // 2 : 30 + gap // 2, 49:51] = 0
    mask = np.zeros(heat.shape, bool)
    mask[15:45, 5:95] = True
    out = coarse_basins(heat, mask, BasinSettings())
    assert (out > 0).tolist() == mask.tolist()
    assert (out[30, 20] != out[30, 80]) == parted


def test_regions_come_back_to_the_ridges_at_full_resolution():
    truth = labels_of(pinwheels(3, 4, 41))
    heat = evidence_of(truth).seam
    small, inside = halved(heat, truth > 0)
    out = sharpened(coarse_basins(small, inside), heat, truth > 0)
    assert out.max() == truth.max()
    away = cv2.distanceTransform((~cracks(truth)).astype(np.uint8), cv2.DIST_L2, 5)
    line = cracks(out)
    # A watershed lies within a pixel of the ridge it follows.
    assert np.percentile(away[line], 99) <= 2
    for k in range(1, out.max() + 1):
        assert ndimage.label(out == k)[1] == 1


def test_correlation_is_that_of_a_template_search():
    rng = np.random.default_rng(0)
    big = ndimage.gaussian_filter(rng.random((40, 50)), 1.0).astype(np.float32)
    small = big[10:30, 15:40].copy()
    ones = np.ones_like(small), np.ones_like(big)
    alike, overlap = _correlation((small, ones[0]), (big, ones[1]))
    # skimage's normalised cross-correlation, over the places where the template lies inside.
    expected = match_template(big, small)
    whole = alike[: expected.shape[0], : expected.shape[1]]
    assert np.allclose(overlap[: expected.shape[0], : expected.shape[1]], small.size, atol=0.1)
    assert np.allclose(whole, expected, atol=2e-3)
    assert np.unravel_index(whole.argmax(), whole.shape) == (10, 15)


def test_other_blocks_show_a_seam_that_is_missing_in_one():
    truth = labels_of(pinwheels(5, 6, 64))
    heat = evidence_of(truth).seam
    small, inside = halved(heat, truth > 0)
    y, x = np.nonzero(cracks(np.isin(truth, (29,)).astype(np.int32)) & np.isin(truth, (29, 30)))
    # Only the diagonal: away from the outline of the square that 29 and 30 make.
    square = cv2.erode(np.isin(truth, (29, 30)).astype(np.uint8), np.ones((15, 15)))
    keep = square[y, x] > 0
    y, x = y[keep] // 2, x[keep] // 2
    gone = small.copy()
    gone[cv2.erode(square, np.ones((3, 3)))[::2, ::2][: small.shape[0], : small.shape[1]] > 0] = 0
    out = repeats(gone, inside)
    assert gone[y, x].mean() < 0.1
    assert np.median(out.heat[y, x]) > 0.6
    assert np.median(out.trust[y, x]) > 0.5


def test_heat_without_any_order_has_no_copies_worth_trusting():
    rng = np.random.default_rng(3)
    heat = np.zeros((240, 300), np.float32)
    for _ in range(15):
        a, b = rng.integers(0, 240, 2), rng.integers(0, 240, 2)
        cv2.line(heat, (int(a[0]), int(a[1])), (int(b[0]), int(b[1])), 0.9, 2)
    out = repeats(heat, np.ones(heat.shape, bool))
    assert np.median(out.trust) < 0.35


def test_a_clear_seam_goes_on_to_the_next_one_where_another_takes_it_up():
    labels = np.zeros((80, 140), np.int32)
    labels[5:40, 5:45], labels[40:75, 5:45] = 1, 2
    labels[5:75, 45:95] = 3
    labels[5:40, 95:135], labels[40:75, 95:135] = 4, 5
    evidence = evidence_of(labels)
    field = Field(evidence.seam, evidence.cos2, evidence.sin2)
    sums = border_sums(labels, evidence.seam, evidence.cos2, evidence.sin2)
    zero = np.zeros_like(evidence.seam)
    drawn = continuations(sums, field, labels > 0, zero, 40.0, LineSettings())
    assert (drawn[38:42, 52:88].max(axis=0) == 1).all()
    # Nothing takes the line up on the other side: no reason to draw.
    alone = labels.copy()
    alone[labels == 5] = 4
    evidence = evidence_of(alone)
    field = Field(evidence.seam, evidence.cos2, evidence.sin2)
    sums = border_sums(alone, evidence.seam, evidence.cos2, evidence.sin2)
    drawn = continuations(sums, field, alone > 0, zero, 40.0, LineSettings())
    assert drawn[:, 55:85].sum() == 0


def test_the_judge_prefers_a_clear_border_to_a_faint_one_beside_it():
    # No two patches of one size: only heat tells borders apart.
    x, y = (0, 30, 80, 115, 160), (0, 33, 81, 121, 177)
    truth = labels_of(
        [
            shapely.box(x[i], y[j], x[i + 1], y[j + 1])
            for j, i in itertools.product(range(4), range(4))
        ]
    )
    faint = np.ones(truth.shape, np.float32)
    faint[:, : truth.shape[1] // 2] = 0.1
    evidence = evidence_of(truth, faint=faint)
    lab = np.full((*truth.shape, 3), 50, np.float32)
    # Junctions as the network shows them, as clear as the seams that meet there.
    spots = np.zeros(truth.shape, np.float32)
    for i, j in itertools.product(x, y):
        cv2.circle(spots, (12 + i, 12 + j), 2, 0.8, -1)
    spots *= faint
    planes = replace(planes_of(evidence), junction=spots)
    regions = region_map(truth, planes, lab, 0.3)
    field = Field(evidence.seam, evidence.cos2, evidence.sin2, spots)
    odds = fitted().odds(measures(regions, field, 40.0))
    share = regions.sums[:, HEAT] / regions.sums[:, N]
    # Borders at the rim of the faint half are half damped, neither clear nor faint.
    clear, faded = odds[share > 0.9], odds[share < 0.2]
    assert len(clear) == 10
    assert len(faded) == 10
    assert clear.min() > 0
    assert clear.min() > faded.max()
    assert np.median(clear) > np.median(faded) + 2


def test_direction_of_drawn_heat_is_that_of_its_lines():
    # The drawn evidence itself: scipy's gradients say the same within a few degrees.
    truth = labels_of(grid(2, 2, 60))
    evidence = evidence_of(truth)
    gy, gx = (
        signal.convolve2d(evidence.seam, k, "same") for k in ([[1], [0], [-1]], [[1, 0, -1]])
    )
    row = truth.shape[0] // 2
    assert np.abs(gy[row - 2, 25:55]).mean() > 5 * np.abs(gx[row - 2, 25:55]).mean()
    assert evidence.cos2[row, 25:55].min() > 0.95


def test_regions_of_one_shape_are_counted_whichever_way_they_lie():
    # 24 half-square triangles of two ways to lie, and two squares of twice their area.
    halves = pinwheels(2, 6, 40)
    squares = [shapely.box(240, 0, 280, 40), shapely.box(240, 40, 280, 80)]
    labels = labels_of([*halves, *squares])
    regions, _, evidence = mapped(labels)
    found = measures(regions, Field(evidence.seam, evidence.cos2, evidence.sin2), 30.0)
    small = found[:, MEASURES.index("regions like the smaller")]
    both = found[:, MEASURES.index("regions like both joined")]
    n = len(halves)
    inner = (regions.pair <= n).all(axis=1)
    assert small[inner] == pytest.approx(np.log(n), abs=1e-9)  # log(1 + the n − 1 others)
    # Two halves of one square together are like the two squares; the squares joined like none.
    pair = {tuple(p): k for k, p in enumerate(regions.pair.tolist())}
    assert both[pair[1, 2]] == pytest.approx(np.log(3), abs=1e-9)
    assert both[pair[n + 1, n + 2]] == pytest.approx(0.0, abs=1e-9)


def test_junctions_are_looked_for_at_both_ends():
    labels = labels_of(grid(1, 2, 40))
    regions, _, evidence = mapped(labels)
    junction = np.zeros_like(evidence.seam)
    y, x = np.argwhere(cracks(labels) & (np.roll(labels, -1, axis=1) != labels)).mean(axis=0)
    junction[int(y) + 21, int(x)] = 0.8
    field = Field(evidence.seam, evidence.cos2, evidence.sin2, junction)
    (row,) = measures(regions, field, 40.0)
    assert row[MEASURES.index("junction heat at the greater end")] == pytest.approx(0.8)
    assert row[MEASURES.index("junction heat at the lesser end")] == 0
