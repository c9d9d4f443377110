"""The measured picture: what is written where, and doubt that shows without colour."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from tests.sheets.sampler import flat_picture, grid_top, sampler_sizes

from seamwalk.model.sizes import Angle, Finished, Length
from seamwalk.sheets import size_panel
from seamwalk.sheets.drawing import Fill, InkLine, Label, Projection
from seamwalk.sheets.lettering import width
from seamwalk.sheets.measured import MeasuredSettings, laid_flat, measured
from seamwalk.sheets.palette import VERMILION, components
from seamwalk.sheets.patch_labels import label_items, seam_item, verdict_items

EM = 0.16


def _texts(items):
    return [i.text for i in items if isinstance(i, Label)]


@pytest.mark.parametrize("side", [0.35, 0.6, 1.0, 2.0, 4.0, 9.0])
@pytest.mark.parametrize("verdict", ["right", "off", "cannot tell"])
def test_what_is_written_stays_inside_its_patch(side, verdict):
    top = grid_top(1, 1, side)
    off, unsure = ((1,), ()) if verdict == "off" else ((), (1,) if verdict != "right" else ())
    size = sampler_sizes(top, side, off=off, unsure=unsure).patches[0]
    items, _ = label_items(size, top.patches[0], "A", "in", EM)
    for item in items:
        if isinstance(item, Label):
            half = width(item.text, item.size_in, item.bold) / 2
            tall = item.size_in / 2
            half, tall = (tall, half) if item.turn_deg else (half, tall)
            x, y = item.at
            text = shapely.box(x - half, y - tall, x + half, y + tall)
        else:
            text = shapely.Polygon(item.ring)
        assert top.patches[0].polygon.buffer(0.15 * EM).contains(text)
    if side >= 4:
        words = " ".join(_texts(items))
        # The patch that is off measures 3/8 more than its finished size.
        number = side + 0.375 if verdict == "off" else side
        assert f"{int(number)}" in words
        assert ("3/8 large" in words) == (verdict == "off")
        assert ("?" in words) == (verdict == "cannot tell")


def test_a_small_patch_gets_its_letter_and_a_tiny_one_nothing():
    for side, texts in ((0.3, ["C"]), (0.08, [])):
        top = grid_top(1, 1, side)
        size = sampler_sizes(top, side).patches[0]
        items, only_letter = label_items(size, top.patches[0], "C", "in", EM)
        assert (_texts(items), only_letter) == (texts, True)


def test_verdicts_differ_by_form_not_colour_alone():
    top = grid_top(3, 1)
    right, off, unsure = sampler_sizes(top, off=(2,), unsure=(3,)).patches
    patches = top.patches
    assert list(verdict_items(right, patches[0], EM)) == []
    hatched = [i for i in verdict_items(off, patches[1], EM) if isinstance(i, InkLine)]
    dotted = [i for i in verdict_items(unsure, patches[2], EM) if isinstance(i, InkLine)]
    slanted = [
        i
        for i in hatched
        if abs(i.curve.end[0] - i.curve.start[0]) > 1e-6
        and abs(i.curve.end[1] - i.curve.start[1]) > 1e-6
    ]
    assert len(slanted) > 20
    assert not any(i.pen.dash_in for i in hatched)
    assert any(i.pen.dash_in for i in dotted)
    for patch, lines in ((patches[1], hatched), (patches[2], dotted)):
        for item in lines:
            inside = shapely.LineString(item.curve.sampled())
            assert patch.polygon.buffer(1e-6).contains(inside)


def test_doubtful_and_inferred_seams_have_their_own_line():
    seam = grid_top().seams[8]
    pens = [
        seam_item(replace(seam, **doubt), EM)[-1].pen.dash_in
        for doubt in ({}, {"confidence": 0.3}, {"inferred": True})
    ]
    assert pens[0] == ()
    assert len(set(pens)) == 3
    assert pens[2][0] < pens[1][0]


def test_margins_carry_every_overall_size_with_its_doubt():
    top = grid_top()
    sizes = sampler_sizes(top)
    whole = replace(
        sizes.top,
        edges=(Length(16.1, 0.1), Length(12.2, 0.1), Length(16.3, 0.1), Length(12.4, 0.1)),
        corner_angles=tuple(Angle(v, 0.2) for v in (89.1, 90.2, 91.3, 92.4)),
    )
    frame = (-0.3, -0.3, 16.3, 12.3)
    items = list(size_panel.margin_items(whole, frame, top.outline.bounds, "in", EM))
    at = {i.text: i.at for i in items if isinstance(i, Label)}
    assert at["upper edge 16 1/8 ± 1/8 in"][1] < -0.3
    assert at["right edge 12 1/4 ± 1/8 in"][0] > 16.3
    assert at["lower edge 16 1/4 ± 1/8 in"][1] > 12.3
    assert at["left edge 12 3/8 ± 1/8 in"][0] < -0.3
    assert any(t.startswith("width, middle 16 ±") for t in at)
    assert any(t.startswith("height, middle 12 ±") for t in at)
    corners = [at[f"{v}°"] for v in (89.1, 90.2, 91.3, 92.4)]
    signs = [(x > 8, y > 6) for x, y in corners]
    assert signs == [(False, False), (True, False), (True, True), (False, True)]
    lines = [i for i in items if isinstance(i, InkLine) and i.curve.length > 10]
    assert sorted({round(i.curve.length, 6) for i in lines}) == [12.0, 16.0]


def test_panel_explains_letters_diagonals_and_verdicts():
    top = grid_top(6, 5)
    sizes = sampler_sizes(top, off=(2, 3), unsure=(9,))
    items = list(size_panel.panel_items(sizes, {"square 4"}, "in", (0, 0), 60 * EM, EM))
    texts = _texts(items)
    assert texts.count("diagonal") == 2
    assert "30 × square: 4 × 4" in texts
    assert "2 off, 1 ?" in texts
    assert any("doubtful" in t for t in texts)
    for item in items:
        if isinstance(item, Label):
            x = item.at[0] + (
                width(item.text, item.size_in, item.bold) if item.anchor == "left" else 0
            )
            assert x <= size_panel.PANEL * EM


def test_panel_that_is_too_short_says_what_it_left_out():
    top = grid_top(6, 5)
    sizes = sampler_sizes(top)
    many = replace(
        sizes,
        patches=tuple(replace(p, class_name=f"kind {k}") for k, p in enumerate(sizes.patches)),
    )
    items = list(size_panel.panel_items(many, set(), "in", (0, 0), 30 * EM, EM))
    assert any(t.startswith("and ") and "sizes.csv" in t for t in _texts(items))
    lowest = max(i.at[1] for i in items if isinstance(i, Label))
    assert lowest <= 30 * EM


def test_class_letters_go_by_number_of_patches():
    top = grid_top(3, 1)
    sizes = sampler_sizes(top)
    a, b, c = sizes.patches
    mixed = replace(sizes, patches=(replace(a, class_name="rare"), b, c))
    assert size_panel.class_letters(mixed) == {"square 4": "A", "rare": "B"}


@pytest.mark.parametrize("px_per_in", [13.0, 40.0, 77.0])
def test_picture_lies_true_to_scale_on_the_paper(px_per_in):
    flat = flat_picture(4, 3)
    frame = (-0.5, -0.5, 16.5, 12.5)
    projection = Projection.flat((-2.0, -1.5), px_per_in)
    paper = laid_flat(flat, frame, projection, (round(16 * px_per_in), round(20 * px_per_in)))
    row = paper[int((2.0 + 1.5) * px_per_in), :, 0].astype(float)
    # Dark to light between the first two squares, at x = 4 in: half way between the two.
    lo, hi = int(3.0 * px_per_in + 2 * px_per_in), int(5.0 * px_per_in + 2 * px_per_in)
    part = row[lo:hi]
    half = (part[0] + part[-1]) / 2
    k = int(np.flatnonzero(part > half)[0])
    crossing = lo + k - (part[k] - half) / (part[k] - part[k - 1])
    assert (crossing + 0.5) / px_per_in - 2.0 == pytest.approx(4.0, abs=0.6 / px_per_in + 0.005)
    assert (paper[2, 2] == 255).all()


@pytest.mark.parametrize("units", ["in", "cm"])
def test_whole_picture(units):
    top = grid_top(5, 4)
    flat = flat_picture(5, 4)
    settings = MeasuredSettings(longest_px=900, em_px=14)
    warning = ("Only one card was seen.",)
    sizes = sampler_sizes(top, off=(2,))
    plain = measured(flat, top, sampler_sizes(top), units, settings=settings)
    marked = measured(flat, top, sizes, units, warnings=warning, settings=settings)
    assert marked.shape[0] > plain.shape[0]
    assert marked.shape[1] == plain.shape[1]

    def orange(picture):
        return (np.abs(picture.astype(int) - components(VERMILION)).max(axis=2) < 30).sum()

    assert orange(marked) > orange(plain) + 500


def test_all_shapes_can_be_labelled():
    ring = np.array([(0, 0), (5, 0), (0, 5)], float)
    top = grid_top(1, 1)
    patch = replace(top.patches[0], polygon=shapely.Polygon(ring))
    size = replace(
        sampler_sizes(top).patches[0],
        shape="half-square triangle",
        sides=tuple(Length(v, 0.05) for v in (5.0, 7.07, 5.0)),
        finished=Finished((5.0, 7.125, 5.0), -0.05, "right"),
    )
    items, only_letter = label_items(size, patch, "A", "in", EM)
    assert not only_letter
    assert "7 1/8" in " ".join(_texts(items))
    assert all(
        patch.polygon.buffer(0.02).contains(shapely.Polygon(i.ring))
        for i in items
        if isinstance(i, Fill)
    )


def test_the_scale_is_said_as_it_was_typed():
    rectification = replace(flat_picture(1, 1).rectification, reference_in=5.94)
    assert "5.94 in" in size_panel.scale_text(rectification, "in")
    assert "15.088 cm" in size_panel.scale_text(rectification, "cm")


def test_a_patch_without_corners_is_not_given_a_size():
    top = grid_top(1, 1)
    size = replace(sampler_sizes(top).patches[0], shape="other", sides=())
    items, only_letter = label_items(size, top.patches[0], "A", "in", EM)
    assert (_texts(items), only_letter) == (["A"], True)
    sizes = replace(sampler_sizes(top), patches=(size,))
    assert "1 × other" in _texts(size_panel.panel_items(sizes, set(), "in", (0, 0), 9.0, EM))


@pytest.mark.parametrize(
    ("source", "says"),
    [("card", "Measured"), ("none", "Proportions only"), ("size", "Shapes only")],
)
def test_only_what_has_a_scale_is_called_measured(source, says):
    sizes = sampler_sizes(grid_top())
    texts = _texts(size_panel.title_items(sizes, source, [], "in", (0, 0), EM))
    assert texts[0].startswith(says)
    rectification = replace(flat_picture(1, 1).rectification, source=source)
    lines = size_panel.title_lines(rectification, "in", ("Only one card was seen.",), EM, 20.0)
    assert lines[-1] == ("! Only one card was seen.", True)
