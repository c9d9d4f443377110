"""Numbered discs that show on the picture where to look.

Each disc stands as near to its place as it can without hiding what is written: of a ring of places
round it the cheapest is taken, worst check first.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from seamwalk.geometry.curve import Point
from seamwalk.model.top import PatchId, Top
from seamwalk.sheets import lettering
from seamwalk.sheets.checks import Check
from seamwalk.sheets.drawing import Fill, Item, Label, Pen
from seamwalk.sheets.palette import INK, WHITE, YELLOW


@dataclass(frozen=True, slots=True)
class MarkSettings:
    """How discs look and stand, in widths of the picture's text (its em)."""

    radius: float = 0.95
    """Of a disc: its figure is as large as the largest text on a patch."""
    rings: tuple[float, ...] = (0.0, 1.1, 1.8, 2.6, 3.5, 4.6, 6.0)
    """Distances from the place that are tried."""
    directions: int = 16
    """Places tried on each ring."""
    away: float = 0.08
    """Cost of standing one em further away, on the scale of `over_text`."""
    outside: float = 0.4
    """Cost of standing outside the patch that is meant, likewise."""
    hides_seam: float = 0.35
    """Cost of standing on a seam shorter than three discs, likewise: nothing of it would show."""
    over_text: float = 2.5
    """Hiding a disc's area of text costs this …"""
    over_disc: float = 20.0
    """… and of another disc this."""


MARKS = MarkSettings()


def disc(at: Point, number: int, em: float, settings: MarkSettings = MARKS) -> list[Item]:
    """Return one numbered disc with its middle at a point."""
    r = settings.radius * em
    turn = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    ring = tuple((at[0] + r * float(np.cos(a)), at[1] + r * float(np.sin(a))) for a in turn)
    edge = Pen(INK, 0.14 * em, casing=WHITE, casing_in=0.1 * em)
    return [
        Fill(ring, YELLOW, edge, layer="check"),
        Label(str(number), at, 1.15 * em, INK, bold=True, layer="check"),
    ]


def check_items(
    found: Sequence[Check],
    top: Top,
    written: Iterable[Item],
    em: float,
    settings: MarkSettings = MARKS,
) -> list[Item]:
    """Return the discs of the checks given.

    Parameters
    ----------
    written : iterable of Item
        What stands on the top already: labels and the boxes behind them are not to be hidden.
    em : float
        Size of the picture's text, inches on the drawing.
    """
    taken = [box for item in written if (box := _written_box(item)) is not None]
    weights = [settings.over_text] * len(taken)
    polygons = {p.id: p.polygon for p in top.patches}
    lengths = {s.id: shapely.LineString(s.points).length for s in top.seams}
    r = settings.radius * em
    items: list[Item] = []
    for check in found:
        meant = None if check.sure is not None else _area(check, polygons)
        short = meant is None and max((lengths[s] for s in check.seams), default=0.0) < 6 * r
        at = _free(check.at, np.array(taken).reshape(-1, 4), weights, meant, short, em, settings)
        items += disc(at, check.number, em, settings)
        taken.append((at[0] - r, at[1] - r, at[0] + r, at[1] + r))
        weights.append(settings.over_disc)
    return items


def _area(check: Check, polygons: dict[PatchId, shapely.Polygon]) -> shapely.Geometry:
    """Return the patch that the check's place lies on, or the patches in question."""
    at = shapely.Point(check.at)
    own = [polygons[p] for p in check.patches if p in polygons]
    return next((p for p in own if p.contains(at)), shapely.union_all(own))


def _free(
    at: Point,
    taken: NDArray[np.float64],
    weights: Sequence[float],
    meant: shapely.Geometry | None,
    short: bool,
    em: float,
    s: MarkSettings,
) -> Point:
    """Return the cheapest place round a point."""
    turn = 2 * np.pi * np.arange(s.directions) / s.directions
    around = np.column_stack([np.cos(turn), np.sin(turn)])
    places = np.concatenate([np.array(at) + ring * em * around for ring in s.rings])
    r = s.radius * em
    low = np.maximum((places - r)[:, None], taken[None, :, :2])
    high = np.minimum((places + r)[:, None], taken[None, :, 2:])
    hidden = np.clip(high - low, 0, None).prod(axis=2) @ np.array(weights).reshape(-1)
    cost = hidden / (2 * r) ** 2 + s.away * np.repeat(s.rings, s.directions)
    if meant is not None:
        cost += s.outside * ~shapely.contains_xy(shapely.buffer(meant, -0.6 * r), places)
    if short:
        cost += s.hides_seam * (np.hypot(*(places - at).T) < r)
    best = int(np.argmin(cost))
    return float(places[best, 0]), float(places[best, 1])


def _written_box(item: Item) -> tuple[float, float, float, float] | None:
    """Return (x0, y0, x1, y1) of a box of text, or nothing for other items."""
    if isinstance(item, Fill) and item.layer == "label":
        x, y = np.array(item.ring).T
        return float(x.min()), float(y.min()), float(x.max()), float(y.max())
    if isinstance(item, Label):
        w = lettering.width(item.text, item.size_in, item.bold) / 2
        h = 0.6 * item.size_in
        w, h = (h, w) if item.turn_deg else (w, h)
        return item.at[0] - w, item.at[1] - h, item.at[0] + w, item.at[1] + h
    return None
