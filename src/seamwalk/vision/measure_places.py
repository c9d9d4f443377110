"""Patches misread in a repeated block, put with the kind at their place.

Where a block repeats, its other copies know what lies at each place.  A patch that measures a
little otherwise, and of which there are few, was misread or missewn there: it is no kind of its
own.
"""

from collections import Counter
from dataclasses import dataclass, replace

import numpy as np

from seamwalk.vision.blocks_draft import Draft
from seamwalk.vision.measure_classes import Kind
from seamwalk.vision.measure_finished import FinishedShape
from seamwalk.vision.shapes import dimensions


@dataclass(frozen=True, slots=True)
class PlaceSettings:
    """When the place of a patch tells its kind."""

    agree: float = 0.6
    """The kind at a place is that of at least this share of the copies …"""
    fewest: int = 4
    """… and of at least so many."""
    few: float = 0.34
    """Kinds with fewer members than this share of that kind's may be misread ones …"""
    most_in: float = 0.3
    """… where their dimensions differ by no more than this, inches: more than can be eased in."""


def in_places(
    found: list[Kind],
    shapes: list[FinishedShape],
    draft: Draft | None,
    settings: PlaceSettings | None = None,
) -> list[Kind]:
    """Return the kinds with misread patches of repeated blocks in the kind at their place.

    Parameters
    ----------
    draft : Draft or None
        The blocks, by places in `shapes`; without them nothing changes.
    """
    s = settings or PlaceSettings()
    if draft is None:
        return found
    of = {k: number for number, kind in enumerate(found) for k in kind.members}
    to = dict(of)
    for laid in draft.laid:
        for place in laid.patches.T.tolist():
            seen = [k for k in place if k >= 0]
            if not seen:
                continue
            ((usual, count),) = Counter(of[k] for k in seen).most_common(1)
            if count < max(s.fewest, s.agree * len(seen)):
                continue
            kind = found[usual]
            for k in seen:
                own = found[of[k]]
                if len(own.members) < s.few * len(kind.members) and _fits(k, kind, shapes, s):
                    to[k] = usual
    out = []
    for number, kind in enumerate(found):
        members = tuple(sorted(k for k, to_number in to.items() if to_number == number))
        if members:
            true = tuple(k for k in kind.true if to[k] == number)
            out.append(replace(kind, members=members, true=true or members))
    return out


def _fits(k: int, kind: Kind, shapes: list[FinishedShape], s: PlaceSettings) -> bool:
    """Tell whether a patch has nearly the dimensions of a kind."""
    own = dimensions(kind.shape, shapes[k].finished)
    usual = [dimensions(kind.shape, shapes[j].finished) for j in kind.true]
    if len(shapes[k].finished) != len(shapes[kind.true[0]].finished):
        return False
    if any(len(d) != len(own) for d in usual):
        return False
    return bool(np.abs(np.median(usual, axis=0) - own).max() <= s.most_in)
