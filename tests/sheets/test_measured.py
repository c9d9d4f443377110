"""The measured picture: what is written where, and doubt that shows without colour."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from tests.sheets.sampler import flat_picture, full_sizes, grid_top, sampler_sizes

from seamwalk.model.sizes import Angle, Finished, Length
from seamwalk.sheets import size_frame, size_panel
from seamwalk.sheets.drawing import Fill, InkLine, Label, Projection
from seamwalk.sheets.lettering import width
from seamwalk.sheets.measured import MeasuredSettings, laid_flat, measured
from seamwalk.sheets.palette import VERMILION, YELLOW, components
from seamwalk.sheets.patch_labels import (
    block_items,
    label_items,
    verdict_items,
)

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
    for side, texts, lettered in (
        (0.6, ["5/8 × 5/8"], False),
        (0.37, ["3/8"], False),
        (0.1, ["C"], True),
        (0.06, [], True),
    ):
        top = grid_top(1, 1, side)
        size = sampler_sizes(top, side).patches[0]
        items, only_letter = label_items(size, top.patches[0], "C", "in", 0.08)
        assert (_texts(items), only_letter) == (texts, lettered)


@pytest.mark.parametrize(
    ("off", "unsure", "text"), [((1,), (), "3/4 !"), ((), (1,), "3/8 ?"), ((), (), "3/8")]
)
def test_a_small_square_keeps_its_mark(off, unsure, text):
    top = grid_top(1, 1, 0.37)
    size = sampler_sizes(top, 0.37, off=off, unsure=unsure).patches[0]
    items, only_letter = label_items(size, top.patches[0], "C", "in", 0.085)
    assert (_texts(items), only_letter) == ([text], False)


def test_verdicts_differ_by_form_not_colour_alone():
    top = grid_top(3, 1)
    right, off, unsure = sampler_sizes(top, off=(2,), unsure=(3,)).patches
    patches = top.patches
    assert list(verdict_items(right, patches[0], EM)) == []
    assert list(verdict_items(unsure, patches[2], EM)) == []
    hatched = [i for i in verdict_items(off, patches[1], EM) if isinstance(i, InkLine)]
    slanted = [
        i
        for i in hatched
        if abs(i.curve.end[0] - i.curve.start[0]) > 1e-6
        and abs(i.curve.end[1] - i.curve.start[1]) > 1e-6
    ]
    assert len(slanted) > 20
    for item in hatched:
        inside = shapely.LineString(item.curve.sampled())
        assert patches[1].polygon.buffer(1e-6).contains(inside)
    rims = []
    for size, patch in zip((right, off, unsure), patches, strict=True):
        items, _ = label_items(size, patch, "A", "in", EM)
        rims += [i.edge for i in items if isinstance(i, Fill)]
    assert rims[0] is None
    assert rims[1].dash_in == ()
    assert rims[2].dash_in


def test_a_block_is_framed_where_it_lies_with_its_size():
    block = full_sizes(sampler_sizes(grid_top())).block
    frame, flag = block_items(replace(block, origin_in=(4.0, 2.0)), "in", EM)
    x, y = np.array(frame.ring).T
    assert (x.min(), y.min()) == (4, 2)
    assert (x.max(), y.max()) == pytest.approx((12.03, 9.98))
    assert frame.opacity == 0
    assert "8 × 8" in flag.text
    assert flag.at == pytest.approx((8.015, 2.0))


def test_a_block_on_point_stands_on_its_corner():
    block = replace(
        full_sizes(sampler_sizes(grid_top())).block,
        width=Length(2.0, 0.1),
        height=Length(3.0, 0.1),
        origin_in=(8.0, 1.0),
        angle_deg=45.0,
    )
    frame, flag = block_items(block, "in", EM)
    r = 0.5**0.5
    expected = [(8, 1), (8 + 2 * r, 1 + 2 * r), (8 - r, 1 + 5 * r), (8 - 3 * r, 1 + 3 * r)]
    assert np.array(frame.ring) == pytest.approx(np.array(expected))
    assert flag.at == (8.0, 1.0)


def test_margins_carry_every_overall_size_with_its_doubt():
    top = grid_top()
    sizes = sampler_sizes(top)
    whole = replace(
        sizes.top,
        edges=(Length(16.1, 0.1), Length(12.2, 0.1), Length(16.3, 0.1), Length(12.4, 0.1)),
        corner_angles=tuple(Angle(v, 0.2) for v in (89.1, 90.2, 91.3, 92.4)),
    )
    frame = (-0.3, -0.3, 16.3, 12.3)
    items = list(size_frame.margin_items(whole, frame, top.outline.bounds, "in", EM))
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


def _with_confidence(top, confidence, doubted):
    seams = (replace(s, confidence=confidence) if doubted(s) else s for s in top.seams)
    return replace(top, seams=tuple(seams))


def test_doubt_shows_on_the_picture_where_it_is():
    top = grid_top(4, 4)
    dim = _with_confidence(top, 0.2, lambda s: s.points == ((8.0, 4.0), (8.0, 8.0)))
    em, px = 14, 900 / 16
    settings = MeasuredSettings(longest_px=900, em_px=em)

    def yellow(top):
        picture = measured(flat_picture(4, 4), top, sampler_sizes(top), settings=settings)
        there = np.abs(picture.astype(int) - components(YELLOW)).max(axis=2) < 30
        # The panel stands to the right of the top.
        return np.argwhere(there[:, : round(900 + 6 * em)])

    assert len(yellow(top)) == 0
    rows, columns = yellow(dim).T
    left = size_frame.MARGIN * em + settings.floor_share * 900
    disc = 2 * em
    assert 3.5 * px < np.ptp(rows) < 4 * px + disc
    assert np.abs(columns - (left + 8 * px)).max() < disc


def test_a_long_list_of_checks_takes_a_second_column():
    top = grid_top(5, 6)
    dim = _with_confidence(top, 0.2, lambda s: s.id % 3 == 0)
    settings = MeasuredSettings(longest_px=900, em_px=14)
    plain, long = (
        measured(flat_picture(5, 6), t, full_sizes(sampler_sizes(t)), settings=settings)
        for t in (top, dim)
    )
    assert long.shape[1] - plain.shape[1] > size_panel.COLUMN * 14
    assert long.shape[0] < 1.2 * plain.shape[0]


@pytest.mark.parametrize(("columns", "rows"), [(12, 2), (2, 6)])
def test_a_wide_top_has_its_panel_below_an_upright_one_beside(columns, rows):
    top = grid_top(columns, rows)
    settings = MeasuredSettings(longest_px=900, em_px=14)
    sizes = full_sizes(sampler_sizes(top))
    picture = measured(flat_picture(columns, rows), top, sizes, settings=settings)
    px = 900 / (4 * max(columns, rows))
    top_width = 4 * columns * px
    beside = picture.shape[1] - top_width > size_panel.COLUMN * 14
    assert beside == (columns < rows)
    # Nothing of the panel is cut off: a rim of paper is left all round.
    for rim in (picture[:4], picture[-4:], picture[:, :4], picture[:, -4:]):
        assert (rim == 255).all()


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
    assert _texts(items) == ["5 × 5"]
    assert all(
        patch.polygon.buffer(0.02).contains(shapely.Polygon(i.ring))
        for i in items
        if isinstance(i, Fill)
    )


def test_the_scale_is_said_as_it_was_typed():
    rectification = replace(flat_picture(1, 1).rectification, reference_in=5.94)
    assert "5.94 in" in size_frame.scale_text(rectification, "in")
    assert "15.088 cm" in size_frame.scale_text(rectification, "cm")


def test_a_patch_without_corners_is_not_given_a_size():
    top = grid_top(1, 1)
    size = replace(sampler_sizes(top).patches[0], shape="other", sides=())
    items, only_letter = label_items(size, top.patches[0], "A", "in", EM)
    assert (_texts(items), only_letter) == (["A"], True)


@pytest.mark.parametrize(
    ("source", "says"),
    [("card", "Measured"), ("none", "Proportions only"), ("size", "Shapes only")],
)
def test_only_what_has_a_scale_is_called_measured(source, says):
    sizes = sampler_sizes(grid_top())
    texts = _texts(size_frame.title_items(sizes, source, [], "in", (0, 0), EM))
    assert texts[0].startswith(says)
    rectification = replace(flat_picture(1, 1).rectification, source=source)
    lines = size_frame.title_lines(rectification, "in", ("Only one card was seen.",), EM, 20.0)
    assert lines[-1] == ("! Only one card was seen.", True)
