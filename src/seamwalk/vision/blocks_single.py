"""Tops of one patch: hexagons, bricks, and plain grids, which have no blocks at all."""

from dataclasses import dataclass

import numpy as np

from seamwalk.geometry.congruence import agreeing, symmetries
from seamwalk.vision.blocks_cells import Cloth, figures_about
from seamwalk.vision.blocks_draft import Draft
from seamwalk.vision.blocks_kinds import Kind, is_plain, near_of
from seamwalk.vision.blocks_names import known_names


@dataclass(frozen=True, slots=True)
class SingleSettings:
    """When patches of one kind are laid in a named way."""

    angle_deg: float = 10.0
    """Corners of a hexagon are within this of 120°."""
    offset: float = 0.12
    """Rows of bricks are shifted by half a brick, to within this share of one."""
    rows: float = 0.7
    """At least this share of the bricks lies so on the row above or below."""


def hexagons(cloth: Cloth, settings: SingleSettings | None = None) -> Kind | None:
    """Return even hexagons of one size as a kind; None where there are fewer than three."""
    s = settings or SingleSettings()
    six = [k for k, r in enumerate(cloth.rings) if len(r) == 6 and cloth.inside[k]]
    six = [k for k in six if _is_even(cloth, k, s)]
    if len(six) < 3:
        return None
    patches = np.array(six, dtype=np.intp)[:, None]
    centre = cloth.middle[patches[:, 0]]
    figures = figures_about(cloth, patches, centre)
    typical = int(np.abs(cloth.area[six] - np.median(cloth.area[six])).argmin())
    near = near_of(cloth.area[[six[typical]]])
    pose, _ = agreeing(figures, figures[typical], near)
    fits = pose >= 0
    if fits.sum() < 3:
        return None
    width, height = np.ptp(cloth.rings[six[typical]], axis=0).tolist()
    return Kind(
        figures[typical],
        cloth.area[[six[typical]]],
        near,
        width,
        height,
        symmetries(figures[typical], near),
        known_names(figures[typical], (6,)),
        pose[fits],
        patches[fits],
        centre[fits],
    )


def _is_even(cloth: Cloth, k: int, s: SingleSettings) -> bool:
    ring = cloth.rings[k]
    a, b = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
    turn = np.degrees(np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], (a * b).sum(axis=1)))
    return bool((np.abs(np.abs(turn) - 60) < s.angle_deg).all())


def is_brick(draft: Draft, settings: SingleSettings | None = None) -> bool:
    """Return whether a plan of single rectangles has its rows shifted by half."""
    s = settings or SingleSettings()
    if len(draft.laid) != 1 or len(draft.laid[0].kind.area) != 1:
        return False
    x = draft.laid[0]
    w, h = x.kind.width, x.kind.height
    if abs(w - h) < draft.cloth.near_in or x.kind.area[0] < 0.85 * w * h:
        return False
    off = x.centre[None] - x.centre[:, None]
    for axis, along, across in ((0, max(w, h), min(w, h)), (1, max(w, h), min(w, h))):
        next_row = np.abs(np.abs(off[..., 1 - axis]) - across) < draft.cloth.near_in
        half = np.abs(np.abs(off[..., axis]) - along / 2) < s.offset * along
        if (next_row & half).any(axis=1).mean() > s.rows:
            return True
    return False


def is_plain_grid(draft: Draft) -> bool:
    """Return whether a plan's first unit is just some equal patches of a grid.

    Any number of them would do as well, so none is a unit, unless fabrics alternate in a way
    that has a name, units are turned against each other, or other patches set them apart.
    """
    x, name = draft.laid[0], draft.names()[0]
    if name or len(x.kind.area) < 2 or x.kind.apart:
        return False
    if is_plain(x.kind.figure[None])[0]:
        return True
    size = x.kind.figure[:, 2:4] - x.kind.figure[:, :2]
    boxes = x.kind.area > 0.85 * size.prod(axis=1)
    equal = np.abs(size - np.median(size, axis=0)).max(axis=1) < x.kind.near
    return bool(boxes.all() and equal.all() and len(set((x.pose % 2).tolist())) == 1)
