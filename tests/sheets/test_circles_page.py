"""Circles drawn: the arcs are those of the circle, the page says what the choice says.

Over a chord c a circle of diameter D rises by (D − √(D² − c²))/2 (Pythagoras).
"""

import math
from itertools import pairwise

import numpy as np
import pytest
from PIL import Image
from tests.motifs.tops import bordered, box, grid, sizes_of, top_from

from seamwalk.folder import Folder
from seamwalk.geometry.curve import Arc
from seamwalk.model.circles import CircleChoice
from seamwalk.model.machine import MachineProfile
from seamwalk.motifs.plan import choose, make_strokes
from seamwalk.pipeline import MeasuredTop, plan_top
from seamwalk.results import write_measured, write_planned
from seamwalk.sheets import lettering
from seamwalk.sheets.circle_cells import BREAKS, FITS, seen
from seamwalk.sheets.circle_chords import PatchSample
from seamwalk.sheets.circle_samples import sample_of
from seamwalk.sheets.circle_strands import RowSample
from seamwalk.sheets.circles_page import PAGE, circles_page
from seamwalk.sheets.guide_text import class_words

TOP = bordered(4, 4, 3.0)
OWNED = (3, 4, 4.5, 6, 7, 8, 21 / 2.54, 9, 11, 12)
OVER = {
    "sides": "square=arches",
    "seams": "square=leaf-lines",
    "diagonals": "square=leaf-diagonals",
}
ARCS = {"sides": 4, "seams": 8, "diagonals": 4}


def made(*wishes, top=TOP, owned=OWNED):
    sizes = sizes_of(top)
    plan = make_strokes(top, sizes, choose(top, sizes, wishes), MachineProfile(), circles_in=owned)
    return plan, top, sizes


def page_of(plan, top, sizes, units="in", **more):
    return circles_page(plan.circles, plan.strokes, top, sizes, units, **more)


def texts(drawing):
    return [label.text for label in drawing.labels]


def turned(top, degrees):
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return top.mapped(lambda xy: xy @ np.array([[c, s], [-s, c]]))


@pytest.mark.parametrize("over", OVER)
@pytest.mark.parametrize("degrees", [0, 33])
def test_arcs_end_at_the_chord_s_ends_and_rise_as_the_choice_says(over, degrees):
    plan, top, _ = made(OVER[over], top=turned(TOP, degrees) if degrees else TOP)
    found = max(plan.circles.classes, key=lambda c: c.arcs.count)
    assert found.arcs.over == over
    sample = sample_of(found, plan.strokes, top)
    assert isinstance(sample, PatchSample)
    assert len(sample.chords) == ARCS[over]
    tries = [t for t in (found.smaller, found.circle, found.larger) if t is not None]
    assert len(tries) == 3
    for tried in tries:
        view = seen(sample, found.arcs, tried)
        d, c = tried.diameter_in, found.arcs.chord_in
        assert tried.rise_in == pytest.approx((d - math.sqrt(d * d - c * c)) / 2)
        for arc, chord in zip(view.arcs, sample.chords, strict=True):
            assert (arc.start, arc.end) == (chord.start, chord.end)
            assert arc.rise == pytest.approx(tried.rise_in, rel=1e-6)
            assert 2 * arc.radius == pytest.approx(d, rel=1e-6)
        # The circle lies on the first chord, which stands upright, with the circle to its left.
        middle, across = view.ring
        assert across == d
        for end in (sample.chords[0].start, sample.chords[0].end):
            assert math.dist(middle, end) == pytest.approx(d / 2)
        assert sample.chords[0].start[0] == pytest.approx(sample.chords[0].end[0])
        assert middle[0] < sample.chords[0].start[0]
        foot, apex = view.rise
        assert math.dist(foot, apex) == pytest.approx(tried.rise_in, rel=1e-6)


@pytest.mark.parametrize("over", OVER)
def test_the_chosen_circle_is_drawn_as_it_is_stitched(over):
    plan, top, _ = made(OVER[over])
    (found,) = (c for c in plan.circles.classes if c.arcs.over == over)
    sample = sample_of(found, plan.strokes, top)
    stitched = {round(s.curve.length, 6) for s in plan.strokes if s.motif == found.arcs.motif}
    assert {round(a.length, 6) for a in seen(sample, found.arcs, found.circle).arcs} <= stitched
    # Squares of 3 in, away from the edge: one, or two beside a seam, with the arcs inside them.
    assert len(sample.rings) == (2 if over == "seams" else 1)
    for ring in sample.rings:
        sides = [math.dist(a, b) for a, b in pairwise([*ring, ring[0]])]
        assert sides == pytest.approx([3.0] * 4)
    corners = [p for ring in sample.rings for p in ring]
    for arc in seen(sample, found.arcs, found.circle).arcs:
        assert min(math.dist(arc.start, p) for p in corners) == pytest.approx(0, abs=1e-6)
        (x, y), within = arc.at(0.5), np.array(corners)
        assert (within.min(axis=0) < (x, y)).all()
        assert (within.max(axis=0) > (x, y)).all()


@pytest.mark.parametrize("wish", ["patch 1=arches", "all=leaf-lines"])
def test_of_long_patches_only_what_lies_about_the_arcs_is_shown(wish):
    # Strips of 3 x 24 in: at their whole length the arcs over 3 in would be specks.
    top = top_from([box(0, 0, 3, 24), box(3, 0, 6, 24), box(0, 24, 3, 48), box(3, 24, 6, 48)])
    plan, top, _ = made(wish, top=top, owned=(3.25, 4, 7, 8))
    found = min(plan.circles.classes, key=lambda c: c.arcs.chord_in)
    chord = found.arcs.chord_in
    assert chord < 3.01
    sample = sample_of(found, plan.strokes, top)
    xs, ys = zip(*(p for ring in sample.rings for p in ring), strict=True)
    assert max(xs) - min(xs) <= 3.5 * chord + 1e-9
    assert max(ys) - min(ys) <= 3.5 * chord + 1e-9
    for c in sample.chords:
        assert min(xs) - 1e-9 <= min(c.start[0], c.end[0])
        assert max(c.start[0], c.end[0]) <= max(xs) + 1e-9
    # No seam is drawn where the strip goes on.
    drawn = {round(x, 6) for edge in sample.edges for (x, _), (x1, _) in pairwise(edge) if x == x1}
    assert round(max(xs), 6) not in drawn


def test_a_circle_that_does_not_reach_lies_over_the_chord_without_an_arc():
    plan, top, sizes = made("square=arches", owned=(2, 30))
    (found,) = plan.circles.classes
    assert found.smaller.verdict == "too small"
    sample = sample_of(found, plan.strokes, top)
    view = seen(sample, found.arcs, found.smaller)
    assert view.arcs == ()
    assert view.ring == (sample.chords[0].middle, 2)
    said = texts(page_of(plan, top, sizes))
    assert "does not reach from end to end" in said


def test_a_class_that_no_circle_fits_says_template():
    plan, top, sizes = made("square=arches", owned=(2, 30))
    (found,) = plan.circles.classes
    assert found.circle is None
    drawing = page_of(plan, top, sizes)
    said = " ".join(texts(drawing))
    assert "no circle fits" in said
    assert "make a template with a rise of 9/16 in" in said
    assert "draw round this" not in said
    view = seen(sample_of(found, plan.strokes, top), found.arcs, None)
    assert view.ring is None
    assert view.arcs[0].rise == pytest.approx(found.arcs.wish_in)


def test_every_class_has_its_row_and_those_with_most_arcs_come_first():
    plan, top, sizes = made("square=arches", "border=cable", "patch 1=leaf-diagonals")
    classes = sorted(plan.circles.classes, key=lambda c: -c.arcs.count)
    assert len(classes) >= 2
    rows = [class_words(c.arcs, sizes, "in") for c in classes]
    drawing = page_of(plan, top, sizes)
    where = {label.text: label.at[1] for label in drawing.labels}
    assert [where[r] for r in rows] == sorted(where[r] for r in rows)
    assert len([t for t in texts(drawing) if t in ("draw round this", "no circle fits")]) == len(
        rows
    )
    (one,) = [c for c in classes if c.arcs.over == "sides"]
    many = circles_page(CircleChoice((one,) * 7, 0.0), plan.strokes, top, sizes)
    assert texts(many).count("draw round this") == PAGE.most_rows
    assert f"{7 - PAGE.most_rows} more kinds of arcs are in guide.txt." in texts(many)
    one_more = CircleChoice((one,) * (PAGE.most_rows + 1), 0.0)
    assert "One more kind of arcs is in guide.txt." in texts(
        circles_page(one_more, plan.strokes, top, sizes)
    )
    # With the 1/10 in round it, it still goes on both papers: A4 is 8.27 in wide, letter 11 high.
    assert many.width_in <= 8.27
    assert many.height_in <= 11


def test_marks_without_colour():
    # D 4 over 3 in rises by 0.677 in, past 0.207·3 in = 0.621 in, where arcs cross.
    plan, top, sizes = made("square=arches", owned=(4, 4.5, 6))
    drawing = page_of(plan, top, sizes)
    arcs = [line.pen for line in drawing.strokes if line.layer == "arcs"]
    assert arcs == [BREAKS] * 4 + [FITS] * 8
    assert BREAKS.dash_in
    assert not FITS.dash_in
    left, chosen, right = (f.edge.width_in for f in drawing.fills if f.layer == "frame")
    assert chosen >= 3 * max(left, right)
    said = " ".join(texts(drawing))
    assert "rise 11/16 in; arcs cross; too deep" in said
    assert "rise 9/16 in; arcs do not cross; fits" in said


def test_a_row_has_one_scale_that_its_bar_tells():
    plan, top, sizes = made("square=arches", owned=(4, 4.5, 6))
    drawing = page_of(plan, top, sizes)
    bar = max(c.curve.length for c in drawing.strokes if c.layer == "scale")
    (told,) = (label.text for label in drawing.labels if label.layer == "scale")
    scale = bar / float(told.removesuffix(" in"))
    rings = {round(c.curve.smallest_radius, 6) for c in drawing.strokes if c.layer == "circle"}
    assert sorted(rings) == pytest.approx([scale * d / 2 for d in (4, 4.5, 6)], rel=1e-5)


def test_a_circle_that_is_not_there_leaves_its_cell_empty():
    plan, top, sizes = made("square=arches", owned=(4.5,))
    said = texts(page_of(plan, top, sizes))
    assert "no smaller one in your list" in said
    assert "no larger one in your list" in said


def test_centimetres_are_converted():
    # D 4.5 in = 11.4 cm; its rise of 0.573 in = 1.455 cm; the 21 cm circle is her own.
    plan, top, sizes = made("square=arches", owned=(4, 4.5, 21 / 2.54))
    drawing = page_of(plan, top, sizes, "cm")
    said = texts(drawing)
    assert "4 1/2 in (11.4 cm)" in said
    assert "21 cm" in said
    assert "rise 1.5 cm; arcs do not cross; fits" in said
    assert "1.5" in said
    (bar,) = (label.text for label in drawing.labels if label.layer == "scale")
    assert bar.endswith(" cm")
    assert "arches over sides of 7.6 cm: 64 arcs, squares" in said


@pytest.mark.parametrize("units", ["in", "cm"])
def test_text_is_large_enough_and_stays_in_its_cell(units):
    plan, top, sizes = made("square=arches", "border=cable", owned=(1, 4, 21 / 2.54, 12.5))
    drawing = page_of(plan, top, sizes, units, circles_named=False)
    assert min(label.size_in for label in drawing.labels) >= 0.12
    assert any("plain sizes" in t for t in texts(drawing))
    for label in drawing.labels:
        wide = lettering.width(label.text, label.size_in, label.bold)
        x0 = label.at[0] - {"left": 0, "middle": wide / 2, "right": wide}[label.anchor]
        assert x0 >= drawing.extent_in[0], label.text
        assert x0 + wide <= drawing.extent_in[2], label.text
    # The longest size beside the longest name, both bold, on one line.
    names = "draw round this", "21 cm (8 1/4 in)"
    room = PAGE.cell - 3 * PAGE.pad
    assert sum(lettering.width(n, PAGE.text, bold=True) for n in names) < room


def test_scales_are_half_circles_set_off_by_half():
    arcs = RowSample().arcs(4.0)
    assert {(round(a.radius, 9), round(a.sweep_rad, 9)) for a in arcs} == {
        (2.0, round(math.pi, 9))
    }
    rows = {y: sorted(a.centre[0] for a in arcs if a.centre[1] == y) for y in (0.0, -2.0)}
    assert rows == {0.0: [-4.0, 0.0, 4.0], -2.0: [-2.0, 2.0]}


def test_a_strand_is_smooth_and_round_the_circle():
    sample = RowSample(math.radians(65), 2, 3.0)
    arcs = sample.arcs(2.0)
    assert {round(a.radius, 9) for a in arcs} == {1.0}
    for strand in (arcs[:3], arcs[3:]):
        for a, b in pairwise(strand):
            assert a.end == pytest.approx(b.start)
            turn = math.remainder(a.heading_rad(1) - b.heading_rad(0), 2 * math.pi)
            assert turn == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize(("motif", "strands"), [("cable", 2), ("three-strand-cable", 3)])
def test_a_cable_is_shown_as_it_is_stitched(motif, strands):
    top = top_from([box(0, 0, 24, 6), box(0, 6, 24, 9), box(0, 9, 24, 15)])
    plan, top, _ = made(f"patch 1={motif}", top=top, owned=(2, 3, 4))
    (found,) = (c for c in plan.circles.classes if c.arcs.over == "strands")
    sample = sample_of(found, plan.strokes, top)
    assert sample.strands == strands
    assert sample.width_in == pytest.approx(3.0)
    shown = sample.arcs(found.circle.diameter_in)
    arcs = [p for s in plan.strokes if s.motif == motif for p in s.curve if isinstance(p, Arc)]
    lengths = {round(a.length, 6) for a in arcs}
    assert {round(a.length, 6) for a in shown} <= lengths
    assert {round(a.radius, 6) for a in shown} == {round(a.radius, 6) for a in arcs}


def test_arcs_that_are_nowhere_whole_leave_a_chord():
    plan, top, sizes = made("square=arches", owned=(4, 4.5, 6))
    (found,) = plan.circles.classes
    sample = sample_of(found, (), top)
    assert sample.rings == ()
    assert sample.chords[0].length == found.arcs.chord_in
    drawing = circles_page(plan.circles, (), top, sizes)
    assert texts(drawing).count("draw round this") == 1


def test_the_picture_lies_beside_the_guide_and_goes_with_the_arcs(tmp_path):
    top = grid(2, 2, 4.0)
    measured = MeasuredTop(top, sizes_of(top), "in")
    for wish in ("all=arches", "all=ditch"):
        folder = Folder(tmp_path)
        write_measured(folder, measured)
        write_planned(folder, plan_top(measured, (wish,), circles_in=(5, 6, 7)))
        there = (tmp_path / "circles.png").exists()
        assert there == (wish == "all=arches")
        if there:
            with Image.open(tmp_path / "circles.png") as image:
                assert image.width == round((PAGE.width + 0.2) * PAGE.px_per_in)
