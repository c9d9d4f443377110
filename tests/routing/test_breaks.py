"""Why a top has breaks: hand-made tops of which anyone can tell it."""

from tests.routing.instances import grid_lines, stroke
from tests.routing.sewn import MACHINE, sewn
from tests.routing.test_compare import ring

from seamwalk.routing.telling.breaks import breaks


def test_a_ring_that_no_ditch_joins() -> None:
    # A ring in patch 7, 1 in from its seams, without leads, and a ditch that hangs by the margin.
    strokes = [*grid_lines(2, 1, ditches=True, required=True), ring("a", 1, 1, 2, 7)]
    route = sewn(strokes, "v1,0", "a.1 a.2 a.3 a.4")
    found = breaks(route.network, route.threads, MACHINE, "in")
    assert found == (
        "The stitching is in 2 pieces that no ditch joins, so it takes at least 2 threads. Apart "
        "from the largest: outline in patch 7.",
    )


def test_more_threads_than_pieces() -> None:
    strokes = grid_lines(2, 2, ditches=True, required=True)
    route = sewn(strokes, "h0,1 h1,1", "v1,0 v1,1")
    found = breaks(route.network, route.threads, MACHINE, "in")
    assert len(found) == 1
    assert found[0] == (
        "One thread could sew it all; 2 are used, since starting anew was found quicker than the "
        "way there."
    )
    assert breaks(route.network, route.threads, MACHINE, "in", "lines") == (
        "One thread could sew it all; 2 are used, since each line was to have a thread of its "
        "own.",
    )


def test_one_thread_needs_no_reason() -> None:
    route = sewn(grid_lines(2, 2, ditches=True, required=True), "h0,1 h1,1")
    assert breaks(route.network, route.threads, MACHINE, "in") == ()


def test_free_ends_are_told() -> None:
    """A star of four strokes without a ditch: four free ends, so two threads (Euler)."""
    strokes = [
        stroke(f"s{k}", (10, 10), end)
        for k, end in enumerate([(13, 10), (10, 13), (7, 10), (10, 7)])
    ]
    route = sewn(strokes, "-s0 s2", "-s1 s3")
    (found,) = breaks(route.network, route.threads, MACHINE, "in")
    assert found.startswith(
        "At 4 places a stroke ends from where no ditch leads on, and at each a thread starts or "
        "stops, so it takes at least 2 threads: "
    )
    assert "could sew" not in found
