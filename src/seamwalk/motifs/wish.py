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
from seamwalk.motifs.motif import find, known
from seamwalk.motifs.wish_measures import MEASURES, check_measures, wished_length
from seamwalk.motifs.wish_places import WishPlace, WishPlaces
from seamwalk.units import Units, format_exact

DEEP = frozenset({"arches", "outline", "leaf-lines", "leaf-diagonals"})
"""Motifs that a bare length gives a depth; the others are spaced by it."""

_NUMBER = r"(?:(?:\d*[.,])?\d+(?:[ -]\d+/\d+)?|\d+/\d+|\d*[¼½¾⅛⅜⅝⅞])"
_LENGTH = rf"{_NUMBER}\s*(?:inches|inch|in|cm|mm|ft|\"|”|″)?"
_TAIL = re.compile(
    # A minus or a decimal point belongs to what follows, never to the motif.
    r"^(?P<motif>[^\d¼½¾⅛⅜⅝⅞]*?[^\d¼½¾⅛⅜⅝⅞\s.,-])"
    rf"(?:\s+(?P<length>{_LENGTH})(?:\s+(?P<way>apart|deep|inside|high))?)?"
    r"(?:\s+(?:at\s+)?(?P<angle>-?\d+(?:[.,]\d+)?)\s*(?:°|degrees?))?\s*$"
)


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
        If it cannot be read, names a place that the top does not have, or gives a measure that
        makes no sense.
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
        If it cannot be read or gives a measure that makes no sense.
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
    like = _measured(like, text, rest[match.end() :], units)
    check_measures(like)
    return where, like


def winner(wishes: Sequence[Wish], patch: PatchId) -> Wish | None:
    """Return the wish that a patch follows: the narrowest that names it, of equals the later."""
    fitting = [w for w in wishes if patch in w.place.patches]
    # max keeps the first it meets.
    return max(reversed(fitting), key=lambda w: w.place.rank, default=None)


def written(where: str, like: MotifChoice, units: Units = "in") -> str:
    """Return a wish that `read_wish` reads as exactly this, whatever units it is told."""
    return f"{where}={written_motif(like, units)}"


def written_motif(like: MotifChoice, units: Units = "in") -> str:
    """Return a motif with its measures as a wish has them after its place.

    Lengths have their unit: `units`, or the other one where only that writes them shortly.
    """
    out = [like.motif]
    for name, value in (("depth", like.depth_in), ("spacing", like.spacing_in)):
        if value is not None:
            out.append(f"{name}={format_exact(value, units)}")
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
    if match is None or motif not in known():
        _refuse_measure(text)
    find(motif)
    like = MotifChoice((), motif)
    if match is None:
        return like
    if match["length"]:
        length = wished_length(match["length"], units)
        deep = match["way"] != "apart" and (motif in DEEP or match["way"] is not None)
        like = replace(like, depth_in=length) if deep else replace(like, spacing_in=length)
    if match["angle"]:
        like = replace(like, angle_deg=float(match["angle"].replace(",", ".")))
    return like


def _refuse_measure(text: str) -> None:
    """Refuse what follows the name of a motif, if there is one: it is no measure.

    Raises
    ------
    UsageError
        If the text begins with a motif that is known.
    """
    words = text.strip().split()
    names = known()
    for count in range(len(words) - 1, 0, -1):
        name = "-".join(words[:count]).lower()
        if name in names:
            raise UsageError(
                f"“{' '.join(words[count:])}” after {name} is not a measure I can read.",
                "Write it like crosshatch 1 1/2 in, lines 4.5 cm apart at 30° or outline depth=1.",
            )


def _measured(like: MotifChoice, text: str, rest: str, units: Units) -> MotifChoice:
    """Return the choice with ``depth=1/2 spacing=1 angle=45 edge=line`` added."""
    given: list[tuple[str, str]] = re.findall(r"(\w+)\s*=\s*(.*?)(?=\s+\w+\s*=|\s*$)", rest)
    found = dict(given)
    unknown = set(found) - set(MEASURES)
    if unknown:
        raise UsageError(
            f"“{text}” has a measure “{min(unknown)}” that I don't know.",
            "Measures are depth, spacing, angle and edge.",
        )
    bare = ("depth", like.depth_in), ("spacing", like.spacing_in), ("angle", like.angle_deg)
    names = [name for name, _ in given] + [name for name, value in bare if value is not None]
    twice = [name for name in found if names.count(name) > 1]
    if twice:
        raise UsageError(f"“{text}” gives the {twice[0]} twice.", "Leave one of them out.")
    empty = [name for name, value in given if not value]
    if empty:
        raise UsageError(f"“{text}” gives no {empty[0]} after “=”.", "Write it like spacing=1.")
    if "depth" in found:
        like = replace(like, depth_in=wished_length(found["depth"], units))
    if "spacing" in found:
        like = replace(like, spacing_in=wished_length(found["spacing"], units))
    if "angle" in found:
        try:
            angle = float(found["angle"].rstrip("°").replace(",", "."))
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
