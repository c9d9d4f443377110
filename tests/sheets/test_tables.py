"""The table of sizes, read back with the csv module (RFC 4180)."""

import csv
import io

import pytest
from tests.sheets.sampler import grid_top, sampler_sizes

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
