"""Tops with known truth: a design, sewn with a known error."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from seamwalk.errors import UsageError
from seamwalk.model.top import PatchId, Top
from seamwalk.scenes.allowance import with_allowance
from seamwalk.scenes.designs import curves, grids, strips_and_points, triangles
from seamwalk.scenes.designs.pattern import Layout, Pattern, bordered
from seamwalk.scenes.planar_map import joined, top_of
from seamwalk.scenes.sewing import SewingSettings, sewn

Design = Callable[[Layout, np.random.Generator], Pattern]

DESIGNS: dict[str, Design] = {
    "nine patch": grids.nine_patch,
    "pinwheel": triangles.pinwheel,
    "flying geese": triangles.flying_geese,
    "log cabin": strips_and_points.log_cabin,
    "star": triangles.star,
    "rail fence": grids.rail_fence,
    "on point": strips_and_points.on_point,
    "sashed": grids.sashed,
    "scrappy": grids.scrappy,
    "mixed sizes": grids.mixed_sizes,
    "hexagons": strips_and_points.hexagons,
    "square in square": triangles.square_in_square,
    "drunkards path": curves.drunkards_path,
}
"""Every design by its name."""

CURVED = frozenset({"drunkards path"})
"""Designs with curved seams."""


def design_named(name: str) -> str:
    """Return the key of `DESIGNS` that was meant, written with spaces or hyphens.

    Raises
    ------
    UsageError
        If there is no such design.
    """
    key = name.replace("-", " ")
    if key not in DESIGNS:
        known = ", ".join(d.replace(" ", "-") for d in DESIGNS)
        raise UsageError(f"I know no design “{name}”.", f"Known are {known}.")
    return key


def pattern(design: str, layout: Layout, border_in: float, rng: np.random.Generator) -> Pattern:
    """Return the design at finished size, with a border if `border_in` is above zero."""
    return bordered(DESIGNS[design](layout, rng), border_in)


def make_top(
    design: str,
    layout: Layout,
    *,
    border_in: float = 0.0,
    sewing: SewingSettings | None = None,
    seed: int = 0,
) -> Top:
    """Return a bare top of the design.

    Its patches' ``fabric`` is the role that the design gives them; `render` lays real fabrics
    on roles.

    Parameters
    ----------
    design : str
        A key of `DESIGNS`.
    layout : Layout
        Blocks and their finished size.
    border_in : float
        Finished width of the border, inches; 0 for none.
    sewing : SewingSettings or None
        Piecing error; None for the defaults.
    seed : int
        The same seed gives the same top.
    """
    rng = np.random.default_rng(seed)
    finished = pattern(design, layout, border_in, rng)
    planar = joined(with_allowance(finished).pieces)
    return top_of(sewn(planar, sewing or SewingSettings(), rng), raw_edges=not finished.trimmed)


def with_fabrics(top: Top, fabric_of_role: dict[str, str]) -> Top:
    """Return the top with each patch's role replaced by the name of a fabric."""
    patches = tuple(replace(p, fabric=fabric_of_role[p.fabric]) for p in top.patches)
    return replace(top, patches=patches)


def shared_fabrics(top: Top, share: float, rng: np.random.Generator) -> Top:
    """Return the top with some patches cut from the same fabric as a neighbour.

    Parameters
    ----------
    share : float
        Share of patches that take a neighbour's fabric, 0 to 1.
    """
    if share == 0:
        return top
    neighbours: dict[PatchId, list[PatchId]] = {p.id: [] for p in top.patches}
    for seam in top.seams:
        if seam.left is not None and seam.right is not None:
            neighbours[seam.left].append(seam.right)
            neighbours[seam.right].append(seam.left)
    fabric = {p.id: p.fabric for p in top.patches}
    for patch, near in neighbours.items():
        if near and rng.random() < share:
            fabric[patch] = fabric[near[int(rng.integers(len(near)))]]
    return replace(top, patches=tuple(replace(p, fabric=fabric[p.id]) for p in top.patches))
