"""The rest of a plan in an order: the order stays, only what must change does."""

import itertools

import pytest
from tests.routing.instances import arches, leaves
from tests.routing.test_rest import MACHINE, legs_of, rest_of

from seamwalk.model.order import OrderName, OrderWish
from seamwalk.model.route import Route, Thread
from seamwalk.routing.graph import network
from seamwalk.routing.rest.done import Said, progress
from seamwalk.routing.route import plan_route

TOPS = {"arches": arches(7, 7), "leaves": leaves(6, 6)}


def joints(threads: tuple[Thread, ...]) -> set[frozenset[str]]:
    """Return the pairs of pieces that follow one another."""
    return {
        frozenset((a.piece, b.piece))
        for thread in threads
        for a, b in itertools.pairwise(thread.legs)
    }


def missed(route: Route, share: float) -> tuple[int, str]:
    """Return a step, and a piece at its end that the plan has later."""
    legs = legs_of(route)
    for at in range(int(share * len(legs)), len(legs)):
        if legs[at].step == legs[at - 1].step:
            continue
        last = route.network.pieces[legs[at - 1].piece]
        node = last.u if legs[at - 1].reverse else last.v
        for leg in legs[at + 1 :]:
            piece = route.network.pieces[leg.piece]
            if piece.stroke.kind == "motif" and node in (piece.u, piece.v):
                return legs[at - 1].step, str(piece.id)
    raise AssertionError("no turn to miss")


@pytest.mark.parametrize("name", TOPS)
@pytest.mark.parametrize("order", ["middle", "lines"])
def test_a_missed_turn_leaves_the_order(name: str, order: OrderName) -> None:
    wish = OrderWish(order)
    route = plan_route(network(TOPS[name]), MACHINE, order=wish)
    gains = []
    for share in (0.2, 0.4, 0.6):
        step, instead = missed(route, share)
        here = progress(route, Said(done_to=step, sewed=(instead,)))
        rest = rest_of(here, order=wish)
        assert rest.route.order == order
        gains.append(rest.old_s - rest.new_s if not rest.kept else 0.0)
        old, new = joints(here.earlier), joints(rest.route.threads)
        # Regression limits; no source.
        assert len(old & new) >= 0.95 * len(old)
        assert abs(len(rest.route.threads) - len(here.earlier)) <= 2
        # Threads come in the plan's order: each begins with what the plan has later.
        place = {leg.piece: i for i, leg in enumerate(legs_of(route))}
        firsts = [min(place[leg.piece] for leg in t.legs) for t in rest.route.threads[1:]]
        assert firsts == sorted(firsts)
    # A wrong turn inside leaves two ends to bury; joining them anew saves these.
    assert max(gains) > MACHINE.buried_end_s


@pytest.mark.parametrize("order", ["middle", "lines"])
def test_without_a_change_the_plan_stays(order: OrderName) -> None:
    wish = OrderWish(order)
    route = plan_route(network(TOPS["arches"]), MACHINE, order=wish)
    step = legs_of(route)[-1].step // 2
    rest = rest_of(progress(route, Said(done_to=step)), order=wish)
    assert rest.kept
    assert [(g.piece, g.reverse) for g in legs_of(rest.route)] == [
        (g.piece, g.reverse) for g in legs_of(route) if g.step > step
    ]
