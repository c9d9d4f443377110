"""Whole looks: the rules of every stroke, the gap that is kept, words that give them again."""

import pytest
from tests.motifs.asserts import assert_stitchable
from tests.motifs.framed import framed
from tests.motifs.tops import DESIGNS, grid, hexagons, sizes_of

from seamwalk.model.machine import MachineProfile
from seamwalk.motifs.area import lay_out
from seamwalk.motifs.choose import choose
from seamwalk.motifs.gaps import HAIR_IN, largest_of_patches
from seamwalk.motifs.look_groups import look_groups
from seamwalk.motifs.look_ladders import like, ruled
from seamwalk.motifs.look_words import wishes_for
from seamwalk.motifs.looks import LookedAt, balanced_look, quick_looks, rich_look
from seamwalk.motifs.plan import make_strokes
from seamwalk.motifs.wish_places import wish_places

TOPS = {
    **DESIGNS,
    "corner squares": lambda: framed(40, 48, [(4.0, "squares"), (2.0, "mitred")])[0],
    "large hexagons": lambda: hexagons(3, 3, 6.0),
}


def seen(top):
    area, sizes = lay_out(top), sizes_of(top)
    places = wish_places(sizes, area)
    groups = look_groups(sizes, area, places)
    return LookedAt(top, sizes, area, places, groups, MachineProfile())


def strokes_of(at, wishes):
    choices = choose(at.top, at.sizes, wishes, area=at.area, places=at.places)
    return make_strokes(at.top, at.sizes, choices, at.machine, area=at.area)


def widest(at, plan):
    sewn = [s.curve for s in plan.strokes if s.required]
    return largest_of_patches(sewn, at.area, 1.0)[0].across_in


@pytest.mark.parametrize("name", TOPS)
def test_every_look_meets_the_foot_and_edge_rules_and_keeps_the_gap(name):
    at = seen(TOPS[name]())
    lines, _ = quick_looks(at, 2.0)
    looks = [lines, balanced_look(at, 4.0), rich_look(at, 4.0)]
    assert len(set(looks)) == 3
    for wishes, gap_in in zip(looks, (2.0, 4.0, 4.0), strict=True):
        plan = strokes_of(at, wishes)
        assert_stitchable(plan.strokes, at.top)
        assert widest(at, plan) <= gap_in + HAIR_IN, (wishes, widest(at, plan))


@pytest.mark.parametrize("name", TOPS)
def test_every_patch_is_in_one_group(name):
    at = seen(TOPS[name]())
    grouped = sorted(p for g in at.groups for p in g.patches)
    assert grouped == sorted(at.area.outlines)


def test_a_tighter_batting_is_kept_too():
    # Arches on all four sides of 6 in squares leave 0.64 · 6 in = 3.8 in, so within 2 in they
    # cannot stay; without those on the outer side 0.82 · 6 in = 4.9 in would be open at the edge.
    at = seen(grid(4, 4, 6.0))
    assert balanced_look(at, 4.0) == ("square=arches edge=arch",)
    tight = balanced_look(at, 2.0)
    assert "arches" not in tight[0]
    assert widest(at, strokes_of(at, tight)) <= 2.0 + HAIR_IN


def test_words_for_groups_give_each_its_motif_and_are_few():
    at = seen(TOPS["corner squares"]())
    words = [g.word for g in at.groups]
    assert {"border 1", "border 2", "border corner"} <= set(words)
    likes = {w: like("lines", 1.0 + k / 8) for k, w in enumerate(words)}
    wishes = wishes_for(at.groups, likes, at.sizes, at.places)
    got = {
        p: c.spacing_in
        for c in choose(at.top, at.sizes, wishes, area=at.area, places=at.places)
        for p in c.patches
    }
    for group in at.groups:
        assert {got[p] for p in group.patches} == {likes[group.word].spacing_in}
    same = dict.fromkeys(words, like("waves"))
    assert len(wishes_for(at.groups, same, at.sizes, at.places)) == 1


def test_spacings_are_those_of_a_ruler_within_the_gap():
    assert ruled(2.0, 4.0) == 2.0
    assert ruled(2.0, 1.45) == 1.375
    assert ruled(1.0, 0.05) == 0.125
