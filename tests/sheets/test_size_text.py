"""Sizes in words.  The way of writing fractions is common practice, no source."""

import pytest
from tests.sheets.sampler import grid_top, sampler_sizes

from seamwalk.model.sizes import Angle, Length
from seamwalk.sheets.size_text import (
    angle_text,
    length_text,
    letters,
    patch_text,
    plus_minus,
    sides_text,
)


@pytest.mark.parametrize(
    ("sides", "units", "text"),
    [
        ((3.02, 3.01, 2.99, 3.0), "in", "3 × 3"),
        ((3.12, 6.5, 3.1, 6.49), "in", "3 1/8 × 6 1/2"),
        ((4, 3, 3.5, 3), "in", "4 · 3 · 3 1/2 · 3"),
        ((3, 3, 4.243), "in", "3 · 3 · 4 1/4"),
        ((2, 2, 2, 2, 2, 2.01), "in", "6 sides of 2"),
        ((2, 2.1, 2, 1.99, 2, 2.01), "in", "6 sides of 2 to 2 1/8"),
        ((2, 3, 2, 2, 2, 2), "in", "2 · 3 · 2 · 2 · 2 · 2"),
        ((3, 4, 3, 4), "cm", "7.6 × 10.2"),
    ],
)
def test_sides(sides, units, text):
    assert sides_text(sides, units) == text


def test_doubt_is_never_rounded_down():
    for k in range(1, 400):
        value = k / 500
        whole, _, fraction = plus_minus(value, "in").rpartition(" ")
        top, _, bottom = fraction.partition("/")
        shown = float(whole or 0) + float(top) / float(bottom or 1)
        assert value <= shown <= value + 1 / 16
        assert value * 2.54 <= float(plus_minus(value, "cm")) + 1e-9


def test_lengths_and_angles_carry_their_doubt():
    assert length_text(Length(40.13, 0.05), "in") == "40 1/8 ± 1/16"
    assert length_text(Length(10, 0.05), "cm") == "25.4 ± 0.2"
    assert angle_text(Angle(89.96, 0.21)) == ("90.0°", "± 0.3°")


def test_letters_go_on_after_z():
    assert [letters(k) for k in (0, 25, 26, 51, 52, 701, 702)] == [
        "A",
        "Z",
        "AA",
        "AZ",
        "BA",
        "ZZ",
        "AAA",
    ]


def test_width_comes_before_height_as_on_the_page():
    top = grid_top()
    patch = top.patches[0]
    size = sampler_sizes(top).patches[0]
    ring = list(patch.polygon.exterior.coords)
    down_first = abs(ring[1][1] - ring[0][1]) > abs(ring[1][0] - ring[0][0])
    lengths = (6.0, 4.0, 6.0, 4.0) if down_first else (4.0, 6.0, 4.0, 6.0)
    import dataclasses

    size = dataclasses.replace(size, sides=tuple(Length(v, 0.05) for v in lengths))
    assert patch_text(size, patch, "in") == "4 × 6"
