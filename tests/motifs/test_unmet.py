"""Wishes that can't be kept: what is left or drawn instead is told, and an empty plan refused."""

import math
import re

import pytest
from tests.motifs.framed import framed
from tests.motifs.tops import bordered, grid, sizes_of

from seamwalk.errors import MotifError, UsageError
from seamwalk.model.choice import MotifChoice
from seamwalk.motifs.area import lay_out
from seamwalk.motifs.choose import choose
from seamwalk.motifs.instead import instead
from seamwalk.motifs.plan import make_strokes, refuse_empty
from seamwalk.motifs.wish import read_motif
from seamwalk.motifs.wish_measures import MEASURES
from seamwalk.units import format_inches


def plan_of(top, *wishes, circles_in=None):
    sizes = sizes_of(top)
    return make_strokes(top, sizes, choose(top, sizes, wishes), circles_in=circles_in)


def stitched(plan):
    return [s for s in plan.strokes if s.required]


@pytest.mark.parametrize("wish", ["clamshells 50", "fans 40 in"])
def test_a_wish_that_leaves_nothing_is_told_with_one_that_fits(wish):
    # From memory: arcs of radius R that start on one side of a top s wide miss it past R = s·√2.
    top = grid(3, 3, 4.0)
    plan = plan_of(top, f"all={wish}")
    (said,) = plan.warnings
    assert "leaves nothing to stitch in 9 patches (square" in said
    assert "too large" in said
    with pytest.raises(MotifError, match=r"Nothing would be stitched in the whole top\. “"):
        refuse_empty(plan)
    fits = said.split("“")[-1].split("”")[0]
    other = plan_of(top, f"all={fits}")
    assert {s.patch for s in stitched(other)} == {p.id for p in top.patches}


def test_a_wish_that_leaves_nothing_in_some_patches_is_no_error():
    top = bordered(4, 4)
    plan = plan_of(top, "square=clamshells 100", "border=lines")
    refuse_empty(plan)
    assert any("“clamshells spacing=100 in” leaves nothing" in w for w in plan.warnings)
    assert stitched(plan)


def test_nothing_asked_for_anywhere_is_refused():
    plan = plan_of(grid(2, 2), "all=none")
    assert plan.warnings == ()
    with pytest.raises(MotifError, match="other than none"):
        refuse_empty(plan)


def test_a_single_patch_has_no_ditch():
    plan = plan_of(grid(1, 1, 6.0), "all=ditch")
    assert plan.warnings[0].endswith("since no seam runs there.")
    with pytest.raises(MotifError):
        refuse_empty(plan)


@pytest.mark.parametrize("depth", [5.0, 100.0])
@pytest.mark.parametrize("circles", [None, (2, 3, 4, 5, 6, 8)])
def test_arches_deeper_than_their_patch_say_what_they_are(depth, circles):
    # An arch is never past half way (common practice, no source): 2 in of a 4 in square.
    plan = plan_of(grid(3, 3, 4.0), f"all=arches depth={depth:g}", circles_in=circles)
    (said,) = [w for w in plan.warnings if "instead of" in w]
    assert f"instead of {format_inches(depth)} in" in said
    deepest = 0.0
    for s in stitched(plan):
        (arc,) = s.curve.pieces
        chord = math.dist(arc.start, arc.end)
        rise = chord / 2 * math.tan(math.asin(min(1.0, chord / 2 / arc.radius)) / 2)
        deepest = max(deepest, rise)
    assert format_inches(deepest, 16) in said
    assert deepest < 2.0


@pytest.mark.parametrize("wish", ["arches", "arches 1/2 in", "leaf-lines 1/4 in", "lines 1 in"])
def test_a_wish_that_is_kept_says_nothing(wish):
    assert plan_of(grid(3, 3, 4.0), f"all={wish}").warnings == ()


@pytest.mark.parametrize(
    ("wish", "says"),
    [
        ("leaf-lines 5 in", "Leaves rise by .* instead of 5 in"),
        ("leaf-diagonals 5 in", "Leaves rise by .* instead of 5 in"),
        ("lines 20 in", "Lines lie 2 in from the seams|Lines lie .* instead of 20 in"),
        ("waves 200 in", "“waves spacing=200 in” is larger than 9 patches"),
        ("waves 3 in high", "Waves are .* in high instead of 3 in"),
        ("crosshatch 100 in", "“crosshatch spacing=100 in” is larger than 9 patches"),
        ("outline 5 in", "do not suit “outline depth=5 in” and get the ditch instead; “outline"),
        ("outline spacing=5", "one ring only"),
        ("outline spacing=1/16", "Rings lie 1/8 in apart instead of 1/16 in"),
        ("spiral 100 in", "do not suit “spiral spacing=100 in” and get the ditch instead"),
        ("fans depth=6 spacing=4", "arcs lie 3 in apart instead of 4 in"),
        ("clamshells spacing=2 depth=3", "depth of 2 in instead of 3 in"),
    ],
)
def test_what_is_drawn_instead_is_told(wish, says):
    plan = plan_of(grid(3, 3, 4.0), f"all={wish}")
    assert any(re.search(says, w) for w in plan.warnings), plan.warnings
    assert stitched(plan)


@pytest.mark.parametrize(
    ("wish", "says"),
    [
        ("cable depth=3", "arcs rise by .* instead of 3 in"),
        ("cable spacing=8", "crossings lie .* apart instead of 8 in"),
        ("piano-keys 50", "Keys are .* wide instead of 50 in"),
    ],
)
def test_borders_say_what_is_drawn_instead(wish, says):
    top, _ = framed(30, 36, [(4, "mitred")])
    plan = plan_of(top, f"border={wish}", "middle=ditch")
    assert any(re.search(says, w) for w in plan.warnings), plan.warnings


@pytest.mark.parametrize(
    "motif", ["cable", "cable spacing=4", "piano-keys 1 in", "waves", "lines"]
)
def test_borders_with_usual_wishes_say_nothing(motif):
    top, _ = framed(30, 36, [(4, "mitred")])
    assert not any("instead of" in w for w in plan_of(top, f"border={motif}").warnings)


def test_a_length_within_half_a_mark_is_kept():
    assert instead("Arches rise by {}", None, [1.0], "…") == []
    assert instead("Arches rise by {}", 1.0, [1.0, 1.02], "of this") == []
    (said,) = instead("Arches rise by {}", 2.0, [1.0, 1.5], "of this")
    assert said == "Arches rise by 1 to 1 1/2 in instead of 2 in, since of this."


def test_every_sentence_names_what_was_asked_for():
    # Nothing on a top of 10 in can be 240 in large (arithmetic).
    top = grid(2, 2, 5.0)
    area = lay_out(top)
    for motif in ("arches", "clamshells", "crosshatch", "fans", "leaf-lines", "lines", "spiral"):
        for measure in MEASURES[:2]:
            try:
                _, like = read_motif(f"all={motif} {measure}=240")
            except UsageError:
                continue  # the motif has no such measure
            sizes = sizes_of(top)
            patches = tuple(p.id for p in top.patches)
            choice = MotifChoice(patches, motif, like.depth_in, like.spacing_in)
            plan = make_strokes(top, sizes, [choice], area=area)
            assert any("240 in" in w for w in plan.warnings), (motif, measure, plan.warnings)
