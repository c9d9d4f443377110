"""The benchmark of routes: its prices, its runs and its tables."""

import itertools
import json
import math
from dataclasses import asdict, replace

import pytest
from typer.testing import CliRunner

from seamwalk.benchmark import route_run
from seamwalk.benchmark.route_cases import PARTS, RouteCase, parts_named, route_cases
from seamwalk.benchmark.route_legs import legs_of
from seamwalk.benchmark.route_minutes import priced_minutes
from seamwalk.benchmark.route_missed import missed_turn
from seamwalk.benchmark.route_run import RouteResult, measure_case, run_routes
from seamwalk.benchmark.route_tables import growth, route_tables
from seamwalk.benchmark.route_targets import IRREGULAR, REGULAR, target_table
from seamwalk.benchmark.route_tops import KINDS, route_top
from seamwalk.cli import app
from seamwalk.errors import UsageError
from seamwalk.geometry.curve import Curve, Line
from seamwalk.model.machine import MachineProfile
from seamwalk.model.route import Leg, PieceId, Route, Thread
from seamwalk.model.stitching import Stroke, StrokeId
from seamwalk.routing.graph import network
from seamwalk.routing.route import plan_route

MACHINE = MachineProfile()


def _lines(points):
    return [
        Stroke(StrokeId(f"p{k}"), Curve((Line(a, b),)), "motif", True)
        for k, (a, b) in enumerate(itertools.pairwise(points))
    ]


def _route(strokes, *threads):
    legs = [Thread(tuple(Leg(PieceId(n), False) for n in t.split())) for t in threads]
    return Route(network(strokes), tuple(legs), None)


def test_priced_minutes_by_hand():
    # Ten inches down, ten to the right: a turn of 90° costs 4 + 0.14 · 60 + 0.02 · 90 = 14.2 s as
    # a pivot and 25 s as a turn of the quilt; two ends inside cost 240 s.
    strokes = _lines([(0.0, 0.0), (0.0, 10.0), (10.0, 10.0)])
    sew_s = 20 * 25.4 / 2.8 / 400 * 60
    found = priced_minutes(_route(strokes, "p0 p1"), MACHINE)
    assert found * 60 == pytest.approx(sew_s + 25 + 240)
    light = replace(MACHINE, quilt_turn_s=10.0)
    assert priced_minutes(_route(strokes, "p0 p1"), light) * 60 == pytest.approx(
        sew_s + 14.2 + 240
    )
    # As two threads: four ends, and the quilt is turned in between.
    assert priced_minutes(_route(strokes, "p0", "p1"), MACHINE) * 60 == pytest.approx(
        sew_s + 25 + 480
    )
    # 45° is no turn of the quilt: 4 + 0.14 · 15 + 0.02 · 45 = 7 s.
    strokes = _lines([(0.0, 0.0), (0.0, 10.0), (10.0, 20.0)])
    sew_s = (10 + 10 * math.sqrt(2)) * 25.4 / 2.8 / 400 * 60
    found = priced_minutes(_route(strokes, "p0 p1"), MACHINE)
    assert found * 60 == pytest.approx(sew_s + 7 + 240)


def test_priced_minutes_to_travel_are_half():
    strokes = _lines([(0.0, 0.0), (0.0, 10.0), (10.0, 20.0)])
    travel = replace(strokes[1], kind="ditch", required=False)
    sew_s = (10 + 10 * math.sqrt(2)) * 25.4 / 2.8 / 400 * 60
    found = priced_minutes(_route([strokes[0], travel], "p0 p1"), MACHINE)
    assert found * 60 == pytest.approx(sew_s + 12.5 + 240)


@pytest.mark.parametrize("kind", ["arches", "stars", "irregular"])
def test_with_turns_for_nothing_the_priced_minutes_are_the_totals(kind):
    # The totals are checked by the audit, which shares no code with the benchmark.
    still = replace(MACHINE, quilt_turn_s=0.0)
    route = plan_route(network(route_top(kind, 60)), still, time_limit_s=0.0)
    minutes = route.totals.minutes
    plain = minutes["stitching"] + minutes["pivots"] + minutes["thread ends"]
    assert priced_minutes(route, still) == pytest.approx(plain)


def test_a_missed_turn_goes_on_at_the_needle():
    route = plan_route(network(route_top("arches", 100)), MACHINE, time_limit_s=0.0)
    step, instead = missed_turn(route)
    legs = legs_of(route)
    order = [leg for thread in route.threads for leg in thread.legs]
    done = [k for k, leg in enumerate(order) if leg.step <= step]
    # Two fifths of the steps are done, and what is sewn instead starts where they end.
    assert step == max(1, math.floor(0.4 * order[-1].step))
    piece = route.network.pieces[instead]
    assert legs.curves[done[-1]].end in (piece.curve.start, piece.curve.end)
    assert instead not in {order[k].piece for k in done}
    assert instead != order[done[-1] + 1].piece


@pytest.mark.parametrize("part", PARTS)
def test_every_part_measures_its_figures(part):
    case = next(c for c in route_cases([part], 20_000) if c.top == "arches" or part == "limits")
    small = replace(case, strokes=40)
    result = measure_case(small)
    assert result.errors == []
    assert result.figures["gap"] >= -1e-7
    own = {
        "order": {"by_lines", "bulk_share", "quilt_turns", "phrases", "priced", "priced_bound"},
        "resume": {"rest_s", "left"},
        "others": {"patch by patch minutes", "line by line threads"},
    }
    assert own.get(part, {"route_s", "peak_mb"}) <= result.figures.keys()
    if part == "order":
        # No route takes less than the bound.
        assert result.figures["priced"] >= result.figures["priced_bound"] - 1e-6
        assert len(result.path) >= result.figures["strokes"]
    assert RouteResult.from_json(json.loads(json.dumps(asdict(result)))) == result


def test_a_run_goes_on_where_it_was_stopped(tmp_path, monkeypatch):
    keep = tmp_path / "routes.jsonl"
    cases = [RouteCase("first", "lines", n, limit_s=0.0) for n in (10, 40)]
    first = run_routes(cases[:1], jobs=1, keep=keep)
    monkeypatch.setattr(route_run, "_in_fresh_process", lambda case: RouteResult(case, {"new": 1}))
    both = run_routes(cases, jobs=2, keep=keep)
    assert both[0] == first[0]
    assert both[1].figures == {"new": 1}
    assert len(keep.read_text(encoding="utf-8").splitlines()) == 2


def test_a_failing_process_says_why(monkeypatch):
    with pytest.raises(RuntimeError, match="first: nonsense"):
        run_routes([RouteCase("first", "nonsense", 10)], jobs=1)


def test_unknown_parts_are_refused():
    assert parts_named(None) == list(PARTS)
    assert parts_named(["order", "first"]) == ["first", "order"]
    with pytest.raises(UsageError, match="no part weight"):
        parts_named(["weight"])


def _result(part, top, strokes, **figures):
    return RouteResult(RouteCase(part, top, strokes), {"strokes": float(strokes), **figures})


def test_growth_is_the_slope_of_logarithms():
    # By definition: time as the square of the strokes.
    some = [_result("first", "arches", n, route_s=1e-8 * n**2) for n in (1_000, 3_000, 20_000)]
    assert growth(some) == pytest.approx(2.0)
    assert growth(some[:1]) is None


def test_targets_count_what_reached_them():
    some = [
        _result("first", "arches", 20_000, route_s=2.0, peak_mb=400.0),
        _result("first", "irregular", 20_000, route_s=4.0, peak_mb=600.0),
        _result("small", "arches", 100, route_s=1.0, gap=0.0),
        _result("small", "irregular", 100, route_s=10.0, gap=0.01),
        _result("small", "stars", 160, route_s=10.0, gap=0.01),
    ]
    rows = target_table(some).splitlines()
    assert "| 20,000 strokes, first full route | 3 s | 4.0 s | 1 of 2 |" in rows
    assert "| 20,000 strokes, memory of the first full route | 500 MB | 600 MB | 1 of 2 |" in rows
    assert "| 150 strokes and fewer: proven best | in 10 s | not proven | 1 of 2 |" in rows
    assert set(REGULAR) | set(IRREGULAR) == set(KINDS)


def test_an_order_is_judged_by_all_that_is_wanted_of_it():
    good = {
        "by_lines": 0.97,
        "by_strips": 0.3,
        "by_rings": 0.4,
        "bulk_share": 0.04,
        "quilt_turns": 5.0,
        "priced": 100.9,
        "priced_bound": 100.0,
        "gap": 0.09,
    }
    for change, word in (({}, "yes"), ({"quilt_turns": 6.0}, "no"), ({"priced": 102.0}, "no")):
        case = RouteCase("order", "arches", 1024, order="middle")
        text = target_table([RouteResult(case, good | change)])
        assert text.endswith(f"| {word} |")
    strips = RouteResult(RouteCase("order", "log cabin", 1302, order="middle"), good)
    # Tops without lines may be sewn in strips or in rings: the better reading counts.
    assert "0.40, 4 %, for 9.0 % | no |" in target_table([strips])
    better = RouteResult(strips.case, good | {"by_strips": 0.5})
    assert "0.50, 4 %, for 9.0 % | no |" in target_table([better])


def test_routes_that_fail_the_audit_are_named():
    wrong = RouteResult(
        RouteCase("limits", "irregular", 1_000, limit_s=2.0),
        {"strokes": 1_000.0, "route_s": 2.1, "gap": 0.002},
        ["Thread 1 has no legs."],
    )
    text = route_tables([wrong])
    assert "Thread 1 has no legs." in text
    assert "| a time limit, overrun | 10 % | +5 % | 1 of 1 |" in text


def test_the_command_prints_its_tables(tmp_path, monkeypatch):
    monkeypatch.setattr(route_run, "_in_fresh_process", measure_case)
    keep = tmp_path / "keep.jsonl"
    words = ["benchmark", "routes", "--part", "first", "--part", "speed", "--most", "10"]
    done = CliRunner().invoke(app, [*words, "--keep", str(keep)])
    assert done.exit_code == 0, done.output
    assert all(f"| {kind} |" in done.output for kind in KINDS)
    assert f"All {2 * len(KINDS)} routes pass the audit." in done.output


def test_pictures_are_linked_from_their_page(tmp_path):
    pytest.importorskip("matplotlib")
    from seamwalk.benchmark.route_pictures import write_pictures

    case = RouteCase("order", "arches", 16, order="quickest", side_in=20.0)
    page = tmp_path / "docs" / "page.md"
    links = write_pictures([measure_case(case)], tmp_path / "docs" / "pictures", beside=page)
    assert [link.split("](")[1] for link in links] == ["pictures/routes-order.png)"]
    assert (tmp_path / "docs" / "pictures" / "routes-order.png").stat().st_size > 1000
