"""The second look: what the blocks of a map found say of one another.

Maps are drawn, so where a top repeats is known by geometry; bounds are common practice, no source.
"""

import cv2
import numpy as np
from tests.vision.drawn_heat import cracks, evidence_of, flat_of, labels_of
from tests.vision.drawn_tops import grid, pinwheels

from seamwalk.vision.heat import partition_of
from seamwalk.vision.heat_again import Support, support
from seamwalk.vision.heat_basins import halved
from seamwalk.vision.heat_copies import CopySettings, copies
from seamwalk.vision.heat_cut import CutSettings, _lines_only
from seamwalk.vision.heat_features import AGAIN, MEASURES, measures
from seamwalk.vision.heat_graph import Planes, region_map
from seamwalk.vision.heat_lines import Field
from seamwalk.vision.heat_others import OF_OTHERS

SIDE = 60


def halved_lines(truth, without=None):
    """Return the lines of `truth` at half resolution, those of `without` (H, W) left out."""
    lines = cracks(truth) & (truth > 0)
    if without is not None:
        lines &= ~without
    return halved(lines.astype(np.float32), truth > 0)


def diagonal_of(truth, a, b):
    """Return where (H, W) two halves of one square meet, away from its corners."""
    square = np.isin(truth, (a, b)).astype(np.uint8)
    inner = cv2.erode(square, np.ones((13, 13), np.uint8)) > 0
    return inner & cv2.dilate(cracks(truth).astype(np.uint8), np.ones((3, 3), np.uint8)).astype(
        bool
    )


def test_copies_lie_on_the_picture_that_they_are_of():
    truth = labels_of(pinwheels(4, 5, SIDE))
    lines, inside = halved_lines(truth)
    near = cv2.dilate(lines, np.ones((5, 5), np.uint8))
    ways = list(copies(lines, inside, CopySettings(most_shifts=2, most_turned=1)))
    # Diagonals that change from square to square look the same in all eight ways.
    assert {(w.turns, w.mirrored) for w in ways} == {(k, m) for k in range(4) for m in (0, 1)}
    for way in ways:
        there = way.of(lines)
        assert way.shown.mean() > 0.2
        assert near[way.shown & (there > 0)].mean() > 0.9
        assert there.sum() <= lines.sum()


def test_plain_shifts_are_whole_blocks():
    truth = labels_of(pinwheels(4, 5, SIDE))
    lines, inside = halved_lines(truth)
    for way in copies(lines, inside, CopySettings(most_shifts=3)):
        if way.turns or way.mirrored:
            continue
        dy, dx = (t.start - h.start for t, h in zip(way.there, way.here, strict=True))
        blocks = np.array([dy, dx]) / (SIDE / 2)
        assert np.abs(blocks - np.round(blocks)).max() * SIDE / 2 <= 2
        assert np.abs(np.round(blocks)).sum() >= 1


def test_other_blocks_speak_for_a_hidden_seam_and_against_a_stray_one():
    truth = labels_of(pinwheels(8, 10, 48))
    hidden = diagonal_of(truth, 65, 66)
    lines, inside = halved_lines(truth, hidden)
    # A stray line through a patch of another block, halfway between its seams.
    stray = np.zeros_like(lines)
    y, x = np.nonzero(halved((truth == 33).astype(np.float32), truth == 33)[1])
    cv2.line(stray, (int(x.mean()), int(y.min())), (int(x.mean()), int(y.max())), 1.0, 1)
    stray *= cv2.dilate(lines, np.ones((5, 5), np.uint8)) == 0
    told = support(np.maximum(lines, stray), lines, inside)
    gone = halved((hidden & cracks(truth)).astype(np.float32), truth > 0)[0] > 0
    assert gone.sum() > 10
    assert stray.sum() > 3
    assert np.median(told.beyond_chance[gone]) > 0.65
    assert np.median(told.belief[gone]) > 0.5
    assert np.median(told.beyond_chance[stray > 0]) < 0.35


def test_lines_without_any_order_say_nothing():
    rng = np.random.default_rng(3)
    lines = np.zeros((240, 300), np.float32)
    for _ in range(15):
        a, b = rng.integers(0, 240, 2), rng.integers(0, 240, 2)
        cv2.line(lines, (int(a[0]), int(a[1])), (int(b[0]), int(b[1])), 1.0, 1)
    told = support(lines, lines, np.ones(lines.shape, bool))
    assert told.belief.mean() < 0.1


def test_borders_are_judged_by_what_the_others_say_so_far_as_it_is_believed():
    truth = labels_of(grid(3, 3, 40))
    evidence = evidence_of(truth)
    zero, one = np.zeros_like(evidence.seam), np.ones_like(evidence.seam)
    lab = np.full((*truth.shape, 3), 50, np.float32)
    # The left half is not believed at all.
    belief = np.where(np.arange(truth.shape[1]) < truth.shape[1] / 2 - 5, 0, 0.8)
    belief = np.broadcast_to(belief.astype(np.float32), truth.shape)
    # On both sides of a seam, as a look leaves them.
    lines = cv2.dilate(cracks(truth).astype(np.float32), np.ones((3, 3), np.uint8))
    told = Support(lines, 0.5 * one, 0.25 * one, 0.1 * one, belief)
    first = (evidence.seam, evidence.cos2, evidence.sin2, zero, zero, zero, zero)
    regions = region_map(truth, Planes(*first, told=told), lab, 0.3)
    field = Field(evidence.seam, evidence.cos2, evidence.sin2, found=lines)
    found = measures(regions, field, 40.0)
    assert found.shape[1] == len(AGAIN)
    others = dict(zip(OF_OTHERS, found[:, len(MEASURES) :].T, strict=True))
    left = (regions.pair % 3 == 1).all(axis=1)
    right = (regions.pair % 3 == 0).all(axis=1)
    assert left.sum() == right.sum() == 2
    want = {
        "other blocks show it": 0.4,
        "other blocks lack it": 0.4,
        "heat of other blocks": 0.2,
        "other blocks beyond chance": 0.08,
    }
    for name, value in want.items():
        assert np.allclose(others[name][left], 0, atol=1e-6)
        assert np.allclose(others[name][right], value, atol=1e-6)
    assert np.allclose(others["found before"], 1)
    # Lines of a grid go on from side to side; beyond the top there is nothing.
    assert (others["found along the whole line"] > 0.05).all()
    alone = measures(regions, Field(evidence.seam, evidence.cos2, evidence.sin2), 40.0)
    assert np.array_equal(alone, found[:, : len(MEASURES)])


def test_copies_that_would_fill_a_strip_offer_nothing_there():
    # Strips of 7 half-resolution pixels: the seams of other blocks, thickened by the 2 that they
    # may lie off, would cover 5 of them.  In a patch of 40 the same line is a line.
    regions = np.zeros((90, 40), np.int32)
    regions[:50] = 1
    regions[50:] = 2 + np.arange(40)[:, None] // 7
    offered = np.zeros(regions.shape, bool)
    offered[20:25] = True
    for row in range(50, 90, 7):
        offered[row + 1 : row + 6] = True
    out = _lines_only(offered, regions, CutSettings().filled)
    assert np.array_equal(out[:50], offered[:50])
    assert not out[50:].any()


def test_an_inferred_seam_is_an_offer_only():
    truth = labels_of(pinwheels(8, 10, 48))
    hidden = diagonal_of(truth, 65, 66)
    hidden = cv2.dilate(hidden.astype(np.uint8), np.ones((9, 9), np.uint8)) > 0
    faint = np.where(hidden, 0.02, 1).astype(np.float32)
    words = np.arange(truth.max()) % 2
    words[64:66] = 2
    out = partition_of(evidence_of(truth, faint=faint), flat_of(truth, words), truth > 0)
    line = diagonal_of(truth, 65, 66) & cracks(truth)
    assert out.inferred is not None
    assert out.inferred[line].mean() > 0.7
    assert np.median(out.confidence[line]) <= 0.5
