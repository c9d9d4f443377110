"""The pixels of the top, from what the network says of cloth and of things that lie on it."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from seamwalk.errors import TopNotFoundError
from seamwalk.geometry.projective import Points

Mask = NDArray[np.bool_]
Plane = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class MaskSettings:
    """When cloth is a top."""

    sure: float = 0.5
    """Cloth of the top from this probability on."""
    least_area: float = 0.02
    """A top covers at least this share of what the picture shows."""
    least_mean: float = 0.8
    """Mean probability inside, below which there is no top but something that looks like one."""
    rival: float = 0.35
    """A second piece of at least this share of the first means two tops."""
    neck: float = 0.01
    """Bridges thinner than this share of the picture's long side join things that are not one."""
    touching: float = 0.04
    """Share of the top's own rim that may lie on the picture's rim."""


def mask_of(
    top: Plane,
    thing: Plane,
    *,
    seen: Mask | None = None,
    ignore: Mask | None = None,
    settings: MaskSettings | None = None,
) -> Mask:
    """Return the pixels (H, W) of the one top in the picture, what lies on it included.

    Parameters
    ----------
    top, thing : (H, W) float32
        Probability that a pixel shows cloth of the top, or a thing on or beside it.
    seen : (H, W) bool or None
        Where the picture shows anything; None for everywhere.
    ignore : (H, W) bool or None
        Known things, such as cards.

    Raises
    ------
    TopNotFoundError
        If there is no top, more than one, or one that reaches the rim of the picture.
    """
    s = settings or MaskSettings()
    h, w = top.shape
    shown = np.ones((h, w), dtype=np.bool_) if seen is None else seen
    hidden = (thing > s.sure) & (top <= s.sure)
    if ignore is not None:
        hidden = hidden | ignore
    cloth = (top > s.sure) & shown & ~hidden
    pieces, size = _pieces(cloth, max(1, round(s.neck * max(h, w) / 2)))
    if len(size) < 2 or size[1:].max() < s.least_area * shown.sum():
        raise _nothing()
    order = 1 + np.argsort(-size[1:])
    if len(order) > 1 and size[order[1]] > s.rival * size[order[0]]:
        raise TopNotFoundError(
            "I see more than one quilt top in the picture.",
            "Photograph one top at a time, or give the corners of yours with --corners.",
        )
    mask = np.asarray(pieces == order[0])
    if float(top[mask].mean()) < s.least_mean:
        raise _nothing()
    mask = with_what_lies_on_it(mask, hidden)
    if on_rim(mask, shown) > s.touching:
        raise TopNotFoundError(
            "The top is not wholly in the picture.",
            "Take the photo from further away, with some floor showing on all sides.",
        )
    return mask


def drawn(ring: Points, shape: tuple[int, ...]) -> Mask:
    """Return the pixels (H, W) within a ring."""
    out = np.zeros(shape[:2], np.uint8)
    cv2.fillPoly(out, [np.round(ring * 16).astype(np.int32)], 1, shift=4)
    return out > 0


@dataclass(frozen=True, slots=True)
class ThingSettings:
    """When something lies on the top."""

    sure: float = 0.7
    """A thing from this probability on."""
    least_in2: float = 2.0
    """Smaller things hide no seam that its two ends would not tell, square inches."""
    clear_in: float = 0.5
    """What lies this near to the top's edge may lie beside it, inches."""


def things_on(
    mask: Mask, thing: Plane, px_per_in: float, *, settings: ThingSettings | None = None
) -> Mask:
    """Return the pixels (H, W) of things that lie on the top.

    Parameters
    ----------
    mask : (H, W) bool
        The top.
    thing : (H, W) float32
        Probability of a thing.
    px_per_in : float
        Resolution.
    """
    s = settings or ThingSettings()
    edge = 2 * round(s.clear_in * px_per_in) + 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (edge, edge))
    inner = cv2.erode(mask.astype(np.uint8), disc, borderValue=0) > 0
    seen = (thing > s.sure) & mask
    pieces, count = ndimage.label(seen)
    if count == 0:
        return np.zeros_like(mask)
    size = np.bincount(pieces.ravel(), inner.ravel().astype(np.float64), minlength=count + 1)
    large = size >= s.least_in2 * px_per_in**2
    large[0] = False
    return np.asarray(large[pieces], dtype=np.bool_)


def _pieces(cloth: Mask, neck_px: int) -> tuple[NDArray[np.int32], NDArray[np.intp]]:
    """Return the pieces of cloth, numbered from 1, and how many pixels each has.

    Pieces that hang together by a neck only are told apart; each then grows back to its own rim.
    """
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * neck_px + 1, 2 * neck_px + 1))
    core = cv2.erode(cloth.astype(np.uint8), disc, borderValue=1)
    count, labels = cv2.connectedComponents(core, connectivity=4)
    grown = np.zeros(cloth.shape, np.int32)
    found = np.bincount(labels.ravel(), minlength=count)
    for k in range(1, count):
        if found[k] * 50 < found[1:].max(initial=0):
            continue
        back = cv2.dilate((labels == k).astype(np.uint8), disc) > 0
        grown[back & cloth & (grown == 0)] = k
    return grown, np.bincount(grown.ravel(), minlength=count)


def with_what_lies_on_it(mask: Mask, hidden: Mask) -> Mask:
    """Return the mask with its holes filled, and with the parts of things that lie on the top."""
    points = np.argwhere(mask)[:, ::-1].astype(np.int32)
    hull = np.zeros(mask.shape, np.uint8)
    cv2.fillConvexPoly(hull, np.asarray(cv2.convexHull(points), dtype=np.int32), 1)
    covered = mask | (hidden & (hull > 0))
    pieces, _ = ndimage.label(covered)
    kept = pieces == np.bincount(pieces[mask]).argmax()
    return np.asarray(ndimage.binary_fill_holes(kept), dtype=np.bool_)


def on_rim(mask: Mask, shown: Mask) -> float:
    """Return the share of the mask's rim that lies on the rim of what the picture shows."""
    inner = cv2.erode(mask.astype(np.uint8), np.ones((3, 3), np.uint8), borderValue=1) > 0
    inside = np.zeros_like(shown)
    inside[2:-2, 2:-2] = shown[2:-2, 2:-2]
    inside = cv2.erode(inside.astype(np.uint8), np.ones((5, 5), np.uint8), borderValue=0) > 0
    rim = mask & (~inner | ~inside)
    own = int((mask & ~inner).sum())
    touching = int((mask & ~inside & (rim)).sum()) / 3
    return touching / max(own + touching, 1.0)


def _nothing() -> TopNotFoundError:
    return TopNotFoundError(
        "I can't find a pieced top in the picture.",
        "Lay the top flat on a plain floor of another colour, or give its corners with --corners.",
    )
