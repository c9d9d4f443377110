"""Sizes in words.  The way of writing fractions is common practice, no source."""

from seamwalk.model.sizes import Angle, Length
from seamwalk.sheets.size_text import (
    angle_text,
    length_text,
    letters,
    plus_minus,
)


def test_doubt_is_never_rounded_down():
    for k in range(1, 400):
        value = k / 500
        whole, _, fraction = plus_minus(value, "in").rpartition(" ")
        top, _, bottom = fraction.partition("/")
        shown = float(whole or 0) + float(top) / float(bottom or 1)
        assert value - 1e-9 <= shown <= value + (1 / 16 if value <= 0.5 else 1 / 8)
        assert value * 2.54 <= float(plus_minus(value, "cm")) + 1e-9


def test_large_doubt_is_written_roughly():
    assert [plus_minus(v, "in") for v in (0.49, 0.51, 0.99, 1.01, 2.3)] == [
        "1/2",
        "5/8",
        "1",
        "1 1/4",
        "2 1/2",
    ]


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
