"""What a motif is, and where motifs are found by name.

A motif is a function that takes a `Region` and a `MotifChoice` and gives a `StrokePlan`.  It
decides shape, never order.  An installed package adds one under the entry-point group
``seamwalk.motifs``; the ones of seamwalk itself are loaded when first asked for.
"""

import difflib
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from importlib import import_module
from importlib.metadata import entry_points
from typing import cast

import shapely
from shapely import Polygon
from shapely.geometry import MultiPolygon

from seamwalk.errors import MotifError
from seamwalk.model.choice import MotifChoice
from seamwalk.model.circles import ArcClass, CircleChoice
from seamwalk.model.machine import MachineProfile
from seamwalk.model.stitching import Stroke
from seamwalk.model.top import PatchId, Seam
from seamwalk.motifs.area import Area
from seamwalk.motifs.outlines import Outline
from seamwalk.units import Units

GROUP = "seamwalk.motifs"
"""Entry-point group in which installed packages name their motifs."""


@dataclass(frozen=True, eq=False)
class Region:
    """Patches covered as one, with all that lies in and around them.

    Attributes
    ----------
    area : Area
        The whole top inside its binding line.
    patches : tuple of PatchId
        Covered as one.
    machine : MachineProfile
        Its smallest radius holds for every curve.
    units : {"in", "cm"}
        Of lengths in warnings; all else is inches.
    """

    area: Area
    patches: tuple[PatchId, ...]
    machine: MachineProfile
    units: Units = "in"

    @cached_property
    def outlines(self) -> tuple[Outline, ...]:
        """Finished outlines of the patches, in their order."""
        known = self.area.outlines
        return tuple(known[p] for p in self.patches if p in known)

    @cached_property
    def polygon(self) -> Polygon | MultiPolygon:
        """The region's shape inside the binding line."""
        shape = shapely.union_all([o.polygon for o in self.outlines])
        return cast("Polygon | MultiPolygon", shape)

    @cached_property
    def seams(self) -> tuple[Seam, ...]:
        """Seams in and around the region that reach inside the binding line."""
        mine = set(self.patches)
        return tuple(
            seam
            for seam in self.area.top.seams
            if seam.id in self.area.ditches and (seam.left in mine or seam.right in mine)
        )


@dataclass(frozen=True, slots=True)
class StrokePlan:
    """Strokes, with all that a person should know about them.

    Attributes
    ----------
    strokes : tuple of Stroke
        Ids are unique.
    warnings : tuple of str
        Whole sentences.
    left_out : tuple of PatchId
        Patches that the motif does not fit; nothing was put there.
    classes : tuple of ArcClass
        Arcs that circles can be chosen for; `MotifChoice.circles_in` answers in this order.
    circles : CircleChoice or None
        The circles chosen for the classes; None where none were asked for.
    """

    strokes: tuple[Stroke, ...]
    warnings: tuple[str, ...] = ()
    left_out: tuple[PatchId, ...] = ()
    classes: tuple[ArcClass, ...] = ()
    circles: CircleChoice | None = None


Motif = Callable[[Region, MotifChoice], StrokePlan]

_BUILT_IN = {
    "arches": "seamwalk.motifs.arches:arches",
    "cable": "seamwalk.motifs.cable:cable",
    "clamshells": "seamwalk.motifs.clamshells:clamshells",
    "crosshatch": "seamwalk.motifs.lines:crosshatch",
    "ditch": "seamwalk.motifs.ditch:ditch",
    "fans": "seamwalk.motifs.fans:fans",
    "leaf-diagonals": "seamwalk.motifs.diagonals:leaf_diagonals",
    "leaf-lines": "seamwalk.motifs.leaves:leaf_lines",
    "lines": "seamwalk.motifs.lines:lines",
    "none": "seamwalk.motifs.ditch:nothing",
    "outline": "seamwalk.motifs.outline:outline",
    "piano-keys": "seamwalk.motifs.piano_keys:piano_keys",
    "spiral": "seamwalk.motifs.spiral:spiral",
    "three-strand-cable": "seamwalk.motifs.cable:three_strand_cable",
    "waves": "seamwalk.motifs.waves:waves",
}
_added: dict[str, Motif] = {}


def register(name: str, motif: Motif) -> None:
    """Make `motif` known under `name` for this run.

    Raises
    ------
    ValueError
        If the name is taken by another function.
    """
    if name in _BUILT_IN or _added.get(name, motif) is not motif:
        raise ValueError(f"there is a motif called {name} already")
    _added[name] = motif


def known() -> tuple[str, ...]:
    """Return the names of all motifs, sorted, those of installed packages included."""
    return tuple(sorted({*_BUILT_IN, *_added, *(e.name for e in entry_points(group=GROUP))}))


def find(name: str) -> Motif:
    """Return the motif called `name`; blanks and hyphens count alike.

    Raises
    ------
    MotifError
        If no motif has the name.
    """
    key = "-".join(name.strip().lower().replace("_", " ").replace("-", " ").split())
    if key in _added:
        return _added[key]
    if key in _BUILT_IN:
        module, function = _BUILT_IN[key].split(":")
        return cast("Motif", getattr(import_module(module), function))
    for entry in entry_points(group=GROUP):
        if entry.name == key:
            return cast("Motif", entry.load())
    names = known()
    close = difflib.get_close_matches(key, names, n=1)
    hint = f"Did you mean {close[0]}? " if close else ""
    raise MotifError(
        f"There is no motif called “{name}”.", f"{hint}Known motifs: {', '.join(names)}."
    )
