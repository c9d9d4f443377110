"""What stands on a patch, for shapes as cut and as a photo shows them."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from tests.sheets.sampler import grid_top, sampler_sizes

from seamwalk.geometry.cut_corners import main_corners
from seamwalk.geometry.polygon import ring_of, side_lengths
from seamwalk.geometry.polyline import corners
from seamwalk.model.sizes import Length
from seamwalk.sheets.patch_words import in_one_number, measured_words

PATCH = grid_top(1, 1).patches[0]
SIZE = sampler_sizes(grid_top(1, 1)).patches[0]


def _patch(ring, shape="other"):
    p = np.array(ring, float)
    turning = corners(p)
    sides = tuple(Length(float(v), 0.05) for v in side_lengths(p[turning]))
    return replace(SIZE, shape=shape, sides=sides), replace(PATCH, polygon=shapely.Polygon(p))


@pytest.mark.parametrize(
    ("ring", "shape", "text"),
    [
        ([(0, 0), (3, 0), (3, 3), (0, 3)], "square", "3 × 3"),
        # Width comes before height, whichever side the outline starts with.
        ([(0, 0), (4, 0), (4, 6), (0, 6)], "rectangle", "4 × 6"),
        ([(4, 0), (4, 6), (0, 6), (0, 0)], "rectangle", "4 × 6"),
        ([(0, 0), (3, 0), (0, 3)], "half-square triangle", "3 × 3"),
        ([(0, 3), (3, 0), (6, 3)], "quarter-square triangle", "6 × 3"),
        ([(0, 0), (3, 3), (0, 6)], "quarter-square triangle", "3 × 6"),
        # With its long side along the page it is told by width and height, whatever its name.
        ([(0, 0), (3, 3), (-3, 3)], "half-square triangle", "6 × 3"),
        ([(2, 0), (4, 2), (2, 4), (0, 2)], "square", "2 7/8 × 2 7/8"),
        ([(0, 0), (5, 0), (4, 2), (1, 2)], "trapezoid", "5 · 2 1/4 · 3 · 2 1/4"),
        ([(0, 0), (4, 0), (1, 3)], "triangle", "4 · 4 1/4 · 3 1/8"),
        ([(0, 0), (6, 0), (6, 2), (2, 2), (2, 5), (0, 5)], "other", "6 × 5 over all"),
    ],
)
def test_shapes_as_cut(ring, shape, text):
    assert measured_words(*_patch(ring, shape), "in") == text


def test_a_strip_that_gets_narrower_shows_both_ends():
    size, patch = _patch([(0, 0), (40, 0), (40, 3.5), (0, 3)], "rectangle")
    assert measured_words(size, patch, "in") == "40 × 3 to 3 1/2"


def test_hexagons_are_told_by_their_side():
    turn = np.arange(6) * np.pi / 3
    ring = np.column_stack([np.cos(turn), np.sin(turn)]) * 2
    assert measured_words(*_patch(ring, "hexagon"), "in") == "sides 2"
    ring[0, 0] += 0.45
    assert measured_words(*_patch(ring, "hexagon"), "in") == "sides 2 to 2 1/4"


@pytest.mark.parametrize(
    "ring",
    [
        # A corner seen as two junctions, 0.1 in apart.
        [(0, 0), (2.95, 0), (3, 0.09), (3, 3), (0, 3)],
        [(0, 0), (3, 0), (3, 3), (0.1, 3), (0, 2.9)],
        # A seam that jogs by 0.1 in half way, and one that bends.
        [(0, 0), (3, 0), (3, 1.5), (3.1, 1.5), (3.1, 3), (0, 3)],
        [(0, 0), (1.5, -0.08), (3, 0), (3, 3), (0, 3)],
    ],
)
def test_stubs_and_bends_do_not_count(ring):
    size, patch = _patch(ring)
    assert len(main_corners(ring_of(patch.polygon))) == 4
    assert measured_words(size, patch, "in").replace("3 1/8", "3") == "3 × 3"


def test_a_cut_off_corner_is_a_side_of_its_own():
    size, patch = _patch([(0, 0), (2.5, 0), (3, 0.5), (3, 3), (0, 3)])
    assert len(main_corners(ring_of(patch.polygon))) == 5
    assert measured_words(size, patch, "in") == "3 × 3 over all"


def test_a_square_with_a_corner_too_many_is_told_by_its_kind_alone():
    ring = [(0, 0), (2.5, 0), (3, 0.5), (3, 3), (0, 3)]
    assert measured_words(*_patch(ring, "square"), "in") == ""
    assert in_one_number(*_patch(ring, "square"), "in") == ""


@pytest.mark.parametrize(
    ("ring", "text"),
    [
        ([(0, 0), (3, 0), (3, 3), (0, 3)], "3"),
        ([(0, 0), (3.06, 0), (3.06, 2.94), (0, 2.94)], "3"),
        ([(0, 0), (3.2, 0), (3.2, 3), (0, 3)], ""),
        ([(0, 0), (3, 0), (0, 3)], "3"),
        ([(0, 3), (3, 0), (6, 3)], ""),
        ([(0, 0), (4, 1), (4, 5), (0, 4)], ""),
    ],
)
def test_one_number_only_for_squares_and_their_halves(ring, text):
    assert in_one_number(*_patch(ring), "in") == text


def test_small_patches_keep_their_small_sides():
    # A 1/8 in sliver of a border is not a stub of itself.
    _, patch = _patch([(0, 0), (0.15, 0), (0.15, 0.15), (0, 0.15)])
    assert len(main_corners(ring_of(patch.polygon))) == 4


def test_the_shown_size_is_the_measured_one():
    size, patch = _patch([(0, 0), (4, 0), (4, 6), (0, 6)], "rectangle")
    for k in range(4):
        turned = replace(
            patch,
            polygon=shapely.Polygon(
                np.roll(np.array(patch.polygon.exterior.coords[:-1]), k, axis=0)
            ),
        )
        ring = np.array(turned.polygon.exterior.coords[:-1])
        sides = tuple(Length(float(v) + 0.125, 0.05) for v in side_lengths(ring))
        assert measured_words(replace(size, sides=sides), turned, "in") == "4 1/8 × 6 1/8"


def test_no_corners_no_size():
    assert measured_words(replace(SIZE, sides=()), PATCH, "in") == ""
