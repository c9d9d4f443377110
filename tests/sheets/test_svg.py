"""The SVG read back and measured by the specification's own formulas.

Source: SVG 2, chapter 9.5 and appendix B.2.4 (from end points to the centre of an arc).
"""

import itertools
import math
import re
import xml.etree.ElementTree as ET

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from tests.sheets.sampler import Builder, arc, grid_top, line, sampler_route

from seamwalk.geometry.curve import Arc, Curve
from seamwalk.sheets.svg import LAYERS, path_data, path_svg
from seamwalk.sheets.walk import runs, stops

SVG = "{http://www.w3.org/2000/svg}"


def _arc_centre(x1, y1, r, large, sweep, x2, y2):
    """Appendix B.2.4 for a circle: centre and sweep angle, radians."""
    hx, hy = (x1 - x2) / 2, (y1 - y2) / 2
    d2 = hx * hx + hy * hy
    k = math.sqrt(max(0.0, (r * r - d2) / d2)) * (-1 if large == sweep else 1)
    cx, cy = k * hy + (x1 + x2) / 2, -k * hx + (y1 + y2) / 2
    a1, a2 = math.atan2(y1 - cy, x1 - cx), math.atan2(y2 - cy, x2 - cx)
    turn = (a2 - a1) % (2 * math.pi)
    return (cx, cy), turn if sweep else turn - 2 * math.pi


def _pieces(data):
    """(kind, length, centre, sweep) of each command of a path, and its end."""
    out, at = [], None
    for command, rest in re.findall(r"([MLAZ])([^MLAZ]*)", data):
        v = [float(t) for t in rest.split()]
        if command == "M":
            at = (v[0], v[1])
        elif command == "L":
            out.append(("L", math.dist(at, v), None, 0.0))
            at = (v[0], v[1])
        elif command == "A":
            centre, turn = _arc_centre(*at, v[0], v[3] == 1, v[4] == 1, v[5], v[6])
            out.append(("A", v[0] * abs(turn), centre, turn))
            at = (v[5], v[6])
    return out, at


def _read(route, top):
    return ET.fromstring(path_svg(route, top))


def test_real_units():
    root = _read(sampler_route(), grid_top())
    assert root.get("width") == "406.4mm"
    assert root.get("height") == "304.8mm"
    assert root.get("viewBox") == "0 0 406.4 304.8"


def test_one_plain_group_for_each_kind_of_stroke():
    root = _read(sampler_route(), grid_top())
    groups = root.findall(f"{SVG}g")
    assert [g.get("id") for g in groups] == list(LAYERS)
    assert all(g.find(f"{SVG}title").text for g in groups)
    assert root.find(f"{SVG}title").text
    assert "3" in root.find(f"{SVG}desc").text
    # Nothing of any program's own name space.
    assert all(e.tag.startswith(SVG) and "{" not in "".join(e.attrib) for e in root.iter())


def test_lengths_are_those_of_the_plan():
    route = sampler_route()
    root = _read(route, grid_top())
    total = 0.0
    for group in root.findall(f"{SVG}g"):
        if group.get("id") in ("motif", "ditch", "travel"):
            for path in group.findall(f"{SVG}path"):
                total += sum(length for _, length, _, _ in _pieces(path.get("d"))[0])
    assert total / 25.4 == pytest.approx(route.totals.stitched_in, rel=1e-6)


def test_each_thread_can_be_followed_in_order():
    root = _read(sampler_route(), grid_top())
    paths = [
        p
        for g in root.findall(f"{SVG}g")
        if g.get("id") in ("motif", "ditch", "travel")
        for p in g.findall(f"{SVG}path")
    ]
    paths.sort(key=lambda p: int(p.get("data-order")))
    assert [int(p.get("data-order")) for p in paths] == list(range(1, len(paths) + 1))
    for a, b in itertools.pairwise(paths):
        if a.get("data-thread") == b.get("data-thread"):
            start = [float(v) for v in b.get("d").split()[1:3]]
            assert _pieces(a.get("d"))[1] == pytest.approx(start, abs=1e-3)


def test_second_pass_is_dashed_and_travel_dotted():
    root = _read(sampler_route(), grid_top())
    dashes = {}
    for path in root.iter(f"{SVG}path"):
        dashes.setdefault(path.get("data-style"), set()).add(path.get("stroke-dasharray"))
    assert dashes["first"] == {None}
    assert len(dashes["second"]) == len(dashes["travel"]) == 1
    assert dashes["second"] != dashes["travel"]
    assert None not in dashes["second"] | dashes["travel"]


def test_starts_are_numbered_and_ends_are_squares():
    root = _read(sampler_route(), grid_top())
    group = next(g for g in root.findall(f"{SVG}g") if g.get("id") == "stops")
    assert len(group.findall(f"{SVG}polygon")) == 3
    ends = group.findall(f"{SVG}rect")
    assert len(ends) == 3
    for rect in ends:
        assert rect.get("width") == rect.get("height")
    texts = [t.text for t in group.findall(f"{SVG}text")]
    assert texts == [str(s.step) for s in stops(runs(sampler_route())) if s.kind != "end"]


points = st.tuples(st.floats(-40, 40), st.floats(-40, 40))


@settings(max_examples=60, deadline=None)
@given(points, points, st.floats(0.02, 3.0), st.booleans())
@example((0.0, 0.0), (0.0, 1.15625), 0.5, False)
def test_arcs_keep_centre_and_turn(a, b, share, flip):
    chord = math.dist(a, b)
    if chord < 0.1:
        return
    piece = Arc.by_rise(a, b, chord * share * (-1 if flip else 1))
    found, end = _pieces(path_data(Curve((piece,))))
    # Four decimals of a millimetre, magnified where an arc is nearly flat or nearly closed.
    slack = 0.02 * max(1.0, piece.radius)
    assert end == pytest.approx([v * 25.4 for v in piece.end], abs=1e-3)
    assert sum(p[3] for p in found) == pytest.approx(piece.sweep_rad, abs=1e-3)
    for _, _, centre, _ in found:
        assert centre == pytest.approx([v * 25.4 for v in piece.centre], abs=slack)


def test_a_whole_circle_does_not_vanish():
    # An arc whose ends coincide is left out by SVG readers (SVG 2, 9.5.1).
    circle = Arc((1.0, 0.0), (1.0, 0.0), (0.0, 0.0), 2 * math.pi)
    found, _ = _pieces(path_data(Curve((circle,))))
    assert sum(p[1] for p in found) == pytest.approx(2 * math.pi * 25.4, rel=1e-5)


def test_same_plan_gives_same_text():
    assert path_svg(sampler_route(), grid_top()) == path_svg(sampler_route(), grid_top())


def test_layout_of_a_tiny_plan():
    b = Builder()
    b.stitch(arc((0, 0), (4, 0), 0.5))
    b.stitch(line((4, 0), (4, 4)), "ditch", required=False)
    text = path_svg(b.route(), grid_top(1, 1))
    assert '<path d="M 0 0 A 107.95 107.95 0 0 0 101.6 0" data-order="1"' in text
    assert '<path d="M 101.6 0 L 101.6 101.6" data-order="2"' in text


def test_the_description_has_the_size_in_her_units():
    # The grid's top is 16 by 12 in; 1 in is 2.54 cm (international agreement, 1959).
    for units, size in (("in", "Top 16 in x 12 in."), ("cm", "Top 40.6 cm x 30.5 cm.")):
        root = ET.fromstring(path_svg(sampler_route(), grid_top(), units))
        assert root.find(f"{SVG}desc").text.startswith(size)
