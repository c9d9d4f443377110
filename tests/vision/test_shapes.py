import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from seamwalk.geometry.polygon import side_lengths
from seamwalk.vision.shapes import dimensions, finished_sides, name_shape

R2 = np.sqrt(2)
KNOWN = {
    "square": [(0, 0), (3, 0), (3, 3), (0, 3)],
    "rectangle": [(0, 0), (6, 0), (6, 2), (0, 2)],
    "half-square triangle": [(0, 0), (3, 0), (0, 3)],
    "quarter-square triangle": [(0, 0), (6, 0), (3, 3)],
    "triangle": [(0, 0), (4, 0), (0, 2)],
    "parallelogram": [(0, 0), (4, 0), (6, 2), (2, 2)],
    "diamond": [(0, 0), (3, 0), (3 + 3 / R2, 3 / R2), (3 / R2, 3 / R2)],
    "kite": [(0, 0), (2, -1), (6, 0), (2, 1)],
    "trapezoid": [(0, 0), (6, 0), (4, 2), (2, 2)],
    "hexagon": [(2 * np.cos(a), 2 * np.sin(a)) for a in np.arange(6) * np.pi / 3],
    "other": [(0, 0), (4, 0), (4, 4), (2, 1), (0, 4)],
}


@pytest.mark.parametrize("name", KNOWN)
@given(st.integers(0, 5), st.booleans(), st.integers(0, 2**31))
def test_shapes_keep_their_names_from_any_corner_either_way_and_sewn_by_hand(
    name, start, back, seed
):
    ring = np.roll(np.array(KNOWN[name], float), start, axis=0)
    ring = ring[::-1] if back else ring
    ring = ring + np.random.default_rng(seed).uniform(-0.02, 0.02, ring.shape)
    assert name_shape(ring) == name


def test_a_square_on_point_is_a_square():
    assert name_shape([(0, 3), (3, 0), (6, 3), (3, 6)]) == "square"


# Finished sizes by the trade's formulas: facts of cutting, 2:1 for a goose, leg · √2 for the long
# side of a half-square triangle.
@pytest.mark.parametrize(
    ("name", "dims", "sides"),
    [
        ("square", (3,), [3, 3, 3, 3]),
        ("rectangle", (2, 6), [6, 2, 6, 2]),
        ("half-square triangle", (3,), [3, 3 * R2, 3]),
        ("quarter-square triangle", (6,), [6, 3 * R2, 3 * R2]),
        ("diamond", (3,), [3, 3, 3, 3]),
        ("hexagon", (2,), [2] * 6),
        ("triangle", (4, 2), [4, np.sqrt(20), 2]),
        ("parallelogram", (6, 2), [4, 2 * R2, 4, 2 * R2]),
        ("trapezoid", (6, 2), [6, 2 * R2, 2, 2 * R2]),
        ("kite", (np.sqrt(5), np.sqrt(17)), [np.sqrt(5), np.sqrt(17), np.sqrt(17), np.sqrt(5)]),
    ],
)
def test_exact_patches_have_their_textbook_size(name, dims, sides):
    ring = np.array(KNOWN[name], float)
    assert dimensions(name, ring) == pytest.approx(dims)
    assert finished_sides(name, ring, dims, 1 / 8) == pytest.approx(sides)


@given(st.sampled_from(sorted(set(KNOWN) - {"other"})), st.integers(0, 2**31))
def test_finished_sides_are_near_the_measured_ones(name, seed):
    ring = np.array(KNOWN[name], float)
    ring += np.random.default_rng(seed).uniform(-0.02, 0.02, ring.shape)
    dims = tuple(round(v * 8) / 8 for v in dimensions(name, ring))
    got = finished_sides(name, ring, dims, 1 / 8)
    # Each corner is within a sixteenth on both axes of the grain, twice.
    assert np.abs(got - side_lengths(ring)).max() < 0.25
