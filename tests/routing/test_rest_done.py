"""What another program kept count of: docs/file-formats.md says how often an edge may be sewn."""

import pytest
from tests.routing.instances import stroke
from tests.routing.test_rest import MACHINE, rest_of

from seamwalk.errors import UsageError
from seamwalk.model.route import Route
from seamwalk.model.stitching import StrokeKind
from seamwalk.routing.graph import network
from seamwalk.routing.rest.done import Said, progress
from seamwalk.routing.route import plan_route


def two(kind: StrokeKind) -> Route:
    strokes = [
        stroke("a", (0.0, 0.0), (4.0, 0.0), kind),
        stroke("b", (4.0, 0.0), (4.0, 4.0)),
    ]
    return plan_route(network(strokes), MACHINE)


@pytest.mark.parametrize(("kind", "most"), [("motif", 1), ("ditch", 2), ("edge", 2)])
def test_no_piece_was_sewn_more_often_than_it_may_be(kind: StrokeKind, most: int) -> None:
    route = two(kind)
    name = next(n for n, p in route.network.pieces.items() if p.stroke.id == "a")
    assert progress(route, Said(passes={name: most})).begun.done[name] == most
    with pytest.raises(UsageError, match="twice" if most == 1 else "3 times"):
        progress(route, Said(passes={name: most + 1}))


def test_passes_before_the_plan_count_too() -> None:
    route = two("ditch")
    name = next(n for n, p in route.network.pieces.items() if p.stroke.id == "a")
    rest = rest_of(progress(route, Said(passes={name: 1}))).route
    with pytest.raises(UsageError, match="twice, and once before the plan"):
        progress(rest, Said(passes={name: 2}))
