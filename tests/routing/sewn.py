"""Routes written by hand: which strokes, in which order, each forwards or backwards."""

from collections.abc import Sequence

from seamwalk.model.machine import MachineProfile
from seamwalk.model.route import Leg, PieceId, Route, Thread
from seamwalk.model.stitching import Stroke
from seamwalk.routing.graph import network
from seamwalk.routing.totals import numbered, totals

MACHINE = MachineProfile()


def sewn(strokes: Sequence[Stroke], *threads: str) -> Route:
    """Return a route of threads like ``"a b -c"``: pieces in order, a minus for backwards."""
    made = network(strokes)
    found = [
        Thread(tuple(Leg(PieceId(w.lstrip("-")), w.startswith("-")) for w in thread.split()))
        for thread in threads
    ]
    found = numbered(made, found, MACHINE)
    return Route(made, tuple(found), totals(made, found, MACHINE, {}))
