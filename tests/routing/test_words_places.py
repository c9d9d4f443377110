"""Where named patches lie, and where the bobbin is changed, in the path's words.

Expected sentences are read off the coordinates given, x to the right and y downwards; that a place
is told by its block or by the tape is common practice, no source.
"""

import dataclasses

from tests.routing.sewn import sewn
from tests.routing.test_bobbins import row
from tests.routing.test_words import MACHINE, edge, leaf_line, piece

from seamwalk.files.plan_file import to_document, to_route
from seamwalk.model.route import BobbinChange, Route
from seamwalk.model.sizes import BlockSize, Length
from seamwalk.model.stitching import Stroke
from seamwalk.routing.telling.words import in_words
from seamwalk.routing.totals import totals


def blocks(side: float, columns: int, rows: int, angle_deg: float = 0.0) -> BlockSize:
    size = Length(side, 0.1)
    return BlockSize(
        size, size, (side, side), 1.0, columns, rows, (0.0, 0.0), 1.0, angle_deg=angle_deg
    )


def arch(patch: int, x: float, y: float) -> Stroke:
    return piece(f"p{patch}", (x, y), (x + 2, y), motif="arches", patch=patch, rise=0.4)


def test_a_patch_is_told_by_its_block() -> None:
    # Blocks of 10 in: x 13 to 15 is the second column, y 22 the third row.
    route = sewn([*edge(40, 40), arch(7, 13, 22)], "p7")
    runs = in_words(route, "in", blocks(10, 4, 4))[1]
    assert [r.place for r in runs] == ["", "block 2 across, 3 down", ""]


def test_a_patch_outside_the_blocks_or_without_any_is_told_by_the_tape() -> None:
    # The arch's chord has its middle at (14, 22); 14 in are 35.56 cm, 22 in are 55.88 cm.
    route = sewn([*edge(40, 40), arch(7, 13, 22)], "p7")
    for block in (None, blocks(10, 1, 1), blocks(10, 4, 2), blocks(10, 4, 4, angle_deg=45.0)):
        assert (
            in_words(route, "in", block)[1][1].place == "14 in from the left, 22 in from the top"
        )
    assert in_words(route, "cm")[1][1].place == "36 cm from the left, 56 cm from the top"


def test_what_runs_from_block_to_block_is_told_by_both() -> None:
    # Arches at x 8 and 10 on both sides of the seam at x = 10.
    strokes = [*edge(40, 40), arch(7, 8, 22), arch(8, 10, 22)]
    runs = in_words(sewn(strokes, "p7 p8"), "in", blocks(10, 4, 4))[1]
    assert runs[1].place == "block 1 across, 3 down, to block 2 across, 3 down"


def test_a_line_that_no_finger_counts_names_its_patches() -> None:
    # Two arches end to end over sides of two patches, along no seam that is counted.
    strokes = [*edge(40, 40), arch(7, 13, 22), arch(8, 15, 22)]
    runs = in_words(sewn(strokes, "p7 p8"), "in", blocks(10, 4, 4))[1]
    assert runs[1].text.startswith(
        "arches in patches 7 and 8, left to right, all arcs below, 4 in"
    )
    assert runs[1].place == "block 2 across, 3 down"


def test_a_numbered_line_needs_no_place() -> None:
    strokes = [*edge(12, 16), *leaf_line("a", (0, 4), (12, 4), 3, 0.5)]
    assert {r.place for r in in_words(sewn(strokes, "a0 a1 a2"), "in", blocks(4, 3, 4))[1]} == {""}


def changed(route: Route, *changes: BobbinChange) -> Route:
    return dataclasses.replace(route, bobbin_changes=changes)


def test_the_bobbin_is_changed_before_the_thread_that_needs_it() -> None:
    strokes = edge(12, 16)
    for name, y in (("a", 4.0), ("b", 8.0)):
        strokes += leaf_line(name, (0, y), (12, y), 3, 0.5)
    route = sewn(strokes, "a0 a1 a2", "b0 b1 b2")
    step = route.threads[1].legs[0].step
    change = BobbinChange(1, 0, step, (0.0, 8.0), 12.0, "thread end")
    steps, runs = in_words(changed(route, change), "in")
    mine = [(r.first_step, r.text) for r in runs if r.thread == 1]
    assert mine[:2] == [
        (step, "change to bobbin 2"),
        (step, "start at the left edge, 8 in from the top"),
    ]
    assert steps[step - 1].text.startswith("change to bobbin 2, then leaf line 2, left to right")


def test_a_change_in_the_middle_of_a_line_parts_it() -> None:
    # Of three arcs over 4 in each the first is sewn before the change.
    strokes = [*edge(12, 16), *leaf_line("a", (0, 4), (12, 4), 3, 0.5)]
    route = sewn(strokes, "a0 a1 a2")
    leg = route.threads[0].legs[1]
    first_in = route.network.pieces[route.threads[0].legs[0].piece].curve.length
    change = BobbinChange(0, 1, leg.step, (4.0, 4.0), first_in, "inside")
    steps, runs = in_words(changed(route, change), "in")
    assert [r.text for r in runs][1:4] == [
        "leaf line 1, left to right, arc below, 4 in of it",
        "change to bobbin 2: bury both ends",
        "leaf line 1, left to right, arcs alternate, start above, 8 in of it",
    ]
    assert [s.step for s in steps] == sorted({g.step for g in route.threads[0].legs})
    # The arcs run straight on: the change is on the way of their one step.
    assert steps[0].text.endswith("on the way change to bobbin 2: bury both ends")


def test_every_planned_change_is_told_once() -> None:
    # 4 m less 10 % reach 82.2 in (test_bobbins): a piece of 200 in is interrupted twice.
    from seamwalk.routing.bobbins import bobbin_changes

    machine = dataclasses.replace(MACHINE, bobbin_m=4.0)
    net, threads = row([30.0, 200.0, 30.0, 30.0], cuts={3}, bends={1, 2})
    changes = bobbin_changes(net, threads, machine)
    route = Route(net, tuple(threads), totals(net, threads, machine, {}, changes), changes)
    steps, runs = in_words(route, "in")
    said = [r.text.split()[3].rstrip(":,") for r in runs if r.text.startswith("change to bobbin")]
    assert said == [str(k) for k in range(2, len(changes) + 2)]
    assert sum(s.text.count("change to bobbin") for s in steps) == len(changes)
    assert any("of what comes now are sewn" in r.text for r in runs)


def test_places_and_changes_are_in_the_plan_file() -> None:
    route = sewn([*edge(40, 40), arch(7, 13, 22)], "p7")
    steps, runs = in_words(route, "in", blocks(10, 4, 4))
    route = dataclasses.replace(route, steps=steps, runs=runs)
    assert to_route(to_document(route)).runs == runs
