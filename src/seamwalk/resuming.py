"""Going on from the middle: a plan, what is done of it, and the best rest.

Nothing is written here; the plan that was begun is only read.
"""

import hashlib
import math
from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, get_args

from seamwalk.begun_plan import BegunPlan
from seamwalk.errors import FileFormatError
from seamwalk.model.machine import MachineProfile
from seamwalk.model.marking import MarkingGuide
from seamwalk.model.order import OrderName, OrderWish
from seamwalk.pipeline import MeasuredTop, measured_from_file
from seamwalk.routing.rest.done import Said
from seamwalk.routing.rest.rest import Rest
from seamwalk.units import Units

if TYPE_CHECKING:
    from seamwalk.model.route import Route


@dataclass(frozen=True, slots=True, eq=False)
class ResumedPlan:
    """The rest of a plan.

    Attributes
    ----------
    rest : Rest
        Its route, and how it compares with the earlier plan.
    off_in : float
        How far the needle was said to be from where it is taken to be, inches.
    guide : MarkingGuide
        What is still to be marked.
    settings : dict
        Those of the plan that was begun.
    plan_file : Path
        The plan that was begun.
    top_name, top_sha256 : str
        The top.json that it was made from, as it says.
    measured, top_file
        The top, and its file, where that lies beside the plan.
    warnings : tuple of str
        What gave reason to doubt.
    """

    rest: Rest
    off_in: float
    guide: MarkingGuide
    settings: dict[str, Any]
    units: Units
    plan_file: Path
    top_name: str
    top_sha256: str
    measured: MeasuredTop | None = None
    top_file: Path | None = None
    warnings: tuple[str, ...] = ()

    @property
    def lines(self) -> list[str]:
        """What is done, where the needle is, what has changed, in sentences."""
        from seamwalk.sheets.rest_text import rest_lines

        return rest_lines(
            self.rest.route,
            new_s=self.rest.new_s,
            old_s=self.rest.old_s,
            kept=self.rest.kept,
            off_in=self.off_in,
            units=self.units,
        )

    @property
    def route(self) -> "Route":
        """What is still to be sewn."""
        return self.rest.route


def resume_plan(
    plan: BegunPlan,
    said: Said,
    *,
    usual: MachineProfile | None = None,
    units: Units | None = None,
    photo_path: Path | None = None,
    time_limit_s: float | None = None,
    progress: Callable[[str], None] = lambda stage: None,
) -> ResumedPlan:
    """Return the best rest of a plan.

    Parameters
    ----------
    plan : BegunPlan
        As it was planned.
    said : Said
        What is done, where the needle is, whether the thread runs.
    usual : MachineProfile, optional
        For what the plan doesn't say of its machine.
    units : {"in", "cm"}, optional
        Of the results; the top's without it.
    photo_path : Path, optional
        Where the photo is, if not beside the top.json.
    time_limit_s : float, optional
        See `routing.route.plan_route`.

    Raises
    ------
    UsageError
        If what is said doesn't fit the plan, or everything is done.
    PhotoError
        If the photo is not at `photo_path`.
    """
    from seamwalk.files.plan_file import to_route
    from seamwalk.motifs.marking import marking_guide
    from seamwalk.routing.audit import audit
    from seamwalk.routing.rest import done as rest_done
    from seamwalk.routing.rest.rest import plan_rest
    from seamwalk.routing.telling.told import told

    machine = machine_of(plan.document.settings, usual or MachineProfile())
    route = to_route(plan.document)
    here = rest_done.progress(route, said)
    progress("finding the rest of the path")
    rest = plan_rest(
        here.network,
        machine,
        here.begun,
        here.earlier,
        order=wish_of(plan.document.settings),
        time_limit_s=time_limit_s,
    )
    report = audit(rest.route, machine)
    if not report.valid:
        # The auditor shares no code with the router: a disagreement is a bug, not bad input.
        raise AssertionError("the rest fails its audit: " + "; ".join(report.errors[:3]))
    top_file, measured, warnings = _top_beside(plan, photo_path)
    units = units or (measured.units if measured else "in")
    block = measured.sizes.block if measured else None
    rest = replace(rest, route=told(rest.route, machine, units, block))
    pieces = rest.route.network.pieces.values()
    return ResumedPlan(
        rest,
        here.off_in,
        marking_guide([p.stroke for p in pieces]),
        dict(plan.document.settings),
        units,
        plan.path,
        plan.document.top.name,
        plan.document.top.sha256,
        measured,
        top_file,
        warnings,
    )


def machine_of(settings: dict[str, Any], usual: MachineProfile) -> MachineProfile:
    """Return the machine that a plan was made for, `usual` where the plan doesn't say."""
    stored = settings.get("machine")
    if not isinstance(stored, dict):
        return usual
    known = {
        f.name: stored[f.name]
        for f in fields(MachineProfile)
        if isinstance(stored.get(f.name), int | float) and math.isfinite(stored[f.name])
    }
    return replace(usual, **known)


def wish_of(settings: dict[str, Any]) -> OrderWish | None:
    """Return the order that a plan was made in; None where only time counted, or none is told."""
    stored = settings.get("order")
    if not isinstance(stored, dict) or stored.get("name") not in get_args(OrderName):
        return None
    give_min, give_share = stored.get("give_min"), stored.get("give_share")
    return OrderWish(
        stored["name"],
        float(give_min) if isinstance(give_min, int | float) else None,
        float(give_share) if isinstance(give_share, int | float) else OrderWish().give_share,
    )


def _top_beside(
    plan: BegunPlan, photo_path: Path | None
) -> tuple[Path | None, MeasuredTop | None, tuple[str, ...]]:
    """Return the plan's top.json, the top in it, and what kept it from being used."""
    file, sha256 = plan.top_file, plan.document.top.sha256
    if not file.is_file():
        return None, None, (f"There is no {file.name} beside the plan: no pictures are drawn.",)
    if sha256 and hashlib.sha256(file.read_bytes()).hexdigest() != sha256:
        note = f"{file.name} was changed since the plan was made: no pictures are drawn."
        return None, None, (note,)
    try:
        measured = measured_from_file(file, photo_path=photo_path)
    except FileFormatError as error:
        return None, None, (f"{error.seen} No pictures are drawn.",)
    return file, measured, measured.warnings
