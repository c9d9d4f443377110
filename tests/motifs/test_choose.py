"""Which motif goes where, and how a wish is read."""

import pytest
from tests.motifs.tops import DESIGNS, bordered, grid, on_point, pinwheels, sizes_of, top_from

from seamwalk.errors import MotifError, SettingsError, UsageError
from seamwalk.motifs.choose import choose, count_by_motif
from seamwalk.motifs.plan import make_strokes


def by_patch(top, *wishes):
    choices = choose(top, sizes_of(top), wishes)
    return {p: c for c in choices for p in c.patches}


@pytest.mark.parametrize("design", DESIGNS)
def test_every_patch_has_exactly_one_motif(design):
    top = DESIGNS[design]()
    choices = choose(top, sizes_of(top))
    covered = [p for c in choices for p in c.patches]
    assert sorted(covered) == sorted(p.id for p in top.patches)
    assert sum(count_by_motif(choices).values()) == len(top.patches)


def test_squares_get_arches_and_small_triangles_the_ditch():
    # Ditch round small triangles, nothing inside (common practice, no source).
    assert {c.motif for c in by_patch(grid(4, 4, 3.0)).values()} == {"arches"}
    assert {c.motif for c in by_patch(grid(4, 4, 1.25)).values()} == {"ditch"}
    assert {c.motif for c in by_patch(pinwheels(4, 4, 2.0)).values()} == {"ditch"}


def test_borders_get_lines_along_them():
    top = bordered(6, 6)
    motifs = by_patch(top)
    for patch in top.patches:
        assert motifs[patch.id].motif == ("lines" if patch.polygon.area > 12 else "arches")


def test_equal_patches_get_the_same():
    for make in DESIGNS.values():
        top = make()
        motifs = by_patch(top)
        classes = {}
        for size in sizes_of(top).patches:
            classes.setdefault(size.class_name, set()).add(motifs[size.patch].motif)
        assert all(len(found) == 1 for found in classes.values())


def test_setting_triangles_get_what_their_squares_get():
    assert {c.motif for c in by_patch(on_point(3, 3)).values()} == {"arches"}


def test_wishes_by_shape_class_patch_border_and_all():
    top = bordered(6, 6)
    sizes = sizes_of(top)
    squares = [s.patch for s in sizes.patches if s.shape == "square"]
    name = next(s.class_name for s in sizes.patches if s.shape == "square")
    got = by_patch(top, "square=leaf lines")
    assert {got[p].motif for p in squares} == {"leaf-lines"}
    got = by_patch(top, f"patch {squares[0]}=outline", "all=ditch", f"{name} = arches")
    assert got[squares[0]].motif == "outline"
    assert got[squares[1]].motif == "arches"
    assert {c.motif for p, c in got.items() if p not in squares} == {"ditch"}
    got = by_patch(top, "border=crosshatch spacing=1")
    assert {c.motif for p, c in got.items() if p not in squares} == {"crosshatch"}
    assert {c.spacing_in for p, c in got.items() if p not in squares} == {1.0}


def test_of_equal_wishes_the_later_wins():
    got = by_patch(grid(3, 3), "square=ditch", "squares=outline")
    assert {c.motif for c in got.values()} == {"outline"}


def test_measures_are_read_as_people_write_them():
    got = by_patch(grid(3, 3), "all = arches depth=1/2 edge=line")[0]
    assert (got.motif, got.depth_in, got.edge) == ("arches", 0.5, "line")
    got = by_patch(grid(3, 3), "all=lines angle=-30 spacing=2 1/2")[0]
    assert (got.angle_deg, got.spacing_in) == (-30.0, 2.5)
    got = by_patch(grid(3, 3), "all=lines spacing=4cm angle=45°")[0]
    assert got.spacing_in == pytest.approx(4 / 2.54)


def test_usual_wishes_hold_where_nothing_else_is_asked_for():
    top = bordered(4, 4)
    usual = ["border=cable", "hexagon=outline", "patch 3=none"]
    got = {p: c.motif for c in choose(top, sizes_of(top), usual=usual) for p in c.patches}
    strips = {p.id for p in top.patches if p.polygon.area > 12}
    assert {p for p, m in got.items() if m == "cable"} == strips
    assert got[3] == "none"
    # However narrow a usual word is, what is asked for this time wins.
    asked = choose(top, sizes_of(top), ["all=ditch"], usual=usual)
    assert [c.motif for c in asked] == ["ditch"]
    with pytest.raises(SettingsError, match="Your settings ask for “border=cabel”"):
        choose(top, sizes_of(top), usual=["border=cabel"])


@pytest.mark.parametrize(
    ("wish", "same"),
    [
        ("all=crosshatch 1 1/2 in", "all=crosshatch spacing=1.5"),
        ("all=crosshatch 1 in at 30°", "all=crosshatch spacing=1 angle=30"),
        ("all=lines 2 apart at -45 degrees", "all=lines spacing=2 angle=-45"),
        ("all=outline 3/8 in inside", "all=outline depth=3/8"),
        ("all=outline 1 in apart", "all=outline spacing=1"),
        ("all=waves 3/4 in high", "all=waves depth=3/4"),
        ("all=arches ½", "all=arches depth=1/2"),
        ("all = leaf lines 1/2 in deep", "all=leaf-lines depth=1/2"),
        ("all=lines 1,5 cm at 22,5°", "all=lines spacing=1.5cm angle=22.5"),
        ("all=lines spacing=1,5cm", "all=lines 1.5 cm"),
        ("all=lines 5 cm angle=0", "all=lines spacing=5cm angle=0"),
        ("all=three strand cable", "all=three-strand-cable"),
    ],
)
def test_a_bare_length_is_the_measure_that_the_motif_needs_most(wish, same):
    assert choose_all(wish) == choose_all(same)


def choose_all(wish, units="in"):
    top = grid(3, 3)
    return choose(top, sizes_of(top), [wish], units=units)


def test_bare_numbers_are_in_the_persons_units():
    assert choose_all("all=lines spacing=5", "cm") == choose_all("all=lines spacing=5cm")
    assert choose_all("all=crosshatch 5", "cm") == choose_all("all=crosshatch 5cm")


@pytest.mark.parametrize(
    ("wish", "says"),
    [
        ("arches", "WHERE=MOTIF"),
        ("=arches", "WHERE=MOTIF"),
        ("square=", "WHERE=MOTIF"),
        ("sqare=arches", "Did you mean square"),
        ("hexagon=arches", "has"),
        ("square=arches deepness=1", "depth, spacing"),
        ("square=arches depth=deep", "Write it like"),
        ("square=lines angle=steep", "angle=45"),
        ("square=arches edge=curly", "none, arch or line"),
    ],
)
def test_a_wish_that_cannot_be_read_says_how_to_write_it(wish, says):
    with pytest.raises(UsageError) as caught:
        by_patch(grid(3, 3), wish)
    assert says in str(caught.value)


def test_an_unknown_motif_names_the_closest():
    with pytest.raises(MotifError) as caught:
        by_patch(grid(3, 3), "square=archs")
    assert "Did you mean arches?" in caught.value.advice


def corner_piece(arm):
    """An L of two arms, and the square that completes it."""
    a, b = arm, 2 * arm
    return top_from(
        [
            [(0, 0), (b, 0), (b, b), (a, b), (a, a), (0, a)],
            [(0, a), (a, a), (a, b), (0, b)],
        ]
    )


def test_odd_shapes_get_the_ditch():
    top = corner_piece(3)
    assert by_patch(top)[0].motif == "ditch"
    assert make_strokes(top, sizes_of(top), choose(top, sizes_of(top))).warnings == ()


def test_what_is_too_wide_for_arches_or_the_ditch_gets_a_crosshatch():
    # No gap above 4 in (trade.BATTING_GAP_MOST_IN).  In the L the largest circle touches two
    # outer sides and the inner corner: r = √2·(a − r), so it is 1.17 a across.  In a square c
    # wide arches rise by 0.87 · 0.207 c and leave 0.64 c.
    assert by_patch(corner_piece(3.3))[0].motif == "ditch"
    assert by_patch(corner_piece(4.1))[0].motif == "crosshatch"
    assert by_patch(grid(3, 3, 6.0))[4].motif == "arches"
    assert by_patch(grid(3, 3, 6.6))[4].motif == "crosshatch"


def test_logs_of_a_log_cabin_all_get_the_ditch():
    # Three rounds of 2 in strips round a 2 in centre: one width, many lengths.
    rings, x0, y0, x1, y1 = [[(6, 6), (8, 6), (8, 8), (6, 8)]], 6, 6, 8, 8
    for _ in range(3):
        rings.append([(x0, y0 - 2), (x1, y0 - 2), (x1, y0), (x0, y0)])
        y0 -= 2
        rings.append([(x1, y0), (x1 + 2, y0), (x1 + 2, y1), (x1, y1)])
        x1 += 2
        rings.append([(x0, y1), (x1, y1), (x1, y1 + 2), (x0, y1 + 2)])
        y1 += 2
        rings.append([(x0 - 2, y0), (x0, y0), (x0, y1), (x0 - 2, y1)])
        x0 -= 2
    frame = [[(-9, y0), (x0, y0), (x0, y1), (-9, y1)], [(x1, y0), (25, y0), (25, y1), (x1, y1)]]
    top = top_from([*rings, *frame])
    motifs = [by_patch(top)[p.id].motif for p in top.patches]
    assert motifs[0] == "arches"
    assert set(motifs[2:9]) == {"ditch"}
