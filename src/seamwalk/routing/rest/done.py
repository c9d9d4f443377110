"""What is done and where the needle is, from what she says of a plan.

She speaks in the plan's own names: steps by number, pieces or whole strokes by name.  What she
doesn't say follows from the plan: the needle is where the last thing sewn ends, and the thread
runs unless that was the end of a thread.
"""

import itertools
import math
from collections import Counter
from collections.abc import Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field

from seamwalk.errors import UsageError
from seamwalk.geometry.curve import Point
from seamwalk.model.route import Begun, Leg, Network, NodeId, PieceId, Route, Thread
from seamwalk.routing.rest.legs import Row, ends, in_step, joined_up, named, split_up, where
from seamwalk.routing.rest.needle import needle_at
from seamwalk.routing.rest.pieces import Done, cut_through, split_at, with_required
from seamwalk.units import Units

MOST_PASSES = {"motif": 1, "ditch": 2, "edge": 2}
"""How often each kind of piece is sewn at most, as docs/file-formats.md promises."""


@dataclass(frozen=True, slots=True)
class Said:
    """What she says.

    Attributes
    ----------
    done_to : int
        Every step up to and including this one is done.
    passes : dict
        How often each piece was sewn since the plan was made, where another program kept count.
    not_done : tuple of str
        Pieces or strokes of those steps that were left out, by name, or whole steps by number.
    also_done : tuple of str
        Pieces or strokes of later steps that are done, or whole steps by number.
    sewed : tuple of str
        What was sewn since then instead, in order.
    needle : (x, y) or NodeId or None
        Where the needle is, inches.
    runs : bool or None
        The thread was not cut.
    units : {"in", "cm"}
        That she is answered in.
    """

    done_to: int = 0
    passes: dict[str, int] = field(default_factory=dict)
    not_done: tuple[str, ...] = ()
    also_done: tuple[str, ...] = ()
    sewed: tuple[str, ...] = ()
    needle: Point | NodeId | None = None
    runs: bool | None = None
    units: Units = "in"


@dataclass(frozen=True, slots=True)
class Progress:
    """A plan half sewn.

    Attributes
    ----------
    network : Network
        What was sewn is not required any more; the piece under the needle is cut in two.
    begun : Begun
        What was sewn, and where the needle is.
    earlier : tuple of Thread
        What the plan has left, the interrupted thread first.
    off_in : float
        How far the needle was said to be from where it is taken to be, inches.
    """

    network: Network
    begun: Begun
    earlier: tuple[Thread, ...]
    off_in: float


def progress(route: Route, said: Said) -> Progress:
    """Return what is done of `route` and what it has left.

    Raises
    ------
    UsageError
        If a step, a piece or a place is not of this plan, a piece is said to be sewn more often
        than it can be, or nothing is left to sew.
    """
    pieces = route.network.pieces
    in_steps = [n for name in said.not_done for n in in_step(route, name)]
    by_name = [name for name in said.not_done if not in_step(route, name)]
    put_off = frozenset(named(route, by_name))
    on_plan = _on_plan(route, said)
    # Of a ditch that other steps pass too, one pass is left out, not all.
    on_plan = Counter({n: k for n, k in on_plan.items() if n not in put_off}) - Counter(in_steps)
    sewn = Counter(on_plan)
    for name in named(route, said.also_done):
        if pieces[name].stroke.kind != "motif" or not sewn[name]:
            sewn[name] += 1
    last, left = split_up(route, on_plan)
    at = last.leg if last else None
    here, heading = where(route, at)
    instead = joined_up(route.network, named(route, said.sewed), here)
    sewn.update(leg.piece for leg in instead)
    # A stroke sewn out of turn is not sewn again; a ditch may still serve for travel.
    gone = {n for n, k in sewn.items() if k and pieces[n].stroke.kind == "motif"}
    left = [row for row in left if row.leg.piece not in gone]
    done = _done(route, sewn, put_off, left, last)
    if not any(p.stroke.required for p in done.network.pieces.values()):
        raise UsageError(
            "Everything on this plan is done.", "If something is left, name it with --not-done."
        )
    coming = [row.leg for row in left if last and row.thread == last.thread and row.at > last.at]
    if instead:
        here, heading = where(route, instead[-1])
    runs = bool(instead or coming) or (last is None and bool(route.begun and route.begun.runs))
    off_in = 0.0
    bobbin_in = _on_bobbin(route, sewn, last)
    if said.needle is not None:
        if last is None:
            coming = [row.leg for row in left[:1]]
        planned = Leg(coming[0].piece, coming[0].reverse) if coming and not instead else None
        under = _leaving(done, here, planned)
        found = needle_at(done.network, said.needle, under, planned, units=said.units)
        off_in = found.off_in
        if found.leg is not None:
            cut = split_at(done.network, found.leg, found.along_in)
            done = cut_through(done, cut)
            here, heading, runs = cut.node, cut.heading_rad, True
            bobbin_in += cut.sewn.curve.length
        elif found.node != here:
            heading = _comes_in(route, instead, done, found.node, here, heading)
            here = found.node
    runs = runs if said.runs is None else said.runs
    begun = Begun(done.passes, done.wanted, here, heading, runs, bobbin_in=bobbin_in)
    threads = tuple(Thread(legs) for legs in done.left if legs)
    return Progress(done.network, begun, threads, off_in)


def _on_plan(route: Route, said: Said) -> Counter[PieceId]:
    """Return how often each piece was sewn as the plan says."""
    legs = [leg for thread in route.threads for leg in thread.legs]
    if not legs:
        raise UsageError(
            "This plan has no thread: there is nothing to go on from.",
            "Make the plan again with seamwalk plan.",
        )
    most = max(leg.step for leg in legs)
    if not 0 <= said.done_to <= most:
        raise UsageError(
            f"This plan has no step {said.done_to}: its steps go from 1 to {most}.",
            "Give the number of the last step that you sewed, as on overlay.jpg.",
        )
    out = Counter(leg.piece for leg in legs if leg.step <= said.done_to)
    for name, passes in said.passes.items():
        for part in named(route, (name,)):
            _check_passes(route, part, passes)
            out[part] = passes
    return out


def _check_passes(route: Route, name: PieceId, passes: int) -> None:
    """Raise if a piece can't have been sewn so often, with what was sewn before the plan."""
    kind = route.network.pieces[name].stroke.kind
    before = route.begun.done.get(name, 0) if route.begun else 0
    if before + passes > MOST_PASSES[kind]:
        also = f", and {_times(before)} before the plan" if before else ""
        raise UsageError(
            f"“{name}” is said to be sewn {_times(passes)}{also}, but a stroke of its kind is "
            f"sewn {_times(MOST_PASSES[kind])} at most.",
            "Correct its passes in the list of what is done, or say --done-to instead.",
        )


def _times(number: int) -> str:
    return {1: "once", 2: "twice"}.get(number, f"{number} times")


def _on_bobbin(route: Route, sewn: Counter[PieceId], last: Row | None) -> float:
    """Return how much path the bobbin in the machine has sewn, inches."""
    total = math.fsum(route.network.pieces[n].curve.length * k for n, k in sewn.items())
    starts = list(itertools.accumulate((len(t.legs) for t in route.threads), initial=0))
    made = [
        change.sewn_in
        for change in route.bobbin_changes
        if last is not None and starts[change.thread] + change.leg <= last.at
    ]
    before = route.begun.bobbin_in if route.begun and not made else 0.0
    return max(0.0, before + total - max(made, default=0.0))


def _done(
    route: Route,
    sewn: Counter[PieceId],
    put_off: AbstractSet[PieceId],
    left: Sequence[Row],
    last: Row | None,
) -> Done:
    """Return what is done, with what was done before the plan began."""
    before: Counter[PieceId] = Counter(route.begun.done if route.begun else {})
    wanted = route.begun.wanted if route.begun else frozenset()
    for name in put_off:
        del before[name]
    passes = {n: k for n, k in (before + sewn).items() if k > 0}
    pieces = route.network.pieces
    threads: dict[tuple[bool, bool, int], list[Leg]] = {}
    for row in left:
        # First what goes on from the needle; what she left out is a thread of its own.
        now = last is not None and row.thread == last.thread
        missed = last is not None and now and row.at < last.at
        threads.setdefault((not now or missed, not missed, row.thread), []).append(row.leg)
    return Done(
        network=with_required(route.network, passes.keys(), put_off & wanted),
        passes=passes,
        wanted=frozenset(n for n in passes if n in wanted or pieces[n].stroke.required),
        left=tuple(tuple(threads[key]) for key in sorted(threads)),
    )


def _leaving(done: Done, here: NodeId, planned: Leg | None) -> list[Leg]:
    """Return what she may be stitching: the plan's next leg, and all else that leaves there."""
    out = [planned] if planned else []
    for name, piece in done.network.pieces.items():
        if piece.stroke.kind != "motif" or name not in done.passes:
            out += [Leg(name, r) for r in (False, True) if ends(piece, r)[0] == here]
    return list(dict.fromkeys(out))


def _comes_in(
    route: Route,
    instead: Sequence[Leg],
    done: Done,
    node: NodeId,
    here: NodeId,
    heading_rad: float,
) -> float:
    """Return the direction in which the needle came to a node where nothing sewn last ends.

    That of the last piece done that ends there, else straight from where the last one ended.
    """
    network = route.network
    legs = [leg for thread in route.threads for leg in thread.legs]
    for leg in [*reversed(instead), *reversed(legs)]:
        piece = network.pieces[leg.piece]
        if leg.piece in done.passes and node == ends(piece, leg.reverse)[1]:
            curve = piece.curve.reversed() if leg.reverse else piece.curve
            return curve.end_heading_rad
    (x0, y0), (x1, y1) = network.nodes[here], network.nodes[node]
    return math.atan2(y1 - y0, x1 - x0) if (x0, y0) != (x1, y1) else heading_rad
