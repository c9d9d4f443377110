"""Looks in words: what each takes, and what to type to sew it."""

import shlex
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from seamwalk.model.look import SQ_IN_PER_SQ_FT, Look
from seamwalk.model.settings import Batting
from seamwalk.sheets.guide_text import long_text, time_text
from seamwalk.units import CM_PER_IN, Units, format_length, from_inches

TITLES = {"quickest": "Quickest", "in between": "In between", "most work": "Most work"}


@dataclass(frozen=True, slots=True)
class Fact:
    """One line of what a look takes.

    Attributes
    ----------
    name : str
        What is told.
    text : str
        As it is read.
    amount : float
        To compare looks by; 0 for nothing.
    """

    name: str
    text: str
    amount: float


def facts(look: Look, batting: Batting, units: Units) -> tuple[Fact, ...]:
    """Return what a look takes, always the same facts in the same order."""
    t = look.route.totals
    bobbins = f"{t.bobbins} bobbin{'' if t.bobbins == 1 else 's'}"
    thread_in = t.thread_yd * 36
    return (
        Fact("at the machine", time_text(look.minutes), look.minutes),
        Fact("thread", f"{long_text(thread_in, units)}, {bobbins}", thread_in),
        Fact("to mark", marks_text(look, units), look.guide.marked_in),
        Fact("stitching", density_text(look, units), look.in_per_sqft),
        Fact("dense to sparse", f"{look.evenness.ratio:.1f} : 1", look.evenness.ratio),
        Fact("widest gap", gap_text(look, batting, units), look.widest.across_in),
    )


def marks_text(look: Look, units: Units) -> str:
    """Return how much is to be marked."""
    words = [
        f"{count} {what}{'' if count == 1 else 's'}"
        for count, what in ((look.arcs, "arc"), (look.ruled, "line"))
        if count
    ]
    if not words:
        return "nothing"
    return f"{', '.join(words)}, {long_text(look.guide.marked_in, units)}"


def density_text(look: Look, units: Units) -> str:
    """Return the length of stitching over an area as large as a floor tile."""
    if units == "cm":
        return f"{100 * _per_square(look, units):.0f} cm/sq dm"
    return f"{look.in_per_sqft:.0f} in/sq ft"


def _per_square(look: Look, units: Units) -> float:
    """Return the length of stitching over the unit's square."""
    per_sqin = look.in_per_sqft / SQ_IN_PER_SQ_FT
    return per_sqin / CM_PER_IN if units == "cm" else per_sqin


def gap_text(look: Look, batting: Batting, units: Units) -> str:
    """Return the widest gap and whether the batting stands it."""
    gap = format_length(look.widest.across_in, units)
    if look.kept:
        return f"{gap}: holds"
    if not batting.named:
        return f"{gap}: check the bag"
    return f"{gap}: over {format_length(batting.gap_in, units)}"


@dataclass(frozen=True, slots=True)
class Typed:
    """What stays the same in what is typed for every look.

    Attributes
    ----------
    top_file : str
        The top.json; the results go to its folder.
    photo, units, settings : str or None
        Given as options where they are.
    """

    top_file: str
    photo: str | None = None
    units: str | None = None
    settings: str | None = None

    def command(self, look: Look) -> str:
        """Return what to type to sew a look."""
        words = ["seamwalk", "plan", self.top_file, "--out", str(Path(self.top_file).parent)]
        for name in ("photo", "units", "settings"):
            value = getattr(self, name)
            words += [] if value is None else [f"--{name}", value]
        words += [w for wish in look.wishes for w in ("--motif", wish)]
        return shlex.join(words)


def looks_text(looks: Sequence[Look], batting: Batting, units: Units, how: Typed) -> str:
    """Return all looks with what they take and what to type, as plain text."""
    parts = []
    for number, look in enumerate(looks, start=1):
        lines = [f"{number} {TITLES[look.name].upper()}"]
        lines += [f"  {f.name:<15} {f.text}" for f in facts(look, batting, units)]
        lines += [f"  ! {warning}" for warning in look.warnings]
        lines += ["  to sew this one:", f"  {how.command(look)}"]
        parts.append("\n".join(lines))
    return "\n\n".join(parts) + "\n"


def look_document(look: Look, units: Units, typed: str) -> dict[str, object]:
    """Return a look as a document for programs."""
    t = look.route.totals
    return {
        "name": look.name,
        "motifs": list(look.wishes),
        "command": typed,
        "minutes": round(look.minutes, 2),
        "stitched": round(from_inches(t.stitched_in, units), 2),
        "thread_yd": round(t.thread_yd, 2),
        "bobbins": t.bobbins,
        "marked": round(from_inches(look.guide.marked_in, units), 2),
        "arcs": look.arcs,
        "lines": look.ruled,
        "dense_to_sparse": round(look.evenness.ratio, 3),
        "stitched_per_square": round(_per_square(look, units), 4),
        "widest_gap": round(from_inches(look.widest.across_in, units), 4),
        "widest_gap_at": [round(from_inches(v, units), 3) for v in look.widest.centre],
        "warnings": list(look.warnings),
    }
