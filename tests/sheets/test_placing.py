"""Numbers keep clear of one another and of the path."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.sheets.sampler import sampler_route

from seamwalk.sheets.drawing import Label, Projection
from seamwalk.sheets.placing import Occupied, place
from seamwalk.sheets.raster import label_box
from seamwalk.sheets.stop_marks import stop_items
from seamwalk.sheets.walk import runs


@settings(max_examples=50, deadline=None)
@given(st.lists(st.tuples(st.floats(0, 400), st.floats(0, 300)), min_size=1, max_size=12))
def test_placed_labels_stay_in_the_picture(points):
    occupied = Occupied.blank(400, 300, 4)
    for at in points:
        found = place(occupied, at, (40, 16))
        assert found is not None
        assert 20 <= found[0] <= 400 - 20
        assert 8 <= found[1] <= 304 - 8


def test_two_labels_at_one_point_do_not_overlap():
    occupied = Occupied.blank(400, 300, 2)
    boxes = [place(occupied, (200, 150), (50, 20)) for _ in range(6)]
    for i, (x0, y0) in enumerate(boxes):
        for x1, y1 in boxes[:i]:
            assert abs(x0 - x1) >= 48 or abs(y0 - y1) >= 18


def test_a_label_goes_to_the_free_side_of_a_line():
    occupied = Occupied.blank(400, 300, 2)
    x, y = np.meshgrid(np.arange(0, 200), np.arange(0, 300))
    occupied.add_points(np.column_stack([x.ravel(), y.ravel()]).astype(float))
    found, _ = place(occupied, (200, 150), (40, 16))
    assert found - 20 >= 200


def test_no_room_is_said_rather_than_hidden():
    assert place(Occupied.blank(400, 300, 4), (200, 150), (500, 16)) is None
    full = Occupied.blank(400, 300, 4)
    full.take(0, 0, 400, 300)
    assert place(full, (200, 150), (40, 16), most_cost=2.0) is None
    assert place(full, (200, 150), (40, 16)) is not None


@pytest.mark.parametrize("most", [5, 30])
def test_numbers_of_stops(most):
    projection = Projection.flat((-1, -1), 60.0)
    occupied = Occupied.blank(18 * 60, 14 * 60, 4)
    items = stop_items(runs(sampler_route()), projection, occupied, 0.05, 20.0, most)
    labels = [i for i in items if isinstance(i, Label)]
    texts = [label.text for label in labels]
    assert {"start 1", "start 2", "start 3", "end 1", "end 2", "end 3"} <= set(texts)
    steps = [int(t) for t in texts if t.isdigit()]
    assert 2 <= len(steps) <= most
    boxes = []
    for label in labels:
        x, y = projection.px_from_in(np.array([label.at]))[0]
        w, h = label_box(label, 60.0)
        assert w / 2 - 4 <= x <= 18 * 60 - w / 2 + 4
        assert h / 2 - 4 <= y <= 14 * 60 - h / 2 + 4
        boxes.append((x, y, w, h))
    for i, (x0, y0, w0, h0) in enumerate(boxes):
        for x1, y1, w1, h1 in boxes[:i]:
            assert abs(x0 - x1) > (w0 + w1) / 2 - 6 or abs(y0 - y1) > (h0 + h1) / 2 - 6
