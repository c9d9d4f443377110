"""Which motif goes where, and how a wish is written.

A wish is a short text, ``WHERE=MOTIF``, measures after it: ``square=arches``,
``triangle=ditch``, ``border=lines spacing=1``, ``square 3=outline``, ``patch 12=none``,
``all=leaf-lines``.  The narrower word wins: a patch over a class, a class over a shape, a shape
over ``all``; among equals the later.
"""

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches
from typing import get_args

from seamwalk.errors import UsageError
from seamwalk.model.choice import EdgeChoice, MotifChoice
from seamwalk.model.sizes import Shape, Sizes
from seamwalk.model.top import PatchId, Top
from seamwalk.motifs.area import Area, lay_out
from seamwalk.motifs.defaults import ChooseSettings, default_motifs, is_strip
from seamwalk.motifs.motif import find
from seamwalk.units import parse_length

Words = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Wish:
    """One override, understood: where, how narrow a word that is, and the choice there."""

    where: str
    rank: int
    like: MotifChoice


def choose(
    top: Top,
    sizes: Sizes,
    overrides: Sequence[str] = (),
    *,
    area: Area | None = None,
    settings: ChooseSettings | None = None,
) -> tuple[MotifChoice, ...]:
    """Return a motif for every patch, patches of one motif and measure together.

    Parameters
    ----------
    top : Top
        The top to be quilted.
    sizes : Sizes
        Its shapes and classes, patches in the top's order.
    overrides : sequence of str
        Wishes as written by a person, ``WHERE=MOTIF [measure=value …]``.
    area : Area, optional
        `lay_out(top)`, if it is there already.

    Raises
    ------
    UsageError
        If a wish cannot be read or names a place that the top does not have.
    MotifError
        If a wish names a motif that nobody knows.
    """
    settings = settings or ChooseSettings()
    area = area or lay_out(top)
    words = _words(sizes, area, settings)
    wishes = [_wish(text, words) for text in overrides]
    defaults = default_motifs(sizes, area, settings)
    covered: dict[MotifChoice, list[PatchId]] = {}
    for size in sizes.patches:
        mine = words[size.patch]
        fitting = [w for w in wishes if w.where in mine]
        # Of equals the later: max keeps the first it meets.
        best = max(reversed(fitting), key=lambda w: w.rank, default=None)
        like = best.like if best is not None else MotifChoice((), defaults[size.class_name])
        covered.setdefault(like, []).append(size.patch)
    return tuple(replace(like, patches=tuple(patches)) for like, patches in covered.items())


def _words(sizes: Sizes, area: Area, settings: ChooseSettings) -> dict[PatchId, Words]:
    """Return for each patch the words it answers to, widest first."""
    out: dict[PatchId, Words] = {}
    for size in sizes.patches:
        words = ["all", size.shape]
        if "triangle" in size.shape:
            words.append("triangle")
        outline = area.outlines.get(size.patch)
        if outline is not None and is_strip(outline, area, settings):
            words.append("border")
        words += [size.class_name.lower(), f"patch {size.patch}"]
        out[size.patch] = tuple(words)
    return out


def _wish(text: str, words: dict[PatchId, Words]) -> _Wish:
    """Return one override, understood."""
    where, sign, rest = text.partition("=")
    where = " ".join(where.strip().strip("\"'“”").lower().split())
    match = re.match(r"\s*([^=]+?)(?=\s+\w+\s*=|\s*$)", rest)
    if not sign or not where or match is None:
        raise UsageError(
            f"“{text}” does not say which motif goes where.",
            "Write WHERE=MOTIF, like square=arches or triangle=ditch.",
        )
    if where.endswith("s") and where[:-1] in _all_words(words):
        where = where[:-1]
    motif = "-".join(match[1].strip().lower().replace("-", " ").split())
    find(motif)
    everything = _all_words(words)
    if where not in everything:
        close = get_close_matches(where, everything, n=1)
        hint = f"Did you mean {close[0]}? " if close else ""
        names = ", ".join(w for w in everything if not w.startswith("patch "))
        raise UsageError(f"The top has no “{where}”.", f"{hint}It has: {names}.")
    like = MotifChoice((), motif, *_measures(text, rest[match.end() :]))
    return _Wish(where, _rank(where), like)


def _all_words(words: dict[PatchId, Words]) -> list[str]:
    return list(dict.fromkeys(w for mine in words.values() for w in mine))


def _rank(where: str) -> int:
    """Return how narrow a word is."""
    if where == "all":
        return 0
    if where in get_args(Shape) or where == "triangle":
        return 1
    if where == "border":
        return 2
    return 4 if where.startswith("patch ") else 3


def _measures(text: str, rest: str) -> tuple[float | None, float | None, float | None, EdgeChoice]:
    """Return depth, spacing, angle and edge from ``depth=1/2 spacing=1 angle=45 edge=line``."""
    found = dict(re.findall(r"(\w+)\s*=\s*(.*?)(?=\s+\w+\s*=|\s*$)", rest))
    unknown = set(found) - {"depth", "spacing", "angle", "edge"}
    if unknown:
        raise UsageError(
            f"“{text}” has a measure “{min(unknown)}” that I don't know.",
            "Measures are depth, spacing, angle and edge.",
        )
    depth = parse_length(found["depth"]) if "depth" in found else None
    spacing = parse_length(found["spacing"]) if "spacing" in found else None
    angle = None
    if "angle" in found:
        try:
            angle = float(found["angle"].rstrip("°"))
        except ValueError:
            angle = math.nan
        if not math.isfinite(angle):
            raise UsageError(
                f"“{found['angle']}” is not an angle.", "Write degrees, like angle=45."
            )
    asked = found.get("edge", "none")
    edge = next((e for e in get_args(EdgeChoice) if e == asked), None)
    if edge is None:
        raise UsageError(f"“edge={asked}” is not known.", "Edge is none, arch or line.")
    return depth, spacing, angle, edge


def count_by_motif(choices: Iterable[MotifChoice]) -> dict[str, int]:
    """Return how many patches each motif covers."""
    out: dict[str, int] = {}
    for choice in choices:
        out[choice.motif] = out.get(choice.motif, 0) + len(choice.patches)
    return out
