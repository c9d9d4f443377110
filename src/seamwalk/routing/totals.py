"""What a route comes to: lengths, stops, minutes, thread, bobbins."""

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from seamwalk.geometry.curve import Curve, Line
from seamwalk.model.machine import MachineProfile
from seamwalk.model.route import (
    Begun,
    BobbinChange,
    BobbinPlace,
    Leg,
    Network,
    NodeId,
    Thread,
    Totals,
)
from seamwalk.routing.collecting import uncollected

IN_PER_YD = 36.0

TIE = 1e-6
"""Angles (radians) and lengths (inches) this close to a limit are within it: rounding must not
decide between turning and not."""


@dataclass(frozen=True, slots=True)
class TurnSettings:
    """When the whole quilt counts as turned round.

    Attributes
    ----------
    apart_deg : float
        Stitching further than this from the direction that the quilt lies in needs it turned;
        less is steered, degrees (common practice, no source).
    arc_deg : float
        Arcs are looked at in parts of at most this sweep, degrees: well below `apart_deg`.

    A stretch counts only when it is longer than the machine's throat: what is shorter is swung
    round on the spot and swung back.
    """

    apart_deg: float = 60.0
    arc_deg: float = 30.0


TURNING = TurnSettings()


def curve_of(network: Network, leg: Leg) -> Curve:
    """Return the leg's curve in the direction of sewing."""
    curve = network.pieces[leg.piece].curve
    return curve.reversed() if leg.reverse else curve


def joints_deg(network: Network, thread: Thread) -> list[float]:
    """Return the turn, 0 to 180 degrees, from each leg of a thread into the next."""
    out: list[float] = []
    before_rad = 0.0
    for leg in thread.legs:
        sections = network.pieces[leg.piece].curve.pieces
        first, last = sections[0], sections[-1]
        if leg.reverse:
            first, last = last.reversed(), first.reversed()
        out.append(turn_deg(before_rad, first.heading_rad(0.0)))
        before_rad = last.heading_rad(1.0)
    return out[1:]


def turn_deg(before_rad: float, after_rad: float) -> float:
    """Return the turn, 0 to 180 degrees, from one heading into another."""
    # Rounding must not make a pivot of a turn of exactly the limit.
    return round(abs(math.degrees(math.remainder(after_rad - before_rad, 2 * math.pi))), 9)


def quilt_turns(
    network: Network,
    threads: Iterable[Thread],
    machine: MachineProfile,
    settings: TurnSettings = TURNING,
) -> int:
    """Return how often the whole quilt is turned round, an estimate.

    The quilt lies in one direction until a stretch longer than the throat runs elsewhere; then
    it lies in the main direction of that stretch.
    """
    lies: float | None = None
    turns = 0
    away_in = x = y = 0.0
    for heading, length in _directions(network, threads, math.radians(settings.arc_deg)):
        apart = 0.0 if lies is None else abs(math.remainder(heading - lies, 2 * math.pi))
        if lies is None:
            lies = heading
        if apart <= math.radians(settings.apart_deg) + TIE:
            away_in = x = y = 0.0
            continue
        away_in += length
        x += length * math.cos(heading)
        y += length * math.sin(heading)
        if away_in > machine.throat_in + TIE:
            turns += 1
            lies = math.atan2(y, x) if math.hypot(x, y) > TIE else heading
            away_in = x = y = 0.0
    return turns


def _directions(
    network: Network, threads: Iterable[Thread], arc_rad: float
) -> Iterator[tuple[float, float]]:
    """Yield (heading in radians, length in inches) along everything sewn."""
    for thread in threads:
        for leg in thread.legs:
            for section in curve_of(network, leg):
                if isinstance(section, Line):
                    yield section.heading_rad(0.5), section.length
                    continue
                n = max(1, math.ceil(abs(section.sweep_rad) / arc_rad - 1e-9))
                length = section.length / n
                for i in range(n):
                    yield section.heading_rad((i + 0.5) / n), length


@uncollected()
def numbered(
    network: Network,
    threads: Sequence[Thread],
    machine: MachineProfile,
    joints: Iterable[Sequence[float]] | None = None,
) -> list[Thread]:
    """Return the threads with steps numbered from 1: a new one at each start and each pivot.

    `joints` has the `joints_deg` of each thread, where they are known.
    """
    if joints is None:
        joints = (joints_deg(network, thread) for thread in threads)
    step = 0
    out = []
    for thread, turns in zip(threads, joints, strict=True):
        legs = []
        for leg, turn in zip(thread.legs, (math.inf, *turns), strict=True):
            if turn > machine.smooth_deg:
                step += 1
            legs.append(Leg(leg.piece, leg.reverse, step))
        out.append(Thread(tuple(legs)))
    return out


@uncollected()
def totals(
    network: Network,
    threads: Sequence[Thread],
    machine: MachineProfile,
    lower_bounds: Mapping[str, float],
    bobbin_changes: Sequence[BobbinChange] = (),
    begun: Begun | None = None,
    joints: Iterable[Sequence[float]] | None = None,
) -> Totals:
    """Return the sums of a route.

    Parameters
    ----------
    network : Network
        Pieces.
    threads : sequence of Thread
        In the order of sewing.
    machine : MachineProfile
        Costs.
    lower_bounds : mapping
        Passed on.
    bobbin_changes : sequence of BobbinChange
        As `bobbins.bobbin_changes` places them.
    begun : Begun, optional
        What the first thread goes on from.
    joints : iterable, optional
        The `joints_deg` of each thread, where they are known.

    Returns
    -------
    Totals
        ``minutes`` has the causes "stitching" (travel included), "pivots" (steering through
        slighter turns included), "thread ends", "quilt turns" and "bobbin changes" (with the
        thread ends that a change makes); they sum to the whole.
        Pivots and turning are counted at the nodes; curves between nodes turn for nothing.
    """
    margin = margin_nodes(network)
    passes = Counter(leg.piece for thread in threads for leg in thread.legs)
    length = {p: network.pieces[p].curve.length for p in passes}
    stitched = math.fsum(length[p] * n for p, n in passes.items())
    once = math.fsum(length[p] for p in passes if network.pieces[p].stroke.required)
    ends = [node for thread in threads for node in ends_of(network, thread)]
    if joints is None:
        joints = (joints_deg(network, thread) for thread in threads)
    all_joints = [turn for turns in joints for turn in turns]
    if begun is not None and begun.goes_on:
        # Its start is no end; it turns off into its first leg.
        ends = ends[1:]
        first = curve_of(network, threads[0].legs[0])
        all_joints.append(turn_deg(begun.heading_rad, first.start_heading_rad))
    elif begun is not None and begun.runs:
        ends.append(begun.needle)
    at_edge = sum(node in margin for node in ends)
    turns = quilt_turns(network, threads, machine)
    minutes = {
        "stitching": stitched * machine.s_per_in / 60,
        "pivots": math.fsum(machine.pivot_cost_s(t) for t in all_joints) / 60,
        "thread ends": (
            at_edge * machine.edge_end_s + (len(ends) - at_edge) * machine.buried_end_s
        )
        / 60,
        "quilt turns": turns * machine.quilt_turn_s / 60,
        "bobbin changes": math.fsum(change_s(c.where, machine) for c in bobbin_changes) / 60,
    }
    used_in = stitched * machine.thread_per_path * (1 + machine.thread_waste)
    return Totals(
        threads=len(threads),
        buried_ends=len(ends) - at_edge,
        edge_ends=at_edge,
        stitched_in=stitched,
        doubled_in=math.fsum(length[p] * (n - 1) for p, n in passes.items()),
        travel_in=stitched - once,
        pivots=sum(t > machine.smooth_deg for t in all_joints),
        turning_deg=math.fsum(all_joints),
        quilt_turns=turns,
        minutes=minutes,
        thread_yd=used_in / IN_PER_YD,
        bobbins=len(bobbin_changes) + bool(threads),
        lower_bounds=dict(lower_bounds),
    )


def change_s(where: BobbinPlace, machine: MachineProfile) -> float:
    """Return what a change of bobbin costs, its thread ends included, seconds.

    Between two threads the ends are there anyway; elsewhere a change ends one run and starts
    another.
    """
    ends_s = {
        "thread end": 0.0,
        "margin": 2 * machine.edge_end_s,
        "inside": 2 * machine.buried_end_s,
    }
    return machine.bobbin_change_s + ends_s[where]


def margin_nodes(network: Network) -> set[NodeId]:
    """Return the nodes in the margin, where thread ends vanish under the binding."""
    return {
        node for p in network.pieces.values() if p.stroke.kind == "edge" for node in (p.u, p.v)
    }


def ends_of(network: Network, thread: Thread) -> tuple[NodeId, NodeId]:
    """Return where a thread starts and stops."""
    first, last = thread.legs[0], thread.legs[-1]
    a, b = network.pieces[first.piece], network.pieces[last.piece]
    return (a.v if first.reverse else a.u), (b.u if last.reverse else b.v)
