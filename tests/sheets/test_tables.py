"""The table of sizes, read back with the csv module (RFC 4180)."""

import csv
import io
from dataclasses import replace

import pytest
import shapely
from tests.sheets.sampler import full_sizes, grid_top, sampler_sizes

from seamwalk.model.sizes import Finished
from seamwalk.sheets.tables import sizes_csv


def _read(text):
    return list(csv.DictReader(io.StringIO(text)))


def test_one_row_for_each_patch_in_order():
    top = grid_top()
    rows = _read(sizes_csv(sampler_sizes(top, off=(2,), unsure=(5,)), top))
    assert [int(r["patch"]) for r in rows] == [p.id for p in top.patches]
    assert [r["verdict"] for r in rows[:5]] == ["right", "off", "right", "right", "cannot tell"]
    assert float(rows[1]["off (in)"]) == pytest.approx(0.375)
    assert (float(rows[5]["centre x (in)"]), float(rows[5]["centre y (in)"])) == (6, 6)


def test_centimetres_are_converted_not_relabelled():
    top = grid_top()
    sizes = sampler_sizes(top)
    inch, cm = _read(sizes_csv(sizes, top, "in")), _read(sizes_csv(sizes, top, "cm"))
    for a, b in zip(inch, cm, strict=True):
        first = float(a["sides (in)"].split(" x ")[0]), float(b["sides (cm)"].split(" x ")[0])
        assert first[1] == pytest.approx(first[0] * 2.54, abs=0.005)
    assert not any("(in)" in key for key in cm[0])


OLD = [
    "patch",
    "class",
    "shape",
    "sides (in)",
    "largest plus or minus, 95 % (in)",
    "finished (in)",
    "off (in)",
    "verdict",
    "raw edges",
    "centre x (in)",
    "centre y (in)",
]


def test_columns_are_only_ever_added_at_the_end():
    top = grid_top()
    header = sizes_csv(sampler_sizes(top), top).splitlines()[0]
    assert next(csv.reader([header]))[: len(OLD)] == OLD


def test_chance_angles_and_the_doubt_of_each_side():
    top = grid_top()
    row = _read(sizes_csv(full_sizes(sampler_sizes(top), chance=0.834), top))[0]
    assert row["finished chance"] == "0.83"
    assert row["sides plus or minus, 95 % (in)"] == "0.060 x 0.060 x 0.060 x 0.060"
    assert row["angles (degrees)"] == "90.00 x 91.00 x 92.00 x 93.00"
    assert row["angles plus or minus, 95 % (degrees)"] == "0.50 x 1.50 x 2.50 x 3.50"


@pytest.mark.parametrize(("units", "much"), [("in", "+0.500"), ("cm", "+1.27")])
def test_the_side_that_is_off_is_named_with_how_much(units, much):
    top = replace(grid_top(1, 1), raw_edges=False)
    patch = replace(top.patches[0], polygon=shapely.box(0, 0, 4.5, 4))
    top = replace(top, patches=(patch,))
    size = sampler_sizes(top).patches[0]
    finished = Finished((4.0,) * 4, 0.5, "off")
    sizes = replace(sampler_sizes(top), patches=(replace(size, finished=finished),))
    tolerance = "0.125 (in)" if units == "in" else "0.3175 (cm)"
    off = _read(sizes_csv(sizes, top, units))[0][f"sides off by more than {tolerance}"]
    assert sorted(off.split("; ")) == [f"lower {much}", f"upper {much}"]


@pytest.mark.parametrize(("units", "words"), [("in", "4.500 x 4.500"), ("cm", "11.43 x 11.43")])
def test_what_to_cut_for_another_patch_is_said_where_the_size_is_sure(units, words):
    # 4 in finished and a 1/4 in seam allowance on either side (trade convention).
    top = grid_top(1, 1)
    size = sampler_sizes(top).patches[0]
    for chance, expected in ((0.99, words), (0.6, "")):
        finished = Finished((4.0,) * 4, 0.0, "right", chance)
        one = replace(size, shape="square", finished=finished)
        sizes = replace(sampler_sizes(top), patches=(one,))
        row = _read(sizes_csv(sizes, top, units))[0]
        assert row[f"to make another, cut ({units})"] == expected
