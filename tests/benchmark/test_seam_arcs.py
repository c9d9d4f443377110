"""Curved seams scored on tops whose arcs are known; every expectation is counted by hand.

Quarter-circle units: one arc each, of .7 of the unit's side (the design's own radius), π r/2 long.
"""

import json
import math
from dataclasses import asdict, replace

import numpy as np
import pytest
from tests.benchmark.test_seams import some, truth_of
from tests.sheets.sampler import grid_top
from tests.vision.drawn_tops import straight_down

from seamwalk.benchmark.scene_run import run_scenes
from seamwalk.benchmark.seam_arcs import ArcScore, arc_score, unmapped_arcs
from seamwalk.benchmark.seam_scenes import (
    SeamDrawSettings,
    SeamResult,
    draw,
    kept_result,
    map_scene,
)
from seamwalk.benchmark.seam_tables import photo_seam_table, seam_tables
from seamwalk.geometry.arc_fit import sampled_arc
from seamwalk.geometry.polygon import ring_of
from seamwalk.model.sizes import Length
from seamwalk.scenes.designs.pattern import Layout
from seamwalk.scenes.sewing import SewingSettings
from seamwalk.scenes.tops import make_top
from seamwalk.vision.measure import measure

UNIT, RADIUS = 4.0, 2.8
ALONG = math.pi * RADIUS / 2
CAMERA = straight_down()


def with_arcs(top):
    """Return the truth of a top, arcs and all, as `CAMERA` sees it."""
    truth = truth_of(top, [f"cloth {k}" for k in range(len(top.patches))])
    for patch, p in zip(truth["patches"], top.patches, strict=True):
        patch["outline_px"] = CAMERA.view.px_from_top(ring_of(p.polygon)).tolist()
    truth["arcs"] = [
        {
            "points_px": CAMERA.view.px_from_top(s.points).tolist(),
            "radius": RADIUS,
            "along": ALONG,
        }
        for s in top.seams
        if s.sweep_rad
    ]
    return truth


def units(blocks=2):
    """Return an exact top of four quarter-circle units to a block, with a border."""
    return make_top(
        "drunkards path",
        Layout(blocks, blocks, 2 * UNIT),
        border_in=2.0,
        sewing=SewingSettings(sigma_in=0.0),
    )


def changed(top, k, **how):
    """Return the top with its `k`-th arc changed."""
    arc = [s.id for s in top.seams if s.sweep_rad][k]
    return replace(top, seams=tuple(replace(s, **how) if s.id == arc else s for s in top.seams))


def test_arcs_as_they_are_have_two_sides_each_without_error():
    top = units()
    got = arc_score(with_arcs(top), top, measure(top, CAMERA), CAMERA.view)
    assert (got.arcs, got.found, got.invented) == (16, 16, 0)
    assert len(got.radius) == len(got.along) == 32
    assert np.abs(got.radius)[:, 0].max() < 1e-6
    assert np.abs(got.along)[:, 0].max() < 1e-6
    # Euler: V − E + F = 1; what does not lie outside lies between two patches.
    inner = sum(s.kind == "seam" for s in top.seams)
    assert got.seams == inner == got.seams_found


def test_errors_are_signed_and_each_stands_beside_its_doubt():
    top = units(1)
    sizes = measure(top, CAMERA)

    def off(curve):
        # A patch that the arc bulges into is measured too large, the other one too small.
        by = 0.02 if curve.inwards else -0.06
        return replace(
            curve,
            radius=Length(RADIUS + by, 0.03),
            along=Length(ALONG + 2 * by, 0.05),
        )

    patches = tuple(replace(p, curves=tuple(map(off, p.curves))) for p in sizes.patches)
    got = arc_score(with_arcs(top), top, replace(sizes, patches=patches), CAMERA.view)
    assert (
        sorted(got.radius)
        == [pytest.approx((-0.06, 0.03))] * 4 + [pytest.approx((0.02, 0.03))] * 4
    )
    assert (
        sorted(got.along) == [pytest.approx((-0.12, 0.05))] * 4 + [pytest.approx((0.04, 0.05))] * 4
    )
    text = seam_tables([some(f1=(1.0, 0.875), arcs=got)])
    assert "| 0 | solids | 0.875 | 4 of 4 | 0 | 0.010 | 0.040, 0.060, 0.50 | 0.120, 0.50 |" in text
    # Half of them .02 too large, half .06 too small: .02 too small on average.
    assert "On 8 sides beside them radii are off by 0.040 in (median)" in text
    assert "0.060 in (p95), 0.0200 in too small on average, 0.50 of them" in text


def test_an_arc_drawn_straight_or_left_out_is_not_found():
    top = units(1)
    sizes = measure(top, CAMERA)
    first = next(s for s in top.seams if s.sweep_rad)
    ends = (first.points[0], first.points[-1])
    straight = changed(top, 0, sweep_rad=0.0, points=ends)
    got = arc_score(with_arcs(top), straight, sizes, CAMERA.view)
    assert (got.arcs, got.found, got.invented, len(got.radius)) == (4, 3, 0, 6)
    gone = replace(top, seams=tuple(s for s in top.seams if s is not first))
    got = arc_score(with_arcs(top), gone, sizes, CAMERA.view)
    assert (got.arcs, got.found, got.invented, len(got.radius)) == (4, 3, 0, 6)


def test_an_arc_where_the_seam_is_straight_is_invented():
    top = grid_top(3, 4)
    # Its middle lies .8 in off: further than .08 of a side of 4 in.
    k, seam = next((k, s) for k, s in enumerate(top.seams) if s.kind == "seam")
    a, b = seam.points
    bent = sampled_arc(a, b, 4 * math.atan(2 * 0.8 / 4))
    arc = replace(
        seam, sweep_rad=4 * math.atan(2 * 0.8 / 4), points=tuple((x, y) for x, y in bent.tolist())
    )
    found = replace(top, seams=(*top.seams[:k], arc, *top.seams[k + 1 :]))
    sizes = measure(top, CAMERA)
    got = arc_score(with_arcs(top), found, sizes, CAMERA.view)
    # A grid of 3 by 4 has 3·3 + 2·4 seams inside.
    assert asdict(got) == asdict(ArcScore(0, 0, 1, 17, 17))
    none = arc_score(with_arcs(top), top, sizes, CAMERA.view)
    assert asdict(none) == asdict(ArcScore(0, 0, 0, 17, 17))
    text = seam_tables([some(), some(1, arcs=got), some(2, arcs=none)])
    assert "| 1 | solids | 0.500 | 0 of 0 | 1 | 0.010 |  |  |" in text
    assert "\n| 2 |" not in text
    said = "In 2 pictures without curved seams there are 34 seams between two patches; of 34"
    assert f"{said} in their maps 1 was taken for an arc." in text
    assert "none was taken for an arc." in seam_tables([some(arcs=none)])
    assert "| photo | F1@0.8 | arcs found |" in photo_seam_table([some(arcs=got)])


def test_one_arc_along_two_is_neither_found_nor_invented():
    """Two quarters of a full circle, mapped as one half circle, which runs along both."""
    quarters = [sampled_arc(a, b, math.pi / 2) for a, b in (((8, 6), (6, 8)), ((6, 8), (4, 6)))]
    top = grid_top(3, 4)
    truth = with_arcs(top)
    truth["arcs"] = [
        {"points_px": CAMERA.view.px_from_top(q).tolist(), "radius": 2.0, "along": math.pi}
        for q in quarters
    ]
    k, seam = next((k, s) for k, s in enumerate(top.seams) if s.kind == "seam")
    half = np.concatenate([quarters[0], quarters[1][1:]]).tolist()
    arc = replace(seam, sweep_rad=math.pi, points=tuple((x, y) for x, y in half))
    found = replace(top, seams=(*top.seams[:k], arc, *top.seams[k + 1 :]))
    got = arc_score(truth, found, measure(top, CAMERA), CAMERA.view)
    assert (got.arcs, got.found, got.invented) == (2, 0, 0)


def test_all_arcs_of_a_refused_picture_are_missed():
    truth = with_arcs(units(1))
    got = unmapped_arcs(truth)
    assert (got.arcs, got.found, got.invented, got.seams_found) == (4, 0, 0, 0)
    assert got.seams == sum(s.kind == "seam" for s in units(1).seams)
    text = seam_tables([SeamResult(1, "star, prints, wood", error="No card. Lay one.", arcs=got)])
    assert "| 1 | prints | 0.000 | 0 of 4 | 0 |  |  |  |" in text
    assert "Together 0 of 4 arcs are found" in text


def test_nothing_is_said_where_truth_knows_of_no_arcs():
    top = grid_top(3, 4)
    assert arc_score(truth_of(top), top, measure(top, CAMERA), CAMERA.view) is None
    assert unmapped_arcs(truth_of(top)) is None
    assert "arc" not in seam_tables([some()])


def test_a_design_changes_nothing_else_of_a_scene():
    for seed in (200, 205):
        other = draw(seed, SeamDrawSettings(design="drunkards path"))
        assert other.design == "drunkards path" != draw(seed).design
        assert replace(other, design=draw(seed).design) == draw(seed)


def test_results_kept_before_arcs_were_counted_are_read():
    old = asdict(some())
    del old["arcs"]
    assert SeamResult.from_json(json.loads(json.dumps(old))).arcs is None
    new = some(arcs=ArcScore(4, 3, 1, 20, 21, [(0.01, 0.02)], [(-0.1, 0.05)]))
    assert asdict(SeamResult.from_json(json.loads(json.dumps(asdict(new))))) == asdict(new)


def test_results_of_another_design_are_not_taken_for_this_one(tmp_path):
    from seamwalk.errors import UsageError

    keep = tmp_path / "kept.jsonl"
    keep.write_text(json.dumps(asdict(some())) + "\n")
    (kept,) = run_scenes([0], map_scene, kept_result, jobs=1, keep=keep)
    assert asdict(kept) == asdict(some())

    def load(data):
        return kept_result(data, SeamDrawSettings(design="star"))

    with pytest.raises(UsageError, match="scene 0 is nine patch, not star"):
        run_scenes([0], map_scene, load, jobs=1, keep=keep)
