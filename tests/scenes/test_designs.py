"""Finished sizes of the designs.

Sources: on-point geometry as in textbooks of the trade: diagonal = side · √2, side setting
triangle's long side = side · √2, corner triangle's legs = side / √2, 2 (r + c − 2) side
triangles and 4 corners; flying geese twice as wide as high; seam allowance 1/4 in.
"""

import math
from collections import Counter

import numpy as np
import pytest

from seamwalk.geometry.polyline import corners
from seamwalk.model.top import Top
from seamwalk.scenes.allowance import with_allowance
from seamwalk.scenes.designs.pattern import Layout, Pattern
from seamwalk.scenes.planar_map import Piece, joined, top_of
from seamwalk.scenes.sewing import SewingSettings
from seamwalk.scenes.tops import DESIGNS, make_top, pattern


def sides(piece: Piece) -> list[float]:
    p = piece.corners
    return sorted(math.dist(p[k], p[(k + 1) % len(p)]) for k in range(len(p)))


def design(name: str, columns: int = 3, rows: int = 4, block_in: float = 6.0) -> Pattern:
    return pattern(name, Layout(columns, rows, block_in), 0.0, np.random.default_rng(3))


def finished_sides(name: str, role: str, **size: float) -> Counter[tuple[float, ...]]:
    found = (p for p in design(name, **size).pieces if p.role == role)
    return Counter(tuple(round(s, 6) for s in sides(p)) for p in found)


@pytest.mark.parametrize(
    "name", sorted(set(DESIGNS) - {"on point", "hexagons", "sashed", "flying geese"})
)
def test_blocks_fill_columns_and_rows(name: str) -> None:
    d = design(name)
    assert (d.width_in, d.height_in) == (18.0, 24.0)


def test_on_point_sizes_and_counts() -> None:
    rows, columns, side = 5, 4, 6.0
    d = design("on point", columns, rows, side)
    assert d.width_in == pytest.approx(columns * side * math.sqrt(2))
    assert d.height_in == pytest.approx(rows * side * math.sqrt(2))
    triangles = Counter(round(max(sides(p)), 6) for p in d.pieces if len(p.corners) == 3)
    # Long side of a side triangle = side √2 = 8.4853, of a corner triangle = side = 6.
    assert triangles == {round(side * math.sqrt(2), 6): 2 * (rows + columns - 2), side: 4}
    legs = {
        round(max(sides(p)), 6): round(min(sides(p)), 6) for p in d.pieces if len(p.corners) == 3
    }
    assert legs[side] == round(side / math.sqrt(2), 6)
    assert legs[round(side * math.sqrt(2), 6)] == side
    squares = [p for p in d.pieces if len(p.corners) == 4]
    assert len(squares) == rows * columns + (rows - 1) * (columns - 1)
    assert all(s == pytest.approx(side) for p in squares for s in sides(p))


def test_units_of_blocks() -> None:
    assert set(finished_sides("nine patch", "light")) == {(2.0, 2.0, 2.0, 2.0)}
    assert set(finished_sides("rail fence", "dark")) == {(2.0, 2.0, 6.0, 6.0)}
    half = 3.0 * math.sqrt(2)
    assert finished_sides("pinwheel", "dark") == {(3.0, 3.0, round(half, 6)): 48}
    geese = finished_sides("flying geese", "dark") + finished_sides("flying geese", "medium")
    assert geese == {(round(half, 6), round(half, 6), 6.0): 24}
    # Star on a grid of fours: points are half squares of a quarter block.
    points = finished_sides("star", "dark", block_in=12.0)
    assert points == {(3.0, 3.0, round(3 * math.sqrt(2), 6)): 96}
    assert finished_sides("log cabin", "accent", block_in=7.0) == {(1.0, 1.0, 1.0, 1.0): 12}
    logs = finished_sides("log cabin", "medium", block_in=7.0)
    assert logs == {(1.0, 1.0, 2.0, 2.0): 12, (1, 1, 3, 3): 12, (1, 1, 6, 6): 12, (1, 1, 7, 7): 12}
    assert set(finished_sides("square in square", "dark")) == {(round(half, 6),) * 4}
    sashing = finished_sides("sashed", "background", block_in=8.0)
    assert set(sashing) == {(2.0, 2.0, 8.0, 8.0)}
    assert sum(finished_sides("sashed", "accent", block_in=8.0).values()) == 4 * 5


def test_quarter_circle_units_are_cut_as_patterns_give_them() -> None:
    """Quarter circle: area π r²/4; the rest: unit² minus that (geometry)."""
    d = design("drunkards path", 3, 4, 8.0)
    top = top_of(joined(d.pieces), raw_edges=False)
    unit, r = 4.0, 0.7 * 4.0
    for piece, patch in zip(d.pieces, top.patches, strict=True):
        whole = math.pi * r**2 / 4
        wanted = whole if len(piece.corners) == 3 else unit**2 - whole
        # Chords of at most 5.5° lose a share of 5.5°²/6 of the circle's area.
        assert patch.polygon.area == pytest.approx(wanted, abs=whole * math.radians(5.5) ** 2 / 6)
    arcs = [s for s in top.seams if s.sweep_rad]
    assert len(arcs) == len(d.pieces) / 2
    for s in arcs:
        (arc,) = s.curve.pieces
        assert arc.radius == pytest.approx(r)
        assert abs(s.sweep_rad) == pytest.approx(math.pi / 2)
        assert np.hypot(*(np.array(s.points) - arc.centre).T) == pytest.approx(r)


def test_a_curved_seam_runs_on_along_its_circle() -> None:
    """On the raw edge a quarter circle turns by asin(1/4 in / r) more at each end (geometry)."""
    r = 0.7 * 4.0
    top = make_top(
        "drunkards path", Layout(2, 2, 8.0), sewing=SewingSettings(sigma_in=0.0), seed=1
    )
    x1, y1 = top.outline.bounds[2:]
    more = math.asin(0.25 / r)
    counts = Counter[int]()
    for s in top.seams:
        if s.sweep_rad:
            (arc,) = s.curve.pieces
            assert arc.radius == pytest.approx(r)
            raw = sum(min(x, y, x1 - x, y1 - y) < 1e-9 for x, y in (s.points[0], s.points[-1]))
            assert abs(s.sweep_rad) == pytest.approx(math.pi / 2 + raw * more)
            counts[raw] += 1
    assert counts[1] > 0


def test_hexagons_are_regular_and_cut_straight() -> None:
    d = design("hexagons", 5, 6)
    side = 6.0 / math.sqrt(3)
    whole = [
        p
        for p in d.pieces
        if all(0 < x < d.width_in and 0 < y < d.height_in for x, y in p.corners)
    ]
    assert len(whole) == 2 * 4 + 2 * 3  # rows of four and of three by turns
    assert all(s == pytest.approx(side) for p in whole for s in sides(p))
    assert d.height_in == pytest.approx(5 * 1.5 * side)
    assert d.width_in == pytest.approx(4.5 * 6)


def ideal(name: str, border_in: float = 0.0) -> Top:
    return make_top(
        name,
        Layout(3, 4, 6.0),
        border_in=border_in,
        sewing=SewingSettings(sigma_in=0.0),
        seed=3,
    )


@pytest.mark.parametrize("name", DESIGNS)
@pytest.mark.parametrize("border_in", [0.0, 3.0])
def test_bare_top_shows_a_quarter_inch_more_on_each_side(name: str, border_in: float) -> None:
    d = pattern(name, Layout(3, 4, 6.0), border_in, np.random.default_rng(3))
    top = ideal(name, border_in)
    extra = 0.0 if d.trimmed else 0.5
    assert top.raw_edges is not d.trimmed
    assert top.outline.bounds == pytest.approx((0, 0, d.width_in + extra, d.height_in + extra))
    assert len(top.patches) == len(d.pieces)


def test_border_shows_its_width_and_one_allowance() -> None:
    """Source: a 3 in border on a bare top looks 3 1/4 in wide (common practice)."""
    top = ideal("scrappy", 3.0)
    strips = [p.polygon.bounds for p in top.patches if p.fabric == "border"]
    widths = sorted(min(b[2] - b[0], b[3] - b[1]) for b in strips)
    assert widths == pytest.approx([3.25] * 4)
    lengths = sorted(max(b[2] - b[0], b[3] - b[1]) for b in strips)
    # Sides as long as the centre, top and bottom over the whole width.
    assert lengths == pytest.approx([24.0, 24.0, 24.5, 24.5])


@pytest.mark.parametrize("name", sorted(set(DESIGNS) - {"hexagons"}))
def test_patches_inside_keep_their_finished_shape(name: str) -> None:
    """Only patches with a side on the raw edge grow, and only by that side's strip."""
    d = design(name)
    top = top_of(joined(with_allowance(d).pieces), raw_edges=True)
    for piece, patch in zip(d.pieces, top.patches, strict=True):
        ring = np.array(patch.polygon.exterior.coords[:-1])
        edges = [patch.polygon.bounds[k] for k in range(4)]
        outer = [
            edges[0] < 1e-6,
            edges[1] < 1e-6,
            edges[2] > d.width_in + 0.5 - 1e-6,
            edges[3] > d.height_in + 0.5 - 1e-6,
        ]
        if not any(outer):
            at = {
                (round(x - 0.25, 6) + 0.0, round(y - 0.25, 6) + 0.0)
                for x, y in ring[corners(ring)]
            }
            assert at == {(round(x, 6) + 0.0, round(y, 6) + 0.0) for x, y in piece.corners}


def test_points_float_a_quarter_inch_from_the_raw_edge() -> None:
    """A star's outer points end at the finished edge, 1/4 in inside (common practice)."""
    top = ideal("star")
    points = [p.polygon for p in top.patches if p.fabric == "dark"]
    low = min(p.bounds[1] for p in points)
    assert low == pytest.approx(0.25)
