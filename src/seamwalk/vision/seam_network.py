"""The seam network at work: six planes of evidence for a picture of any size.

The weights are a file of the package, made by :mod:`seamwalk.training`.  Large pictures are cut
into tiles that overlap, and faded into one another where they do: a tile's rim has seen less of
its surroundings than its middle.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from seamwalk.model.picture import SeamEvidence

if TYPE_CHECKING:
    from onnxruntime import InferenceSession

WEIGHTS = "seamnet.onnx"
"""File of the weights, in the folder ``weights`` beside this module."""

SEAM, TOP, OBJECT, JUNCTION, COS2, SIN2 = range(6)
"""Planes of the evidence."""

STRIDE = 32
"""The network takes sides that are multiples of this, pixels."""

Planes = NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class Look:
    """What the network says of a picture.

    Attributes
    ----------
    evidence : SeamEvidence
        Of seams, their junctions and directions.
    top, thing : (H, W) float32
        Probability that a pixel shows cloth of the top; that it shows a thing on or beside it.
    """

    evidence: SeamEvidence
    top: NDArray[np.float32]
    thing: NDArray[np.float32]


def look(rgb: NDArray[np.uint8]) -> Look:
    """Return what the network says of a picture (H, W, 3) of sRGB."""
    p = planes(rgb)
    return Look(SeamEvidence(p[SEAM], p[JUNCTION], p[COS2], p[SIN2]), p[TOP], p[OBJECT])


def without_seams(evidence: SeamEvidence, covered: NDArray[np.bool_]) -> SeamEvidence:
    """Return the evidence without what is seen where something covers the cloth (H, W)."""
    if not covered.any():
        return evidence
    seam, junction = (
        np.where(covered, 0, p).astype(np.float32) for p in (evidence.seam, evidence.junction)
    )
    return replace(evidence, seam=seam, junction=junction)


@dataclass(frozen=True, slots=True)
class TileSettings:
    """How large pictures are cut."""

    most_px: int = 1792
    """Longest side that is looked at in one piece: about 0.6 GB of working memory for a square
    one."""
    overlap_px: int = 256
    """Width that neighbouring tiles share: twice what a seam's direction is judged from."""


def planes(rgb: NDArray[np.uint8], *, settings: TileSettings | None = None) -> Planes:
    """Return the evidence (6, H, W) for a picture (H, W, 3) of sRGB.

    Returns
    -------
    (6, H, W) float32
        Seam, top, object on or beside it, junction: 0 to 1; cosine and sine of twice the seam's
        direction (x towards y): −1 to 1.
    """
    s = settings or TileSettings()
    h, w = rgb.shape[:2]
    if max(h, w) <= s.most_px:
        return _one(rgb)
    total: Planes = np.zeros((6, h, w), np.float32)
    weight = np.zeros((h, w), np.float32)
    for rows in _spans(h, s):
        for columns in _spans(w, s):
            fade = np.outer(_fade(rows, h, s), _fade(columns, w, s))
            total[:, rows, columns] += _one(rgb[rows, columns]) * fade
            weight[rows, columns] += fade
    total /= weight
    return total


def _one(rgb: NDArray[np.uint8]) -> Planes:
    """Return the evidence for a picture that is looked at in one piece."""
    h, w = rgb.shape[:2]
    below, right = -h % STRIDE, -w % STRIDE
    # Mirrored, not black: a black rim looks like an edge of the cloth.
    mode = "reflect" if min(h, w) > STRIDE else "edge"
    padded = np.pad(rgb, ((0, below), (0, right), (0, 0)), mode=mode)  # type: ignore[call-overload]
    picture = np.ascontiguousarray(padded.transpose(2, 0, 1)[None], dtype=np.float32) / 255
    session = _session()
    (out,) = session.run(None, {session.get_inputs()[0].name: picture})
    return np.asarray(out, dtype=np.float32)[0, :, :h, :w]


@cache
def _session() -> "InferenceSession":
    import onnxruntime

    options = onnxruntime.SessionOptions()
    options.log_severity_level = 3
    weights = files("seamwalk.vision").joinpath("weights", WEIGHTS).read_bytes()
    return onnxruntime.InferenceSession(weights, options, providers=["CPUExecutionProvider"])


def _spans(length: int, s: TileSettings) -> Iterator[slice]:
    """Yield equal spans that cover a length, each a multiple of the stride where it can be."""
    if length <= s.most_px:
        yield slice(0, length)
        return
    count = -(-(length - s.overlap_px) // (s.most_px - s.overlap_px))
    size = -(-(length + (count - 1) * s.overlap_px) // count)
    size = min(size + -size % STRIDE, length)
    for k in range(count):
        start = round(k * (length - size) / (count - 1))
        yield slice(start, start + size)


def _fade(span: slice, length: int, s: TileSettings) -> NDArray[np.float32]:
    """Return the weight of each pixel along a span: falling to nearly 0 where another goes on."""
    n = span.stop - span.start
    from_start = np.arange(n) + 1.0 if span.start > 0 else np.full(n, np.inf)
    from_stop = np.arange(n)[::-1] + 1.0 if span.stop < length else np.full(n, np.inf)
    nearest = np.minimum(np.minimum(from_start, from_stop) / s.overlap_px, 1.0)
    return nearest.astype(np.float32)
