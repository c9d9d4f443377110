"""Which motif goes where when nothing is asked for, and how a wish is written.

Defaults are what suits a walking foot: arches in squares and other compact patches, straight
lines along borders, and the ditch round everything small, thin or oddly shaped.  Equal patches get
the same.

A wish is a short text, ``WHERE=MOTIF``, measures after it: ``square=arches``,
``triangle=ditch``, ``border=lines spacing=1``, ``square 3=outline``, ``patch 12=none``,
``all=leaf-lines``.  The narrower word wins: a patch over a class, a class over a shape, a shape
over ``all``; among equals the later.
"""

import math
import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches
from typing import get_args

from seamwalk.errors import UsageError
from seamwalk.model.choice import EdgeChoice, MotifChoice
from seamwalk.model.sizes import Shape, Sizes
from seamwalk.model.top import PatchId, Top
from seamwalk.motifs.area import Area, lay_out
from seamwalk.motifs.motif import find
from seamwalk.motifs.outlines import Outline
from seamwalk.units import parse_length


@dataclass(frozen=True, slots=True)
class ChooseSettings:
    """Where the default motifs begin and end."""

    narrowest_in: float = 1.5
    """Narrower patches get the ditch only: two arches would leave no room for the foot."""
    small_triangle_in: float = 3.0
    """A triangle whose shortest side is below this gets the ditch (common practice)."""
    longest_arched: float = 3.2
    """A rectangle longer than this times its width gets no arches: they would dwarf its ends."""
    strip: float = 5.5
    """Longer than this times its width makes a strip for lines along it."""
    border: float = 3.0
    """The same along the edge of the top."""
    border_span: float = 0.5
    """A border is longer than this share of the top's side: others are strips in a block."""
    sharpest_deg: float = 40.0
    """A sharper corner leaves arches no room; the ditch is enough there."""


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
    defaults = _defaults(sizes, area, settings)
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
        if outline is not None and _is_strip(outline, area, settings):
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


def _defaults(sizes: Sizes, area: Area, settings: ChooseSettings) -> dict[str, str]:
    """Return the default motif of each class: what suits most of its patches."""
    votes: dict[str, Counter[str]] = {}
    for size in sizes.patches:
        outline = area.outlines.get(size.patch)
        motif = "none" if outline is None else _suits(outline, area, settings)
        votes.setdefault(size.class_name, Counter())[motif] += 1
    return {name: max(sorted(count), key=lambda m: count[m]) for name, count in votes.items()}


def _suits(outline: Outline, area: Area, settings: ChooseSettings) -> str:
    """Return the motif that suits one patch."""
    if not outline.convex:
        return "ditch"
    width, length = _extent(outline)
    if width < settings.narrowest_in:
        return "ditch"
    if _is_strip(outline, area, settings):
        return "lines"
    if length > settings.longest_arched * width:
        return "ditch"
    sharp = math.radians(settings.sharpest_deg)
    if any(s.start_rad < sharp and not s.start_open for s in outline.sides):
        return "ditch"
    sides = [s.length_in for s in outline.sides]
    if len(sides) == 3 and min(sides) < settings.small_triangle_in:
        return "ditch"
    return "arches"


def _is_strip(outline: Outline, area: Area, settings: ChooseSettings) -> bool:
    """Return True for a long strip, or a shorter one that borders much of the top's side."""
    width, length = _extent(outline)
    if length >= settings.strip * width:
        return True
    x0, y0, x1, y1 = area.binding.bounds
    outer = max((s.length_in for s in outline.sides if s.on_binding), default=0.0)
    return length >= settings.border * width and (
        outer > settings.border_span * min(x1 - x0, y1 - y0)
    )


def _extent(outline: Outline) -> tuple[float, float]:
    """Return width and length of the narrowest rectangle along one of the outline's sides."""
    best = (math.inf, math.inf)
    points = outline.ring.tolist()
    for side in outline.sides:
        chord = side.length_in
        ux, uy = (side.end[0] - side.start[0]) / chord, (side.end[1] - side.start[1]) / chord
        along = [x * ux + y * uy for x, y in points]
        across = [y * ux - x * uy for x, y in points]
        box = sorted((max(along) - min(along), max(across) - min(across)))
        if box[0] < best[0]:
            best = (box[0], box[1])
    return best


def count_by_motif(choices: Iterable[MotifChoice]) -> dict[str, int]:
    """Return how many patches each motif covers."""
    out: dict[str, int] = {}
    for choice in choices:
        out[choice.motif] = out.get(choice.motif, 0) + len(choice.patches)
    return out
