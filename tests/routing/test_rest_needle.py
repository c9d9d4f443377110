"""Where the needle is: at a node, or part-way along what is being stitched."""

import math

import pytest
from tests.routing.instances import stroke
from tests.routing.test_rest import MACHINE, legs_of, rest_of

from seamwalk.errors import UsageError
from seamwalk.model.route import NodeId, Route
from seamwalk.routing.graph import network
from seamwalk.routing.rest.done import Said, progress
from seamwalk.routing.route import plan_route


def line() -> Route:
    """Return three half circles of 2 in radius side by side, from edge to edge."""
    arcs = [stroke(f"s{k}", (4.0 * k, 0), (4.0 * k + 4, 0), rise=2.0) for k in range(3)]
    edges = [
        stroke("left", (0, 0), (0, 8), "edge", required=False),
        stroke("right", (12, 0), (12, 8), "edge", required=False),
    ]
    route = plan_route(network([*arcs, *edges]), MACHINE)
    assert [leg.piece for leg in legs_of(route)] in (["s0", "s1", "s2"], ["s2", "s1", "s0"])
    return route


def test_near_a_node_it_is_there() -> None:
    route = line()
    first = legs_of(route)[0].piece
    here = progress(route, Said(done_to=1, needle=(8.1, 0.1)))
    assert here.network.nodes[here.begun.needle] == (8.0, 0.0)
    assert here.off_in == pytest.approx(math.hypot(0.1, 0.1))
    assert here.begun.done == {first: 1}


def test_part_way_along_an_arc_the_arc_is_cut_there() -> None:
    route = line()
    legs = legs_of(route)
    second = legs[1]
    # The top of the second half circle, whose middle is at 6, 0.
    up = route.network.pieces[second.piece].curve.pieces[0].at(0.5)
    here = progress(route, Said(done_to=1, needle=(up[0], up[1] + 0.1)))
    # Within the chords' tolerance, 0.005 in.
    assert here.off_in == pytest.approx(0.1, abs=5.1e-3)
    begun = here.begun
    x, y = here.network.nodes[begun.needle]
    assert (x, y) == pytest.approx(up, abs=0.1)
    assert second.piece not in here.network.pieces
    assert begun.runs
    # Along a half circle the way at the top is level, to the side that she sews to.
    assert math.cos(begun.heading_rad) == pytest.approx(-1.0 if second.reverse else 1.0, abs=1e-3)
    parts = [p for p in here.network.pieces.values() if p.stroke.id == second.piece]
    assert [p.curve.length for p in parts] == pytest.approx([math.pi, math.pi], abs=1e-2)
    done = {p.id for p in parts} & begun.done.keys()
    assert len(done) == 1
    rest = rest_of(here)
    assert rest.kept
    assert not done & {leg.piece for leg in legs_of(rest.route)}
    # Half an arc, a pivot of 180°, a whole arc, one end at the edge.
    seconds = 3 * math.pi * MACHINE.s_per_in + MACHINE.pivot_cost_s(180.0) + MACHINE.edge_end_s
    assert rest.new_s == pytest.approx(seconds, abs=0.1)
    # And once more, part-way along what is left of it.
    leg = legs_of(rest.route)[0]
    middle = rest.route.network.pieces[leg.piece].curve.pieces[0].at(0.5)
    again = progress(rest.route, Said(done_to=0, needle=middle))
    assert again.begun.needle != begun.needle
    rest_of(again)


def test_a_ditch_part_way_keeps_its_second_pass() -> None:
    strokes = [
        stroke("d", (0, 0), (8, 0), "ditch"),
        stroke("m", (8, 0), (8, 6), rise=1.0),
        stroke("k", (0, 0), (0, 6), rise=1.0),
    ]
    route = plan_route(network(strokes), MACHINE)
    here = progress(route, Said(also_done=("k",), needle=(3.0, 0.2)))
    first = next(n for n in here.begun.done if n.startswith("d."))
    assert here.begun.done == {"k": 1, first: 1}
    assert not here.network.pieces[first].stroke.required
    rest = rest_of(here)
    assert [leg.piece[0] for leg in legs_of(rest.route)] == ["d", "m"]


def test_far_from_everything_it_is_at_the_nearest_node_and_says_how_far() -> None:
    here = progress(line(), Said(done_to=1, needle=(8.5, 6.0)))
    assert here.off_in == pytest.approx(math.dist((8.5, 6.0), (12, 8)), abs=1e-9)


def test_a_node_by_name() -> None:
    route = line()
    name = next(n for n, xy in route.network.nodes.items() if xy == (8.0, 0.0))
    assert progress(route, Said(done_to=1, needle=name)).begun.needle == name
    with pytest.raises(UsageError, match="no node"):
        progress(route, Said(done_to=1, needle=NodeId("n99")))


@pytest.mark.parametrize("place", [(-1.5, 0.0), (3.0, 40.0)])
def test_off_the_quilt(place: tuple[float, float]) -> None:
    with pytest.raises(UsageError, match="off the quilt"):
        progress(line(), Said(done_to=1, needle=place))


def test_off_the_quilt_is_told_in_her_units() -> None:
    # 40 in are 101.6 cm exactly (international agreement, 1959).
    with pytest.raises(UsageError, match=r"needle at 7\.6, 101\.6 cm would .* to 30\.5, 20\.3 cm"):
        progress(line(), Said(done_to=1, needle=(3.0, 40.0), units="cm"))


def test_errors_say_what_is_unknown() -> None:
    route = line()
    with pytest.raises(UsageError, match="no step 9: its steps go from 1 to 3"):
        progress(route, Said(done_to=9))
    with pytest.raises(UsageError, match="no piece, stroke or step “zz”"):
        progress(route, Said(done_to=1, also_done=("zz",)))
    with pytest.raises(UsageError, match="Everything on this plan is done"):
        progress(route, Said(done_to=3))
