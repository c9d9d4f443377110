"""Seam allowances under the cloth: which side each seam is pressed to, and how layers pile up."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from seamwalk.trade import SEAM_ALLOWANCE_IN
from seamwalk.training.view_bumps import Bumps
from seamwalk.training.view_camera import Camera
from seamwalk.training.view_outlines import Outlines
from seamwalk.training.view_raster import SHIFT, fixed

Bytes = NDArray[np.uint8]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class ReliefSettings:
    """How thick cloth lies.

    Attributes
    ----------
    layer : int
        One layer of cloth, in the units of `Sketch.relief`.
    open_share : float
        Share of tops with seams pressed open.
    off_side : float
        Share of seams pressed to the side that the rest would not.
    binding_share : float
        Share of tops whose outer edge is bound, two layers more than the rest.
    frayed_share : float
        Share of tops with loose threads along the outer edge.
    """

    layer: int = 16
    open_share: float = 0.15
    off_side: float = 0.08
    binding_share: float = 0.3
    frayed_share: float = 0.3


SETTINGS = ReliefSettings()


def pressed(
    rng: np.random.Generator,
    seen: Outlines,
    roles: NDArray[np.int32],
    beyond: NDArray[np.int64],
    side: int,
    camera: Camera,
    bumps: Bumps | None,
) -> Bytes:
    """Return the relief (S, S) of the pressed seam allowances.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of all choices.
    seen : Outlines
        Patches in view.
    roles : (N,) int32
        Fabrics of all patches of the top.
    beyond : (M,) int64
        Patch beyond each piece of outline, from :func:`across`.
    side : int
        Side S of the picture.
    camera, bumps : Camera, Bumps or None
        How inches go to the picture.
    """
    relief = np.zeros((side, side), np.uint8)
    if len(seen.patches) == 0:
        return relief
    width = SEAM_ALLOWANCE_IN * float(np.exp(rng.normal(0.0, 0.1)))
    rank = rng.permutation(int(roles.max()) + 1)[roles[seen.patches]].astype(np.int64)
    rank = rank * len(seen.patches) + rng.permutation(len(seen.patches))
    mine, other = rank[seen.patch], rank[np.maximum(beyond, 0)]
    inner = beyond >= 0
    if rng.random() < SETTINGS.open_share:
        strips = inner
    else:
        flips = _hash01(seen.patch + np.maximum(beyond, 0)) < SETTINGS.off_side
        strips = inner & ((mine > other) ^ flips)
    bound = rng.random() < SETTINGS.binding_share
    quads, number = allowance_strips(seen, strips, width, camera, bumps)
    points = fixed(quads.reshape(-1, 2), 1.0, side).reshape(-1, 4, 2)
    for group in range(3):
        chosen = points[number == group]
        if len(chosen):
            layer = np.zeros_like(relief)
            cv2.fillPoly(layer, list(chosen), SETTINGS.layer, cv2.LINE_8, SHIFT)
            cv2.add(relief, layer, dst=relief)
    if bound:
        edge = beyond == -1
        quads, _ = allowance_strips(seen, edge, float(rng.uniform(0.25, 0.5)), camera, bumps)
        if len(quads):
            layer = np.zeros_like(relief)
            points = fixed(quads.reshape(-1, 2), 1.0, side).reshape(-1, 4, 2)
            cv2.fillPoly(layer, list(points), 2 * SETTINGS.layer, cv2.LINE_8, SHIFT)
            cv2.add(relief, layer, dst=relief)
    return relief


def across(seen: Outlines, labels: NDArray[np.uint16], first_row: int) -> NDArray[np.int64]:
    """Return the patch in view beyond each piece of outline: −1 the floor, −2 out of the picture.

    Looked up in the map of labels two half pixels outside the middle of the piece, so seams that
    meet in T junctions need no bookkeeping of shared sides.
    """
    middle = (seen.px + seen.px[seen.after]) / 2
    chord = seen.px[seen.after] - seen.px
    length = np.maximum(np.linalg.norm(chord, axis=1), 1e-6)[:, None]
    # The picture keeps the hand of the outline: no camera here mirrors.
    turn = np.column_stack([-chord[:, 1], chord[:, 0]]) / length
    sense = np.sign((seen.inward * _rotated(seen.xy[seen.after] - seen.xy)).sum(axis=1))
    outside = middle - turn * sense[:, None] * 1.1
    at = np.floor(outside * 2.0).astype(np.int64)
    size = labels.shape[0]
    valid = ((at >= 0) & (at < size)).all(axis=1)
    at = np.clip(at, 0, size - 1)
    row = labels[at[:, 1], at[:, 0]].astype(np.int64)
    out = np.where(row >= first_row, row - first_row, -1)
    out[out == seen.patch] = -2
    out[~valid] = -2
    return out


def fray(
    rng: np.random.Generator,
    labels: NDArray[np.uint16],
    seen: Outlines,
    beyond: NDArray[np.int64],
    first_row: int,
) -> None:
    """Draw loose threads along the raw outer edge into `labels` (2S, 2S), in place."""
    edge = np.flatnonzero(beyond == -1)
    if len(edge) == 0 or rng.random() > SETTINGS.frayed_share:
        return
    side = labels.shape[0] // 2
    length = np.linalg.norm(seen.px[seen.after[edge]] - seen.px[edge], axis=1)
    spacing = float(np.exp(rng.uniform(np.log(3.0), np.log(60.0))))
    count = int(min(400, length.sum() / spacing))
    if count == 0:
        return
    index = edge[rng.choice(len(edge), count, p=length / length.sum())]
    start = seen.px[index]
    start = start + rng.random((count, 1)) * (seen.px[seen.after[index]] - start)
    longest = float(np.exp(rng.uniform(np.log(1.0), np.log(8.0))))
    ends = start + rng.normal(0.0, longest, (count, 2))
    threads = np.stack([fixed(start, 2.0, side), fixed(ends, 2.0, side)], axis=1)
    for row, thread in zip((first_row + seen.patch[index]).tolist(), threads, strict=True):
        cv2.polylines(labels, [thread], False, row, 1, cv2.LINE_8, SHIFT)


def allowance_strips(
    seen: Outlines, chosen: Flags, width_in: float, camera: Camera, bumps: Bumps | None
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Return strips (Q, 4, 2) in picture pixels along chosen pieces, and groups (Q,) 0 to 2.

    Strips lie inside their patch: where its corner is acute they are cut along the next side.
    Strips of one group do not overlap at corners of their patch.
    """
    index = np.flatnonzero(chosen)
    after = seen.after[index]
    start, end = seen.xy[index], seen.xy[after]
    chord = end - start
    length = np.maximum(np.linalg.norm(chord, axis=1), 1e-9)
    way = chord / length[:, None]
    sharp = [np.clip(seen.opening[k], 0.2, np.pi / 2) for k in (index, after)]
    cut = [np.minimum(width_in / np.tan(a), 0.5 * length) for a in sharp]
    inner = width_in * seen.inward[index]
    far = np.concatenate(
        [end + inner - way * cut[1][:, None], start + inner + way * cut[0][:, None]]
    )
    seen_far = camera.px_from_cloth(far, bumps)
    count = len(index)
    quads = np.stack([seen.px[index], seen.px[after], seen_far[:count], seen_far[count:]], axis=1)
    sides = np.zeros(len(seen.patches), np.int64)
    np.maximum.at(sides, seen.patch, seen.side)
    number = seen.side[index]
    last_odd = (number == sides[seen.patch[index]]) & (number % 2 == 0)
    return quads, np.where(last_odd, 2, number % 2)


def _rotated(v: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.column_stack([-v[:, 1], v[:, 0]])


def _hash01(keys: NDArray[np.int64]) -> NDArray[np.float64]:
    """Return numbers in 0 … 1 that depend on `keys` only, the same from both sides of a seam."""
    mixed = (keys.astype(np.uint64) * np.uint64(2654435761)) & np.uint64(0xFFFFFF)
    return mixed.astype(np.float64) / float(1 << 24)
