"""The stitching guide as a document for programs: circles, marking, changes of bobbin."""

from collections.abc import Sequence

from seamwalk.model.circles import CircleChoice, CircleTry, ClassCircle
from seamwalk.model.marking import MarkingGuide
from seamwalk.model.route import BobbinChange
from seamwalk.units import Units, from_inches


def guide_document(
    guide: MarkingGuide,
    circles: CircleChoice | None,
    changes: Sequence[BobbinChange],
    units: Units,
) -> dict[str, object]:
    """Return the guide as plain values, lengths in `units`."""
    found = () if circles is None else circles.classes
    return {
        "circles": [_circle(c, units) for c in found],
        "marking": [
            {
                "tool": step.tool,
                "motif": step.motif,
                "diameter": _number(step.diameter_in, units),
                "count": step.count,
                "length": _number(step.length_in, units),
                "patches": list(step.patches),
            }
            for step in guide.steps
        ],
        "bobbin_changes": [
            {
                "step": change.step,
                "where": change.where,
                "sewn": _number(change.sewn_in, units),
                "at": [_number(v, units) for v in change.at],
            }
            for change in changes
        ],
    }


def _circle(found: ClassCircle, units: Units) -> dict[str, object]:
    """Return a class of arcs with its circle and the next ones in size."""
    arcs = found.arcs
    return {
        "motif": arcs.motif,
        "over": arcs.over,
        "chord": _number(arcs.chord_in, units),
        "arcs": arcs.count,
        "wished_rise": _number(arcs.wish_in, units),
        "circle": _tried(found.circle, units),
        "smaller": _tried(found.smaller, units),
        "larger": _tried(found.larger, units),
    }


def _tried(found: CircleTry | None, units: Units) -> dict[str, object] | None:
    if found is None:
        return None
    return {
        "diameter": _number(found.diameter_in, units),
        "rise": _number(found.rise_in, units),
        "overlap": found.overlap,
        "verdict": found.verdict,
    }


def _number(value_in: float | None, units: Units) -> float | None:
    return None if value_in is None else round(from_inches(value_in, units), 4)
