"""A name for each unit that has one, and none for its near relations.

What the words mean is from memory unless another source stands beside; each block is drawn here
anew, piece by piece, and told from a top of sixteen of it.
"""

import itertools
import math

import numpy as np
import pytest
from shapely import Polygon
from tests.vision.pieced_tops import block, posed, rect, scaled, tiled, top_of

from seamwalk.vision.blocks import find_blocks

A, B = "light", "dark"
S2 = math.sqrt(2)


def checks(n):
    return block(*(rect((A, B)[(x + y) % 2], x, y) for y in range(n) for x in range(n)))


def half(x, y, way, upper=A, lower=B):
    """A unit square cut once: ``\\`` from upper left to lower right, ``/`` the other way."""
    if way == "\\":
        return [
            (upper, x, y, x + 1, y, x + 1, y + 1),
            (lower, x, y, x + 1, y + 1, x, y + 1),
        ]
    return [(upper, x, y, x + 1, y, x, y + 1), (lower, x + 1, y, x + 1, y + 1, x, y + 1)]


def quarters(x, y, fabrics):
    m = (x + 0.5, y + 0.5)
    c = [(x, y), (x + 1, y), (x + 1, y + 1), (x, y + 1)]
    return [(f, *c[k], *c[(k + 1) % 4], *m) for k, f in enumerate(fabrics)]


def log_cabin():
    """Centre, then logs in turn right, below, left, above: each as long as all before it."""
    pieces, x0, y0, x1, y1 = [rect("red", 2, 2)], 2, 2, 3, 3
    for _ in range(2):
        pieces.append(rect(A, x1, y0, 1, y1 - y0))
        x1 += 1
        pieces.append(rect(A, x0, y1, x1 - x0, 1))
        y1 += 1
        pieces.append(rect(B, x0 - 1, y0, 1, y1 - y0))
        x0 -= 1
        pieces.append(rect(B, x0, y0 - 1, x1 - x0, 1))
        y0 -= 1
    return block(*pieces)


def courthouse_steps():
    """Centre, then logs on two opposite sides, then on the other two, and so on."""
    pieces = [rect("red", 2, 2)]
    for k in (1, 2):
        w = 2 * k - 1
        lo, hi = 2 - k, 2 + k
        pieces += [rect(A, lo, lo + 1, 1, w), rect(A, hi, lo + 1, 1, w)]
        pieces += [rect(B, lo, lo, w + 2, 1), rect(B, lo, hi, w + 2, 1)]
    return block(*pieces)


def sawtooth_star():
    side = [
        (A, 1, 0, 3, 0, 2, 1),
        (B, 1, 0, 2, 1, 1, 1),
        (B, 3, 0, 3, 1, 2, 1),
        rect(A, 0, 0),
    ]
    out = block(rect("red", 1, 1, 2, 2))
    for k in range(4):
        out += posed(block(*side), 4, turns=k)
    return out


def eight_pointed_star():
    """Eight 45° diamonds round the middle, squares in the corners, triangles at the sides.

    The side s of a diamond, a square and a leg: the block is s (2 + √2) wide.
    """
    w = 2 + S2
    m = w / 2
    fan = []
    for k in range(2):
        a, b, c = (np.radians(45 * k + t) for t in (-90, -45, -67.5))
        reach = 2 * math.cos(math.radians(22.5))
        fan.append(
            (
                (A, B)[k % 2],
                m,
                m,
                m + math.cos(a),
                m + math.sin(a),
                m + reach * math.cos(c),
                m + reach * math.sin(c),
                m + math.cos(b),
                m + math.sin(b),
            )
        )
    corner = ("white", w - 1, 0, w, 0, w, 1, m + 1 / S2, m - 1 / S2)
    side = ("white", 1, 0, w - 1, 0, m, m - 1)
    out = []
    for k in range(4):
        out += posed(block(*fan, corner, side), w, turns=k)
    return scaled(out, 6 / w)


def star_of(sides, corners=None):
    """A three by three grid: centre and corners plain unless given, sides given by turns."""
    out = block(rect("red", 1, 1))
    for k in range(4):
        out += posed(block(*(corners or [rect(A, 0, 0)]), *sides), 3, turns=k)
    return out


def churn_dash():
    bars = [rect(B, 1, 0, 1, 0.5), rect(A, 1, 0.5, 1, 0.5)]
    return star_of(bars, half(0, 0, "/", A, B))


def snowball(corner):
    out = []
    for k in range(4):
        out += posed(block((A, 0, 0, corner, 0, 0, corner)), 6, turns=k)
    c, d = corner, 6 - corner
    ring = [(c, 0), (d, 0), (6, c), (6, d), (d, 6), (c, 6), (0, d), (0, c)]
    return [*out, (Polygon(ring), B)]


def quarter_round(radius):
    """A unit square with a quarter circle about one corner, as 48 chords, and the rest."""
    turn = [k * math.pi / 96 for k in range(49)]
    arc = [(radius * math.cos(t), radius * math.sin(t)) for t in turn]
    return [
        (Polygon([(0, 0), *arc]), A),
        (Polygon([*arc[::-1], (1, 0), (1, 1), (0, 1)]), B),
    ]


NAMED = {
    "four patch": (checks(2), 2),
    "nine patch": (checks(3), 3),
    "half-square triangle": (block(*half(0, 0, "\\")), 1),
    "hourglass": (block(*quarters(0, 0, (A, B, A, B))), 1),
    "pinwheel": (
        block(
            *half(0, 0, "\\", A, B),
            *half(1, 0, "/", B, A),
            *half(0, 1, "/", A, B),
            *half(1, 1, "\\", B, A),
        ),
        2,
    ),
    "rail fence": (block(rect(A, 0, 0, 3, 1), rect(B, 0, 1, 3, 1), rect("red", 0, 2, 3, 1)), 3),
    "log cabin": (log_cabin(), 5),
    "courthouse steps": (courthouse_steps(), 5),
    "square in a square": (
        block(
            (B, 1, 0, 2, 1, 1, 2, 0, 1),
            (A, 0, 0, 1, 0, 0, 1),
            (A, 1, 0, 2, 0, 2, 1),
            (A, 2, 1, 2, 2, 1, 2),
            (A, 1, 2, 0, 2, 0, 1),
        ),
        2,
    ),
    "sawtooth star": (sawtooth_star(), 4),
    "friendship star": (star_of(half(1, 0, "/", A, B)), 3),
    "Ohio star": (star_of(quarters(1, 0, (A, B, A, B))), 3),
    "shoo fly": (star_of([rect(A, 1, 0)], half(0, 0, "/", A, B)), 3),
    "churn dash": (churn_dash(), 3),
    "snowball": (snowball(1.75), 6),
    "eight-pointed star": (eight_pointed_star(), 6),
    "drunkard's path": (quarter_round(0.7), 1),
}


def turned_about(name):
    """Some units are only told from strips or a grid when they are laid in turn."""
    pieces, side = NAMED[name]
    six = scaled(pieces, 6 / side)
    if name in ("rail fence", "half-square triangle", "drunkard's path"):
        return lambda col, row: posed(six, 6, turns=(col + row) % 2)
    return six


@pytest.mark.parametrize("name", NAMED)
def test_the_trades_name(name):
    plan = find_blocks(top_of(tiled(turned_about(name), 4, 4, 6)))
    assert [b.name for b in plan.blocks] == [name]
    assert len(plan.placements) == 16
    assert plan.leftover == ()
    assert plan.blocks[0].width_in == pytest.approx(6, abs=1e-3)


def test_flying_geese_are_twice_as_wide_as_high():
    # Width = 2 · height: published tables of flying geese.
    goose = block((B, 2, 0, 4, 2, 0, 2), (A, 0, 0, 2, 0, 0, 2), (A, 2, 0, 4, 0, 4, 2))
    plan = find_blocks(top_of(tiled(goose, 4, 8, 4, 2)))
    assert [b.name for b in plan.blocks] == ["flying geese"]
    assert len(plan.placements) == 32


def test_bricks_have_rows_shifted_by_half():
    rows = []
    for row in range(8):
        cuts = [0, *range(3, 24, 6), 24] if row % 2 else list(range(0, 25, 6))
        rows += block(*(rect(A, a, 3 * row, b - a, 3) for a, b in itertools.pairwise(cuts)))
    plan = find_blocks(top_of(rows))
    assert [b.name for b in plan.blocks] == ["brick"]
    assert len(plan.placements) == 16 + 12
    assert plan.blocks[0].width_in == pytest.approx(6)


def test_hexagons():
    side = 2.0
    w, step = side * math.sqrt(3), 1.5 * side
    ring = [(side * math.sin(k * math.pi / 3), side * math.cos(k * math.pi / 3)) for k in range(6)]
    pieces = [
        (Polygon([(x + (col + row % 2 / 2) * w, y + row * step) for x, y in ring]), A)
        for row in range(5)
        for col in range(5)
    ]
    plan = find_blocks(top_of(pieces))
    assert [b.name for b in plan.blocks] == ["hexagon"]
    assert len(plan.placements) == 25


# Near relations, and what they lack.
NO_NAME = {
    "nine squares of nine fabrics": block(*(rect(f"f{k}", k % 3, k // 3) for k in range(9))),
    "nine squares without known fabrics": [(p, "") for p, _ in checks(3)],
    "two strips": block(rect(A, 0, 0, 3, 1.5), rect(B, 0, 1.5, 3, 1.5)),
    "strips of unequal width": block(
        rect(A, 0, 0, 3, 0.5), rect(B, 0, 0.5, 3, 1), rect("red", 0, 1.5, 3, 1.5)
    ),
    "pinwheel seams, fabrics mirrored": scaled(
        block(
            *half(0, 0, "\\", A, B),
            *half(1, 0, "/", A, B),
            *half(0, 1, "/", B, A),
            *half(1, 1, "\\", B, A),
        ),
        1.5,
    ),
    "one corner cut off straight": scaled(
        block((A, 0, 0, 0.7, 0, 0, 0.7), (B, 0.7, 0, 1, 0, 1, 1, 0, 1, 0, 0.7)), 3
    ),
    "star with points turned inwards": star_of(half(1, 0, "/", A, B), half(0, 0, "\\", A, B)),
}


@pytest.mark.parametrize("what", NO_NAME)
def test_no_name_where_the_geometry_is_another(what):
    def laid(col, row):
        return posed(scaled(NO_NAME[what], 2), 6, turns=(col + row) % 2)

    plan = find_blocks(top_of(tiled(laid, 4, 4, 6)))
    assert {b.name for b in plan.blocks} <= {"", "half-square triangle"}
