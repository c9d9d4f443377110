"""Colours against their published values.

Sources: Okabe and Ito, Color Universal Design (2008), the hex values as in matplotlib's
``okabe_ito``; viridis: its authors' table, nine of whose values are written here from
matplotlib; WCAG 2.2 for contrast (21 : 1 is black on white; 4.5 : 1 and 3 : 1 the limits).
"""

import itertools

import pytest

from seamwalk.sheets import palette
from seamwalk.sheets.palette import against, components, contrast, luminance, sequence_colour


def test_okabe_ito():
    published = ["000000", "E69F00", "56B4E9", "009E73", "F0E442", "0072B2", "D55E00", "CC79A7"]
    ours = [
        palette.BLACK,
        palette.ORANGE,
        palette.SKY,
        palette.GREEN,
        palette.YELLOW,
        palette.BLUE,
        palette.VERMILION,
        palette.PURPLE,
    ]
    assert ours == [f"#{h}" for h in published]


@pytest.mark.parametrize(
    ("index", "value"),
    [(0, "440154"), (64, "3B528B"), (128, "21918C"), (191, "5CC863"), (255, "FDE725")],
)
def test_viridis(index, value):
    ours = components(sequence_colour(index / 255))
    published = components(f"#{value}")
    assert ours == pytest.approx(published, abs=3)


def test_sequence_grows_lighter_all_the_way():
    light = [luminance(sequence_colour(k / 60)) for k in range(61)]
    assert all(b > a for a, b in itertools.pairwise(light))


def test_contrast_of_black_and_white():
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21.0)
    assert contrast("#777777", "#FFFFFF") == pytest.approx(4.48, abs=0.01)


def test_texts_and_casings_stand_out():
    assert contrast(palette.INK, palette.WHITE) > 4.5
    assert contrast(palette.GREY, palette.WHITE) > 4.5
    for k in range(61):
        colour = sequence_colour(k / 60)
        assert contrast(colour, against(colour)) >= 3
