"""Outlines of the patches that a picture shows, bent as its camera and bumps bend them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamwalk.training.sketch import PiecedTop
from seamwalk.training.view_bumps import Bumps
from seamwalk.training.view_camera import Camera

Array = NDArray[np.float64]
Index = NDArray[np.int64]

FINEST_PX = 14.0
"""Shortest piece of a bent outline, picture pixels: its sagitta stays far under 0.1 px."""

CURVED = np.radians(40.0)
"""Largest bend between the chords of a curve, radians: below the 45° of an octagon."""

MOST_PIECES = 48
"""Most pieces of one side of a patch."""


@dataclass(frozen=True, slots=True, eq=False)
class Outlines:
    """All outlines of the patches in view, as one chain of points per patch.

    Attributes
    ----------
    xy, px : (M, 2) float64
        Inches on the cloth and picture positions.
    patch : (M,) int64
        Place of the patch in `patches`.
    after : (M,) int64
        Index of the next point of the same outline.
    side : (M,) int64
        Number of the patch's side that starts at or runs through the point.
    turn : (M,) float64
        Degrees by which the outline turns at the point, 0 to 180; 0 between corners and along
        curves.
    starts : (P + 1,) int64
        First point of every patch.
    patches : (P,) int64
        Index in the top of every patch in view.
    inward : (M, 2) float64
        Unit normal, in inches, from the side that starts at the point into the patch.
    opening : (M,) float64
        Inner angle at the point, radians; π between corners.
    """

    xy: Array
    px: Array
    patch: Index
    after: Index
    side: Index
    turn: Array
    starts: Index
    patches: Index
    inward: Array
    opening: Array


def outlines(
    top: PiecedTop, camera: Camera, bumps: Bumps | None, side_px: int, most: int
) -> Outlines:
    """Return the outlines of the patches of `top` in the picture, at most `most` patches.

    Outlines are split finely enough only where lens or bumps bend them.
    """
    counts = np.array([len(r) for r in top.rings])
    xy = np.concatenate(top.rings).astype(np.float64)
    ends = np.cumsum(counts)
    starts = ends - counts
    px = camera.px_from_cloth(xy, bumps)
    low = np.minimum.reduceat(px, starts, axis=0)
    high = np.maximum.reduceat(px, starts, axis=0)
    slack = 0.02 * side_px + 4.0
    seen = ((high > -slack) & (low < side_px + slack)).all(axis=1)
    patches = np.flatnonzero(seen)[:most]
    keep = np.repeat(np.isin(np.arange(len(counts)), patches), counts)
    return _split(xy[keep], px[keep], counts[patches], patches, camera, bumps, side_px)


def _split(
    xy: Array,
    px: Array,
    counts: Index,
    patches: Index,
    camera: Camera,
    bumps: Bumps | None,
    side_px: int,
) -> Outlines:
    if len(patches) == 0:
        empty, none = np.zeros((0, 2)), np.zeros(0, np.int64)
        return Outlines(
            empty, empty, none, none, none, np.zeros(0), np.zeros(1, np.int64), none, empty,
            np.zeros(0),
        )  # fmt: skip
    starts = np.concatenate([[0], np.cumsum(counts)[:-1]])
    after, before = _ring_steps(starts, counts)
    chord = xy[after] - xy
    length = np.linalg.norm(chord, axis=1)
    way = chord / np.maximum(length, 1e-9)[:, None]
    back = way[before]
    bend = np.arctan2(back[:, 0] * way[:, 1] - back[:, 1] * way[:, 0], (back * way).sum(axis=1))
    twice = np.add.reduceat(xy[:, 0] * xy[after, 1] - xy[after, 0] * xy[:, 1], starts)
    hand = np.repeat(np.where(twice >= 0, 1.0, -1.0), counts)
    inward = np.column_stack([-way[:, 1], way[:, 0]]) * hand[:, None]
    opening = np.pi - bend * hand
    turn = np.where(_along_curve(bend, bend[before]) | _along_curve(bend, bend[after]), 0.0, bend)
    turn = np.degrees(np.abs(turn))
    pieces = np.ones(len(xy), np.int64)
    if camera.k1 != 0.0 or bumps is not None:
        span = np.linalg.norm(px[after] - px, axis=1)
        step = FINEST_PX
        if bumps is not None:
            detail = span.sum() / max(float(length.sum()), 1e-9)
            step = max(FINEST_PX, min(60.0, bumps.shortest_in * detail / 8.0))
        lowest, highest = np.minimum(px, px[after]), np.maximum(px, px[after])
        away = ((highest < -60.0) | (lowest > side_px + 60.0)).any(axis=1)
        pieces = np.clip(np.ceil(span / step), 1, MOST_PIECES).astype(np.int64)
        pieces[away] = 1
    owner = np.repeat(np.arange(len(xy)), pieces)
    first = np.cumsum(pieces) - pieces
    share = (np.arange(len(owner)) - first[owner]) / pieces[owner]
    corner = share == 0.0
    points = xy[owner] + share[:, None] * chord[owner]
    seen = np.empty_like(points)
    seen[corner] = px
    if not corner.all():
        seen[~corner] = camera.px_from_cloth(points[~corner], bumps)
    ring = np.repeat(np.arange(len(patches)), counts)
    many = np.add.reduceat(pieces, starts)
    heads = np.concatenate([[0], np.cumsum(many)])
    after, _ = _ring_steps(heads[:-1], many)
    number = np.arange(len(xy)) - np.repeat(starts, counts)
    return Outlines(
        xy=points,
        px=seen,
        patch=ring[owner],
        after=after,
        side=number[owner],
        turn=np.where(corner, turn[owner], 0.0),
        starts=heads,
        patches=patches,
        inward=inward[owner],
        opening=np.where(corner, opening[owner], np.pi),
    )


def _along_curve(bend: Array, beside: Array) -> NDArray[np.bool_]:
    """Return where an outline bends by `bend` as a curve does: a little, as it does `beside`."""
    alike = np.abs(beside) > 0.5 * np.abs(bend)
    out: NDArray[np.bool_] = alike & (bend * beside > 0.0) & (np.abs(bend) < CURVED)
    return out


def _ring_steps(starts: Index, counts: Index) -> tuple[Index, Index]:
    """Return the indices of the next and the previous point of each point of closed chains."""
    total = int(counts.sum())
    after = np.arange(1, total + 1)
    after[starts + counts - 1] = starts
    before = np.arange(-1, total - 1)
    before[starts] = starts + counts - 1
    return after, before
