"""What a wish may name: each word against the patches that were put there by hand."""

import itertools

import pytest
from tests.motifs.framed import framed
from tests.motifs.tops import bordered, box, grid, on_point, pinwheels, sizes_of, top_from

from seamwalk.errors import UsageError
from seamwalk.model.block import Block, BlockPlan, Leftover, Placement
from seamwalk.motifs.area import lay_out
from seamwalk.motifs.choose import choose
from seamwalk.motifs.wish_places import wish_places


def places_of(top, blocks=None):
    return wish_places(sizes_of(top), lay_out(top), blocks)


def named(top, word, blocks=None):
    return set(places_of(top, blocks).find(word).patches)


def sashed():
    """Two squares of 6 in, with sashing of 2 in between and a cornerstone's worth at its end."""
    rings = [
        box(0, 0, 6, 6),
        box(6, 0, 8, 6),
        box(8, 0, 14, 6),
        box(0, 6, 6, 8),
        box(6, 6, 8, 8),
        box(8, 6, 14, 8),
    ]
    blocks = BlockPlan(
        (Block("nine patch", 6, 6, ()), Block("", 6, 6, ())),
        (Placement(0, (0,), (0, 0)), Placement(1, (2,), (8, 0))),
        (
            Leftover(1, "sashing"),
            Leftover(3, "sashing"),
            Leftover(4, "cornerstone"),
            Leftover(5, "sashing"),
        ),
    )
    return top_from(rings), blocks


def test_shapes_and_everything():
    top = bordered(4, 4)
    squares = {s.patch for s in sizes_of(top).patches if s.shape == "square"}
    assert named(top, "squares") == squares
    assert named(top, "the Squares") == squares
    assert named(top, "all squares") == squares
    assert named(top, "“square”") == squares
    assert named(top, "whole top") == named(top, "everything") == {p.id for p in top.patches}
    shape = sizes_of(pinwheels(2, 2)).patches[0].shape  # two words and a hyphen
    triangles = named(pinwheels(2, 2), shape.replace("-", " ") + "s")
    assert triangles == named(pinwheels(2, 2), "triangle") == set(range(8))


def test_the_middle_is_what_borders_enclose():
    top = bordered(4, 4)
    border = {p.id for p in top.patches if p.polygon.area > 12}
    assert named(top, "border") == named(top, "border 1") == border
    assert named(top, "middle") == {p.id for p in top.patches} - border


@pytest.mark.parametrize("corner", ["mitred", "butted", "squares", "log cabin"])
def test_borders_are_counted_from_the_inside(corner):
    # Border 1 is sewn on first (common practice, no source).
    top, groups = framed(60, 72, [(5.0, corner), (2.5, corner), (4.0, corner)])
    strips = [set(g[:4]) for g in groups]
    assert named(top, "border 1") == named(top, "inner border") == strips[2]
    assert named(top, "border 2") == strips[1]
    assert named(top, "border 3") == named(top, "outer border") == strips[0]
    assert named(top, "borders") == set().union(*strips)
    squares = set(itertools.chain(*groups)) - set().union(*strips)
    if squares:
        assert named(top, "border corners") == squares
        assert named(top, "corner squares in border corner") == squares


def test_a_border_in_pieces_is_one():
    top, groups = framed(60, 72, [(5.0, "butted")], pieces=3)
    assert named(top, "border") == set(groups[0])


def test_blocks_and_their_setting():
    top, blocks = sashed()
    assert named(top, "blocks", blocks) == {0, 2}
    assert named(top, "nine patches", blocks) == {0}
    assert named(top, "block nine patch", blocks) == named(top, "block 1", blocks) == {0}
    assert named(top, "block 2", blocks) == {2}
    assert named(top, "sashing", blocks) == {1, 3, 5}
    assert named(top, "cornerstones", blocks) == {4}
    assert named(top, "squares in nine patch", blocks) == {0}


def test_two_words_share_what_lies_in_both():
    top, groups = framed(60, 72, [(5.0, "squares")])
    squares = named(top, "square")
    assert named(top, "square in border corner") == squares & set(groups[0][4:])
    with pytest.raises(UsageError, match=r"No square of this top lies in “border 1”"):
        named(top, "squares in border 1")


def test_a_blocks_name_may_hold_the_word_in():
    top, _ = sashed()
    blocks = BlockPlan((Block("square in a square", 6, 6, ()),), (Placement(0, (2,), (8, 0)),))
    assert named(top, "square in a square", blocks) == {2}


def test_fabrics_and_the_background():
    from dataclasses import replace

    top = grid(3, 3)
    patches = tuple(replace(p, fabric="AB"[p.id in (0, 4)]) for p in top.patches)
    top = replace(top, patches=patches)
    assert named(top, "fabric B") == {0, 4}
    assert named(top, "background") == {1, 2, 3, 5, 6, 7, 8}


def test_a_word_that_this_top_lacks_says_what_there_is():
    with pytest.raises(UsageError) as caught:
        named(bordered(4, 4), "hexagons")
    said = str(caught.value)
    assert said.startswith("The top has no “hexagons”.")
    for word in ("square (16)", "rectangle (4)", "border", "middle", "patch 0"):
        assert word in said
    top, blocks = sashed()
    with pytest.raises(UsageError, match="Did you mean sashing"):
        named(top, "sahsing", blocks)


WISHES = ("all=ditch", "square=arches", "border=lines", "patch 3=outline", "middle=leaf-lines")


def test_the_order_of_unequal_words_does_not_matter():
    top = bordered(3, 3)
    area, sizes = lay_out(top), sizes_of(top)
    want = None
    for order in itertools.permutations(WISHES):
        got = {p: c.motif for c in choose(top, sizes, order, area=area) for p in c.patches}
        want = want or got
        assert got == want
    assert want[3] == "outline"


def test_words_choose_what_a_hand_would():
    top, blocks = sashed()
    got = choose(
        top,
        sizes_of(top),
        ["sashing=ditch", "block 1=crosshatch 1 in", "block 2=arches", "cornerstone=outline"],
        blocks=blocks,
    )
    by_motif = {c.motif: (c.patches, c.spacing_in) for c in got}
    assert by_motif == {
        "ditch": ((1, 3, 5), None),
        "crosshatch": ((0,), 1.0),
        "arches": ((2,), None),
        "outline": ((4,), None),
    }


def test_setting_triangles_are_no_border():
    top = on_point(3, 3)
    with pytest.raises(UsageError):
        named(top, "border")
