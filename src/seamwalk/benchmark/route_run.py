"""Routes found and measured, each in a fresh process of its own.

Run as ``python -m seamwalk.benchmark.route_run CASE``, with a case as JSON, it prints one JSON
document; a process's peak memory only ever grows, so that no two routes can share one.
"""

import json
import os
import resource
import subprocess
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

from seamwalk.benchmark.kept_results import gathered
from seamwalk.benchmark.route_cases import RouteCase
from seamwalk.model.machine import MachineProfile
from seamwalk.model.order import OrderWish
from seamwalk.model.route import Network, Route


@dataclass(frozen=True, slots=True)
class RouteResult:
    """What came of one case.

    Attributes
    ----------
    figures : dict
        By name: ``strokes`` to be stitched, ``route_s`` and ``network_s``, ``peak_mb`` and
        ``before_mb`` (the process with all it imports and the top), ``minutes``, ``bound`` and
        ``gap`` (a share; what the bound leaves out not counted), ``threads``; and what the part
        measures besides.
    errors : list of str
        Of the audit.
    path : list of int
        What is sewn, for pictures of orders: numbers of the network's pieces from 1, negative
        where a piece is sewn from its end.
    """

    case: RouteCase
    figures: dict[str, float]
    errors: list[str] = field(default_factory=list)
    path: list[int] = field(default_factory=list)

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> "RouteResult":
        """Return the result from one line of a file of results."""
        return cls(RouteCase(**data["case"]), dict(data["figures"]), data["errors"], data["path"])


def run_routes(
    cases: Sequence[RouteCase],
    *,
    jobs: int,
    keep: Path | None = None,
    progress: Callable[[str], None] = lambda _: None,
) -> list[RouteResult]:
    """Return the results of all cases.

    Parameters
    ----------
    cases : sequence of RouteCase
        What to measure.
    jobs : int
        Processes at a time; times are right only with one, on a machine with nothing else to do.
    keep : Path or None
        File of results, one JSON document a line: read first, added to as results come.

    Raises
    ------
    RuntimeError
        If a process failed.
    """
    with ThreadPoolExecutor(jobs) as pool:
        return gathered(
            cases,
            pool=pool,
            submit=lambda case: pool.submit(_in_fresh_process, case),
            load=RouteResult.from_json,
            case_of=lambda result: result.case,
            keep=keep,
            say=lambda r, count, of: progress(f"{r.case.name} ({count} of {of})"),
        )


def _in_fresh_process(case: RouteCase) -> RouteResult:
    done = subprocess.run(
        [sys.executable, "-m", __name__, json.dumps(asdict(case))],
        capture_output=True,
        text=True,
        check=False,
        # Numbers are small: threads of the linear algebra would only ask for memory.
        env={**os.environ, "OMP_NUM_THREADS": "1"},
    )
    if done.returncode:
        raise RuntimeError(f"{case.name}: {done.stderr.strip()}")
    # The solver of integer programs may print lines of its own before.
    return RouteResult.from_json(json.loads(done.stdout.splitlines()[-1]))


def measure_case(case: RouteCase) -> RouteResult:
    """Return what comes of a case; peak memory is that of this process."""
    from seamwalk.benchmark.route_tops import route_top
    from seamwalk.routing.graph import network

    machine = MachineProfile()
    # What is imported on the way would otherwise count as time of the first route.
    _planned(network(route_top("irregular", 20)), machine, replace(case, limit_s=1.0))
    strokes = route_top(case.top, case.strokes, case.seed, case.side_in)
    before_mb = _peak_mb()
    start = time.perf_counter()
    pieces = network(strokes)
    network_s = time.perf_counter() - start
    start = time.perf_counter()
    route = _planned(pieces, machine, case)
    route_s = time.perf_counter() - start
    figures = {
        "strokes": float(sum(p.stroke.required for p in pieces.pieces.values())),
        "network_s": network_s,
        "route_s": route_s,
        "before_mb": before_mb,
        "peak_mb": _peak_mb(),
    }
    errors = _audited(route, machine, figures)
    path: list[int] = []
    if case.part == "resume":
        from seamwalk.benchmark.route_missed import time_rest

        rest, timed = time_rest(route, machine)
        errors += _audited(rest, machine, figures)
        figures |= timed
    elif case.part == "order":
        from seamwalk.benchmark.route_measures import measure
        from seamwalk.benchmark.route_minutes import priced_minutes

        found = asdict(measure(route))
        figures |= {k: float(v) for k, v in found.items() if v is not None}
        figures["priced"] = priced_minutes(route, machine)
        figures["priced_bound"] = _priced_bound(pieces, machine)
        path = _path(route)
    elif case.part == "others":
        from seamwalk.routing.telling.compare import compared

        for way, other in compared(pieces, machine).items():
            figures |= {
                f"{way} minutes": other.minutes,
                f"{way} threads": float(other.threads),
                f"{way} buried": float(other.buried_ends),
            }
    return RouteResult(case, figures, errors, path)


def _path(route: Route) -> list[int]:
    number = {name: k for k, name in enumerate(route.network.pieces, start=1)}
    legs = [leg for thread in route.threads for leg in thread.legs]
    return [-number[leg.piece] if leg.reverse else number[leg.piece] for leg in legs]


def _planned(pieces: Network, machine: MachineProfile, case: RouteCase) -> Route:
    from seamwalk.routing.route import plan_route

    wish = OrderWish(case.order) if case.order else None
    return plan_route(pieces, machine, order=wish, time_limit_s=case.limit_s)


def _priced_bound(pieces: Network, machine: MachineProfile) -> float:
    """Return the least minutes of any route with turns of the quilt priced at joints."""
    from seamwalk.routing.solve.pairing import choices, pair
    from seamwalk.routing.turning import Turning, half_edges

    edges = half_edges(pieces, machine, Turning(machine.quilt_turn_s))
    return pair(choices(edges, machine)).bound_s / 60


def _audited(route: Route, machine: MachineProfile, figures: dict[str, float]) -> list[str]:
    from seamwalk.routing.audit import audit

    report = audit(route, machine)
    figures["minutes"] = sum(route.totals.minutes.values())
    figures["bound"] = route.totals.lower_bounds.get("minutes", 0.0)
    figures["gap"] = report.gap or 0.0
    figures["threads"] = float(route.totals.threads)
    figures["buried"] = float(route.totals.buried_ends)
    figures["fewest_threads"] = route.totals.lower_bounds.get("threads", 0.0)
    figures["totals_turns"] = float(route.totals.quilt_turns)
    return list(report.errors)


def _peak_mb() -> float:
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak / 1e6 if sys.platform == "darwin" else peak / 1024


if __name__ == "__main__":
    found = measure_case(RouteCase(**json.loads(sys.argv[1])))
    sys.stdout.write("\n" + json.dumps(asdict(found)))
