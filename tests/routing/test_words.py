"""The path in words: what anyone would say who looks at the drawing.

No published words exist for these; each expected sentence is read off the coordinates given in
its test, with x to the right and y downwards as the top lies before her.
"""

import dataclasses
import itertools
import math

import pytest
from tests.routing.instances import arches, leaves, stroke
from tests.routing.sewn import MACHINE, sewn

from seamwalk.geometry.curve import Arc, Curve, Line, Point
from seamwalk.model.route import Route
from seamwalk.model.stitching import Stroke, StrokeId, StrokeKind
from seamwalk.model.top import PatchId
from seamwalk.routing.graph import network
from seamwalk.routing.route import plan_route
from seamwalk.routing.telling.words import in_words


def piece(
    name: str,
    *places: Point,
    motif: str = "",
    kind: StrokeKind = "motif",
    required: bool = True,
    line: str | None = None,
    patch: int | None = None,
    rise: float = 0.0,
) -> Stroke:
    made = (
        Curve((Arc.by_rise(places[0], places[1], rise),)) if rise else Curve.through(list(places))
    )
    at = None if patch is None else PatchId(patch)
    return Stroke(StrokeId(name), made, kind, required, motif, at, line)


def edge(width: float, height: float) -> list[Stroke]:
    """Return the margin round a top, cut wherever anything ends."""
    corners = [(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)]
    return [
        stroke(f"e{k}", corners[k], corners[(k + 1) % 4], "edge", required=False) for k in range(4)
    ]


def leaf_line(name: str, a: Point, b: Point, count: int, first: float) -> list[Stroke]:
    """Return arcs in a row; a positive rise bows to the right of the way from a to b."""
    out = []
    for k in range(count):
        s, t = k / count, (k + 1) / count
        p = (a[0] + (b[0] - a[0]) * s, a[1] + (b[1] - a[1]) * s)
        q = (a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t)
        rise = first if k % 2 == 0 else -first
        out.append(piece(f"{name}{k}", p, q, motif="leaf-lines", line=name, rise=rise))
    return out


def told(route: Route) -> list[str]:
    return [r.text for r in in_words(route, "in")[1]]


def test_a_leaf_line_is_counted_from_the_top_and_tells_its_side() -> None:
    # Lines at 4, 8 and 12 in; to the right of the way to the right is below.
    strokes = edge(12, 16)
    for name, y in (("c", 12.0), ("a", 4.0), ("b", 8.0)):
        strokes += leaf_line(name, (0, y), (12, y), 3, 0.5)
    route = sewn(strokes, "b0 b1 b2", "-c2 -c1 -c0", "a0 a1 a2")
    assert told(route) == [
        "start at the left edge, 8 in from the top",
        "leaf line 2, left to right, arcs alternate, start below",
        "end in the margin, at the right edge, 8 in from the top",
        "start at the right edge, 12 in from the top",
        "leaf line 3, right to left, arcs alternate, start below",
        "end in the margin, at the left edge, 12 in from the top",
        "start at the left edge, 4 in from the top",
        "leaf line 1, left to right, arcs alternate, start below",
        "end in the margin, at the right edge, 4 in from the top",
    ]


def test_a_line_that_lies_down_is_counted_from_the_left() -> None:
    # Of lines at x = 4 and 8, the one at 8; going down, the right of the way is on her left.
    strokes = edge(12, 12)
    for name, x in (("a", 4.0), ("b", 8.0)):
        strokes += leaf_line(name, (x, 0), (x, 12), 3, 0.5)
    route = sewn(strokes, "b0 b1 b2")
    assert told(route)[1] == "leaf line 2, downwards, arcs alternate, start on the left"


def test_there_and_back_is_one_run() -> None:
    # The second pass mirrors the first: four arcs, first below; back the arcs start below, since
    # the fourth lies above in the first pass and below in the second.
    strokes = edge(16, 8)
    strokes += leaf_line("a", (0, 4), (16, 4), 4, 0.5)
    again = leaf_line("a", (0, 4), (16, 4), 4, -0.5)
    strokes += [dataclasses.replace(s, id=StrokeId(f"m{s.id}"), pass_no=2) for s in again]
    route = sewn(strokes, "a0 a1 a2 a3 -ma3 -ma2 -ma1 -ma0")
    assert told(route)[1:-1] == [
        "leaf line 1, left to right and back, arcs alternate both ways, start below"
    ]


@pytest.mark.parametrize(
    ("ring", "which"),
    [
        ([(4, 4), (7, 4), (7, 7), (4, 7), (4, 4)], "clockwise"),
        ([(4, 4), (4, 7), (7, 7), (7, 4), (4, 4)], "anticlockwise"),
    ],
)
def test_a_ring_runs_clockwise_as_seen(ring: list[Point], which: str) -> None:
    # To the right, down, to the left, up: as the hands of a clock go.
    strokes = [*edge(12, 12), piece("r", *ring, motif="outline", patch=12)]
    route = sewn(strokes, "r.1 r.2 r.3 r.4")
    assert told(route) == [
        "start inside, 4 in from the left, 4 in from the top",
        f"ring round patch 12, {which}, 3 pivots",
        "end inside, 4 in from the left, 4 in from the top: bury the thread",
    ]


def test_from_ring_to_ring_along_the_ditch() -> None:
    # Ring 12, 3 in to the right and 3 in down in the ditch, ring 13.
    one = piece("r", (4, 4), (2, 4), (2, 2), (4, 2), (4, 4), motif="outline", patch=12)
    two = piece("q", (7, 7), (9, 7), (9, 9), (7, 9), (7, 7), motif="outline", patch=13)
    ditches = [
        piece("d", (4, 4), (7, 4), kind="ditch", required=False),
        piece("f", (7, 4), (7, 7), kind="ditch", required=False),
    ]
    route = sewn([*edge(12, 12), one, two, *ditches], "r.1 r.2 r.3 r.4 d f q.1 q.2 q.3 q.4")
    assert told(route)[1:-1] == [
        "ring round patch 12, clockwise, 3 pivots",
        "travel in the ditch, down to the right, 6 in, 1 pivot, to patch 13",
        "ring round patch 13, clockwise, 3 pivots",
    ]


def test_a_ditch_by_the_number_of_its_line() -> None:
    # Seams at x = 3, 6, 9, cut by one at y = 5; the third, downwards, and what is left of it.
    down = [
        piece(f"{k}{part}", (3.0 * k, a), (3.0 * k, b), kind="ditch", motif="ditch")
        for k in (1, 2, 3)
        for part, a, b in (("u", 0.0, 5.0), ("l", 5.0, 10.0))
    ]
    across = [
        piece(f"x{k}", (3.0 * k, 5.0), (3.0 * k + 3, 5.0), kind="ditch", required=False)
        for k in range(4)
    ]
    strokes = [*edge(12, 10), *down, *across]
    assert told(sewn(strokes, "3u 3l"))[1] == "ditch of line 3, downwards"
    assert told(sewn(strokes, "-2l"))[1] == "ditch of line 2, upwards, 5 in of it"
    # Once more along what was sewn is travel.
    assert told(sewn(strokes, "3u 3l -3l"))[2] == "travel in the ditch, upwards, 5 in"


def test_a_cable_round_the_border() -> None:
    ring = [(1, 1), (39, 1), (39, 49), (1, 49), (1, 1)]
    strokes = [*edge(40, 50), piece("c", *ring, motif="cable", line="cable-1")]
    words = told(sewn(strokes, "c.1 c.2 c.3 c.4"))
    assert words[1] == "border, cable strand, clockwise from the upper left corner, 3 pivots"


def test_one_arch_is_told_by_the_side_it_stands_on() -> None:
    # A square patch from (4, 4) to (8, 8); arches bow into it.
    corners = [(4.0, 4.0), (8.0, 4.0), (8.0, 8.0), (4.0, 8.0)]
    strokes = edge(12, 12)
    for k, name in enumerate(("upper", "right", "lower", "left")):
        a, b = corners[k], corners[(k + 1) % 4]
        strokes.append(piece(name, a, b, motif="arches", patch=5, rise=0.8))
    for name, which in (
        ("upper", "left to right"),
        ("right", "downwards"),
        ("lower", "right to left"),
        ("left", "upwards"),
    ):
        assert told(sewn(strokes, name))[1] == f"arch over the {name} side of patch 5, {which}"
    words = told(sewn(strokes, "upper right lower left"))
    assert words[1] == "arches in patch 5, clockwise, 3 pivots"


def test_arches_that_run_on_through_patches_go_by_their_line() -> None:
    # Along the seam at y = 4 of a grid of 4 in squares: over two squares, once from below, once
    # from above.
    strokes = [dataclasses.replace(s, motif="arches") if s.required else s for s in arches(3, 3)]
    strokes = [
        dataclasses.replace(s, patch=PatchId(int(s.id[1]) + 3 * int(s.id[3]) + 1))
        if s.required
        else s
        for s in strokes
    ]
    # a0,0,2 is the lower side of the first square, from right to left; it bows upwards.
    words = told(sewn(strokes, "-a0,0,2 a1,1,0 -a2,0,2"))
    assert words[1] == "arches along line 1, left to right, arcs alternate, start above"


def test_short_ways_between_keys_do_not_shred_them() -> None:
    # Three keys across a border 3 in high, joined by 2 in of ditch or margin.
    keys = [
        piece(
            f"k{i}", (4.0 + 2 * i, 0), (4.0 + 2 * i, 3), motif="piano-keys", line=f"k{i}", patch=2
        )
        for i in range(3)
    ]
    seam = piece("d", (0, 3), (20, 3), kind="ditch", required=False)
    made = network([*edge(20, 20), *keys, seam])
    name = {(p.u, p.v): p.id for p in made.pieces.values()}
    place = dict(made.nodes.items())
    ditch = next(i for (u, v), i in name.items() if {place[u], place[v]} == {(4, 3), (6, 3)})
    margin = next(i for (u, v), i in name.items() if {place[u], place[v]} == {(6, 0), (8, 0)})
    route = sewn([*edge(20, 20), *keys, seam], f"k0 {ditch} -k1 {margin} k2")
    assert told(route)[1:-1] == [
        "3 piano keys in patch 2, left to right, with 4 in of travel between, 4 pivots"
    ]


def test_where_a_thread_starts_and_ends() -> None:
    lines = [
        piece("a", (0, 0), (5, 5), motif="lines", line="a"),
        piece("b", (6, 0), (6, 5), motif="lines", line="b"),
    ]
    strokes = [*edge(12, 16), *lines]
    assert told(sewn(strokes, "a"))[0] == "start at the upper left corner"
    words = told(sewn(strokes, "-b"))
    assert words[0] == "start inside, 6 in from the left, 5 in from the top"
    assert words[-1] == "end in the margin, at the upper edge, 6 in from the left"
    assert told(sewn(strokes, "b"))[-1].endswith("bury the thread")


def test_lengths_in_her_units() -> None:
    strokes = [*edge(12, 16), piece("b", (5, 0), (5, 8), motif="lines", line="b")]
    runs = in_words(sewn(strokes, "b"), "cm")[1]
    # One inch is 2.54 cm.
    assert runs[0].text == "start at the upper edge, 12.7 cm from the left"
    assert (
        runs[2].text == "end inside, 12.7 cm from the left, 20.3 cm from the top: bury the thread"
    )


def test_scales_sewn_across_their_rows() -> None:
    # Halves of scales below one another, a row each; over all 1 in aside and 3 in down.
    places = [(4.0, 0.0), (5.0, 1.0), (4.0, 2.0), (5.0, 3.0)]
    strokes = edge(12, 12)
    for k in range(3):
        row = {"motif": "clamshells", "line": f"row {k}"}
        strokes.append(piece(f"s{k}", places[k], places[k + 1], rise=0.2 * (-1) ** k, **row))
        # The rest of the row, so that rows run across.
        x, y = places[k]
        strokes += [piece(f"t{k}", (x - 3, y + 1), (x - 2, y), rise=0.2, **row)]
        strokes += [piece(f"u{k}", (x + 3, y + 1), (x + 4, y), rise=0.2, **row)]
    words = told(sewn(strokes, "s0 s1 s2"))
    assert words[1] == "clamshells, downwards, from row 1 to row 3, 2 pivots"


def test_arches_that_run_on_without_a_stop_are_one_sweep() -> None:
    # Four flat arches, each chord turned 20° from the last: no line and no patch holds two of
    # them.  They bow outwards and meet at 20° less twice 2·atan(0.2/3): the foot never stops.
    places = [(2.0, 2.0)]
    for k in range(4):
        x, y = places[-1]
        a = math.radians(20 * k)
        places.append((x + 3 * math.cos(a), y + 3 * math.sin(a)))
    strokes = edge(20, 20)
    for k in range(4):
        where = {"motif": "arches", "patch": 10 + k, "rise": -0.1}
        strokes.append(piece(f"a{k}", places[k], places[k + 1], **where))
    words = told(sewn(strokes, "a0 a1 a2 a3"))
    assert words[1:-1] == [
        "arches straight on through 3 junctions, from patch 10 to patch 13, down to the right"
    ]


def test_seams_that_no_finger_counts_are_told_together() -> None:
    # Forty levels of short ditches, like the logs of a log cabin: a stair of four of them.
    strokes = edge(60, 60)
    for k in range(1, 41):
        x, y = 1.4 * k, 1.4 * k
        ditch = {"kind": "ditch", "motif": "ditch"}
        strokes.append(piece(f"h{k}", (x, y), (x + 1.4, y), **ditch))
        strokes.append(piece(f"v{k}", (x + 1.4, y), (x + 1.4, y + 1.4), **ditch))
    words = told(sewn(strokes, "h1 v1 h2 v2"))
    assert words[1:-1] == ["ditches one after another, down to the right, 5 1/2 in, 3 pivots"]
    steps = in_words(sewn(strokes, "h1 v1 h2 v2"), "in")[0]
    assert [s.text for s in steps][:2] == [
        "ditch, left to right, 1 1/2 in",
        "ditch, downwards, 1 1/2 in",
    ]


@pytest.mark.parametrize(("thread", "how"), [("s", "outwards"), ("-s", "inwards")])
def test_a_spiral_runs_outwards_or_inwards(thread: str, how: str) -> None:
    # Half circles of 1, 2 and 3 in round nearly one centre; x turned towards y is clockwise.
    halves = (
        Arc((5.0, 6.0), (7.0, 6.0), (6.0, 6.0), math.pi),
        Arc((7.0, 6.0), (3.0, 6.0), (5.0, 6.0), math.pi),
        Arc((3.0, 6.0), (9.0, 6.0), (6.0, 6.0), math.pi),
    )
    made = Stroke(StrokeId("s"), Curve(halves), "motif", True, "spiral", None, "spiral-1")
    words = told(sewn([*edge(12, 12), made], thread))
    which = "clockwise" if how == "outwards" else "anticlockwise"
    assert words[1] == f"spiral, {which}, {how}"


def test_lines_at_one_level_are_counted_once() -> None:
    # Two halves of one line at y = 4, with a gap; the line at y = 8 is the second.
    strokes = edge(20, 12)
    strokes += leaf_line("a", (0, 4), (8, 4), 2, 0.5) + leaf_line(
        "b", (12, 4.1), (20, 4.1), 2, 0.5
    )
    strokes += leaf_line("c", (0, 8), (20, 8), 5, 0.5)
    for thread, number in (("a0 a1", 1), ("b0 b1", 1), ("c0 c1 c2 c3 c4", 2)):
        assert told(sewn(strokes, thread))[1].startswith(f"leaf line {number}, left to right")


TURNED = {
    "left to right": "downwards",
    "right to left": "upwards",
    "downwards": "right to left",
    "upwards": "left to right",
    "down to the right": "down to the left",
    "down to the left": "up to the left",
    "up to the left": "up to the right",
    "up to the right": "down to the right",
}


def _turned(curve: Curve) -> Curve:
    """Return a curve turned by a quarter, x towards y, about the middle of a 12 in square."""

    def at(p: Point) -> Point:
        return (12.0 - p[1], p[0])

    parts = [
        Arc(at(s.start), at(s.end), at(s.centre), s.sweep_rad)
        if isinstance(s, Arc)
        else Line(at(s.start), at(s.end))
        for s in curve
    ]
    return Curve(tuple(parts))


def test_a_top_turned_by_a_quarter_is_told_turned() -> None:
    # A quarter turn carries right to down, down to left: every direction follows.
    strokes = leaves(3, 3)
    route = plan_route(network(strokes), MACHINE)
    turned = dataclasses.replace(
        route,
        network=network([dataclasses.replace(s, curve=_turned(s.curve)) for s in strokes]),
    )
    one, other = in_words(route, "in"), in_words(turned, "in")
    found = 0
    for a, b in zip(one[0], other[0], strict=True):
        ways = [w.strip() for part in a.text.split(", then ") for w in part.split(",")]
        then = [w.strip() for part in b.text.split(", then ") for w in part.split(",")]
        for way, after in zip(ways, then, strict=False):
            if way in TURNED:
                assert after == TURNED[way]
                found += 1
    assert found > 10


def test_every_step_is_told_once_and_every_run_lies_in_its_thread() -> None:
    route = plan_route(network(leaves(4, 3)), MACHINE)
    steps, runs = in_words(route, "in")
    legs = [leg.step for thread in route.threads for leg in thread.legs]
    assert [s.step for s in steps] == sorted(set(legs))
    assert all(s.text and math.isfinite(s.step) for s in steps)
    for number, thread in enumerate(route.threads):
        mine = [r for r in runs if r.thread == number]
        assert mine[0].first_step == thread.legs[0].step
        assert mine[-1].last_step == thread.legs[-1].step
        for before, after in itertools.pairwise(mine):
            # No step between two runs is left out.
            assert after.first_step in (before.last_step, before.last_step + 1)


def test_the_order_in_which_strokes_arrive_changes_no_word() -> None:
    strokes = leaves(3, 3)
    route = plan_route(network(strokes), MACHINE)
    shuffled = network(strokes[::-1])
    again = dataclasses.replace(route, network=shuffled)
    assert in_words(again, "in") == in_words(route, "in")


def test_a_stroke_of_no_patch_and_no_line_is_told_all_the_same() -> None:
    # Plans of other programs need not say where a stroke belongs.
    bend = Curve((Arc((4, 4), (6, 4), (5, 4.5), 1.0),))
    route = plan_route(network([Stroke(StrokeId("s"), bend, "motif", True)]), MACHINE)
    steps, runs = in_words(route, "in")
    assert [s.step for s in steps] == [1]
    assert "2 in" in steps[0].text
    assert len(runs) == 3
