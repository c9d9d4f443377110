"""Lengths as people write them."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from seamwalk.errors import UsageError
from seamwalk.units import (
    format_exact,
    format_inches,
    format_length,
    format_small,
    format_whole,
    parse_length,
    parse_length_between,
    parse_size,
)


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ("12", 12),
        ("12 1/2", 12.5),
        ("12-1/2", 12.5),
        ("85-1/2", 85.5),
        ("12½", 12.5),
        ("12.5in", 12.5),
        ("12.5 inches", 12.5),
        ('3/8"', 0.375),
        (".5", 0.5),
        ("32cm", 32 / 2.54),
        ("254 mm", 10),
        ("2 yd", 72),  # a yard is 3 ft, a foot 12 in: international yard agreement, 1959
        ("0.9144 m", 36),
        # Decimal commas, as most of Europe writes them (ISO 80000-1 allows both signs).
        ("21,5cm", 21.5 / 2.54),
        ("8,5 in", 8.5),
        (",5", 0.5),
        ("0,125", 0.125),
        ("12,3750", 12.375),
    ],
)
def test_reads_lengths_as_quilters_write_them(text, inches):
    assert parse_length(text) == pytest.approx(inches, abs=1e-12)


@pytest.mark.parametrize(
    "text", ["", "x", "12 1/0", "-3", "0", "1/2/3", "12 1", "nan", "12 miles"]
)
def test_refuses_what_is_no_length(text):
    with pytest.raises(UsageError) as error:
        parse_length(text)
    assert error.value.advice


@pytest.mark.parametrize("text", ["1,500", "12,375 in", "1,2,3", "12, 5", "12,", "1,5/2"])
def test_a_comma_that_may_mean_something_else_is_said_to_be_the_trouble(text):
    # 1,500 is 1500 to some and 1.5 to others (from memory).
    with pytest.raises(UsageError, match="comma") as error:
        parse_length(text)
    assert "point" in error.value.advice


@pytest.mark.parametrize("text", ["", "  "])
def test_nothing_is_not_called_a_length(text):
    with pytest.raises(UsageError, match="missing"):
        parse_length(text)


@pytest.mark.parametrize(
    ("text", "fits"), [("3", True), ("48in", True), ("121.92 cm", True), ("2.9", False)]
)
def test_a_length_between_two_others(text, fits):
    # 48 in are 121.92 cm exactly (international agreement, 1959).
    if fits:
        assert parse_length_between(text, "3 in", "48 in") == parse_length(text)
    else:
        with pytest.raises(UsageError, match="not between 3 in and 48 in"):
            parse_length_between(text, "3 in", "48 in")


def test_bare_numbers_take_the_default_unit():
    assert parse_length("25.4", default="cm") == pytest.approx(10)
    assert parse_length("10in", default="cm") == pytest.approx(10)


@pytest.mark.parametrize(
    ("text", "size"),
    [
        ("40 x 48", (40, 48)),
        ("40x48in", (40, 48)),
        ("100 × 120 cm", (100 / 2.54, 120 / 2.54)),
        ("42,5 x 51,5", (42.5, 51.5)),
    ],
)
def test_reads_sizes(text, size):
    assert parse_size(text) == pytest.approx(size)


@pytest.mark.parametrize("text", ["40", "40 by 48", "40 x", "x 48", "40 x 48 x 2"])
def test_refuses_what_is_no_size(text):
    with pytest.raises(UsageError, match=f"“{text}” is not a size"):
        parse_size(text)


@given(st.integers(0, 2000))
def test_every_eighth_is_read_back_as_itself(eighths):
    value = float(Fraction(eighths + 1, 8))
    assert parse_length(format_inches(value)) == value


def test_sixteen_inch_diagonal_rounds_by_the_root_of_two_not_1_414():
    # Diagonal of a 16 in block, up to the next eighth: 22 3/4 with √2, 22 5/8 with 1.414
    # (computed; the classic trap of setting-triangle tables).
    assert format_inches(22.6274169979) == "22 5/8"
    assert format_length(10, "cm") == "25.4 cm"
    assert format_inches(-0.2) == "-1/4"
    assert format_inches(-0.01) == "0"


@given(st.integers(1, 2000), st.sampled_from(["in", "cm"]), st.sampled_from(["in", "cm"]))
def test_what_is_written_exactly_reads_the_same_again(count, owned, units):
    # Sixteenths of an inch or whole millimetres, in either unit.
    value = count / 16 if owned == "in" else count / 25.4
    assert parse_length(format_exact(value, units)) == pytest.approx(value, abs=1e-9)
    assert format_whole(value, units) == format_exact(value, units)


@pytest.mark.parametrize(
    ("value", "units", "text"),
    [(8.5, "in", "8 1/2 in"), (21 / 2.54, "in", "21 cm"), (21 / 2.54, "cm", "21 cm"),
     (5.0, "cm", "12.7 cm"), (5.0625, "cm", "5 1/16 in")],
)  # fmt: skip
def test_a_length_keeps_the_unit_that_it_is_whole_in(value, units, text):
    assert format_exact(value, units) == text


def test_a_length_that_is_whole_in_nothing_has_decimals():
    assert format_exact(3.95271, "in") == "3.9527 in"
    assert format_whole(3.95271, "in") is None


@pytest.mark.parametrize("text", ["7.6 cm", "122"])
def test_limits_are_told_in_her_units_so_that_they_hold(text):
    # 3 in are 7.62 cm, 48 in are 121.92 cm (international agreement, 1959).
    with pytest.raises(UsageError, match=r"not between 7\.7 cm and 121\.9 cm"):
        parse_length_between(text, "3 in", "48 in", default="cm")
    for limit in ("7.7", "121.9"):
        assert parse_length_between(limit, "3 in", "48 in", default="cm")


def test_metric_limits_stay_as_they_are():
    with pytest.raises(UsageError, match=r"not between 0\.5 mm and 40 mm"):
        parse_length_between("9", "0.5 mm", "40 mm", default="cm")


@pytest.mark.parametrize(
    ("value", "units", "text"),
    [
        (0.26, "in", "1/4 in"),
        (0.01, "in", "1/16 in"),
        (0.1, "cm", "0.3 cm"),
        (0.0, "cm", "0.1 cm"),
    ],
)
def test_a_difference_is_told_finely_and_never_as_nothing(value, units, text):
    # Common practice, no source.
    assert format_small(value, units) == text
