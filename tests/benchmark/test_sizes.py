"""The benchmark of sizes: what it draws, keeps and counts, by cases counted by hand."""

import json
from dataclasses import asdict

import numpy as np

from seamwalk.benchmark.scene_run import run_scenes
from seamwalk.benchmark.size_scenes import SizeResult, draw, measure_scene
from seamwalk.benchmark.size_tables import size_tables


def result(seed, cards=2, tilt=10.0, error=0.02, pm=0.04, **how):
    drawn = {
        "design": "nine patch",
        "fabrics": "solids",
        "tilt_deg": tilt,
        "bumps_in": 0.1,
        "cards": cards,
        "px_per_in": 30.0,
        "card_in": 6.0,
        "sizes_in": {"overall": [40.0, 50.0]},
    }
    some = {
        "sides": [(error, pm)] * 19 + [(3 * error, pm)],
        "overall": [(0.05, 0.1), (-0.15, 0.1)],
        "diagonals": [(0.1, 0.2), (0.0, 0.2)],
        "skew": [(0.05, 0.2)],
        "taper": [(0.0, 0.2), (0.1, 0.2)],
        "verdict": "square",
    }
    return SizeResult(seed, drawn, **{**some, **how})


def cells(table, *starts):
    rows = [[c.strip() for c in line.strip("|").split("|")] for line in table.splitlines()]
    return next(row for row in rows if row[: len(starts)] == list(starts))


def test_errors_and_coverage_are_counted():
    row = cells(size_tables([result(0), result(1)]), "2", "0–15°", "patch sides")
    # 40 sides, 38 of them off by .02 and two by .06 with a ± of .04: 95 % within.
    assert row[3:] == ["2 / 40", "0.020", "0.022", "+0.022", "0.040", "95.0 %"]
    row = cells(size_tables([result(0), result(1)]), "2", "0–15°", "width and height")
    assert row[-1] == "50.0 %"


def test_the_rulers_error_is_taken_out_of_lengths_by_scale():
    # A card that is 1 % larger than the ruler said: everything reads 1 % too small.
    one = result(0, overall=[(-0.4, 0.1), (-0.5, 0.1)])
    one.drawn["card_in"] = 6.06
    row = cells(size_tables([one]), "width and height, the same")
    assert float(row[2]) > 0.49
    assert float(row[3]) < 0.01


def test_a_crooked_top_called_square_is_counted():
    some = [
        result(0, crooked_deg=1.0),
        result(1, crooked_deg=1.0, verdict="not square"),
        result(2),
    ]
    row = cells(size_tables(some), "2", "3")
    assert row[5:] == ["1 of 2", "1", "0 of 1"]


def test_what_was_refused_is_told():
    text = size_tables([result(0), SizeResult(1, result(1).drawn, error="No card. Lay one.")])
    assert "2 scenes, 1 measured" in text
    assert "scene 1: No card. Lay one." in text


def test_results_kept_are_not_done_again(tmp_path):
    keep = tmp_path / "kept.jsonl"
    kept = [result(0), result(1)]
    keep.write_text("".join(json.dumps(asdict(r)) + "\n" for r in kept))
    again = run_scenes(range(2), measure_scene, SizeResult.from_json, jobs=1, keep=keep)
    assert [asdict(r) for r in again] == [asdict(SizeResult.from_json(asdict(r))) for r in kept]
    assert len(keep.read_text().splitlines()) == 2


def test_scenes_are_drawn_alike_for_a_number_and_spread_over_what_is_claimed():
    assert draw(7) == draw(7)
    scenes = [draw(k) for k in range(300)]
    tilt, bumps = (np.array([getattr(s, n) for s in scenes]) for n in ("tilt_deg", "bumps_in"))
    assert tilt.min() < 2
    assert tilt.max() > 43
    assert bumps.max() > 9.5 / 25.4
    two = np.mean([len(s.cards) == 2 for s in scenes])
    assert 0.5 < two < 0.7
    assert {s.design for s in scenes} >= {"nine patch", "on point", "flying geese", "sashed"}
    side = np.array([s.cards[0].side_in for s in scenes])
    assert 0.8 < np.std(side) * 128 < 1.2
