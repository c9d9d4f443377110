"""What is quilted on regular tops: each function draws so many columns and rows of one block."""

import math
from itertools import pairwise

from seamwalk.benchmark.route_sheet import (
    Sheet,
    bow,
    corners,
    grid_seams,
    squares,
)
from seamwalk.geometry.curve import Arc, Curve, Line, Point

RISE = 0.18
"""Rise of arches and leaves over their chord: below tan(22.5°) / 2, at which the arches of a
square would meet at its corners."""


def arches(sheet: Sheet, columns: int, rows: int) -> None:
    """Draw an arch over each side of each square."""
    grid_seams(sheet, columns, rows)
    for k, square in squares(columns, rows):
        ring = corners(square)
        i, j = square
        lines = [f"row {j}", f"column {i + 1}", f"row {j + 1}", f"column {i}"]
        for n, (a, b) in enumerate(pairwise([*ring, ring[0]])):
            sheet.add(
                bow(a, b, RISE),
                "motif",
                required=True,
                motif="arches",
                patch=k,
                line=lines[n],
                pass_no=1 + (n in (0, 3)),
            )


def on_point(sheet: Sheet, columns: int, rows: int) -> None:
    """Draw arches along all seams of squares set on their corners, half ones at the edges."""
    s = math.sqrt(0.5)

    def at(x: int, y: int) -> Point:
        return (x * s, y * s)

    across, down = 2 * columns, 2 * rows
    for x in range(across):
        for y in range(down):
            rising = (x + y) % 2 == 1
            ends = (at(x, y + 1), at(x + 1, y)) if rising else (at(x, y), at(x + 1, y + 1))
            line = f"rising {(x + y + 1) // 2}" if rising else f"falling {(x - y) // 2}"
            sheet.straight(*ends, "ditch", line=line)
            # Squares by their middles: right of the seam's way and left of it.
            middles = ((x + 1, y + 1), (x, y)) if rising else ((x, y + 1), (x + 1, y))
            for side, (i, j) in enumerate(middles, start=1):
                sheet.add(
                    bow(*ends, RISE if side == 1 else -RISE),
                    "motif",
                    required=True,
                    motif="arches",
                    patch=j * (across + 1) + i,
                    line=line,
                    pass_no=side,
                )
    for x in range(0, across, 2):
        for y in (0, down):
            sheet.straight(at(x, y), at(x + 2, y), "edge")
    for y in range(0, down, 2):
        for x in (0, across):
            sheet.straight(at(x, y), at(x, y + 2), "edge")


def leaves(sheet: Sheet, columns: int, rows: int) -> None:
    """Draw a leaf along each seam: an arc on either side."""
    grid_seams(sheet, columns, rows)
    for seam in [s for s in sheet.drawn if s.kind == "ditch"]:
        i, j = (round(v) for v in seam.curve.start)
        right, left = (i, j), (i, j - 1)
        if seam.curve.end[0] == seam.curve.start[0]:
            right, left = (i - 1, j), (i, j)
        for side, rise, square in ((1, RISE, right), (2, -RISE, left)):
            sheet.add(
                bow(seam.curve.start, seam.curve.end, rise),
                "motif",
                required=True,
                motif="leaves",
                patch=square[1] * columns + square[0],
                line=seam.line,
                pass_no=side,
            )


def leaves_and_diagonals(sheet: Sheet, columns: int, rows: int) -> None:
    """Draw leaves, and zigzag diagonals through the patches."""
    leaves(sheet, columns, rows)
    for k, square in squares(columns, rows):
        a, b, c, d = corners(square)
        ends, name = ((a, c), "falling") if sum(square) % 2 == 0 else ((b, d), "rising")
        sheet.add(Curve((Line(*ends),)), "motif", required=True, motif=f"lines {name}", patch=k)


def lines(sheet: Sheet, columns: int, rows: int) -> None:
    """Draw straight lines both ways through the middles of patches."""
    grid_seams(sheet, columns, rows)
    for k, (i, j) in squares(columns, rows):
        x, y = i + 0.5, j + 0.5
        for end, line in (
            ((float(i), y), f"along {j}"),
            ((i + 1.0, y), f"along {j}"),
            ((x, float(j)), f"down {i}"),
            ((x, j + 1.0), f"down {i}"),
        ):
            sheet.add(
                Curve((Line(end, (x, y)),)),
                "motif",
                required=True,
                motif="lines",
                patch=k,
                line=line,
            )


def log_cabin(sheet: Sheet, columns: int, rows: int) -> None:
    """Draw blocks of logs round a middle square, every seam to be sewn in its ditch."""
    rounds = 3
    grid_seams(sheet, columns, rows, required=True)
    log = 1 / (2 * rounds + 1)
    for k, (i, j) in squares(columns, rows):
        x0, y0, x1, y1 = float(i), float(j), i + 1.0, j + 1.0
        for n in range(4 * rounds):
            # The inner side of each log, from the outermost round inwards.
            if n % 4 == 0:
                y0 += log
                a, b = (x0, y0), (x1, y0)
            elif n % 4 == 1:
                x1 -= log
                a, b = (x1, y0), (x1, y1)
            elif n % 4 == 2:
                y1 -= log
                a, b = (x1, y1), (x0, y1)
            else:
                x0 += log
                a, b = (x0, y1), (x0, y0)
            sheet.straight(a, b, "ditch", required=True, line=f"block {k + 1}")


def stars(sheet: Sheet, columns: int, rows: int) -> None:
    """Draw stars of petals, each closed at the one node in the middle of its block."""
    petals, far, round_in = 8, 0.28, 0.09
    grid_seams(sheet, 2 * columns, 2 * rows)
    # The straight sides of a petal touch the round of its tip.
    side = math.sqrt(far**2 - round_in**2)
    half = math.asin(round_in / far)
    for k, (i, j) in squares(columns, rows):
        node = (2.0 * i + 1, 2.0 * j + 1)
        for n in range(petals):
            angle = (n + 0.5) * 2 * math.pi / petals
            centre = (node[0] + far * math.cos(angle), node[1] + far * math.sin(angle))
            out, back = (
                (node[0] + side * math.cos(angle + w), node[1] + side * math.sin(angle + w))
                for w in (-half, half)
            )
            sheet.add(
                Curve(
                    (
                        Line(node, out),
                        Arc(out, back, centre, math.pi + 2 * half),
                        Line(back, node),
                    )
                ),
                "motif",
                required=True,
                motif="star",
                patch=k,
            )


def _rings(sheet: Sheet, columns: int, rows: int, *, leads: bool) -> None:
    """Draw a ring inside each patch that touches no other, with two leads to its seam or none."""
    inset = 0.15
    grid_seams(sheet, columns, rows)
    for k, square in squares(columns, rows):
        outer = corners(square)
        x, y = outer[0]
        inner = [
            (x + inset, y + inset),
            (x + 1 - inset, y + inset),
            (x + 1 - inset, y + 1 - inset),
            (x + inset, y + 1 - inset),
        ]
        for a, b in pairwise([*inner, inner[0]]):
            sheet.add(Curve((Line(a, b),)), "motif", required=True, motif="outline", patch=k)
        if leads:
            # To the corner, and to a place beside it on the seam: in by one, out by the other.
            for b in (outer[0], (x + 2 * inset, y)):
                lead = Curve((Line(inner[0], b),))
                sheet.add(lead, "motif", required=False, motif="outline", patch=k)


def block_walks(sheet: Sheet, columns: int, rows: int) -> None:
    """Draw a ring in each patch, with two leads to its seam."""
    _rings(sheet, columns, rows, leads=True)


def islands(sheet: Sheet, columns: int, rows: int) -> None:
    """Draw a ring in each patch that nothing joins to a seam."""
    _rings(sheet, columns, rows, leads=False)
