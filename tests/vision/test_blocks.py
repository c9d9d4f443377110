"""Blocks of drawn tops: every patch is found again where its block says it lies."""

import itertools
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon, affinity
from shapely.ops import split
from tests.vision.pieced_tops import (
    block,
    bordered,
    moved,
    on_point,
    posed,
    rect,
    sashing,
    scaled,
    tiled,
    top_of,
)

from seamwalk.model.top import PatchId
from seamwalk.vision.blocks import find_blocks

# A block that no turn and no mirror lays on itself, and that has no name.
ODD = block(
    rect("a", 0, 0, 6, 2),
    rect("b", 0, 2, 2, 4),
    ("c", 2, 2, 6, 2, 2, 6),
    ("a", 6, 2, 6, 6, 2, 6),
)
GOOSE = block(("dark", 2, 0, 4, 2, 0, 2), ("sky", 0, 0, 2, 0, 0, 2), ("sky", 2, 0, 4, 0, 4, 2))
NINE = scaled(block(*(rect(("dark", "light")[k % 2], k % 3, k // 3) for k in range(9))), 2)
PLAIN = block(rect("plain", 0, 0, 6, 6))


def assert_tells_all(top, plan, near=0.02):
    """Every patch is told once, and each member lies where its placement puts it."""
    told = [p for x in plan.placements for p in x.patches if p is not None]
    told += [x.patch for x in plan.leftover]
    assert sorted(told) == sorted(p.id for p in top.patches)
    where = {p.id: p.polygon for p in top.patches}
    for x in plan.placements:
        for patch, member in zip(x.patches, plan.blocks[x.block].members, strict=True):
            if patch is not None:
                seen = Polygon(plan.placed(x, np.array(member.corners)))
                assert shapely.hausdorff_distance(seen, where[patch]) < near


def names(plan):
    return [b.name for b in plan.blocks]


def counts(plan):
    return Counter(x.block for x in plan.placements)


def roles(plan):
    return Counter(x.role for x in plan.leftover)


def test_turns_and_mirrors_are_told_apart():
    def laid(col, row):
        return posed(ODD, 6, turns=(col + 2 * row) % 4, mirrored=(col + row) % 3 == 0)

    top = top_of(tiled(laid, 4, 4, 6))
    plan = find_blocks(top)
    assert_tells_all(top, plan)
    assert len(plan.blocks) == 1
    assert len(plan.blocks[0].members) == 4
    assert len(plan.placements) == 16
    # Relative to any one placement the poses are those laid: the same as their own group.
    laid_so = Counter(((c + 2 * r) % 4, (c + r) % 3 == 0) for r in range(4) for c in range(4))
    found = Counter((x.quarter_turns, x.mirrored) for x in plan.placements)
    assert sorted(laid_so.values()) == sorted(found.values())


@given(st.integers(0, 3), st.booleans(), st.integers(0, 2**31))
@settings(max_examples=8, deadline=None)
def test_a_top_turned_or_relabelled_has_the_same_blocks(turns, mirrored, seed):
    def laid(col, row):
        return posed(ODD, 6, turns=(col * row) % 4)

    pieces = posed(tiled(laid, 4, 4, 6), 24, turns=turns, mirrored=mirrored)
    order = np.random.default_rng(seed).permutation(len(pieces))
    top = top_of([pieces[k] for k in order])
    plan = find_blocks(top)
    assert_tells_all(top, plan)
    assert len(plan.blocks) == 1
    assert len(plan.placements) == 16


def test_two_blocks_in_turn():
    top = top_of(tiled(lambda c, r: NINE if (c + r) % 2 else PLAIN, 5, 5, 6))
    plan = find_blocks(top)
    assert_tells_all(top, plan)
    assert sorted(names(plan)) == ["", "nine patch"]
    assert sorted(counts(plan).values()) == [12, 13]


def test_light_and_dark_exchanged_is_the_same_block():
    other = [(p, {"dark": "light", "light": "medium"}[f]) for p, f in NINE]
    plan = find_blocks(top_of(tiled(lambda c, r: NINE if (c + r) % 2 else other, 4, 4, 6)))
    assert names(plan) == ["nine patch"]
    assert counts(plan) == {0: 16}
    # Corners and middle share a fabric, the four between share another.
    assert [m.role for m in plan.blocks[0].members] == [0, 1, 0, 1, 0, 1, 0, 1, 0]


def test_sashing_cornerstones_and_borders():
    pieces = [*tiled(NINE, 4, 3, 6, sash=1.5), *sashing(4, 3, 6, 1.5)]
    top = top_of(bordered(pieces, 3.0))
    plan = find_blocks(top)
    assert_tells_all(top, plan)
    assert names(plan) == ["nine patch"]
    assert counts(plan) == {0: 12}
    # Strips across: 3 · 3, down: 4 · 2; cornerstones where they cross: 3 · 2 (counted by hand).
    assert roles(plan) == {"sashing": 17, "cornerstone": 6, "border": 4}


def test_plain_blocks_are_blocks_only_where_sashing_sets_them_apart():
    sashed = top_of([*tiled(PLAIN, 4, 4, 6, sash=2), *sashing(4, 4, 6, 2)])
    plan = find_blocks(sashed)
    assert counts(plan) == {0: 16}
    assert plan.blocks[0].width_in == pytest.approx(6)
    assert find_blocks(top_of(tiled(PLAIN, 6, 6, 6))).blocks == ()


def test_on_point_with_setting_triangles():
    top = top_of(bordered(on_point(NINE, 6, 3, 4), 2.0))
    plan = find_blocks(top)
    assert_tells_all(top, plan)
    assert plan.angle_deg == 45
    assert names(plan) == ["nine patch"]
    # r · c blocks and (r − 1)(c − 1) between them; side triangles 2 (r + c − 2), corners 4 (trade
    # formula).
    assert counts(plan) == {0: 12 + 6}
    assert roles(plan) == {"setting triangle": 2 * 5 + 4, "border": 4}


def test_a_runner_has_blocks_in_one_row():
    plan = find_blocks(top_of(bordered(tiled(NINE, 5, 1, 6), 2.0)))
    assert names(plan) == ["nine patch"]
    assert counts(plan) == {0: 5}


def test_rows_shifted_against_each_other():
    rows = [moved(tiled(ODD, 4, 1, 6), 3 * (row % 2), 6 * row) for row in range(4)]
    ends = [block(rect("end", 0 if row % 2 else 24, 6 * row, 3, 6)) for row in range(4)]
    top = top_of([p for part in (*rows, *ends) for p in part])
    plan = find_blocks(top)
    assert_tells_all(top, plan)
    assert counts(plan)[0] == 16
    assert len(plan.blocks[0].members) == 4


def test_strips_between_columns_of_geese_are_sashing():
    columns = [moved(tiled(GOOSE, 1, 10, 4, 2), 6 * c, 0) for c in range(4)]
    strips = [block(rect("strip", 6 * c + 4, 0, 2, 20)) for c in range(3)]
    top = top_of([p for part in (*columns, *strips) for p in part])
    plan = find_blocks(top)
    assert_tells_all(top, plan)
    assert names(plan) == ["flying geese"]
    assert counts(plan) == {0: 40}
    assert roles(plan) == {"sashing": 3}


def test_raw_edges_lose_their_allowance():
    # A bare top shows 1/4 in more all round; its outer squares are no longer square.
    def grown(v):
        return np.where(v < 0.1, -0.25, np.where(v > 23.9, 24.25, v))

    pieces = [(shapely.transform(p, grown), f) for p, f in tiled(NINE, 4, 4, 6)]
    plan = find_blocks(top_of(pieces, raw_edges=True))
    assert names(plan) == ["nine patch"]
    assert counts(plan) == {0: 16}
    assert plan.blocks[0].width_in == pytest.approx(6, abs=1e-4)


def jolted(top, sigma_in, seed):
    """Return the top with every corner off; corners that meet stay together."""
    rng = np.random.default_rng(seed)
    moved_to = {}

    def to(xy):
        key = (round(xy[0], 4), round(xy[1], 4))
        return moved_to.setdefault(key, rng.normal(xy, sigma_in))

    patches = tuple(
        replace(p, polygon=Polygon([to(c) for c in p.polygon.exterior.coords[:-1]]))
        for p in top.patches
    )
    return replace(top, patches=patches)


@pytest.mark.parametrize("sigma_in", [1 / 32, 1 / 16, 1 / 8])
def test_piecing_error_hides_no_block(sigma_in):
    # Good piecing 1/32 in, hasty 1/16 (common practice, no source).
    def laid(col, row):
        return posed(ODD, 6, turns=(col + 2 * row) % 4)

    top = jolted(top_of(tiled(laid, 5, 5, 6)), sigma_in, 3)
    plan = find_blocks(top)
    assert_tells_all(top, plan, near=6 * sigma_in)
    assert len(plan.blocks) == 1
    assert counts(plan)[0] == 25


def spoiled(top, share, seed):
    """Return the top with so many patches joined to a neighbour or cut in two, half of each."""
    rng = np.random.default_rng(seed)
    patches = {p.id: p for p in top.patches}
    for _ in range(round(share * len(top.patches) / 2)):
        one = patches[rng.choice(sorted(patches))]
        beside = [
            p
            for p in patches.values()
            if p.id != one.id and one.polygon.intersection(p.polygon).length > 0.5
        ]
        other = beside[int(rng.integers(len(beside)))]
        del patches[other.id]
        both = one.polygon.union(other.polygon)
        patches[one.id] = replace(one, polygon=Polygon(both.exterior))
    for _ in range(round(share * len(top.patches) / 2)):
        one = patches[rng.choice(sorted(patches))]
        x, y = one.polygon.representative_point().coords[0]
        line = affinity.rotate(shapely.LineString([(x - 99, y), (x + 99, y)]), rng.uniform(0, 180))
        a, b = split(one.polygon, line).geoms
        new = PatchId(max(patches) + 1)
        patches[one.id] = replace(one, polygon=a)
        patches[new] = replace(one, id=new, polygon=b)
    return replace(top, patches=tuple(patches.values()))


@pytest.mark.parametrize("seed", range(3))
def test_a_few_seams_missed_or_too_many_hide_no_block(seed):
    def laid(col, row):
        return posed(NINE, 6, turns=(col + row) % 2)

    top = spoiled(top_of(bordered(tiled(laid, 6, 5, 6), 3)), 0.05, seed)
    plan = find_blocks(top)
    assert_tells_all(top, plan, near=0.3)
    assert names(plan) == ["nine patch"]
    assert counts(plan) == {0: 30}
    assert any(p is None for x in plan.placements for p in x.patches)


@pytest.mark.parametrize("seed", range(2))
def test_one_fabric_in_ten_mislabelled(seed):
    rng = np.random.default_rng(seed)
    pieces = [
        (p, str(rng.choice(["dark", "light", "red"])) if rng.random() < 0.1 else f)
        for p, f in tiled(NINE, 5, 5, 6)
    ]
    plan = find_blocks(top_of(pieces))
    assert names(plan) == ["nine patch"]
    assert counts(plan) == {0: 25}


def test_without_fabrics_squares_are_just_squares():
    assert find_blocks(top_of([(p, "") for p, _ in tiled(NINE, 5, 5, 6)])).blocks == ()


def test_a_leaning_top_keeps_its_blocks():
    top = top_of(tiled(ODD, 6, 6, 6))

    def lean(p):
        return np.column_stack([p[:, 0] - np.tan(np.radians(1.5)) * p[:, 1], p[:, 1]])

    assert counts(find_blocks(top.mapped(lean))) == {0: 36}


def crazy(seed):
    """Return the cells round scattered points: no two alike."""
    rng = np.random.default_rng(seed)
    frame = shapely.box(0, 0, 30, 30)
    cells = shapely.voronoi_polygons(
        shapely.MultiPoint(rng.uniform(0, 30, (80, 2))), extend_to=frame
    )
    return [(c & frame, f"f{k % 7}") for k, c in enumerate(cells.geoms)]


def strips(seed):
    """Return columns of bricks of any length: improvised."""
    rng = np.random.default_rng(seed)
    out = []
    for col in range(8):
        cuts = np.unique(np.concatenate([[0, 30], rng.uniform(0, 30, 8).round(2)]))
        for a, b in itertools.pairwise(cuts):
            out += block(rect(f"f{int(rng.integers(6))}", 3.5 * col, a, 3.5, b - a))
    return out


def five_cuts(seed):
    """Return blocks of one size cut in five ways, each laid anyhow."""
    rng = np.random.default_rng(seed)
    ways = [
        PLAIN,
        block(rect("a", 0, 0, 3, 6), rect("b", 3, 0, 3, 6)),
        block(*(rect(f, 3 * (k % 2), 3 * (k // 2), 3, 3) for k, f in enumerate("abcd"))),
        block(*(rect(f, 2 * k, 0, 2, 6) for k, f in enumerate("abc"))),
        block(rect("a", 0, 0, 6, 2), rect("b", 0, 2, 2, 4), rect("c", 2, 2, 4, 4)),
    ]
    return tiled(lambda c, r: posed(ways[rng.integers(5)], 6, turns=int(rng.integers(4))), 6, 6, 6)


@pytest.mark.parametrize("made", [crazy, strips, five_cuts])
@pytest.mark.parametrize("seed", range(2))
def test_scrappy_improvised_and_mixed_tops_have_none(made, seed):
    top = top_of(made(seed))
    plan = find_blocks(top)
    assert plan.blocks == plan.placements == ()
    assert [x.patch for x in plan.leftover] == [p.id for p in top.patches]
    assert {x.role for x in plan.leftover} == {""}


def test_two_patches_are_no_plan():
    assert find_blocks(top_of(block(rect("a", 0, 0, 3, 6), rect("b", 3, 0, 3, 6)))).blocks == ()
