"""What is said of a crooked top, against tops drawn crooked on purpose."""

import math
from dataclasses import replace

import pytest
from tests.sheets.sampler import crooked, full_sizes, grid_top, sampler_sizes

from seamwalk.model.sizes import Angle, Length
from seamwalk.sheets.straightness_text import block_lines, headline, reasons

STILL = Angle(0.0, 0.1)
FLAT = (Length(0.0, 0.1),) * 4


def _with(**found):
    sizes = sampler_sizes(grid_top())
    plain = replace(
        crooked(), skew=STILL, taper_across=STILL, taper_down=STILL, bows=FLAT, waves=FLAT
    )
    return replace(sizes, straightness=replace(plain, **found))


def _crooked(**found):
    return replace(sampler_sizes(grid_top()), straightness=replace(crooked(), **found))


def test_the_way_a_top_leans_is_the_way_its_lower_edge_lies():
    # A 16 × 12 in top whose lower edge is shifted by 1/2 in to the left: the upper left angle
    # is wider than a right angle by atan(0.5 / 12).
    lean = math.degrees(math.atan2(0.5, 12))
    (text,) = reasons(_with(skew=Angle(lean, 0.1)), "in")
    assert "1/2 in too far left" in text
    assert "2.4° ± 0.1°" in text
    (text,) = reasons(_with(skew=Angle(-lean, 0.1)), "cm")
    assert "1.3 cm too far right" in text


def test_taper_is_told_by_what_it_adds_up_to():
    (text,) = reasons(_with(taper_across=Angle(math.degrees(0.25 / 12), 0.1)), "in")
    assert text.startswith("gets wider downwards: about 1/4 in over the height")
    (text,) = reasons(_with(taper_down=Angle(-math.degrees(0.5 / 16), 0.1)), "in")
    assert text.startswith("gets lower to the right: about 1/2 in over the width")


def test_bows_and_waves_name_their_edge_and_way():
    bows = (Length(0.3, 0.1), Length(-0.3, 0.1), *FLAT[:2])
    waves = (*FLAT[:3], Length(0.25, 0.1))
    texts = reasons(_with(bows=bows, waves=waves), "in")
    assert set(texts) == {
        "upper edge bows out by 5/16 ± 1/8 in",
        "right edge bows in by 5/16 ± 1/8 in",
        "left edge waves by 1/4 ± 1/8 in",
    }


def test_nothing_within_its_doubt_is_called_crooked():
    bows = (Length(0.3, 0.31), Length(0.06, 0.01), *FLAT[:2])
    assert reasons(_with(skew=Angle(0.3, 0.31), bows=bows), "in") == []


def test_the_weightiest_come_first_and_few():
    sizes = full_sizes(sampler_sizes(grid_top()))
    texts = reasons(sizes, "in")
    assert texts[0].startswith("leans")
    assert len(texts) <= 4


def test_square_says_how_much_could_be_hidden():
    still = _with(verdict="square", skew=Angle(-0.11, 0.2), bows=(Length(-0.1, 0.1), *FLAT[:3]))
    # 12 in high, 16 in wide: 0.31° are 0.065 in, 0.1° along the width 0.028 in; rounded up.
    assert reasons(still, "in") == [
        "leans by less than 1/8 in (0.4°)",
        "tapers by less than 1/16 in (0.1°)",
        "edges straight within 1/4 in",
    ]


def test_not_knowing_says_what_could_be():
    wide = _with(verdict="cannot tell", taper_down=Angle(0.5, 1.0))
    assert reasons(wide, "cm")[1] == "could taper by up to 1.1 cm (1.5°)"
    assert all("could" in text for text in reasons(wide, "in"))


@pytest.mark.parametrize(
    ("verdict", "says"),
    [("square", "Square"), ("not square", "Not square"), ("cannot tell", "Can't tell")],
)
def test_the_verdict_is_said(verdict, says):
    assert headline(_crooked(verdict=verdict)).startswith(says)


def test_a_top_that_only_bows_is_called_square_but_for_that_edge():
    # 0.1° ± 0.1° over 16 in is at most 0.06 in, far less than the 1/4 in that can be eased.
    bent = {"verdict": "not square", "bows": (Length(0.3, 0.1), *FLAT[:3])}
    assert headline(_with(**bent)) == "Square but for its upper edge"
    leans = _with(**bent, skew=Angle(1.0, 0.1))
    assert headline(leans) == "Not square"
    # A lean of up to 2° would be 0.4 in over 12 in: nothing is known to be square.
    assert headline(_with(**bent, skew=Angle(0.0, 2.0))) == "Not square"


def test_a_bow_and_a_wave_of_one_edge_are_one_fault():
    found = _with(bows=(Length(0.2, 0.1), *FLAT[:3]), waves=(Length(0.15, 0.1), *FLAT[:3]))
    assert reasons(found, "in") == ["upper edge bows out by 3/16 ± 1/8 in"]


def test_unknown_says_nothing():
    assert reasons(sampler_sizes(grid_top()), "in") == []
    assert headline(sampler_sizes(grid_top())) == ""


def test_block_with_its_doubt():
    block = full_sizes(sampler_sizes(grid_top())).block
    assert block_lines(block, "in") == (
        "8 × 8 in? 90%",
        "2 across, 1 down",
        "measured 8 ± 1/16 × 8 ± 1/16 in",
    )
    assert block_lines(replace(block, chance=1.0), "cm")[0] == "20.3 × 20.3 cm"
    assert block_lines(block, "cm", "in")[0] == "8 × 8 in (20.3 × 20.3 cm)? 90%"
    assert block_lines(replace(block, chance=0.4), "cm", "in")[0].startswith("about 8 × 8 in (")
    assert block_lines(replace(block, angle_deg=45.0), "in")[0] == "8 × 8 in? 90% on point"
