"""Which motif goes where, and how a wish is read."""

import pytest
from tests.motifs.tops import DESIGNS, bordered, grid, on_point, pinwheels, sizes_of, top_from

from seamwalk.errors import MotifError, UsageError
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


def test_odd_shapes_get_the_ditch():
    top = top_from(
        [
            [(0, 0), (12, 0), (12, 12), (6, 12), (6, 6), (0, 6)],
            [(0, 6), (6, 6), (6, 12), (0, 12)],
        ]
    )
    assert by_patch(top)[0].motif == "ditch"
    assert make_strokes(top, sizes_of(top), choose(top, sizes_of(top))).warnings == ()


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
