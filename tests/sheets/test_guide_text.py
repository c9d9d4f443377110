"""The stitching guide as text: complete, in the units asked for, narrow enough to print."""

import re
from dataclasses import replace

import pytest
from tests.motifs.tops import bordered, grid, sizes_of

from seamwalk.model.machine import MachineProfile
from seamwalk.model.marking import MarkingGuide, MarkingStep
from seamwalk.model.route import BobbinChange
from seamwalk.motifs.marking import marking_guide
from seamwalk.motifs.plan import choose, make_strokes
from seamwalk.routing.graph import network
from seamwalk.routing.route import plan_route
from seamwalk.sheets.guide_text import (
    WIDTH,
    circle_name,
    class_words,
    guide_text,
    marking_lines,
    thread_lines,
)
from seamwalk.trade import SAFETY_MACHINE, SAFETY_MARKING

TOP = bordered(4, 4, 3.0)
WISHES = ("square=arches", "border=lines", "patch 1=outline", "patch 2=ditch")


def made(top=TOP, wishes=WISHES, circles=(3, 4, 4.5, 21 / 2.54), machine=None):
    machine = machine or MachineProfile()
    sizes = sizes_of(top)
    plan = make_strokes(top, sizes, choose(top, sizes, wishes), machine, circles_in=circles)
    return plan, plan_route(network(plan.strokes), machine), sizes


def text_of(plan, route, sizes, units="in", **more):
    return guide_text(
        marking_guide(plan.strokes),
        plan.circles,
        route.totals,
        route.bobbin_changes,
        sizes,
        units,
        **more,
    )


@pytest.fixture(scope="module")
def planned():
    return made()


@pytest.mark.parametrize("units", ["in", "cm"])
def test_everything_is_told_on_a_page(planned, units):
    text = text_of(*planned, units)
    for words in (
        "CIRCLES",
        "MARKING",
        "THREAD AND TIME",
        "ruler: lines",
        "circle of",
        "1 bobbin",
        "stitched by eye: outline",
        "no mark, along the seam: ditch",
        "stitching",
    ):
        assert words in text, words
    flat = " ".join(text.split())
    assert SAFETY_MARKING in flat
    assert SAFETY_MACHINE in flat
    assert max(map(len, text.splitlines())) <= WIDTH


def test_inches_are_fractions_and_centimetres_are_converted(planned):
    # D 4.5 over 3 in: h = (4.5 − sqrt(20.25 − 9))/2 = 0.573 in = 9/16 in = 1.5 cm.
    inches, metric = text_of(*planned, "in"), text_of(*planned, "cm")
    assert re.search(r"draw round +4 1/2 in +rise 9/16 in, arcs do not cross", inches)
    assert re.search(r"draw round +4 1/2 in \(11.4 cm\) +rise 1.5 cm, arcs do not cross", metric)
    assert re.search(r"one smaller +4 in +rise 11/16 in, arcs cross", inches)
    larger = r"one larger +21 cm \(8 1/4 in\) +rise 5/16 in, arcs do not cross, too flat"
    assert re.search(larger, inches)
    assert not re.search(r"\d+\.\d+ in", inches)
    assert "yd" not in metric


@pytest.mark.parametrize(
    ("diameter", "units", "name"),
    [(8.5, "in", "8 1/2 in"), (21 / 2.54, "cm", "21 cm"), (21 / 2.54, "in", "21 cm (8 1/4 in)"),
     (8.5, "cm", "8 1/2 in (21.6 cm)"), (5.0, "cm", "12.7 cm"), (3.9527, "in", "3 15/16 in"),
     (3.9527, "cm", "10.0 cm")],
)  # fmt: skip
def test_a_circle_keeps_the_name_that_it_is_owned_by(diameter, units, name):
    assert circle_name(diameter, units) == name


def test_no_circle_is_a_template():
    text = text_of(*made(circles=(2, 30)))
    assert re.search(r"no circle fits: make a template with a rise of 9/16 in", text)
    assert re.search(r"one smaller +2 in +does not reach from end to end", text)
    assert re.search(r"one larger +30 in +rise 1/16 in, arcs do not cross, too flat", text)
    assert "template of a circle of 4 11/16 in: arches" in text


def test_plain_sizes_are_called_so(planned):
    assert "plain sizes" in text_of(*planned, circles_named=False)
    assert "plain sizes" not in text_of(*planned)


def test_bobbins_are_changed_at_stops(planned):
    plan, route, sizes = planned
    changes = (
        BobbinChange(0, 3, 7, (1.0, 1.0), 900.0, "margin"),
        BobbinChange(1, 0, 12, (1.0, 1.0), 1800.0, "thread end"),
        BobbinChange(1, 9, 15, (1.0, 1.0), 2700.0, "inside"),
    )
    changed = replace(route, bobbin_changes=changes, totals=replace(route.totals, bobbins=4))
    text = text_of(plan, changed, sizes)
    assert "4 bobbins" in text
    assert "change to bobbin 2 before stop 7 (at the edge), after 25.0 yd" in text
    assert "change to bobbin 3 before stop 12 (a new thread starts there)" in text
    assert "change to bobbin 4 before stop 15 (inside: bury the ends)" in text
    assert "after 22.9 m" in text_of(plan, changed, sizes, "cm")


def test_nothing_to_mark_is_said():
    plan, route, sizes = made(grid(3, 3, 3.0), ("all=ditch",))
    text = text_of(plan, route, sizes)
    assert "Nothing needs a mark." in text
    assert "CIRCLES" not in text


def test_what_is_not_as_asked_for_comes_first(planned):
    said = (
        "Arches rise by 1 in instead of 100 in, since " + "there is no room " * 6 + "there.",
        "B.",
    )
    text = text_of(*planned, warnings=said)
    assert text.startswith("KNOW THIS FIRST\n! Arches rise by 1 in")
    assert "\n! B.\n" in text
    assert max(map(len, text.splitlines())) <= WIDTH
    assert "NOT QUITE" not in text_of(*planned)


def test_a_time_without_causes_has_no_colon(planned):
    _, route, _ = planned
    nothing = replace(route.totals, minutes={"stitching": 0.0})
    assert thread_lines(nothing, (), "in")[-1] == "0 min at the machine"


def test_an_arc_flatter_than_any_circle_is_no_circle_to_find(planned):
    # Over 36 in a rise of 1/16 in takes a circle of 36²/(4·1/16) + 1/16 in, 432 ft: c²/(4h) + h.
    _, _, sizes = planned
    flat = MarkingStep("template", "arches", 1, 36.0, 36**2 * 4 + 1 / 16, ())
    (line, _) = marking_lines(MarkingGuide((flat,)), sizes, "in")
    assert "template of a very flat arc" in line


def test_one_arc_is_one():
    arcs = made()[0].circles.classes[0].arcs
    assert ": 1 arc, " in class_words(replace(arcs, count=1), sizes_of(TOP), "in")
    assert ": 2 arcs, " in class_words(replace(arcs, count=2), sizes_of(TOP), "in")
