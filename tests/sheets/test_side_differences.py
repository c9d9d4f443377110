"""Which side is off, for patches whose every side is known.

The seam allowance of 1/4 in that a raw edge shows is common practice (seamwalk.trade).
"""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.sheets.sampler import grid_top, sampler_sizes

from seamwalk.geometry.polygon import side_lengths
from seamwalk.model.sizes import Finished
from seamwalk.sheets.side_differences import side_differences

LONE = replace(grid_top(1, 1), raw_edges=False)


def _differences(ring, size_in, top=LONE, outline=None):
    """Differences of one patch with this ring, given the finished lengths of its sides."""
    p = np.array(ring, float)
    patch = replace(LONE.patches[0], polygon=shapely.Polygon(p))
    whole = replace(top, patches=(patch,), outline=outline or patch.polygon)
    off = side_lengths(p) - size_in
    worst = float(off[np.argmax(np.abs(off))])
    sizes = sampler_sizes(LONE)
    size = replace(sizes.patches[0], finished=Finished(tuple(size_in), worst, "off"))
    found = side_differences(replace(sizes, patches=(size,)), whole)
    return {d.place: d.difference_in for d in found[patch.id]}


def test_sides_are_named_by_where_they_lie():
    ring = [(0, 0), (3, 0), (3.25, 3), (0, 3)]
    found = _differences(ring, (3.0, 3.0, 3.0, 3.0))
    assert found == pytest.approx(
        {"upper": 0.0, "right": float(np.hypot(0.25, 3) - 3), "lower": 0.25, "left": 0.0}
    )


def test_on_point_sides_look_into_the_corners():
    found = _differences([(2, 0), (4, 2), (2, 4), (0, 2)], (2.75,) * 4)
    assert set(found) == {"upper right", "lower right", "lower left", "upper left"}
    assert list(found.values()) == pytest.approx([8**0.5 - 2.75] * 4)


@given(st.integers(0, 3), st.booleans(), st.tuples(*[st.floats(-0.3, 0.3)] * 2))
@settings(max_examples=30, deadline=None)
def test_neither_start_nor_direction_of_the_outline_matters(start, backwards, more):
    w, h = 4 + more[0], 6 + more[1]
    ring = np.array([(0, 0), (w, 0), (w, h), (0, h)])
    size = np.array([4.0, 6.0, 4.0, 6.0])
    if backwards:
        ring, size = ring[::-1], np.roll(size[::-1], -1)
    ring, size = np.roll(ring, start, axis=0), np.roll(size, start)
    found = _differences(ring, size)
    assert found == pytest.approx(
        {"upper": more[0], "right": more[1], "lower": more[0], "left": more[1]}, abs=1e-9
    )


def test_the_allowance_of_raw_edges_is_taken_off():
    top = grid_top(2, 2, 3.25)
    sizes = sampler_sizes(top, 3.0)
    found = side_differences(
        replace(
            sizes,
            patches=tuple(
                replace(p, finished=Finished((3.0,) * 4, 0.0, "right")) for p in sizes.patches
            ),
        ),
        top,
    )
    # Each patch of two by two has two raw edges: both its sizes lose 1/4 in.
    for differences in found.values():
        assert [d.difference_in for d in differences] == pytest.approx([0.0] * 4)


def test_what_does_not_agree_with_the_measurement_is_not_told():
    size = sampler_sizes(LONE).patches[0]
    sizes = sampler_sizes(LONE)
    for finished in (
        Finished((4.0,) * 4, 0.3, "off"),  # the map says 0
        Finished((4.0,) * 3, 0.0, "right"),  # another number of sides
        Finished((), 0.0, "cannot tell"),
    ):
        given_sizes = replace(sizes, patches=(replace(size, finished=finished),))
        assert side_differences(given_sizes, LONE)[size.patch] == ()
