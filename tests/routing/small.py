"""The optimum of tiny networks by trying everything; nothing here is shared with the router."""

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass

from seamwalk.model.machine import MachineProfile
from seamwalk.model.route import Network


@dataclass(frozen=True)
class Optimum:
    """Least seconds: of connected threads, and with connection forgotten."""

    connected_s: float
    loose_s: float


def optimum(
    network: Network,
    machine: MachineProfile,
    done: dict[str, int] | None = None,
    running: tuple[str, float] | None = None,
) -> Optimum:
    """Return the least time of any set of threads that covers what is required.

    `done` are passes that pieces got before; `running` is the node where a thread hangs that was
    begun, and the direction (radians) in which it came: it is one more pass without length, of
    which one end lies at the node and the other is free.

    Every choice of spare passes, and at every node every way to pair the ends that meet there or
    leave them as thread ends.  Loose: pairings with at least one thread, closed trails allowed.
    """
    margin = {n for p in network.pieces.values() if p.stroke.kind == "edge" for n in (p.u, p.v)}
    fixed, spare = [], []
    for p in network.pieces.values():
        most = (1 if p.stroke.kind == "motif" else 2) - (done or {}).get(p.id, 0)
        fixed += [p] * p.stroke.required
        # Passes of one piece are alike, so only their number matters.
        spare.append([(p,) * k for k in range(max(0, most - p.stroke.required) + 1)])
    connected = loose = math.inf
    for choice in itertools.product(*spare):
        passes = fixed + [p for group in choice for p in group]
        sew = sum(p.curve.length for p in passes) * machine.s_per_in
        if sew >= connected or not passes:
            continue
        at: dict[str, list[tuple[int, float]]] = {}
        for k, p in enumerate(passes):
            at.setdefault(p.u, []).append((2 * k, p.curve.start_heading_rad))
            at.setdefault(p.v, []).append((2 * k + 1, p.curve.end_heading_rad + math.pi))
        mates: dict[int, int | None] = {}
        if running is not None:
            k = len(passes)
            at.setdefault(running[0], []).append((2 * k + 1, running[1] + math.pi))
            mates = {2 * k: None}
        tables = []
        for node, halves in at.items():
            end_s = machine.edge_end_s if node in margin else machine.buried_end_s
            tables.append(sorted(_pairings(halves, end_s, machine), key=lambda row: row[0]))
        rest = [0.0]
        for t in reversed(tables):
            rest.append(rest[-1] + t[0][0])
        rest.reverse()

        def search(i: int, cost: float, mates: dict[int, int | None]) -> None:
            nonlocal connected, loose
            if cost + rest[i] >= connected - 1e-9:  # noqa: B023
                return
            if i == len(tables):  # noqa: B023
                if any(m is None for m in mates.values()):
                    loose = min(loose, cost)
                    if _all_open(mates):
                        connected = cost
                return
            for extra, row in tables[i]:  # noqa: B023
                search(i + 1, cost + extra, mates | row)

        search(0, sew, mates)
    return Optimum(connected, loose)


def _pairings(
    halves: list[tuple[int, float]], end_s: float, machine: MachineProfile
) -> Iterator[tuple[float, dict[int, int | None]]]:
    if not halves:
        yield 0.0, {}
        return
    (h, heading), *rest = halves
    for cost, row in _pairings(rest, end_s, machine):
        yield cost + end_s, {**row, h: None}
    for i, (g, other) in enumerate(rest):
        turn = abs(math.degrees(math.remainder(other - heading - math.pi, 2 * math.pi)))
        price = machine.pivot_cost_s(round(turn, 9))
        for cost, row in _pairings(rest[:i] + rest[i + 1 :], end_s, machine):
            yield cost + price, {**row, h: g, g: h}


def _all_open(mates: dict[int, int | None]) -> bool:
    seen: set[int] = set()
    for start, mate in mates.items():
        if mate is None:
            h: int | None = start
            while h is not None:
                seen |= {h, h ^ 1}
                h = mates[h ^ 1]
    return len(seen) == len(mates)
