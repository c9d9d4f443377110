"""top.json edited by hand or by another program: kept where it can be, refused where it can't.

What a file must hold is docs/file-formats.md's own promise; that hand edits to 1/100 in pass,
and that no quilt is longer than 240 in, is common practice, no source.
"""

import copy
import json

import numpy as np
import pytest
import shapely
from tests.motifs.tops import bordered, grid, hexagons, on_point, pinwheels, sewn
from tests.vision.drawn_tops import straight_down

from seamwalk.errors import FileFormatError
from seamwalk.files.top_file import read_top, to_document
from seamwalk.model.top import Top
from seamwalk.scenes.designs.pattern import Layout
from seamwalk.scenes.tops import make_top
from seamwalk.vision.measure import measure


def document_of(top: Top, units="in"):
    sizes = measure(top, straight_down())
    return to_document(top, sizes, photo=None, rectification=None, units=units)


def read(document, tmp_path):
    path = tmp_path / "top.json"
    path.write_text(json.dumps(document), encoding="utf-8")
    return read_top(path)


@pytest.fixture(scope="module")
def whole():
    """Return three by three squares; patch 4 is in the middle, ids count from 0 along rows."""
    return document_of(grid(3, 3, 4.0))


@pytest.fixture
def document(whole):
    return copy.deepcopy(whole)


def seam_between(document, one, two):
    return next(s for s in document["seams"] if {s["left"], s["right"]} == {one, two})


@pytest.mark.parametrize("units", ["in", "cm"])
@pytest.mark.parametrize(
    "top",
    [
        grid(5, 4),
        pinwheels(3, 3),
        on_point(3, 3),
        hexagons(3, 4),
        bordered(3, 3),
        sewn(grid(4, 4), np.random.default_rng(3)),
        make_top("drunkards path", Layout(2, 2, 8.0), border_in=2.0, seed=4),
    ],
    ids=["grid", "pinwheels", "on point", "hexagons", "bordered", "sewn", "drunkards path"],
)
def test_what_the_program_writes_it_reads_without_a_word(top, units, tmp_path):
    got = read(document_of(top, units), tmp_path)
    assert got.warnings == ()
    for one, two in zip(got.top.patches, top.patches, strict=True):
        assert one.polygon.equals_exact(two.polygon, 2e-6)


def overlapping(d):
    d["patches"][0]["outline"] = d["outline"]


def twice_there(d):
    d["patches"].append({**d["patches"][4], "id": 99})


def hole(d):
    del d["patches"][4]
    for s in d["seams"]:
        for side in ("left", "right"):
            s[side] = None if s[side] == 4 else s[side]


def elsewhere(d):
    d["outline"] = [[x + 100, y + 100] for x, y in d["outline"]]


def crossing(d):
    a, b, *rest = d["outline"]
    d["outline"] = [b, a, *rest]


def flat(d):
    d["patches"][4]["outline"] = [[1, 1], [2, 2], [3, 3]]


def far_corner(d):
    d["patches"][4]["outline"][0] = [1e300, 1e300]


def another_top_beside(d):
    beside = {**copy.deepcopy(d["patches"][4]), "id": 99}
    beside["outline"] = [[x + 40, y] for x, y in beside["outline"]]
    d["patches"].append(beside)


def no_seams(d):
    d["seams"] = []
    for patch in d["patches"]:
        patch["seams"] = []


def seam_missing(d):
    seam = seam_between(d, 4, 5)
    d["seams"].remove(seam)
    for patch in d["patches"]:
        patch["seams"] = [s for s in patch["seams"] if s != seam["id"]]


def seam_twice(d):
    d["seams"].append({**seam_between(d, 4, 5), "id": 99})


def junction_moved(d):
    seam = seam_between(d, 4, 5)
    next(j for j in d["junctions"] if j["id"] == seam["ends"][0])["xy"] = [40, -30]


def seam_to_itself(d):
    seam = seam_between(d, 4, 5)
    seam["ends"] = [seam["ends"][0]] * 2


def same_on_both_sides(d):
    seam_between(d, 4, 5).update(left=4, right=4)


def beside_nothing(d):
    seam_between(d, 4, 5).update(left=None, right=None)


def other_patch(d):
    seam_between(d, 4, 5).update(left=4, right=8)


def bulging(d):
    seam_between(d, 4, 5)["sweep_deg"] = 90.0


@pytest.mark.parametrize(
    ("change", "seen"),
    [
        (overlapping, "patch 0 overlaps patches 1, 2, 3 and 5 more"),
        (twice_there, "patch 4 overlaps patch 99"),
        (hole, "a hole is left beside patches 0, 1, 2 and 5 more"),
        (elsewhere, "patches 0, 1, 2 and 6 more reach beyond the outline"),
        (crossing, "outline of the top crosses itself"),
        (flat, "outline of patch 4 crosses itself"),
        (far_corner, "patch 4 "),
        (another_top_beside, "patch 99 reaches beyond the outline"),
        (no_seams, "no seam lies along a side of patch 0"),
        (seam_missing, "no seam lies along a side of patch [45]"),
        (seam_twice, "seams .* and 99 lie in the same place"),
        (junction_moved, "does not run along a side of patch"),
        (seam_to_itself, "has no length"),
        (same_on_both_sides, "has patch 4 on both sides"),
        (beside_nothing, "has no patch"),
        (other_patch, "does not run along a side of patch 8"),
        (bulging, "does not run along a side of patch"),
    ],
)
def test_what_cannot_be_stitched_is_refused_by_name(document, tmp_path, change, seen):
    change(document)
    with pytest.raises(FileFormatError, match=seen) as error:
        read(document, tmp_path)
    assert error.value.seen.count(".") == 2  # That of top.json, and the end of the sentence.
    assert error.value.advice


@pytest.mark.parametrize("share", [0.3, 1.0])
def test_corners_a_hundredth_of_an_inch_off_are_put_on_their_junctions(document, tmp_path, share):
    rng = np.random.default_rng(7)
    for ring in (document["outline"], *(p["outline"] for p in document["patches"])):
        for corner in ring:
            corner[0] += share * rng.uniform(-0.01, 0.01)
            corner[1] += share * rng.uniform(-0.01, 0.01)
    got = read(document, tmp_path)
    assert any("were moved onto them" in w for w in got.warnings)
    # Outlines share their corners exactly: a path needs no cut there.
    assert shapely.coverage_is_valid([p.polygon for p in got.top.patches])
    places = {j.xy for j in got.top.junctions}
    assert {xy for p in got.top.patches for xy in p.polygon.exterior.coords} == places


def test_a_corner_edited_everywhere_is_kept_without_a_word(document, tmp_path):
    middle = document["patches"][4]["outline"][0]
    to = [middle[0] + 0.37, middle[1] - 0.21]
    places = [j["xy"] for j in document["junctions"]]
    for ring in (places, *(p["outline"] for p in document["patches"])):
        for corner in ring:
            if corner == middle:
                corner[:] = to
    got = read(document, tmp_path)
    assert got.warnings == ()
    assert tuple(to) in {xy for p in got.top.patches for xy in p.polygon.exterior.coords}


@pytest.mark.parametrize("given", [500.0, 0.0])
def test_a_width_that_contradicts_the_outline_is_taken_from_there(document, tmp_path, given):
    true = document["size"]["width"]["value"]
    document["size"]["width"]["value"] = given
    got = read(document, tmp_path)
    assert got.sizes.top.width.value_in == pytest.approx(true, abs=1e-5)
    assert len(got.warnings) == 1
    assert "width" in got.warnings[0]


def test_a_width_taken_with_a_tape_is_kept(document, tmp_path):
    document["size"]["width"]["value"] += 3 / 8
    got = read(document, tmp_path)
    assert got.sizes.top.width.value_in == document["size"]["width"]["value"]
    assert got.warnings == ()


def test_sides_that_are_not_there_are_taken_from_the_outline(document, tmp_path):
    document["patches"][4].update(sides=[], angles_deg=[])
    got = read(document, tmp_path)
    assert [s.value_in for s in got.sizes.patches[4].sides] == pytest.approx([4.0] * 4, abs=1e-5)
    assert "patch 4" in got.warnings[0]


def test_a_curve_of_a_side_that_is_not_there_is_left_out(document, tmp_path):
    one = {"value": 1, "plus_minus": 0}
    document["patches"][4]["curves"] = [{"side": 77, "along": one, "radius": one, "inwards": True}]
    got = read(document, tmp_path)
    assert got.sizes.patches[4].curves == ()
    assert "patch 4" in got.warnings[0]


def test_a_patch_s_list_of_seams_is_made_anew(document, tmp_path):
    wanted = set(document["patches"][4]["seams"])
    document["patches"][4]["seams"] = []
    got = read(document, tmp_path)
    assert set(got.top.patches[4].seams) == wanted
    assert "patch 4" in got.warnings[0]


@pytest.mark.parametrize(("side", "fits"), [(119.0, True), (121.0, False), (1e6, False)])
def test_no_quilt_is_longer_than_twice_the_largest_bed_quilt(tmp_path, side, fits):
    document = document_of(grid(2, 2, side, allowance=0.0))
    if fits:
        assert read(document, tmp_path).warnings == ()
        return
    with pytest.raises(FileFormatError, match="240 in"):
        read(document, tmp_path)


@pytest.mark.parametrize("text", ["[" * 200000, '{"schema": "\\ud800"}'])
def test_what_json_cannot_hold_is_refused(tmp_path, text):
    path = tmp_path / "top.json"
    path.write_text(text)
    with pytest.raises(FileFormatError, match="JSON"):
        read_top(path)


def test_a_text_that_no_file_could_hold_is_refused(document, tmp_path):
    document["advice"] = ["half a character: \ud800"]
    with pytest.raises(FileFormatError, match="JSON"):
        read(document, tmp_path)


def test_a_byte_order_mark_is_passed_over(document, tmp_path):
    # Some editors put one before UTF-8 (RFC 8259, section 8.1, lets readers ignore it).
    path = tmp_path / "top.json"
    path.write_text(json.dumps(document), encoding="utf-8-sig")
    assert len(read_top(path).top.patches) == 9
