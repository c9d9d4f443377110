"""Which further photo or measure would make a ± small enough, computed from what makes it up.

A length's ± comes from the camera (its references), from the ends of seams (sharpness, pixels) and
from bumps of the cloth; the largest of the three says what helps.
"""

from collections.abc import Iterator
from typing import Literal

import numpy as np

from seamwalk.units import format_small
from seamwalk.vision.measure_doubt import Shares
from seamwalk.vision.measure_evidence import (
    AdviceSettings,
    Evidence,
    Weighted,
    plain,
    sentence,
)
from seamwalk.vision.measure_top import edge_runs

Cause = Literal["camera", "ends", "bumps"]


def photo_advice(e: Evidence, s: AdviceSettings) -> Iterator[Weighted]:
    """Yield what would make the ± small enough, where it is not."""
    needs: dict[Cause, list[str]] = {}
    weight = 0.0
    unsure = [k for k, p in enumerate(e.patches) if p.finished.verdict == "cannot tell"]
    # A better photo would tell only of those with a wide ±; all are counted, as on the picture.
    by_photo = [
        k
        for k in unsure
        if max(side.plus_minus_in for side in e.patches[k].sides) > e.tolerance_in / 3
    ]
    if len(by_photo) >= s.unsure_share * len(e.patches):
        start = np.concatenate([e.shapes[k].finished for k in by_photo])
        end = np.concatenate([np.roll(e.shapes[k].finished, -1, axis=0) for k in by_photo])
        cause = _main_cause(e.doubt.shares(start, end))
        tolerance = format_small(e.tolerance_in, e.units)
        needs.setdefault(cause, []).append(
            f"{len(unsure)} of {len(e.patches)} patches can't be judged to {tolerance}"
        )
        weight = 90.0 if len(unsure) > 0.5 * len(e.patches) else 55.0
    runs = edge_runs(e.top)
    wide = max(e.whole.width.plus_minus_in, e.whole.height.plus_minus_in)
    unclear = e.straight is not None and e.straight.verdict == "cannot tell"
    if wide > s.wide_in or unclear:
        corners = np.array([run[0] for run in runs])
        shares = e.doubt.shares(corners, np.roll(corners, -1, axis=0))
        what = []
        if wide > s.wide_in:
            what.append(f"width and height are known to ± {format_small(wide, e.units)} only")
        if unclear:
            what.append("I can't tell whether the top is square")
        needs.setdefault(_main_cause(shares), []).extend(what)
        weight = max(weight, 75.0 if wide > s.wide_in else 60.0)
    for cause, what in needs.items():
        yield weight, f"{sentence(what)}: {_remedy(cause, e)}"


def _main_cause(shares: Shares) -> Cause:
    # Each length counts alike: one long border must not speak for fifty patches.
    total = np.maximum(shares.camera + shares.ends + shares.bumps, 1e-12)
    sums: dict[Cause, float] = {
        "camera": float((shares.camera / total).sum()),
        "ends": float((shares.ends / total).sum()),
        "bumps": float((shares.bumps / total).sum()),
    }
    return max(sums, key=lambda cause: sums[cause])


def _remedy(cause: Cause, e: Evidence) -> str:
    if cause == "bumps":
        return "press the top, smooth it flat, and photograph it less slanted."
    if cause == "ends":
        return (
            "photograph from nearer, so that the top fills the picture, sharp and in even light."
        )
    edge, length = ("left", e.whole.edges[3]), e.whole.edges[3]
    if e.whole.edges[0].plus_minus_in > length.plus_minus_in:
        edge, length = ("top", e.whole.edges[0]), e.whole.edges[0]
    tape = f'--tape "{edge[0]}={plain(length.value_in, e.units)}"'
    by_tape = f"measure one edge with a tape and say so, like {tape}"
    if e.cards is not None and e.cards >= 2:
        return f"{by_tape}."
    if e.cards == 0:
        return f"lay a printed card beside the top at two opposite corners, or {by_tape}."
    if e.cards is None:
        return f"lay a second card at the opposite corner if there is only one, or {by_tape}."
    return f"lay a second card at the opposite corner, or {by_tape}."
