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


def plan_of(top, *wishes, circles_in=None, units="in"):
    sizes = sizes_of(top)
    choices = choose(top, sizes, wishes, units=units)
    return make_strokes(top, sizes, choices, circles_in=circles_in, units=units)


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
    assert instead("Arches rise by {}", None, [1.0], "…", "in") == []
    assert instead("Arches rise by {}", 1.0, [1.0, 1.02], "of this", "in") == []
    (said,) = instead("Arches rise by {}", 2.0, [1.0, 1.5], "of this", "in")
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


@pytest.mark.parametrize(
    ("wish", "says"),
    # One inch is 2.54 cm exactly (international agreement, 1959).
    [
        ("arches 25", "Arches rise by .* cm instead of 25.0 cm"),
        ("leaf-lines 12", "Leaves rise by .* cm instead of 12.0 cm"),
        ("leaf-diagonals 12", "Leaves rise by .* cm instead of 12.0 cm"),
        ("lines 50", r"Lines lie 5\.\d cm from the seams|Lines lie .* instead of 50.0 cm"),
        ("waves 500", "“waves spacing=500 cm” is larger than 9 patches .*, 43.1 cm across"),
        ("waves 8 high", "Waves are .* cm high instead of 8.0 cm"),
        ("outline 12", "do not suit “outline depth=12 cm” .*“outline depth=.* cm” would fit"),
        ("outline spacing=12", "one ring only: there is no room for more 12.0 cm apart"),
        ("outline spacing=0.2", "Rings lie 0.3 cm apart instead of 0.2 cm"),
        ("fans depth=15 spacing=10", "arcs lie .* cm apart instead of 10.0 cm"),
        ("fans depth=2", "Fans of 2.0 cm are not possible, .* no tighter than 2.5 cm"),
        ("fans spacing=1", "arcs up to 2.0 cm are left out"),
        ("clamshells spacing=5 depth=8", "depth of 5.0 cm instead of 8.0 cm"),
        ("clamshells 2", "Clamshells of radius 2.0 cm are not possible, .* tighter than 2.5 cm"),
        ("clamshells 130", "“clamshells spacing=130 cm” leaves nothing"),
    ],
)
def test_what_is_drawn_instead_is_told_in_her_units(wish, says):
    plan = plan_of(grid(3, 3, 4.0), f"all={wish}", units="cm")
    assert any(re.search(says, w) for w in plan.warnings), plan.warnings
    assert not any(re.search(r"\d in\b", w) for w in plan.warnings), plan.warnings


@pytest.mark.parametrize(
    "wish", ["cable depth=8", "cable spacing=20", "three-strand-cable depth=8", "piano-keys 130"]
)
def test_borders_say_it_in_her_units(wish):
    top, _ = framed(30, 36, [(4, "mitred")])
    plan = plan_of(top, f"border={wish}", "middle=ditch", units="cm")
    assert any(re.search(r"\d cm .*instead of \d+\.0 cm", w) for w in plan.warnings), plan.warnings
    assert not any(re.search(r"\d in\b", w) for w in plan.warnings), plan.warnings


def test_what_would_fit_lies_on_her_ruler():
    # Half centimetres, as finished sizes of metric patterns (common practice, no source).
    top = grid(3, 3, 4.0)
    plan = plan_of(top, "all=clamshells 130", units="cm")
    fits = plan.warnings[0].split("“")[-1].split("”")[0]
    (number,) = re.findall(r"spacing=(\S+) cm", fits)
    assert (2 * float(number)).is_integer()
    assert plan_of(top, f"all={fits}", units="cm").warnings == ()


def test_what_she_wrote_in_inches_stays_as_she_wrote_it():
    plan = plan_of(grid(3, 3, 4.0), "all=waves 200 1/2 in", units="cm")
    assert "“waves spacing=200 1/2 in” is larger" in plan.warnings[0]


def test_sides_without_arches_are_told_in_her_units():
    top = grid(8, 8, 1.0)
    (said,) = {w for w in plan_of(top, "all=arches", units="cm").warnings if "arches" in w.lower()}
    assert re.search(r"sides of [\d.]+( to [\d.]+)? cm .*no tighter than 2\.5 cm", said)
