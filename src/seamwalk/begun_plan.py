"""A plan that was begun, and what she says of it, as typed."""

import hashlib
import re
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from seamwalk.errors import FileFormatError, UsageError
from seamwalk.geometry.curve import Point
from seamwalk.model.route import NodeId
from seamwalk.routing.rest.done import Said
from seamwalk.units import Units, parse_length

if TYPE_CHECKING:
    from seamwalk.files.plan_file import PlanDocument


@dataclass(frozen=True, slots=True, eq=False)
class BegunPlan:
    """A plan.json that was begun.

    Attributes
    ----------
    path : Path
        The file.
    sha256 : str
        Of its bytes.
    document : PlanDocument
        What it says.
    """

    path: Path
    sha256: str
    document: "PlanDocument"

    @property
    def top_file(self) -> Path:
        """Where its top.json lies, if that is beside it."""
        return self.path.parent / (Path(self.document.top.name).name or "top.json")

    @property
    def units(self) -> Units | None:
        """Units of the top beside it, None where there is none that can be read."""
        from seamwalk.files.top_file import units_of

        try:
            return units_of(self.top_file)
        except FileFormatError:
            return None


def read_begun(source: Path) -> BegunPlan:
    """Return the plan in a file, or in a folder that has a plan.json.

    Raises
    ------
    FileFormatError, UsageError
        If there is none that can be read.
    """
    from seamwalk.files.plan_file import read_plan

    file = source / "plan.json" if source.is_dir() else source
    if source.is_dir() and not file.is_file():
        raise UsageError(f"There is no plan.json in {source}.", "Run seamwalk plan first.")
    document = read_plan(file)
    return BegunPlan(file, hashlib.sha256(file.read_bytes()).hexdigest(), document)


def said_of(
    plan: BegunPlan,
    *,
    done_to: int | None = None,
    done_file: Path | None = None,
    not_done: str | None = None,
    also_done: str | None = None,
    sewed: str | None = None,
    needle: str | None = None,
    runs: bool | None = None,
    units: Units = "in",
) -> Said:
    """Return what she says of a plan, as typed.

    Parameters
    ----------
    plan : BegunPlan
        That it speaks of.
    done_to, not_done, also_done, sewed, runs
        See `routing.rest_done.Said`; names stand with blanks or commas between them.
    done_file : Path, optional
        A done.json instead of `done_to`; `needle` and `runs` win over what it says.
    needle : str, optional
        ``x, y`` from the top's upper left corner.
    units : {"in", "cm"}
        Of bare numbers, and of the answers.

    Raises
    ------
    UsageError, FileFormatError
        If that can't be read, or says nothing.
    """
    from seamwalk.files.done_file import read_done

    if done_to is None and done_file is None and not (also_done or sewed):
        raise UsageError(
            "Nothing says what is done.",
            "Give --done-to with the number of the last step that you sewed.",
        )
    if done_to is not None and done_file is not None:
        raise UsageError("--done-to and --done both say what is done.", "Give one of them.")
    said = Said(
        done_to=done_to or 0,
        not_done=_names(not_done),
        also_done=_names(also_done),
        sewed=_names(sewed),
        needle=None if needle is None else parse_place(needle, units),
        runs=runs,
        units=units,
    )
    if done_file is None:
        return said
    kept = read_done(done_file)
    if kept.plan_sha256 and kept.plan_sha256 != plan.sha256:
        raise FileFormatError(
            f"{done_file.name} was kept for another plan than this {plan.path.name}.",
            "Give the plan that you followed.",
        )
    there = NodeId(kept.needle) if isinstance(kept.needle, str) else kept.needle
    cut_or_not = None if kept.thread is None else kept.thread == "runs"
    return replace(
        said,
        passes=kept.passes,
        needle=there if said.needle is None else said.needle,
        runs=cut_or_not if runs is None else runs,
    )


def _names(text: str | None) -> tuple[str, ...]:
    return tuple(n for n in re.split(r"[\s,;]+", text or "") if n)


def parse_place(text: str, units: Units) -> Point:
    """Return x and y in inches from text such as ``23 1/2, 12``.

    Raises
    ------
    UsageError
        If the text is not two lengths with a comma between them, or a semicolon.
    """
    # Where a semicolon parts the two, commas are decimal ones.
    parts = re.split(r"\s*;\s*" if ";" in text else r"\s*,\s*", text.strip())
    if len(parts) != 2:
        raise UsageError(
            f"“{text}” is not a place.",
            "Write how far it is from the left edge, then from the upper one: 23 1/2, 12.",
        )
    x, y = (
        0.0 if re.fullmatch(r"0+(\.0*)?", p) else parse_length(p, default=units) for p in parts
    )
    return x, y
