"""How sure a seam is must show to every eye and on every cloth."""

from dataclasses import replace
from itertools import combinations

import pytest
from tests.sheets.sampler import grid_top

from seamwalk.sheets.palette import INK, contrast
from seamwalk.sheets.seam_style import SEAM_STYLE, seam_items, seam_pens, sureness

EM = 0.2
SEAM = next(s for s in grid_top().seams if s.kind == "seam")
CLASSES = ("sure", "likely", "unsure")


@pytest.mark.parametrize(
    ("confidence", "expected"),
    [(1, "sure"), (0.9, "sure"), (0.899, "likely"), (0.6, "likely"), (0.599, "unsure")],
)
def test_classes_by_confidence(confidence, expected):
    assert sureness(replace(SEAM, confidence=confidence)) == expected
    # What was not seen is never drawn as seen, however well the construction fits.
    assert sureness(replace(SEAM, confidence=confidence, inferred=True)) == "unsure"


def test_classes_differ_by_dashes_and_by_colour():
    lines = [seam_pens(kind, EM)[-1] for kind in CLASSES]
    for a, b in combinations(lines, 2):
        assert a.dash_in != b.dash_in
        # 1.5 : 1 of lightness keeps them apart even in grey (common practice, no source).
        assert contrast(a.colour, b.colour) > 1.5
    sure, likely, unsure = lines
    assert sure.dash_in == ()
    assert unsure.dash_in[0] == pytest.approx(unsure.width_in), "dots are square"
    assert likely.dash_in[0] > 4 * likely.width_in
    assert sure.width_in < likely.width_in < unsure.width_in


@pytest.mark.parametrize("kind", CLASSES)
def test_every_class_reads_on_every_cloth(kind):
    # Web Content Accessibility Guidelines 2.2, 1.4.11: lines need 3 : 1 against what is beside.
    *casings, line = seam_pens(kind, EM)
    assert contrast(line.colour, casings[-1].colour) >= 3
    widths = [p.width_in for p in (*casings, line)]
    assert widths == sorted(widths, reverse=True)
    assert len(set(widths)) == len(widths)


@pytest.mark.parametrize("kind", ["likely", "unsure"])
def test_doubt_stands_out_from_every_cloth(kind):
    # The same limit for the outermost pair of colours: one of them must reach it.
    outer = [p.colour for p in seam_pens(kind, EM)[:2]]
    for grey in range(0, 256, 5):
        assert max(contrast(c, f"#{grey:02X}{grey:02X}{grey:02X}") for c in outer) >= 3


def test_casings_are_whole_and_under_the_line():
    items = seam_items(replace(SEAM, confidence=0.3), EM)
    assert [i.layer for i in items] == ["casing", "casing", "seam"]
    assert all(i.pen.dash_in == () for i in items[:-1])
    assert {i.curve for i in items} == {items[0].curve}


def test_the_raw_edge_has_its_own_colour_and_shows_doubt_alike():
    edge = next(s for s in grid_top().seams if s.kind == "edge")
    assert seam_items(edge, EM)[-1].pen.colour == INK
    doubted = seam_items(replace(edge, confidence=SEAM_STYLE.likely), EM)[-1].pen
    assert doubted == seam_items(replace(SEAM, confidence=SEAM_STYLE.likely), EM)[-1].pen
