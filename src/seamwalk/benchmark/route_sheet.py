"""A sheet on which made-up tops are drawn: strokes in patches' sides, cut to inches at the end."""

import math
from collections.abc import Iterator
from dataclasses import dataclass, field

from seamwalk.geometry.curve import Arc, Curve, Line, Point
from seamwalk.geometry.curve import Piece as Section
from seamwalk.model.stitching import Stroke, StrokeId, StrokeKind
from seamwalk.model.top import PatchId

Square = tuple[int, int]


@dataclass(slots=True)
class Sheet:
    """Strokes in the making; lengths in sides of a patch."""

    drawn: list[Stroke] = field(default_factory=list)

    def add(
        self,
        curve: Curve,
        kind: StrokeKind,
        *,
        required: bool,
        motif: str = "",
        patch: int | None = None,
        line: str | None = None,
        pass_no: int = 1,
    ) -> None:
        """Draw one more stroke."""
        self.drawn.append(
            Stroke(
                StrokeId(f"s{len(self.drawn) + 1}"),
                curve,
                kind,
                required,
                motif,
                None if patch is None else PatchId(patch),
                line,
                pass_no,
            )
        )

    def straight(
        self, a: Point, b: Point, kind: StrokeKind, *, required: bool = False, line: str = ""
    ) -> None:
        """Draw a seam or a part of the outer edge."""
        motif = "ditch" if required else ""
        self.add(Curve((Line(a, b),)), kind, required=required, motif=motif, line=line or None)

    @property
    def extent(self) -> float:
        """Longer side of the top."""
        return max(max(*s.curve.start, *s.curve.end) for s in self.drawn)

    def strokes(self, scale: float) -> list[Stroke]:
        """Return the strokes, `scale` inches to the side of a patch."""
        return [
            Stroke(
                s.id,
                Curve(tuple(_scaled(p, scale) for p in s.curve.pieces)),
                s.kind,
                s.required,
                s.motif,
                s.patch,
                s.line,
                s.pass_no,
            )
            for s in self.drawn
        ]


def bow(a: Point, b: Point, rise: float) -> Curve:
    """Return the arc over a chord, `rise` as a share of the chord."""
    return Curve((Arc.by_rise(a, b, rise * math.dist(a, b)),))


def grid_seams(sheet: Sheet, columns: int, rows: int, *, required: bool = False) -> None:
    """Draw the seams and the outer edge of a grid of squares, cut at each junction."""
    for a, b, line in grid_sides(columns, rows):
        margin = (a[0] == b[0] and a[0] in (0, columns)) or (a[1] == b[1] and a[1] in (0, rows))
        sheet.straight(
            a, b, "edge" if margin else "ditch", required=required and not margin, line=line
        )


def grid_sides(columns: int, rows: int) -> Iterator[tuple[Point, Point, str]]:
    """Yield the sides of all squares of a grid, with the name of the seam line."""
    for j in range(rows + 1):
        for i in range(columns):
            yield (float(i), float(j)), (float(i + 1), float(j)), f"row {j}"
    for i in range(columns + 1):
        for j in range(rows):
            yield (float(i), float(j)), (float(i), float(j + 1)), f"column {i}"


def squares(columns: int, rows: int) -> Iterator[tuple[int, Square]]:
    """Yield the number and the place of each square of a grid."""
    for k in range(columns * rows):
        yield k, (k % columns, k // columns)


def corners(square: Square) -> list[Point]:
    """Return the corners of a square, clockwise on the page from its upper left."""
    x, y = float(square[0]), float(square[1])
    return [(x, y), (x + 1, y), (x + 1, y + 1), (x, y + 1)]


def _scaled(section: Section, k: float) -> Section:
    a = (section.start[0] * k, section.start[1] * k)
    b = (section.end[0] * k, section.end[1] * k)
    if isinstance(section, Line):
        return Line(a, b)
    return Arc(a, b, (section.centre[0] * k, section.centre[1] * k), section.sweep_rad)
