"""Going on from the middle: the rest is the best one, and nothing sewn is sewn again."""

import dataclasses
import math
from collections import Counter

import numpy as np
import pytest
from tests.routing.instances import arches, grid_lines, irregular, leaves, on_point, stroke
from tests.routing.rules import broken_rules
from tests.routing.small import optimum
from tests.routing.test_exactness import tiny

from seamwalk.errors import UsageError
from seamwalk.files.plan_file import to_document
from seamwalk.model.machine import MachineProfile
from seamwalk.model.route import Begun, NodeId, PieceId, Route
from seamwalk.model.stitching import StrokeKind
from seamwalk.routing.audit import audit
from seamwalk.routing.graph import network
from seamwalk.routing.rest.done import Progress, Said, progress
from seamwalk.routing.rest.rest import Rest, plan_rest
from seamwalk.routing.route import plan_route

MACHINE = MachineProfile()
TOPS = {
    "arches": arches(5, 5),
    "on point": on_point(4, 4),
    "leaves": leaves(4, 4),
    "irregular": irregular(60, np.random.default_rng(3)),
    "ditches": grid_lines(5, 4, ditches=True, required=True),
}


def legs_of(route: Route):
    return [leg for thread in route.threads for leg in thread.legs]


def last_step(route: Route) -> int:
    return legs_of(route)[-1].step


def rest_of(here: Progress, machine: MachineProfile = MACHINE, **kwargs) -> Rest:
    """Return the rest, audited and checked by the rules of the file."""
    rest = plan_rest(here.network, machine, here.begun, here.earlier, **kwargs)
    report = audit(rest.route, machine)
    assert report.valid, report.errors
    document = to_document(rest.route).model_dump(mode="json", by_alias=True)
    assert broken_rules(document) == []
    return rest


def cost_s(route: Route) -> float:
    left_out = ("quilt turns", "bobbin changes")
    return 60 * math.fsum(v for k, v in route.totals.minutes.items() if k not in left_out)


@pytest.mark.parametrize("seed", range(40))
def test_the_rest_of_a_half_done_route_is_the_optimum(seed: int) -> None:
    # Every way to go on, tried one after the other (tests/routing/small.py), which knows of no
    # turns of the quilt.
    machine = dataclasses.replace(MACHINE, quilt_turn_s=0.0)
    route = plan_route(tiny(seed), machine)
    steps = last_step(route)
    rng = np.random.default_rng(seed)
    step = int(rng.integers(0, steps))
    # Whoever sewed something else meanwhile leaves a rest that no plan foresaw.
    sewn = {leg.piece for leg in legs_of(route) if leg.step <= step}
    other = [n for n, p in route.network.pieces.items() if n not in sewn]
    sewed = (str(rng.choice(other)),) if seed % 2 and other else ()
    try:
        here = progress(route, Said(done_to=step, sewed=sewed))
    except UsageError:
        # That was all there was.
        here = progress(route, Said(done_to=0))
    begun = here.begun
    best = optimum(
        here.network,
        machine,
        {str(n): k for n, k in begun.done.items()},
        (begun.needle, begun.heading_rad) if begun.runs else None,
    ).connected_s
    proven = rest_of(here, machine, time_limit_s=20.0)
    # Near: a rest that gains less than a second is not worth a change.
    assert proven.new_s == pytest.approx(best, rel=2e-5, abs=1e-3)
    assert cost_s(proven.route) <= best + 1.0 + 1e-3
    assert 60 * proven.route.totals.lower_bounds["minutes"] == pytest.approx(best, abs=1e-2)
    assert cost_s(rest_of(here, machine).route) >= best - 1e-3


@pytest.mark.parametrize("name", TOPS)
@pytest.mark.parametrize("share", [0.0, 0.3, 0.7])
def test_nothing_sewn_is_sewn_again(name: str, share: float) -> None:
    route = plan_route(network(TOPS[name]), MACHINE)
    step = int(share * last_step(route))
    here = progress(route, Said(done_to=step))
    rest = rest_of(here)
    before = Counter(leg.piece for leg in legs_of(route) if leg.step <= step)
    after = Counter(leg.piece for leg in legs_of(rest.route))
    for piece in route.network.pieces.values():
        n = before[piece.id] + after[piece.id]
        assert n <= (1 if piece.stroke.kind == "motif" else 2)
        assert n >= piece.stroke.required
    # With nothing done otherwise the old rest is a way to go on, so the new one costs no more.
    turns_s = rest.route.totals.quilt_turns * MACHINE.quilt_turn_s
    assert cost_s(rest.route) + turns_s <= rest.old_s + 1e-6
    # What was sewn and what is left cost no more than the whole plan.
    assert sum(before.values()) == sum(rest.route.begun.done.values())


@pytest.mark.parametrize("name", TOPS)
def test_the_running_thread_goes_on_from_the_needle_without_an_end(name: str) -> None:
    route = plan_route(network(TOPS[name]), MACHINE)
    thread = max(route.threads, key=lambda t: len(t.legs))
    at = len(thread.legs) // 2
    while thread.legs[at].step == thread.legs[at - 1].step:
        at += 1
    rest = rest_of(progress(route, Said(done_to=thread.legs[at - 1].step)))
    begun = rest.route.begun
    assert begun.runs
    assert begun.goes_on
    last = thread.legs[at - 1]
    piece = route.network.pieces[last.piece]
    assert begun.needle == (piece.u if last.reverse else piece.v)
    first = rest.route.threads[0].legs[0]
    piece = rest.route.network.pieces[first.piece]
    assert begun.needle == (piece.v if first.reverse else piece.u)
    totals = rest.route.totals
    assert totals.buried_ends + totals.edge_ends == 2 * len(rest.route.threads) - 1


def test_a_cut_thread_pays_for_a_new_start() -> None:
    # One line of three strokes, from edge to edge; the first is sewn.
    line = [stroke(f"s{k}", (4.0 * k, 0), (4.0 * k + 4, 0), rise=1.0) for k in range(3)]
    edge = stroke("e", (12, 0), (12, 8), "edge", required=False)
    route = plan_route(network([*line, edge]), MACHINE)
    order = [leg.piece for leg in legs_of(route)]
    done = Said(also_done=("s0",), needle=(4.0, 0.0))
    # By hand: 2 arcs, one turn between them, one end at the edge; cut: a buried start besides.
    runs = rest_of(progress(route, dataclasses.replace(done, runs=True)))
    cut = rest_of(progress(route, dataclasses.replace(done, runs=False)))
    assert order in (["s0", "s1", "s2"], ["s2", "s1", "s0"])
    assert [leg.piece for leg in legs_of(runs.route)] == ["s1", "s2"]
    turn_deg = 4 * math.degrees(math.atan2(2 * 1.0, 4.0))
    one_s = next(iter(runs.route.network.pieces.values())).curve.length * MACHINE.s_per_in
    pivot_s = MACHINE.pivot_cost_s(turn_deg)
    assert cut.new_s == pytest.approx(
        2 * one_s + pivot_s + MACHINE.buried_end_s + MACHINE.edge_end_s, abs=1e-6
    )
    assert runs.new_s == pytest.approx(2 * one_s + 2 * pivot_s + MACHINE.edge_end_s, abs=1e-6)
    assert (runs.route.totals.edge_ends, runs.route.totals.buried_ends) == (1, 0)
    assert (cut.route.totals.edge_ends, cut.route.totals.buried_ends) == (1, 1)


def test_a_thread_with_nothing_left_near_it_is_cut_there() -> None:
    # Two rings that nothing joins: one done, the thread not yet cut.
    rings = [
        stroke(f"{name}{k}", (x, y), (x, y + 4.0), rise=r)
        for name, x, y in (("a", 0.0, 0.0), ("b", 30.0, 30.0))
        for k, r in enumerate((1.0, -1.0))
    ]
    route = plan_route(network(rings), MACHINE)
    rest = rest_of(progress(route, Said(also_done=("a0", "a1"), runs=True)))
    assert not rest.route.begun.goes_on
    assert len(rest.route.threads) == 1
    assert rest.route.totals.buried_ends == 3


def test_a_ditch_sewn_before_has_one_pass_left() -> None:
    # Between two loops a ditch; sewn twice already it can't carry the thread any more.
    loops = [
        stroke(f"{name}{k}", (x, 0.0), (x + d, 3.0), rise=r)
        for name, x, d in (("a", 0.0, -1.0), ("b", 8.0, 1.0))
        for k, r in enumerate((1.0, -1.0))
    ]
    route = plan_route(
        network([*loops, stroke("d", (0, 0), (8, 0), "ditch", required=False)]), MACHINE
    )
    once = rest_of(progress(route, Said(also_done=("d",))))
    twice = rest_of(progress(route, Said(also_done=("d", "d"))))
    assert len(once.route.threads) == 1
    assert Counter(leg.piece for leg in legs_of(once.route))["d"] == 1
    assert len(twice.route.threads) == 2
    assert Counter(leg.piece for leg in legs_of(twice.route))["d"] == 0


@pytest.mark.parametrize("name", TOPS)
def test_the_old_rest_is_kept_when_nothing_is_better(name: str) -> None:
    route = plan_route(network(TOPS[name]), MACHINE, time_limit_s=3.0)
    for share in (0.2, 0.6):
        step = int(share * last_step(route))
        here = progress(route, Said(done_to=step))
        rest = rest_of(here)
        left = [(g.piece, g.reverse) for g in legs_of(route) if g.step > step]
        assert rest.kept == (rest.old_s <= rest.new_s + 1.0)
        if rest.kept:
            assert [(g.piece, g.reverse) for g in legs_of(rest.route)] == left
    # These two have no better rest: their routes are proven, and so is each part of a best path.
    assert rest.kept or name not in ("arches", "ditches")


def test_after_a_wrong_turn_the_new_rest_is_no_worse_than_the_old() -> None:
    route = plan_route(network(TOPS["arches"]), MACHINE)
    legs = legs_of(route)
    better = 0
    for at in range(10, 80, 10):
        while legs[at].step == legs[at - 1].step:
            at += 1
        done = {leg.piece for leg in legs[:at]}
        last = legs[at - 1]
        piece = route.network.pieces[last.piece]
        node = piece.u if last.reverse else piece.v
        wrong = [
            n
            for n, p in route.network.pieces.items()
            if p.stroke.required and n not in done and n != legs[at].piece and node in (p.u, p.v)
        ]
        for name in wrong:
            rest = rest_of(progress(route, Said(done_to=last.step, sewed=(str(name),))))
            better += rest.new_s < rest.old_s - 1.0
            assert name not in {leg.piece for leg in legs_of(rest.route)}
            assert rest.route.totals.lower_bounds["minutes"] * 60 <= rest.old_s + 1e-6
    assert better


@pytest.mark.parametrize("name", TOPS)
def test_twice_in_a_row(name: str) -> None:
    route = plan_route(network(TOPS[name]), MACHINE)
    sewn: Counter[PieceId] = Counter()
    now = route
    for _ in range(3):
        step = max(1, last_step(now) // 3)
        sewn.update(leg.piece for leg in legs_of(now) if leg.step <= step)
        now = rest_of(progress(now, Said(done_to=step))).route
        assert now.begun.done == dict(sewn)
    sewn.update(leg.piece for leg in legs_of(now))
    for piece in route.network.pieces.values():
        most = 1 if piece.stroke.kind == "motif" else 2
        assert piece.stroke.required <= sewn[piece.id] <= most


def test_what_was_left_out_is_still_to_be_sewn_even_in_the_rest_of_a_rest() -> None:
    route = plan_route(network(TOPS["arches"]), MACHINE)
    missed = legs_of(route)[3].piece
    here = progress(route, Said(done_to=8, not_done=(str(missed),)))
    assert here.network.pieces[missed].stroke.required
    rest = rest_of(here).route
    assert missed in {leg.piece for leg in legs_of(rest)}
    done = next(n for n in here.begun.done if n in here.begun.wanted)
    again = progress(rest, Said(done_to=0, not_done=(str(done),)))
    assert again.network.pieces[done].stroke.required
    assert done in {leg.piece for leg in legs_of(rest_of(again).route)}


def test_steps_by_number_and_strokes_by_name_are_their_pieces() -> None:
    route = plan_route(network(TOPS["ditches"]), MACHINE)
    third = {leg.piece for leg in legs_of(route) if leg.step == 3}
    here = progress(route, Said(done_to=5, not_done=("3",)))
    assert not third & set(here.begun.done)
    piece = next(iter(route.network.pieces.values()))
    here = progress(route, Said(also_done=(str(piece.stroke.id),)))
    assert here.begun.done == {
        n: 1 for n, p in route.network.pieces.items() if p.stroke.id == piece.stroke.id
    }


def test_the_same_rest_each_time() -> None:
    route = plan_route(network(TOPS["irregular"]), MACHINE)
    said = Said(done_to=last_step(route) // 2)
    assert rest_of(progress(route, said)) == rest_of(progress(route, said))


def test_the_audit_counts_what_was_done_before() -> None:
    route = plan_route(network(TOPS["arches"]), MACHINE)
    rest = rest_of(progress(route, Said(done_to=9))).route
    begun = rest.begun

    def errors(**changes: object) -> str:
        wrong = dataclasses.replace(rest, begun=dataclasses.replace(begun, **changes))
        return " ".join(audit(wrong, MACHINE).errors)

    first = rest.threads[0].legs[0].piece
    assert "sewn before and must be" in errors(done={**begun.done, first: 1})
    elsewhere = next(n for n in rest.network.nodes if n != begun.needle)
    assert "goes on from" in errors(needle=elsewhere)
    assert "cut" in errors(runs=False)
    assert "not there" in errors(done={**begun.done, PieceId("zz"): 1})
    # A start that was there before is no end, and turning off there counts.
    assert "ends 1, but it is" in errors(goes_on=False)
    assert "turning" in errors(heading_rad=begun.heading_rad + 0.5)


@pytest.mark.parametrize(("kind", "before", "most"), [("motif", 1, 1), ("ditch", 2, 2)])
def test_the_audit_knows_what_is_sewn_too_often(kind: StrokeKind, before: int, most: int) -> None:
    line = [stroke(f"s{k}", (4.0 * k, 0), (4.0 * k + 4, 0), kind, rise=1.0) for k in range(2)]
    route = plan_route(network(line), MACHINE)
    optional = {
        n: dataclasses.replace(p, stroke=dataclasses.replace(p.stroke, required=False))
        for n, p in route.network.pieces.items()
    }
    begun = Begun({PieceId("s0"): before}, frozenset(), NodeId("n1"), 0.0, runs=False)
    wrong = dataclasses.replace(
        route, network=dataclasses.replace(route.network, pieces=optional), begun=begun
    )
    said = f"s0 ({kind}) is stitched {before + 1} times, not {most} at most"
    assert any(said in e for e in audit(wrong, MACHINE).errors)


def test_the_bobbin_in_the_machine_is_not_full() -> None:
    # 30 half circles in a row, and a bobbin that sews five of them.
    machine = dataclasses.replace(MACHINE, bobbin_reserve=0.0)
    arc_in = 2 * math.pi
    scale = 5.1 * arc_in / machine.in_per_bobbin
    machine = dataclasses.replace(machine, bobbin_m=machine.bobbin_m * scale)
    line = [stroke(f"s{k}", (4.0 * k, 0), (4.0 * k + 4, 0), rise=2.0) for k in range(30)]
    route = plan_route(network(line), machine)
    assert [c.step for c in route.bobbin_changes] == [6, 11, 16, 21, 26]
    # Seven are sewn, so the second bobbin has sewn two and stops after three more.
    here = progress(route, Said(done_to=7))
    assert here.begun.bobbin_in == pytest.approx(2 * arc_in)
    rest = rest_of(here, machine).route
    assert [c.step for c in rest.bobbin_changes] == [4, 9, 14, 19]
    # Two more are sewn of these, then there is enough for one.
    again = rest_of(progress(rest, Said(done_to=2)), machine).route
    assert again.begun.bobbin_in == pytest.approx(4 * arc_in)
    assert again.bobbin_changes[0].step == 2
    # An empty one is changed before the first stitch.
    empty = dataclasses.replace(here.begun, bobbin_in=9e3)
    rest = rest_of(dataclasses.replace(here, begun=empty), machine).route
    assert [(c.step, c.where) for c in rest.bobbin_changes[:1]] == [(1, "inside")]
    late = dataclasses.replace(again, begun=dataclasses.replace(again.begun, bobbin_in=5 * arc_in))
    assert any("runs out before change 1" in e for e in audit(late, machine).errors)


def test_a_step_left_out_takes_one_pass_of_a_ditch_away() -> None:
    # Two loops with a ditch between them, sewn there and back: out of one loop, and into it.
    loops = [
        stroke(f"{name}{k}", (x, 0.0), (x + d, 3.0), rise=r)
        for name, x, d in (("a", 0.0, -1.0), ("b", 8.0, 1.0))
        for k, r in enumerate((1.0, -1.0))
    ]
    more = [stroke("c", (0.0, 0.0), (-4.0, 0.0), rise=1.0), stroke("e", (0, 0), (0, -3), rise=1.0)]
    route = plan_route(
        network([*loops, *more, stroke("d", (0, 0), (8, 0), "ditch", required=False)]), MACHINE
    )
    steps = [leg.step for leg in legs_of(route) if leg.piece == "d"]
    assert len(steps) == 2
    here = progress(route, Said(done_to=steps[-1], not_done=(str(steps[-1]),)))
    assert here.begun.done["d"] == 1
    here = progress(route, Said(done_to=steps[-1], not_done=("d",)))
    assert "d" not in here.begun.done
