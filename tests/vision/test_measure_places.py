"""Misread patches of a repeated block: the block's other copies know their size."""

from collections import Counter

import numpy as np
import pytest
from tests.vision.drawn_tops import straight_down
from tests.vision.pieced_tops import block, rect, tiled, top_of

from seamwalk.vision.blocks import blocks_of
from seamwalk.vision.measure import measure
from seamwalk.vision.measure_classes import kinds
from seamwalk.vision.measure_doubt import DoubtSettings
from seamwalk.vision.measure_finished import finished_shapes
from seamwalk.vision.measure_places import in_places

RAIL = block(rect("a", 0, 0, 6, 1.5), rect("b", 0, 1.5, 6, 1.5), rect("c", 0, 3, 6, 3))


def misread(by, blocks=3):
    """Return 5 x 4 blocks of three strips, the seam of the first ones seen `by` too low."""
    top = top_of(tiled(lambda col, row: RAIL, 5, 4, 6))

    def move(p):
        seam = (np.abs(p[:, 1] - 3) < 1e-6) & (p[:, 0] > -1e-6) & (p[:, 0] < 6 * blocks + 1e-6)
        return np.column_stack([p[:, 0], p[:, 1] + by * seam])

    return top.mapped(move)


def test_a_few_misread_at_their_place_are_of_its_kind():
    top = misread(0.22)
    shapes = finished_shapes(top)
    found, shapes = kinds(shapes)
    assert len(found) > 2
    joined = in_places(found, shapes, blocks_of(top, shapes))
    assert sorted(len(kind.members) for kind in joined) == [20, 40]
    # What was meant is still told by those that were seen well.
    assert sum(len(kind.true) for kind in joined) < 60
    sizes = measure(top, straight_down(), settings=DoubtSettings(bump_in=0.0))
    names = Counter(p.class_name for p in sizes.patches)
    assert names == {"rectangle 1 1/2 x 6": 40, "rectangle 3 x 6": 20}


def test_what_differs_by_more_than_can_be_eased_stays_its_own_kind():
    top = misread(0.5)
    found, shapes = kinds(finished_shapes(top))
    joined = in_places(found, shapes, blocks_of(top, shapes))
    assert {(1, 4, 7), (2, 5, 8)} <= {kind.members for kind in joined}


@pytest.mark.parametrize("by", [0.0, 0.22])
def test_without_blocks_nothing_changes(by):
    found, shapes = kinds(finished_shapes(misread(by)))
    assert in_places(found, shapes, None) is found
