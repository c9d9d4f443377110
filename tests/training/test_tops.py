"""Tops for training: whole sheets of patches, the same from the same seed, of every kind."""

import itertools

import numpy as np
import pytest
import shapely
from shapely import Polygon

from seamwalk.training import block_units, shared_corners
from seamwalk.training.all_over import ALL_OVERS
from seamwalk.training.applied_figures import FIGURE, applied
from seamwalk.training.borders import bound, edged, pieced_border, plain_border, size
from seamwalk.training.fabric_plan import dealt
from seamwalk.training.pieces import box, of, placed, together, trimmed
from seamwalk.training.sets import SETS
from seamwalk.training.sewing_errors import SewingSettings, sewn
from seamwalk.training.tops import SETTINGS, design, make_top
from seamwalk.training.whole_blocks import BLOCKS

EXACT = SewingSettings(missed_share=0.0, bowed_share=0.0)


def _sides(rings):
    return [(a.tobytes(), b.tobytes()) for r in rings for a, b in itertools.pairwise([*r, r[0]])]


@pytest.mark.parametrize("seed", range(40))
def test_patches_tile_the_outline(seed):
    # Outside reference: shapely's union and areas. Every side is either shared, run once each
    # way, or on the outline; together with equal areas this leaves no gap and no overlap.
    top = make_top(np.random.default_rng(seed))
    assert len(top.rings) == len(top.roles)
    sides = _sides(top.rings)
    known = set(sides)
    assert len(known) == len(sides)
    alone = {s for s in sides if s[::-1] not in known}
    assert alone == set(_sides([top.outline]))
    patches = [Polygon(r) for r in top.rings]
    whole = Polygon(top.outline)
    assert all(p.is_valid for p in patches)
    assert whole.is_valid
    assert sum(p.area for p in patches) == pytest.approx(whole.area, rel=1e-4)
    assert shapely.union_all(patches).symmetric_difference(whole).area < 1e-4 * whole.area


@pytest.mark.parametrize("seed", range(40, 70))
def test_euler(seed):
    # V − E + F = 1 for one sheet, counting patches as faces (Euler).
    top = make_top(np.random.default_rng(seed))
    corners = {p.tobytes() for r in top.rings for p in r}
    sides = {frozenset(s) for s in _sides(top.rings)}
    assert len(corners) - len(sides) + len(top.rings) == 1


@pytest.mark.parametrize("seed", range(12))
def test_same_seed_same_top(seed):
    one, two = (make_top(np.random.default_rng(seed)) for _ in range(2))
    assert np.array_equal(one.outline, two.outline)
    assert np.array_equal(one.roles, two.roles)
    assert all(np.array_equal(a, b) for a, b in zip(one.rings, two.rings, strict=True))
    other = make_top(np.random.default_rng(seed + 1000))
    assert not np.array_equal(one.outline, other.outline)


@pytest.fixture(scope="module")
def designs():
    out = []
    for seed in range(300):
        rng = np.random.default_rng(seed)
        d = design(rng)
        out.append((d, dealt(d.pieces, rng)))
    return out


def test_every_kind_appears(designs):
    words = {w for d, _ in designs for w in d.words}
    assert words == {*ALL_OVERS, *SETS, *BLOCKS, "shaped edge", "figures"}


def test_sizes_are_those_of_tops(designs):
    # Doll quilt to king size, with what a binding adds; patch counts as planned.
    spans = np.array([max(size(d.pieces)) for d, _ in designs])
    assert spans.min() >= SETTINGS.side_in[0] - 0.01
    assert spans.max() <= SETTINGS.side_in[1] + 1.01
    counts = np.array([len(d.pieces) for d, _ in designs])
    assert np.percentile(counts, 10) < 60
    assert np.percentile(counts, 90) > 600


def test_fabrics_are_numbered_and_shared(designs):
    # Wanted: seams within one fabric in most tops, scraps and two-fabric tops among them.
    shares, numbers = [], []
    for d, fabric in designs:
        assert np.array_equal(np.unique(fabric), np.arange(fabric.max() + 1))
        sheet = shared_corners.joined(d.pieces)
        owner = np.repeat(np.arange(len(sheet.counts)), sheet.counts)
        pairs = zip(sheet.index.tolist(), sheet.after.tolist(), strict=True)
        of_side = dict(zip(pairs, owner.tolist(), strict=True))
        same = [
            fabric[k] == fabric[of_side[b, a]]
            for (a, b), k in of_side.items()
            if (b, a) in of_side
        ]
        shares.append(np.mean(same))
        numbers.append(fabric.max() + 1)
    assert 0.05 < np.median(shares) < 0.4
    assert np.mean(np.array(shares) > 0.02) > 0.5
    assert np.mean(np.array(numbers) == 2) > 0.05
    assert np.mean(np.array(numbers) > 30) > 0.1


@pytest.mark.parametrize("name", [*block_units.UNITS])
def test_units_tile_the_square(name):
    for seed in range(8):
        unit = of(block_units.UNITS[name][0](np.random.default_rng(seed)))
        outline = shared_corners.joined(unit)
        whole = Polygon(outline.at[outline.outline])
        assert whole.symmetric_difference(shapely.box(0, 0, 1, 1)).area < 1e-12
        assert np.abs(unit.areas).sum() == pytest.approx(1, abs=1e-9)


@pytest.mark.parametrize("name", [*BLOCKS])
def test_blocks_tile_the_square(name):
    for seed in range(8):
        block = BLOCKS[name][0](np.random.default_rng(seed))
        sheet = shared_corners.joined(block)
        assert Polygon(sheet.at[sheet.outline]).area == pytest.approx(1, abs=1e-6)
        assert np.abs(block.areas).sum() == pytest.approx(1, abs=1e-6)


@pytest.mark.parametrize("seed", range(6))
def test_borders_and_edges(seed):
    rng = np.random.default_rng(seed)
    top = of([(box(0, 0, 20, 30), 0)])
    for corners in ("butted", "mitred", "squares"):
        wide = plain_border(top, 2.0, corners)
        assert size(wide) == (24.0, 34.0)
        assert np.abs(wide.areas).sum() == pytest.approx(24 * 34)
        shared_corners.joined(wide)
    pieced = pieced_border(rng, top, 2.0)
    assert np.abs(pieced.areas).sum() == pytest.approx(24 * 34)
    shared_corners.joined(pieced)
    edge = edged(rng, plain_border(top, 2.0, "butted"), 2.0)
    assert 20 * 30 < np.abs(edge.areas).sum() < 24 * 34
    shared_corners.joined(edge)
    assert 0.2 <= (size(bound(rng, top))[0] - 20) / 2 <= 0.5


def test_trimming_keeps_the_area_within():
    rng = np.random.default_rng(3)
    block = BLOCKS["on ground"][0](rng)
    for shape in (shapely.box(0.2, 0.1, 0.9, 0.7), shapely.Point(0.5, 0.5).buffer(0.4)):
        cut = trimmed(block, shape)
        assert np.abs(cut.areas).sum() == pytest.approx(shape.area, rel=1e-6)


@pytest.mark.parametrize("seed", range(8))
def test_figures_take_the_place_of_the_ground(seed):
    ground = _checker()
    out = applied(ground, np.random.default_rng(seed))
    sheet = shared_corners.joined(out)
    assert np.abs(out.areas).sum() == pytest.approx(36, abs=1e-9)
    assert Polygon(sheet.at[sheet.outline]).area == pytest.approx(36, abs=1e-9)
    figures = [r for r, c in zip(out.rings, out.classes, strict=True) if c >= FIGURE]
    for k, r in enumerate(out.rings):
        covers = [Polygon(f).intersection(Polygon(r)).area for f in figures]
        assert sum(a > 1e-9 for a in covers) == (out.classes[k] >= FIGURE)


def test_joins_reach_the_other_side():
    # One long side against two short ones: the long side takes in the corner between them.
    t = of([(box(0, 0, 2, 1), 0), (box(0, 1, 1.2, 2), 1), (box(1.2, 1, 2, 2), 2)])
    sheet = shared_corners.joined(t)
    assert sheet.counts.tolist() == [5, 4, 4]
    assert len(sheet.at) == 8


def test_pieces_that_leave_a_hole_or_overlap_are_refused():
    square = of([(box(0, 0, 1, 1), 0)])
    ring_of_eight = [
        placed(square, (x, y), (1, 1)) for x in range(3) for y in range(3) if (x, y) != (1, 1)
    ]
    with pytest.raises(ValueError, match="one sheet"):
        shared_corners.joined(together(ring_of_eight))
    with pytest.raises(ValueError, match="overlap"):
        shared_corners.joined(together([square, square]))


def _checker():
    return of([(box(x, y, x + 1, y + 1), 0) for x in range(6) for y in range(6)])


def test_missed_crossings_become_two_joins():
    # A crossing of four becomes two corners of three patches each: one corner and one side more.
    sheet = shared_corners.joined(_checker())
    missed = SewingSettings(missed_share=1.0, bowed_share=0.0, jitter=(1e-4, 1e-4))
    out = sewn(sheet, np.random.default_rng(0), missed)
    more = len(out.at) - len(sheet.at)
    assert 0 < more <= 25
    assert int(out.counts.sum()) == int(sheet.counts.sum()) + 2 * more
    degree = np.bincount(out.index)
    assert int((degree == 4).sum()) == 25 - more
    assert all(Polygon(out.at[r]).is_valid for r in np.split(out.index, out.counts.cumsum()[:-1]))


def test_exact_sewing_moves_corners_little():
    sheet = shared_corners.joined(_checker())
    out = sewn(sheet, np.random.default_rng(1), EXACT)
    moved = np.hypot(*(out.at - sheet.at).T)
    assert np.array_equal(out.index, sheet.index)
    assert 0 < moved.max() < 0.4
