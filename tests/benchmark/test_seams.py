"""The benchmark of the seam map, on maps whose score can be counted by hand."""

import json
from dataclasses import asdict, replace

import numpy as np
import pytest
from tests.sheets.sampler import grid_top

from seamwalk.benchmark.seam_comparison import NEAR_PX, differences
from seamwalk.benchmark.seam_pictures import FailurePictureSettings, failure_picture, worst
from seamwalk.benchmark.seam_scenes import SeamResult, draw
from seamwalk.benchmark.seam_scoring import seam_score
from seamwalk.benchmark.seam_tables import confidence_table, photo_seam_table, seam_tables
from seamwalk.geometry.lens import Lens
from seamwalk.geometry.polygon import ring_of
from seamwalk.model.picture import View

# One inch is twenty pixels, straight down.
VIEW = View(Lens(1.0, (0.0, 0.0), (0.0, 0.0, 0.0)), np.diag([0.05, 0.05, 1.0]))


def truth_of(top, fabrics=None):
    patches = [
        {
            "outline_px": VIEW.px_from_top(ring_of(p.polygon)).tolist(),
            "fabric": p.fabric if fabrics is None else fabrics[k],
        }
        for k, p in enumerate(top.patches)
    ]
    junctions = VIEW.px_from_top([j.xy for j in top.junctions]).tolist()
    return {"patches": patches, "junctions_px": junctions}


def test_the_truth_itself_scores_one_in_everything():
    top = grid_top(3, 4)
    each = [f"cloth {k}" for k in range(12)]
    s = seam_score(truth_of(top, each), top, VIEW)
    assert s.f1 == s.visible == {0.5: 1.0, 0.8: 1.0}
    assert s.mask_iou == pytest.approx(1, abs=1e-6)
    assert max(s.junctions_px) < 1e-6
    assert all(c.real and not c.same for c in s.checks)
    # A grid of 3 by 4 has 3·3 + 2·4 seams inside.
    assert len(s.checks) == 17
    assert s.recall["other"] == 1
    assert s.boundary == s.roughly == (1, 1, 1)


def test_a_map_laid_between_once_and_twice_the_distance_off_is_only_roughly_right():
    top = grid_top(3, 4)
    truth = truth_of(top, [f"cloth {k}" for k in range(12)])
    for patch in truth["patches"]:
        patch["outline_px"] = (np.array(patch["outline_px"]) + 1.5 * NEAR_PX).tolist()
    s = seam_score(truth, top, VIEW)
    assert s.boundary[0] < 0.2  # where seams cross, a shifted one still runs near
    assert s.roughly[0] > 0.9


def test_seams_of_one_fabric_are_counted_apart():
    top = grid_top(1, 4)
    s = seam_score(truth_of(top, ["a", "a", "b", "c"]), top, VIEW)
    assert sorted(c.same for c in s.checks) == [False, False, True]
    assert s.recall == {"same": 1.0, "other": 1.0}
    # Joined on both sides, two patches of one fabric are one.
    assert s.visible[0.8] == 1


def test_a_map_without_seams_finds_only_what_one_patch_can():
    fine, whole = grid_top(2, 2), grid_top(1, 1)
    scale = np.array(fine.outline.bounds[2:]) / np.array(whole.outline.bounds[2:])
    one = whole.mapped(lambda xy: np.asarray(xy) * scale)
    s = seam_score(truth_of(fine, list("abcd")), one, VIEW)
    assert s.f1[0.5] == 0
    assert s.checks == []
    same = seam_score(truth_of(fine, list("aaaa")), one, VIEW)
    assert same.visible[0.8] == 1


def test_every_design_meets_every_set_of_fabrics():
    drawn = {(s.design, s.fabrics) for s in map(draw, range(72))}
    assert len(drawn) == 72


def some(seed=0, **how):
    checks = [(0.95, False, False, True, 40.0)] * 9 + [(0.95, False, True, False, 40.0)]
    given = {
        "patches": 4, "found": 4, "f1": (1.0, 0.5), "visible": (1.0, 1.0),
        "junctions_in": [0.01, None], "mask_iou": 0.99, "checks": checks,
        "recall": {"same": 0.5, "other": 1.0}, "lengths": {"same": 10.0, "other": 30.0},
        "boundary": (0.9, 0.9, 0.9), "px_per_in": 30.0, "seconds": 2.0,
    }  # fmt: skip
    return SeamResult(seed, "nine patch, solids, wood", **{**given, **how})


def test_tables_hold_what_was_counted():
    text = seam_tables([some(), replace(some(1), name="star, prints, wood")])
    assert "2 scenes, 2 measured" in text
    assert "| nine patch | 4 of 4 | 1.000 | 0.500 |" in text
    # 9 of 10 seams said .95 are real: a calibration error of .05.
    assert "Calibration error 0.050." in confidence_table([some()])
    assert "0.500" in photo_seam_table([some()])


def test_a_refused_picture_counts_as_nothing_found():
    text = seam_tables(
        [some(), SeamResult(1, "star, prints, wood", 10, error="No card. Lay one.")]
    )
    assert "| all | 4 of 14 | 0.500 | 0.250 |" in text
    assert "scene 1 (star, prints, wood): No card. Lay one." in text


def test_results_survive_being_kept():
    again = SeamResult.from_json(json.loads(json.dumps(asdict(some()))))
    assert asdict(again) == asdict(some())


def test_differences_are_what_was_left_out_and_what_was_put_in():
    fine, coarse = grid_top(4, 1), grid_top(2, 1)
    scale = np.array(fine.outline.bounds[2:]) / np.array(coarse.outline.bounds[2:])
    half = coarse.mapped(lambda xy: np.asarray(xy) * scale)
    same = differences(truth_of(fine, list("abcd")), fine, VIEW)
    assert len(same.right) == 3
    assert not same.invented
    assert not len(same.missed)
    less = differences(truth_of(fine, list("abcd")), half, VIEW)
    assert len(less.right) == 1
    # Two of three equal seams are missed: first and last, none in the middle.
    x0, _, x1, _ = less.bounds
    where = (less.missed[:, 0] - x0) / (x1 - x0)
    assert np.unique(where.round(2)).tolist() == [0.25, 0.75]
    more = differences(truth_of(half, list("ab")), fine, VIEW)
    assert len(more.right) == 1
    assert len(more.invented) == 2


def test_pictures_of_failures_change_only_where_something_is_said():
    fine, coarse = grid_top(4, 1), grid_top(2, 1)
    scale = np.array(fine.outline.bounds[2:]) / np.array(coarse.outline.bounds[2:])
    half = coarse.mapped(lambda xy: np.asarray(xy) * scale)
    found = differences(truth_of(fine, list("abcd")), half, VIEW)
    x1, y1 = (int(v) + 40 for v in found.bounds[2:])
    grey = np.full((y1, x1, 3), 128, np.uint8)
    settings = FailurePictureSettings(longest_px=4000)
    changed = (failure_picture(grey, found, settings) != 128).any(axis=(0, 2))
    low = max(0, int(found.bounds[0] - 0.03 * (found.bounds[2] - found.bounds[0])))
    width = found.bounds[2] - found.bounds[0]
    share = (np.flatnonzero(changed) + low - found.bounds[0]) / width
    near = np.abs(share[:, None] - np.array([0.25, 0.5, 0.75])).min(axis=1)
    assert near.max() < 0.05
    assert {0.25, 0.5, 0.75} <= set(np.round(4 * share) / 4)


def test_the_worst_come_first_and_refused_ones_not_at_all():
    results = [
        SeamResult(1, "a", f1=(1.0, 0.9)),
        SeamResult(2, "b", f1=(1.0, 0.2)),
        SeamResult(3, "c", error="No."),
    ]
    assert [r.seed for r in worst(results, 5)] == [2, 1]
