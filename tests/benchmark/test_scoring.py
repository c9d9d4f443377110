"""The scorer by hand-made cases whose answers are plain arithmetic."""

import pytest

from seamwalk.benchmark.scoring import score

PX_PER_IN = 20.0


def _patch(x0, y0, x1, y1, off=0.0):
    ring = [[x0, y0], [x1, y0], [x1, y1], [x0, y1]]
    px = [[x * PX_PER_IN + off, y * PX_PER_IN] for x, y in ring]
    sides = [x1 - x0, y1 - y0, x1 - x0, y1 - y0]
    return {
        "outline": ring,
        "outline_px": px,
        "sides": [{"value": s, "plus_minus": 0.05} for s in sides],
    }


def _top(patches, width=4.0, height=2.0):
    def size(value):
        return {"value": value, "plus_minus": 0.1}

    return {"patches": patches, "size": {"width": size(width), "height": size(height)}}


TRUTH = {"patches": [_patch(0, 0, 2, 2), _patch(2, 0, 4, 2)], "size_in": [4, 2]}


def test_the_truth_scores_one():
    s = score(TRUTH, _top(TRUTH["patches"]))
    assert s.f1 == {0.5: 1.0, 0.8: 1.0}
    assert s.side_errors_in.tolist() == [0] * 8
    assert s.coverage == 1


def test_one_missed_seam_halves_and_worse():
    # One patch over both: IoU 1/2 with each, so one match at 0.5 and none at 0.8.
    s = score(TRUTH, _top([_patch(0, 0, 4, 2)]))
    assert s.f1[0.5] == pytest.approx(2 * 1 / 3)
    assert s.f1[0.8] == 0


def test_a_shifted_patch_loses_its_match():
    # Shifted by a quarter of its width: IoU = 0.75 / 1.25 = 0.6.
    s = score(TRUTH, _top([_patch(0, 0, 2, 2, off=10), _patch(2, 0, 4, 2)]))
    assert s.f1[0.5] == 1
    assert s.f1[0.8] == 0.5


def test_wrong_sides_are_seen_and_outside_the_bound():
    wrong = _patch(0, 0, 2, 2)
    wrong["sides"][0]["value"] = 2.2
    s = score(TRUTH, _top([wrong, TRUTH["patches"][1]], width=4.3))
    assert s.side_errors_in.max() == pytest.approx(0.2)
    assert s.coverage == pytest.approx(7 / 8)
    assert s.width_error_in == pytest.approx(0.3)


def test_the_order_of_corners_does_not_matter():
    turned = _patch(0, 0, 2, 2)
    for key in ("outline", "outline_px", "sides"):
        turned[key] = turned[key][2:] + turned[key][:2]
    s = score(TRUTH, _top([TRUTH["patches"][1], turned]))
    assert s.side_errors_in.max() == pytest.approx(0)
