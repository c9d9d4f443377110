"""How a wish is written and read: ``WHERE=MOTIF``, measures after it.

``square=arches``, ``border=lines spacing=1``, ``middle=crosshatch 1 1/2 in at 30°``.  A length
without a name is the measure that the motif is asked for most: how deep arcs or an outline are,
else the spacing; ``apart``, ``deep``, ``inside`` and ``high`` say which.
"""

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import get_args

from seamwalk.errors import UsageError
from seamwalk.model.choice import EdgeChoice, MotifChoice
from seamwalk.model.top import PatchId
from seamwalk.motifs.motif import find
from seamwalk.motifs.wish_places import WishPlace, WishPlaces
from seamwalk.units import Units, format_exact, parse_length

DEEP = frozenset({"arches", "outline", "leaf-lines", "leaf-diagonals"})
"""Motifs that a bare length gives a depth; the others are spaced by it."""

_LENGTH = r"(?:\d+(?:\.\d+)?(?:[ -]\d+/\d+)?|\d+/\d+|\d*[¼½¾⅛⅜⅝⅞])\s*(?:in|cm|mm|\"|”|″)?"
_TAIL = re.compile(
    rf"^(?P<motif>[^\d¼½¾⅛⅜⅝⅞]+?)(?:\s+(?P<length>{_LENGTH})(?:\s+(?P<way>apart|deep|inside|high))?)?"
    r"(?:\s+(?:at\s+)?(?P<angle>-?\d+(?:\.\d+)?)\s*(?:°|degrees?))?\s*$"
)
_MEASURES = ("depth", "spacing", "angle", "edge")


@dataclass(frozen=True, slots=True)
class Wish:
    """One wish, understood.

    Attributes
    ----------
    place : WishPlace
        Where.
    like : MotifChoice
        What, without patches.
    """

    place: WishPlace
    like: MotifChoice


def read_wish(text: str, places: WishPlaces, units: Units = "in") -> Wish:
    """Return a wish as a person wrote it.

    Parameters
    ----------
    units : {"in", "cm"}
        Of bare numbers.

    Raises
    ------
    UsageError
        If it cannot be read or names a place that the top does not have.
    MotifError
        If it names a motif that nobody knows.
    """
    where, like = read_motif(text, units)
    return Wish(places.find(where), like)


def read_motif(text: str, units: Units = "in") -> tuple[str, MotifChoice]:
    """Return where a wish wants something, as written, and what, without a top to find it on.

    Raises
    ------
    UsageError
        If it cannot be read.
    MotifError
        If it names a motif that nobody knows.
    """
    where, sign, rest = text.partition("=")
    match = re.match(r"\s*([^=]+?)(?=\s+\w+\s*=|\s*$)", rest)
    if not sign or not where.strip().strip("\"'“”") or match is None:
        raise UsageError(
            f"“{text}” does not say which motif goes where.",
            "Write WHERE=MOTIF, like square=arches or triangle=ditch.",
        )
    like = _named(match[1], units)
    return where, _measured(like, text, rest[match.end() :], units)


def winner(wishes: Sequence[Wish], patch: PatchId) -> Wish | None:
    """Return the wish that a patch follows: the narrowest that names it, of equals the later."""
    fitting = [w for w in wishes if patch in w.place.patches]
    # max keeps the first it meets.
    return max(reversed(fitting), key=lambda w: w.place.rank, default=None)


def written(where: str, like: MotifChoice) -> str:
    """Return a wish that `read_wish` reads as exactly this, whatever the units."""
    out = [f"{where}={like.motif}"]
    for name, value in (("depth", like.depth_in), ("spacing", like.spacing_in)):
        if value is not None:
            out.append(f"{name}={format_exact(value)}")
    if like.angle_deg is not None:
        out.append(f"angle={like.angle_deg:g}")
    if like.edge != "none":
        out.append(f"edge={like.edge}")
    return " ".join(out)


def _named(text: str, units: Units) -> MotifChoice:
    """Return motif, bare length and angle from ``crosshatch 1 1/2 in at 30°``."""
    match = _TAIL.match(text.strip())
    said = text if match is None else match["motif"]
    motif = "-".join(said.strip().lower().replace("-", " ").split())
    find(motif)
    like = MotifChoice((), motif)
    if match is None:
        return like
    if match["length"]:
        length = parse_length(match["length"], default=units)
        deep = match["way"] != "apart" and (motif in DEEP or match["way"] is not None)
        like = replace(like, depth_in=length) if deep else replace(like, spacing_in=length)
    if match["angle"]:
        like = replace(like, angle_deg=float(match["angle"]))
    return like


def _measured(like: MotifChoice, text: str, rest: str, units: Units) -> MotifChoice:
    """Return the choice with ``depth=1/2 spacing=1 angle=45 edge=line`` added."""
    found = dict(re.findall(r"(\w+)\s*=\s*(.*?)(?=\s+\w+\s*=|\s*$)", rest))
    unknown = set(found) - set(_MEASURES)
    if unknown:
        raise UsageError(
            f"“{text}” has a measure “{min(unknown)}” that I don't know.",
            "Measures are depth, spacing, angle and edge.",
        )
    if "depth" in found:
        like = replace(like, depth_in=parse_length(found["depth"], default=units))
    if "spacing" in found:
        like = replace(like, spacing_in=parse_length(found["spacing"], default=units))
    if "angle" in found:
        try:
            angle = float(found["angle"].rstrip("°"))
        except ValueError:
            angle = math.nan
        if not math.isfinite(angle):
            raise UsageError(
                f"“{found['angle']}” is not an angle.", "Write degrees, like angle=45."
            )
        like = replace(like, angle_deg=angle)
    if "edge" in found:
        edge = next((e for e in get_args(EdgeChoice) if e == found["edge"]), None)
        if edge is None:
            raise UsageError(
                f"“edge={found['edge']}” is not known.", "Edge is none, arch or line."
            )
        like = replace(like, edge=edge)
    return like
