"""Painting: places, widths and shares of ink against plain geometry."""

import numpy as np
import pytest

from seamwalk.geometry.curve import Arc, Curve
from seamwalk.sheets.drawing import Drawing, Fill, InkLine, Label, Pen, Projection, box
from seamwalk.sheets.raster import label_box, paint, picture


def _ink(drawing, px_per_in=20.0):
    """Darkness of each pixel, 0 to 1."""
    return 1 - picture(drawing, px_per_in)[..., 0] / 255.0


def _drawing(*items, size=10.0):
    return Drawing((0.0, 0.0, size, size), items)


def test_untouched_ground_stays_exactly_as_it_was():
    rng = np.random.default_rng(1)
    ground = rng.integers(0, 256, (61, 83, 3), dtype=np.uint8)
    line = InkLine(Curve.through([(1, 1), (2, 1)]), Pen("#000000", 0.1))
    out = paint(_drawing(line), ground, Projection.flat((0, 0), 10.0))
    assert np.array_equal(out[20:], ground[20:])
    assert not np.array_equal(out, ground)


@pytest.mark.parametrize("width_in", [0.1, 0.25, 0.5])
def test_a_line_has_its_width(width_in):
    ink = _ink(_drawing(InkLine(Curve.through([(1, 5), (9, 5)]), Pen("#000000", width_in))))
    assert ink[:, 100].sum() / 20 == pytest.approx(width_in, abs=0.03)
    # Position: pixel r covers r/20 to (r + 1)/20 inches.
    rows = (np.arange(ink.shape[0]) + 0.5) / 20
    assert (ink[:, 100] * rows).sum() / ink[:, 100].sum() == pytest.approx(5.0, abs=0.02)


def test_a_fill_has_its_area_and_place():
    ink = _ink(_drawing(Fill(box(2.0, 3.0, 5.0, 4.5), "#000000")))
    assert ink.sum() / 400 == pytest.approx(3.0 * 1.5, rel=0.03)
    y, x = np.mgrid[0 : ink.shape[0], 0 : ink.shape[1]]
    centre = ((x + 0.5) * ink).sum() / ink.sum() / 20, ((y + 0.5) * ink).sum() / ink.sum() / 20
    assert centre == pytest.approx((3.5, 3.75), abs=0.02)


def test_an_arc_is_drawn_as_an_arc():
    arc = Curve((Arc.by_rise((2, 5), (8, 5), 2.0),))
    ink = _ink(_drawing(InkLine(arc, Pen("#000000", 0.1))))
    rows, cols = np.nonzero(ink > 0.5)
    # c = 6, h = 2: R = c²/8h + h/2 = 3.25 (Machinery's Handbook, circular segments).
    cx, cy = arc.pieces[0].centre
    r = np.hypot((cols + 0.5) / 20 - cx, (rows + 0.5) / 20 - cy)
    assert r.min() > 3.15
    assert r.max() < 3.35


def test_dashes_begin_and_end_the_line_and_leave_gaps():
    pen = Pen("#000000", 0.1, (1.0, 0.5))
    ink = _ink(_drawing(InkLine(Curve.through([(1, 5), (9, 5)]), pen)))[100, :]
    on = ink > 0.5
    edges = np.flatnonzero(np.diff(on.astype(int)))
    # 8 in of 1 + 1/2 in: five or six dashes that fill it from end to end.
    assert len(edges) // 2 in (5, 6)
    assert edges[0] == pytest.approx(20, abs=2)
    assert edges[-1] == pytest.approx(180, abs=2)
    assert on[20:180].mean() == pytest.approx(2 / 3, abs=0.08)


def test_casing_shows_on_both_sides():
    pen = Pen("#FFFFFF", 0.2, casing="#000000", casing_in=0.2)
    ink = _ink(_drawing(InkLine(Curve.through([(1, 5), (9, 5)]), pen)))
    column = ink[:, 100]
    assert column[100] < 0.2
    assert column[95:97].max() > 0.9
    assert column[103:105].max() > 0.9


def test_half_opacity_mixes_half():
    ink = _ink(_drawing(Fill(box(2, 2, 8, 8), "#000000", opacity=0.5)))
    assert ink[100, 100] == pytest.approx(0.5, abs=0.01)
    assert ink[10, 10] == 0


@pytest.mark.parametrize("turn", [0, 90, 270])
@pytest.mark.parametrize("anchor", ["left", "middle", "right"])
def test_text_lies_at_its_anchor(anchor, turn):
    label = Label("HHHH", (5, 5), 0.8, "#000000", anchor=anchor, turn_deg=turn)
    ink = _ink(_drawing(label))
    rows, cols = np.nonzero(ink > 0.3)
    w, h = label_box(label, 20.0)
    assert np.ptp(cols) <= w
    assert np.ptp(rows) <= h
    across = (cols.min() + cols.max()) / 40
    down = (rows.min() + rows.max()) / 40
    long = (w if turn == 0 else h) / 40
    shift = {"left": long, "middle": 0.0, "right": -long}[anchor]
    down_by = shift if turn == 90 else -shift
    expected = (5 + shift, 5.0) if turn == 0 else (5.0, 5 + down_by)
    assert (across, down) == pytest.approx(expected, abs=0.12)


def test_text_on_a_ground_is_readable_and_inside_it():
    label = Label("3 1/8", (5, 5), 0.8, "#FFFFFF", bold=True, ground="#000000")
    ink = _ink(_drawing(label))
    w, h = label_box(label, 20.0)
    rows, cols = np.nonzero(ink > 0.5)
    assert np.ptp(cols) + 1 == pytest.approx(w, abs=2)
    assert np.ptp(rows) + 1 == pytest.approx(h, abs=2)
    inner = ink[rows.min() + 3 : rows.max() - 3, cols.min() + 3 : cols.max() - 3]
    assert 0.05 < (inner < 0.3).mean() < 0.5


def test_points_at_infinity_are_left_out():
    ground = np.full((50, 50, 3), 255, np.uint8)
    fill = Fill(((0.0, 0.0), (5.0, 5.0), (5.0, 0.0)), "#000000")
    line = InkLine(Curve.through([(0, 5), (10, 5)]), Pen("#000000", 0.2))
    lost = Projection(
        lambda p: np.where(p[:, :1] > 3, np.inf, p * 5.0), lambda p: p / 5.0, px_per_in=5.0
    )
    out = paint(Drawing((0, 0, 10, 10), (fill,)), ground, lost)
    assert out.min() == 255
    out = paint(Drawing((0, 0, 10, 10), (line,)), ground, lost)
    # What can be seen of the line is drawn.
    assert out[25, 5].max() < 128
    assert out[:, 20:].min() == 255
