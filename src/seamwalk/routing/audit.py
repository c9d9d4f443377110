"""An independent check of any route, from first principles.

Written without the router's code, so that the two share no mistake: it knows only the nouns and
plain geometry.  What a route claims about itself is computed here again and compared.
"""

import dataclasses
import itertools
import math
from collections import Counter
from dataclasses import dataclass

from seamwalk.geometry.curve import Arc, Line, Point
from seamwalk.model.machine import MachineProfile
from seamwalk.model.route import Leg, Network, NodeId, Piece, Route, Totals
from seamwalk.routing.audit_bobbins import bobbin_errors, bobbin_minutes
from seamwalk.routing.audit_rest import begun_errors, ends_to_pay, sewn_before


@dataclass(frozen=True, slots=True)
class AuditSettings:
    """How close numbers must agree.

    Attributes
    ----------
    gap_in : float
        Legs meet, and curves join, within this, inches: what the checker of plan files allows.
    relative : float
        Sums may differ by this share: rounding of some ten thousand additions.
    """

    gap_in: float = 1e-6
    relative: float = 1e-7


DEFAULT = AuditSettings()

TURNED_DEG = 60.0
"""Stitching this far from the way the quilt lies, for longer than the throat, turns the quilt."""

ARC_PART_DEG = 30.0
"""Arcs are looked at in parts of at most this sweep when turns of the quilt are counted."""

TIE = 1e-6
"""Angles (radians) and lengths (inches) this close to a limit are within it."""

NOT_IN_BOUND = ("quilt turns", "bobbin changes")
"""Causes of time that the router's bound leaves out."""

MOST_PASSES = {"motif": 1, "ditch": 2, "edge": 2}
"""Most passes of each kind of stroke."""


@dataclass(frozen=True, slots=True)
class AuditReport:
    """What the audit found.

    Attributes
    ----------
    valid : bool
        No errors.
    errors : tuple of str
        One sentence each.
    totals : Totals or None
        Computed here; None where the network or the threads are too broken for sums.
    gap : float or None
        Time over the route's own lower bound, as a share, without the causes that the bound
        leaves out.
    """

    valid: bool
    errors: tuple[str, ...]
    totals: Totals | None
    gap: float | None


def audit(route: Route, machine: MachineProfile, settings: AuditSettings = DEFAULT) -> AuditReport:
    """Return whether `route` can be stitched and says the truth about itself.

    Parameters
    ----------
    route : Route
        Whatever made it.
    machine : MachineProfile
        That the totals were computed for.
    settings : AuditSettings
        Tolerances.
    """
    errors = _network_errors(route.network, settings) + begun_errors(route)
    walk_errors = _thread_errors(route, machine, settings) if not errors else []
    errors += walk_errors
    if any("unknown piece" in e or "no legs" in e for e in errors) or (errors and not walk_errors):
        return AuditReport(False, tuple(errors), None, None)
    found = _totals(route, machine)
    errors += _compared(route.totals, found, settings)
    if not walk_errors:
        lengths = {name: _length(piece) for name, piece in route.network.pieces.items()}
        errors += bobbin_errors(route, machine, lengths, _margin(route.network))
    errors += _step_errors(route, machine)
    gap = None
    bounds = route.totals.lower_bounds
    if "minutes" in bounds:
        minutes = math.fsum(v for k, v in found.minutes.items() if k not in NOT_IN_BOUND)
        if minutes < bounds["minutes"] * (1 - settings.relative) - 1e-9:
            errors.append(
                f"The route takes {minutes:.4f} min, below its bound of {bounds['minutes']:.4f}."
            )
        if bounds["minutes"] > 0:
            gap = minutes / bounds["minutes"] - 1
    if "threads" in bounds and found.threads < bounds["threads"]:
        errors.append(f"{found.threads} threads are fewer than the bound {bounds['threads']:g}.")
    if found.stitched_in < bounds.get("stitched_in", 0.0) * (1 - settings.relative):
        errors.append("The stitched length is below its bound.")
    return AuditReport(not errors, tuple(errors), found, gap)


def _network_errors(network: Network, settings: AuditSettings) -> list[str]:
    errors = []
    for name, piece in network.pieces.items():
        if piece.id != name:
            errors.append(f"Piece {name} calls itself {piece.id}.")
        for node, point, end in (
            (piece.u, piece.curve.start, "start"),
            (piece.v, piece.curve.end, "end"),
        ):
            if node not in network.nodes:
                errors.append(f"Piece {name} names a node {node} that is not there.")
            elif network.nodes[node] != point:
                errors.append(f"The {end} of piece {name} is not exactly at node {node}.")
        for a, b in itertools.pairwise(piece.curve.pieces):
            if math.dist(a.end, b.start) > settings.gap_in:
                errors.append(f"The curve of piece {name} has a gap.")
        for section in piece.curve.pieces:
            if isinstance(section, Arc) and _off_circle(section) > 2 * settings.gap_in:
                errors.append(f"An arc of piece {name} does not fit its ends.")
        if piece.stroke.kind not in MOST_PASSES:
            errors.append(f"Piece {name} is of an unknown kind.")
        if _length(piece) <= 0:
            errors.append(f"Piece {name} has no length.")
    return errors


def _off_circle(arc: Arc) -> float:
    """Return how far the arc's end is from the start turned about the centre, inches."""
    (sx, sy), (cx, cy) = arc.start, arc.centre
    c, s = math.cos(arc.sweep_rad), math.sin(arc.sweep_rad)
    dx, dy = sx - cx, sy - cy
    return math.dist((cx + c * dx - s * dy, cy + s * dx + c * dy), arc.end)


def _thread_errors(route: Route, machine: MachineProfile, settings: AuditSettings) -> list[str]:
    network = route.network
    errors = []
    passes: Counter[str] = Counter()
    for t, thread in enumerate(route.threads, start=1):
        if not thread.legs:
            errors.append(f"Thread {t} has no legs.")
        here: NodeId | None = None
        point: Point | None = None
        for k, leg in enumerate(thread.legs, start=1):
            piece = network.pieces.get(leg.piece)
            if piece is None:
                errors.append(f"Thread {t}, leg {k} is an unknown piece, {leg.piece}.")
                here = point = None
                continue
            passes[leg.piece] += 1
            start, stop = (piece.v, piece.u) if leg.reverse else (piece.u, piece.v)
            first, last = piece.curve.start, piece.curve.end
            if leg.reverse:
                first, last = last, first
            if here is not None and start != here:
                errors.append(f"Thread {t} jumps from {here} to {start} before leg {k}.")
            if point is not None and math.dist(point, first) > settings.gap_in:
                errors.append(f"Thread {t} has a gap before leg {k}.")
            here, point = stop, last
    for name, piece in network.pieces.items():
        n = passes[name]
        before = sewn_before(route, name)
        most = MOST_PASSES[piece.stroke.kind]
        if piece.stroke.kind == "ditch":
            most = min(most, machine.ditch_passes)
        if piece.stroke.required and n == 0:
            errors.append(f"Piece {name} must be stitched and is not.")
        if n and n + before > most:
            errors.append(
                f"Piece {name} ({piece.stroke.kind}) is stitched {n + before} times, not {most} "
                "at most."
            )
    return errors


def _length(piece: Piece) -> float:
    """Return the length of a piece from its sections' own numbers, inches."""
    total = 0.0
    for s in piece.curve.pieces:
        if isinstance(s, Line):
            total += math.hypot(s.end[0] - s.start[0], s.end[1] - s.start[1])
        else:
            total += abs(s.sweep_rad) * math.hypot(
                s.start[0] - s.centre[0], s.start[1] - s.centre[1]
            )
    return total


def _direction(piece: Piece, reverse: bool, at_start: bool) -> tuple[float, float]:
    """Return the unit vector of sewing at a leg's start or end."""
    first = at_start != reverse
    section = piece.curve.pieces[0 if first else -1]
    if isinstance(section, Line):
        x, y = section.end[0] - section.start[0], section.end[1] - section.start[1]
    else:
        px, py = section.start if first else section.end
        rx, ry = px - section.centre[0], py - section.centre[1]
        # The tangent is the radius turned by a right angle towards the sweep.
        x, y = (-ry, rx) if section.sweep_rad > 0 else (ry, -rx)
    if reverse:
        x, y = -x, -y
    n = math.hypot(x, y)
    return x / n, y / n


def _turn_deg(a: tuple[float, float], b: tuple[float, float]) -> float:
    cross, dot = a[0] * b[1] - a[1] * b[0], a[0] * b[0] + a[1] * b[1]
    return round(abs(math.degrees(math.atan2(cross, dot))), 9)


def _joint_turns(route: Route, legs: tuple[Leg, ...]) -> list[float]:
    """Return the turn before each leg but the first, degrees."""
    pieces = route.network.pieces
    return [
        _turn_deg(
            _direction(pieces[a.piece], a.reverse, at_start=False),
            _direction(pieces[b.piece], b.reverse, at_start=True),
        )
        for a, b in itertools.pairwise(legs)
    ]


def _totals(route: Route, machine: MachineProfile) -> Totals:
    """Return the sums of the route, computed anew."""
    pieces = route.network.pieces
    margin = _margin(route.network)
    stitched = doubled = needed = 0.0
    seen: set[str] = set()
    edge_ends = buried_ends = 0
    turns: list[float] = []
    ends: list[NodeId] = []
    for thread in route.threads:
        for leg in thread.legs:
            n = _length(pieces[leg.piece])
            stitched += n
            if leg.piece in seen:
                doubled += n
            elif pieces[leg.piece].stroke.required:
                needed += n
            seen.add(leg.piece)
        first, last = thread.legs[0], thread.legs[-1]
        a, b = pieces[first.piece], pieces[last.piece]
        ends += [a.v if first.reverse else a.u, b.u if last.reverse else b.v]
        turns += _joint_turns(route, thread.legs)
    for node in ends_to_pay(route, ends):
        if node in margin:
            edge_ends += 1
        else:
            buried_ends += 1
    if route.begun is not None and route.begun.goes_on:
        came = math.cos(route.begun.heading_rad), math.sin(route.begun.heading_rad)
        leg = route.threads[0].legs[0]
        turns.append(_turn_deg(came, _direction(pieces[leg.piece], leg.reverse, at_start=True)))
    pivot_s = 0.0
    for turn in turns:
        pivot_s += turn * machine.meander_s_per_deg
        if turn > machine.smooth_deg:
            pivot_s += machine.pivot_s + (turn - machine.smooth_deg) * machine.pivot_s_per_deg
    quilt_turns = _quilt_turns(route, machine)
    sew_s_per_in = 60 * 25.4 / (machine.stitch_mm * machine.stitches_per_min)
    end_s = edge_ends * machine.edge_end_s + buried_ends * machine.buried_end_s
    thread_in = stitched * machine.thread_per_path * (1 + machine.thread_waste)
    return Totals(
        threads=len(route.threads),
        buried_ends=buried_ends,
        edge_ends=edge_ends,
        stitched_in=stitched,
        doubled_in=doubled,
        travel_in=stitched - needed,
        pivots=sum(t > machine.smooth_deg for t in turns),
        turning_deg=sum(turns),
        quilt_turns=quilt_turns,
        minutes={
            "stitching": stitched * sew_s_per_in / 60,
            "pivots": pivot_s / 60,
            "thread ends": end_s / 60,
            "quilt turns": quilt_turns * machine.quilt_turn_s / 60,
            "bobbin changes": bobbin_minutes(route, machine),
        },
        thread_yd=thread_in / 36,
        bobbins=len(route.bobbin_changes) + (1 if route.threads else 0),
        lower_bounds=dict(route.totals.lower_bounds),
    )


def _margin(network: Network) -> set[NodeId]:
    """Return the nodes where thread ends vanish under the binding."""
    pieces = network.pieces.values()
    return {node for p in pieces if p.stroke.kind == "edge" for node in (p.u, p.v)}


def _quilt_turns(route: Route, machine: MachineProfile) -> int:
    """Count stretches longer than the throat that run over 60° away from how the quilt lies."""
    limit = math.cos(math.radians(TURNED_DEG) + TIE)
    lying: tuple[float, float] | None = None
    away: list[tuple[float, float]] = []
    count = 0
    for thread in route.threads:
        for leg in thread.legs:
            for x, y in _steps(route.network.pieces[leg.piece], leg.reverse):
                n = math.hypot(x, y)
                if lying is None:
                    lying = (x / n, y / n)
                if (x * lying[0] + y * lying[1]) / n >= limit:
                    away = []
                    continue
                away.append((x, y))
                if math.fsum(math.hypot(*v) for v in away) > machine.throat_in + TIE:
                    count += 1
                    sx, sy = math.fsum(v[0] for v in away), math.fsum(v[1] for v in away)
                    total = math.hypot(sx, sy)
                    lying = (sx / total, sy / total) if total > TIE else (x / n, y / n)
                    away = []
    return count


def _steps(piece: Piece, reverse: bool) -> list[tuple[float, float]]:
    """Return vectors along a leg, as long as what they stand for."""
    out: list[tuple[float, float]] = []
    for s in piece.curve.pieces:
        if isinstance(s, Line):
            out.append((s.end[0] - s.start[0], s.end[1] - s.start[1]))
            continue
        n = max(1, math.ceil(abs(math.degrees(s.sweep_rad)) / ARC_PART_DEG - 1e-9))
        rx, ry = s.start[0] - s.centre[0], s.start[1] - s.centre[1]
        for i in range(n):
            a = s.sweep_rad * (i + 0.5) / n
            qx, qy = rx * math.cos(a) - ry * math.sin(a), rx * math.sin(a) + ry * math.cos(a)
            k = s.sweep_rad / n
            out.append((-qy * k, qx * k))
    return [(-x, -y) for x, y in reversed(out)] if reverse else out


def _step_errors(route: Route, machine: MachineProfile) -> list[str]:
    """Return where steps are not numbered as they should be: on at each start and each pivot."""
    step = 0
    for t, thread in enumerate(route.threads, start=1):
        stops = [True] + [turn > machine.smooth_deg for turn in _joint_turns(route, thread.legs)]
        for k, (leg, stop) in enumerate(zip(thread.legs, stops, strict=True), start=1):
            step += stop
            if leg.step != step:
                return [f"Thread {t}, leg {k} is numbered step {leg.step}, not {step}."]
    return []


def _compared(told: Totals, found: Totals, settings: AuditSettings) -> list[str]:
    """Return what the route says of itself that is not so."""
    said, true = _numbers(told), _numbers(found)
    near = settings.relative
    return [
        f"The totals say {name} {said.get(name, 0.0):g}, but it is {true.get(name, 0.0):g}."
        for name in sorted(said.keys() | true.keys())
        if not math.isclose(said.get(name, 0.0), true.get(name, 0.0), rel_tol=near, abs_tol=near)
    ]


def _numbers(totals: Totals) -> dict[str, float]:
    """Return every number that the totals say of this route, by name."""
    out = {f"minutes for {cause}": v for cause, v in totals.minutes.items()}
    for field in dataclasses.fields(totals):
        if field.name not in ("minutes", "lower_bounds", "compared"):
            out[field.name] = float(getattr(totals, field.name))
    return out
