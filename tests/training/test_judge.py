"""The judge of borders and what it learns on: drawn truth, counts by hand, known calibrations.

Bounds on shares are common practice, no source; everything else follows from what is drawn.
"""

from dataclasses import replace

import numpy as np
import pytest

torch = pytest.importorskip("torch")

from tests.vision.drawn_heat import PPI, evidence_of, flat_of, labels_of  # noqa: E402
from tests.vision.drawn_tops import grid  # noqa: E402
from typer.testing import CliRunner  # noqa: E402

from seamwalk.training import judge as judging  # noqa: E402
from seamwalk.training.__main__ import VISION_WEIGHTS, app  # noqa: E402
from seamwalk.training.judge_borders import Met, cut_of, f1_at, met, region_f1  # noqa: E402
from seamwalk.training.judge_copies import same_fabric_cracks, worse  # noqa: E402
from seamwalk.training.judge_fit import (  # noqa: E402
    FitSettings,
    calibrated,
    calibration_error,
    fit,
    log_odds,
    stopped,
)
from seamwalk.training.judge_pictures import (  # noqa: E402
    CALMED,
    FlatSettings,
    calmed,
    fabric_store,
    flat_sketch,
    picture_of,
)
from seamwalk.training.judge_strays import StraySettings, strays_alike  # noqa: E402
from seamwalk.training.light import COLUMN, NUMBERS  # noqa: E402
from seamwalk.training.sketch import TARGETS  # noqa: E402
from seamwalk.vision import seam_network  # noqa: E402
from seamwalk.vision.heat_features import AGAIN, MEASURES  # noqa: E402
from seamwalk.vision.heat_weights import (  # noqa: E402
    AGAIN_FILE,
    FILE,
    Judge,
    fitted,
    fitted_again,
    parsed,
    written,
)

HEAT = MEASURES.index("mean heat")
SMALL = FlatSettings(sides_px=(256, 384), prints=6, surfaces=2)
QUICK = FitSettings(members=2, steps=300, batch=512)


pytestmark = pytest.mark.usefixtures("one_thread")


def drawn_cut(stray=None):
    truth = labels_of(grid(4, 5, 40))
    evidence = evidence_of(truth) if stray is None else evidence_of(truth, stray=stray(truth))
    return cut_of(flat_of(truth).rgb, evidence, truth > 0, truth, PPI), truth


def halved(truth):
    """Stray ridges that halve every patch."""
    y = np.mgrid[: truth.shape[0], : truth.shape[1]][0]
    return ((y - 12) % 40 == 20) & (truth > 0)


# -- pictures -------------------------------------------------------------------------------------


def test_flat_sketch_has_the_resolution_and_truth_that_it_says():
    for k in range(3):
        flat = flat_sketch(np.random.default_rng([5, k]), SMALL)
        side = flat.truth.shape[0]
        plane = flat.sketch.plane
        nodes = plane.shape[0] - 1
        # Inches between nodes, against pixels between nodes.
        step = np.linalg.norm(np.diff(plane, axis=1), axis=2)
        assert np.median(step) * flat.px_per_in == pytest.approx(side / nodes, rel=0.03)
        assert side % 32 == 0
        assert SMALL.px_per_in[0] <= flat.px_per_in <= SMALL.px_per_in[1]
        # The mask is the truth's outline, a few pixels off at most.
        off = (flat.mask ^ (flat.truth > 0)).sum()
        edge = 4 * side * (SMALL.off_px[1] + 1)
        assert off <= edge
        # The renderer's own truth agrees where cloth is seen.
        shown = flat.sketch.targets[..., TARGETS.index("top")] > 127
        assert (shown == (flat.truth > 0)).mean() > 0.99
        assert len(flat.fabric) > flat.truth.max()


def test_true_seams_lie_where_the_truth_changes():
    flat = flat_sketch(np.random.default_rng([5, 1]), SMALL)
    seam = flat.sketch.targets[..., TARGETS.index("seam")]
    t = flat.truth
    line = (t[1:] != t[:-1]) & (t[1:] > 0) & (t[:-1] > 0)
    # One pixel of each crack is on the drawn seam, which is two pixels wide at least.
    assert (np.maximum(seam[1:], seam[:-1])[line] > 64).mean() > 0.95


def test_same_seed_same_picture():
    store = fabric_store(np.random.default_rng(3), SMALL)
    one, two = (flat_sketch(np.random.default_rng([2, 7]), SMALL) for _ in range(2))
    assert np.array_equal(picture_of(one, store), picture_of(two, store))
    assert np.array_equal(one.mask, two.mask)


def test_calmed_light_stays_within_limits():
    packed = np.full(NUMBERS, 7.0, np.float32)
    out = calmed(packed)
    for name, (low, high) in CALMED.items():
        assert low <= out[COLUMN[name]] <= high + 1e-6
    assert out[COLUMN["quality"]] == 50
    assert out[COLUMN["gamma"]] == 7


# -- worse copies ---------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["faint", "faint alike"])
def test_only_seams_of_one_fabric_fade(kind):
    truth = labels_of(grid(4, 6, 40))
    fabric = np.concatenate([[-1], np.arange(truth.max()) % 6 // 3]).astype(np.int32)
    evidence = evidence_of(truth)
    out = worse(np.random.default_rng(1), evidence, truth, fabric, kind)
    seam, y, x, others = same_fabric_cracks(truth, fabric)
    # Right beside a crack between fabrics nothing changes.
    assert np.abs(out.seam - evidence.seam)[others].max() < 0.02
    change = np.bincount(seam, (evidence.seam - out.seam)[y, x]) / np.bincount(seam)
    # Faded seams lose half of their heat at least; those beside them at crossings a little.
    assert (change > 0.3).any()
    assert (change < 0.15).any()


def test_seams_that_lie_alike_fade_alike():
    truth = labels_of(grid(4, 4, 40))
    fabric = np.concatenate([[-1], np.zeros(truth.max())]).astype(np.int32)
    evidence = evidence_of(truth)
    seam, y, x, _ = same_fabric_cracks(truth, fabric)
    n = int(seam.max()) + 1
    upright = np.array([np.ptp(x[seam == k]) < np.ptp(y[seam == k]) for k in range(n)])

    def spread(kind):
        """Return how much seams of one direction differ, the mean of ten draws."""
        out = []
        for seed in range(10):
            seen = worse(np.random.default_rng(seed), evidence, truth, fabric, kind).seam
            left = np.bincount(seam, (seen / (evidence.seam + 1e-3))[y, x]) / np.bincount(seam)
            out += [np.std(left[upright]), np.std(left[~upright])]
        return np.mean(out)

    assert spread("faint alike") < 0.5 * spread("faint")


def test_strays_only_add_and_blind_places_only_take():
    truth = labels_of(grid(4, 5, 40))
    fabric = np.zeros(truth.max() + 1, np.int32)
    evidence = evidence_of(truth)
    more = worse(np.random.default_rng(0), evidence, truth, fabric, "stray")
    less = worse(np.random.default_rng(0), evidence, truth, fabric, "blind")
    assert (more.seam >= evidence.seam).all()
    assert (more.seam > evidence.seam + 0.05).any()
    assert (less.seam <= evidence.seam + 1e-6).all()
    assert less.seam.sum() < 0.95 * evidence.seam.sum()
    with pytest.raises(ValueError, match="kind"):
        worse(np.random.default_rng(0), evidence, truth, fabric, "other")


def test_strays_that_lie_alike_lie_in_patches_of_one_kind():
    truth = labels_of(grid(4, 6, 40))
    fabric = np.concatenate([[-1], np.arange(truth.max()) % 2]).astype(np.int32)
    evidence = evidence_of(truth)
    settings = StraySettings(kinds=1.0, there=(1.0, 1.0))
    y, x = np.mgrid[: truth.shape[0], : truth.shape[1]]
    for seed in range(6):
        heat = strays_alike(np.random.default_rng(seed), truth, fabric, settings).heat
        assert not heat[truth == 0].any()
        # The middle of each patch's ridge, from the patch's own middle.
        ridge = [(truth == k) & (heat > 0) for k in range(1, truth.max() + 1)]
        assert all(r.sum() > 20 for r in ridge)
        at = np.array(
            [[v[r].mean() - v[truth == k].mean() for v in (x, y)] for k, r in enumerate(ridge, 1)]
        )
        for cloth in (0, 1):
            assert np.ptp(at[fabric[1:] == cloth], axis=0).max() < 4
        more = worse(np.random.default_rng(seed), evidence, truth, fabric, "stray alike")
        assert (more.seam >= evidence.seam).all()


# -- borders and their truth ----------------------------------------------------------------------


def test_borders_of_clear_patches_are_all_real_and_counted_once():
    cut, _ = drawn_cut()
    seen = met(cut, lambda found: found[:, HEAT] - 0.5, 0.0)
    # A grid of 4 by 5 has 4·4 + 3·5 borders, and at each of 12 crossings one crack more at most.
    assert 31 <= seen.last.sum() <= 31 + 12
    assert seen.real.all()
    assert len(seen.real) == seen.last.sum()


def test_a_stray_ridge_gives_borders_that_are_not_real():
    cut, _ = drawn_cut(halved)
    seen = met(cut, lambda found: found[:, HEAT] - 0.5, 0.0)
    # One through each of 20 patches; the others as in the grid, those upright in two parts.
    assert (~seen.real).sum() >= 20
    assert seen.real.sum() >= 2 * 16 + 15


def test_joining_everything_finds_nothing_and_joining_right_finds_all():
    cut, _ = drawn_cut()
    none_joined, all_joined = f1_at(cut, lambda f: f[:, HEAT] - 0.5, np.array([0.0, 10.0]))
    assert none_joined == 1
    assert all_joined == 0


def test_region_f1_by_hand():
    # Regions 1 and 2 are patch 1 whole and half of patch 2; region 3 the other half; 4 a crumb.
    shared = np.array([[0, 0, 0], [0, 100, 0], [0, 0, 55], [0, 0, 45], [0, 0, 2]], float)
    assert region_f1(shared, shared.sum(1), 10, 0.8) == pytest.approx(2 * 1 / (3 + 2))
    assert region_f1(shared, shared.sum(1), 10, 0.5) == pytest.approx(2 * 2 / (3 + 2))


# -- fitting --------------------------------------------------------------------------------------


def borders(rng, n):
    """Borders whose log-odds are a known function of two measures; the rest is noise."""
    found = rng.normal(0, 1, (n, len(MEASURES))).astype(np.float32)
    odds = 3 * found[:, 0] - 2 * np.abs(found[:, 17])
    real = rng.random(n) < 1 / (1 + np.exp(-odds))
    return found, odds, real


def test_fit_finds_known_odds():
    rng = np.random.default_rng(0)
    found, _, real = borders(rng, 20_000)
    some = Met(found, real, np.ones(len(real), bool))
    judge = fit([some], np.random.default_rng(1), QUICK)
    found, odds, real = borders(rng, 4_000)
    got = judge.odds(found.astype(float))
    assert np.corrcoef(got, odds)[0, 1] > 0.95
    best = np.mean(np.logaddexp(0, odds) - real * odds)
    assert np.mean(np.logaddexp(0, got) - real * got) < best + 0.05
    again = fit([some], np.random.default_rng(1), QUICK)
    assert np.array_equal(again.odds(found.astype(float)), got)


def plain_judge(**others):
    n = len(MEASURES)
    zero = np.zeros(n)
    judge = Judge(zero, zero + 1, np.zeros((n, 2)), np.zeros(2), np.array([1.0, -1.0]), 0.0)
    judge.hidden[HEAT] = 1, -1
    return replace(judge, **others)


def test_calibration_undoes_a_known_distortion():
    rng = np.random.default_rng(2)
    odds = rng.normal(1, 3, 40_000)
    real = rng.random(len(odds)) < 1 / (1 + np.exp(-(0.5 * odds + 0.7)))
    judge = calibrated(plain_judge(), odds, real)
    assert judge.scale == pytest.approx(0.5, abs=0.03)
    assert judge.lean == pytest.approx(0.7, abs=0.08)
    assert calibration_error(judge.sure(odds), real) < 0.01
    assert calibration_error(plain_judge().sure(odds), real) > 0.05


def test_calibration_without_a_false_border_stays_near():
    judge = calibrated(plain_judge(), np.full(50, 3.0), np.ones(50, bool))
    assert 0.95 < judge.sure(np.array([3.0]))[0] < 1


def test_calibration_error_by_hand():
    sure = np.array([0.75, 0.75, 0.75, 0.75, 0.95])
    real = np.array([1, 1, 0, 0, 1], bool)
    assert calibration_error(sure, real) == pytest.approx((4 * 0.25 + 0.05) / 5)


def test_stop_lies_where_patches_are_found():
    cut, _ = drawn_cut()
    # Seams have a heat of about 0.9 here; heat is the log-odds times 10, off by 4.
    judge = plain_judge()
    judge = replace(judge, out=10 * judge.out, bias=-4.0)
    s = FitSettings(stops=(0.5, 0.6, 0.9999))
    got, f1 = stopped(judge, [cut], s)
    assert f1[0] == 1
    assert got.stop in s.stops[: int((f1 == 1).sum())]


# -- the file, and all of it together -------------------------------------------------------------


def test_file_gives_back_the_judge(tmp_path):
    rng = np.random.default_rng(4)
    count = len(MEASURES)
    judge = Judge(
        rng.normal(size=count),
        rng.uniform(0.5, 2, count),
        rng.normal(size=(count, 12)),
        rng.normal(size=12),
        rng.normal(size=12),
        0.3,
        stop=0.45,
        scale=0.8,
        lean=-0.1,
    )
    path = tmp_path / "judge.json"
    written(judge, "About.", path)
    back = parsed(path.read_text())
    found = rng.normal(size=(20, count))
    assert np.allclose(back.odds(found), judge.odds(found), atol=0.05)
    assert (back.stop, back.scale, back.lean) == (0.45, 0.8, -0.1)
    with pytest.raises(ValueError, match="other measures"):
        parsed(path.read_text().replace("mean heat", "warmth"))


def test_the_packages_judge_was_fitted_on_these_measures():
    for judge, names in ((fitted(), MEASURES), (fitted_again(), AGAIN)):
        assert judge.hidden.shape[0] == len(names)
        assert 0 < judge.stop < 1
        assert judge.scale > 0


@pytest.mark.parametrize("second", [False, True])
def test_all_together_on_true_heat(second):
    """Shown the true seams, the judge finds nearly all patches of pictures set aside."""
    s = judging.JudgeSettings(pictures=4, seed=8, aside=2, flat=SMALL, fit=QUICK)
    truths = []

    def flat_sketches(rng, settings):
        flat = flat_sketch(rng, settings)
        truths.append(flat.sketch.targets)
        return flat

    def look(rgb):
        planes = truths[-1].astype(np.float32)
        seam, junction = planes[..., 0] / 255, planes[..., 3] / 255
        cos, sin = (planes[..., k] / 127.5 - 1 for k in (4, 5))
        return judging.SeamEvidence(seam, junction, cos, sin)

    patch = pytest.MonkeyPatch()
    patch.setattr(judging, "flat_sketch", flat_sketches)
    try:
        first = fitted() if second else None
        every = tuple(judging.cases(look, s, first))
    finally:
        patch.undo()
    assert len(every) == 4
    # A picture, a worse copy of it and, of every other pair, ridges alike; one alone set aside.
    assert [len(c.cuts) for c in every] == ([2, 1, 3, 1] if second else [2, 1, 2, 1])
    lines = []
    judge = judging.judged_on(every, s, lines.append, first)
    assert len(lines) == 3
    assert len(judge.mean) == len(AGAIN if second else MEASURES)
    aside = [c.cuts[0] for c in every if c.number % 2 == 1]
    limit = log_odds(np.array([judge.stop]))
    assert np.mean([f1_at(c, judge.odds, limit) for c in aside]) > 0.7


def test_the_network_looks_as_it_does_in_use():
    rgb = np.random.default_rng(0).integers(0, 256, (64, 96, 3), dtype=np.uint8)
    weights = VISION_WEIGHTS / seam_network.WEIGHTS
    got = judging.network_look(weights)(rgb)
    want = seam_network.look(rgb).evidence
    for name in ("seam", "junction", "cos2", "sin2"):
        assert np.allclose(getattr(got, name), getattr(want, name), atol=1e-4)


def test_command_writes_a_judge_that_can_be_read(tmp_path, monkeypatch):
    asked = []

    def judged_on(every, settings, say, first):
        asked.append(first)
        return plain_judge(stop=0.25 if first is None else 0.3)

    monkeypatch.setattr(judging, "cases", lambda look, settings, first: iter(()))
    monkeypatch.setattr(judging, "judged_on", judged_on)
    many = ["--pictures", "3", "--seed", "4", "--out", str(tmp_path)]
    ran = CliRunner().invoke(app, ["judge", *many])
    assert ran.exit_code == 0, ran.output
    for name, stop in ((FILE, 0.25), (AGAIN_FILE, 0.3)):
        text = (tmp_path / name).read_text()
        assert parsed(text).stop == stop
        assert "seed 4" in text
    # The second is fitted on what the first leads to.
    assert [f and f.stop for f in asked] == [None, 0.25]


def test_pictures_that_nobody_can_read_are_left_out():
    def blind(rgb):
        zero = np.zeros(rgb.shape[:2], np.float32)
        return judging.SeamEvidence(zero, zero, zero, zero)

    s = judging.JudgeSettings(pictures=2, flat=SMALL)
    assert tuple(judging.cases(blind, s)) == ()
    with pytest.raises(ValueError, match="few pictures"):
        judging.judged_on((), s, print)
