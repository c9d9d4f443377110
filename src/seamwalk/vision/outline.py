"""The outline of the top, found in two looks.

The photo shows the whole floor, so that nothing is mistaken for the top; the picture straight
down, made with the camera that is known by then, shows the edge large.  What both say of each
place adds up (:mod:`outline_cloth`); then sides are laid along it (:mod:`outline_shape`).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray

from seamwalk.errors import TopNotFoundError
from seamwalk.geometry.projective import Points
from seamwalk.model.picture import FlatPicture, Photo
from seamwalk.vision.outline_cloth import cloth_of
from seamwalk.vision.outline_corners import outline_polygon
from seamwalk.vision.outline_rim import without_floor
from seamwalk.vision.outline_shape import ShapeSettings, shaped
from seamwalk.vision.seam_network import Look, look
from seamwalk.vision.top_mask import Mask, MaskSettings, Plane, drawn, mask_of
from seamwalk.vision.workpicture import lab_of


@dataclass(frozen=True, slots=True)
class LookSettings:
    """How the top is looked for."""

    longest_px: int = 800
    """Longest side of the photo that is looked at: the network sees some 100 px round about, and
    the smaller the picture, the more of the floor that is."""
    across_in: float = 50.0
    """A top's own size, inches, as long as nothing is known of the scale."""
    node_px: int = 8
    """Pixels from one place whose photo pixel is computed to the next; between lie straight
    lines."""
    rim_in: float = 0.15
    """An outline this near to where the photo ends lies on its rim, inches."""
    touching: float = 0.03
    """Share of the outline that may lie there."""
    clear_nats: float = 3.0
    """Mean evidence from two looks from which on a place contradicts four sides: on a strip of
    floor between cloth and a joint of the tiles both looks erred by 2."""
    filled: float = 0.6
    """Share of the photo's own rim; beyond it no edge shows, and cloth may as well be floor."""


@dataclass(frozen=True, slots=True, eq=False)
class PhotoLook:
    """The photo as the network sees it.

    Attributes
    ----------
    small : (h, w, 3) uint8
        The photo, smaller.
    top, thing : (h, w) float32
        Probability of cloth, and of a thing on or beside it.
    scale : (2,) float64
        Photo pixels per pixel of these, across and down.
    ignore : (h, w) bool
        Known things.
    outline_px : (N, 2) float64
        Rough outline of the top, photo pixels.
    by_rim : bool
        Floor that looked like cloth was told by the colours of the photo's rim.
    """

    small: NDArray[np.uint8]
    top: Plane
    thing: Plane
    scale: NDArray[np.float64]
    ignore: Mask
    outline_px: Points
    by_rim: bool = False


def look_at_photo(
    photo: Photo, sheets_px: Sequence[Points] = (), settings: LookSettings | None = None
) -> PhotoLook:
    """Return the photo as the network sees it, with a rough outline of the top.

    Parameters
    ----------
    photo : Photo
        As the camera saw it: the network learned from photos, with all their perspective.
    sheets_px : sequence of (4, 2)
        Corners of things that are known not to be cloth.

    Raises
    ------
    TopNotFoundError
        If there is no top, or more than one.
    """
    s = settings or LookSettings()
    h, w = photo.height_px, photo.width_px
    k = min(1.0, s.longest_px / max(h, w))
    size = (max(32, round(w * k)), max(32, round(h * k)))
    small = np.asarray(cv2.resize(photo.rgb, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    scale = np.array([w / size[0], h / size[1]])
    ignore = np.zeros(small.shape[:2], np.bool_)
    for sheet in sheets_px:
        ignore |= drawn((np.asarray(sheet) + 0.5) / scale - 0.5, ignore.shape)
    seen = look(small)
    # Whether the top ends in the picture is judged when its edge is known better.
    whole = MaskSettings(touching=1.0)
    top, mask = seen.top, mask_of(seen.top, seen.thing, ignore=ignore, settings=whole)
    hidden = ignore | (seen.thing > whole.sure)
    left = without_floor(mask, small, hidden)
    if left is not None:
        top = np.where(mask & ~left & ~hidden, np.minimum(top, 1 - top), top).astype(np.float32)
        mask = mask_of(top, seen.thing, ignore=ignore, settings=whole)
    if float(np.concatenate([mask[0], mask[-1], mask[:, 0], mask[:, -1]]).mean()) > s.filled:
        raise TopNotFoundError(
            "No edge of a quilt top shows in the picture.",
            "Lay the top flat on a floor of another colour, and take the photo from far enough "
            "away that some floor shows on all sides.",
        )
    rough: Points = (outline_polygon(mask) + 0.5) * scale - 0.5
    return PhotoLook(small, top, seen.thing, scale, ignore, rough, left is not None)


def outline_in_photo(photo: Photo, settings: LookSettings | None = None) -> Points:
    """Return the outline (N, 2) of the top in photo pixels, from the photo alone.

    Raises
    ------
    TopNotFoundError
        If there is no top, more than one, or one that the photo does not show whole.
    """
    s = settings or LookSettings()
    seen = look_at_photo(photo, settings=s)
    h, w = seen.top.shape
    lab = lab_of(seen.small, (w, h))
    ring = (seen.outline_px + 0.5) / seen.scale - 0.5
    px_per_in = float(np.ptp(ring, axis=0).max()) / s.across_in
    cloth = cloth_of([(seen.top, seen.thing)], lab, px_per_in)
    found = shaped(cloth, lab, ring, px_per_in)
    _judge_place(found, np.pad(np.ones((h - 2, w - 2), np.bool_), 1), 1.5, s)
    out: Points = (found + 0.5) * seen.scale - 0.5
    return out


def outline_in_flat(
    flat: FlatPicture,
    seen: Look | None,
    first: PhotoLook,
    ignore: Mask,
    settings: LookSettings | None = None,
) -> Points:
    """Return the outline (N, 2) of the top in a picture straight down, inches.

    Parameters
    ----------
    seen : Look or None
        At `flat`; None where it is not to be believed.
    first : PhotoLook
        At the photo that `flat` was made from.
    ignore : (H, W) bool
        Known things.

    Raises
    ------
    TopNotFoundError
        If the photo does not show the whole top.
    """
    s = settings or LookSettings()
    h, w = flat.seen.shape
    lab = lab_of(flat.rgb, (w, h))
    looks, shape = [_laid_on(flat, first, s)], ShapeSettings()
    if seen is not None:
        looks.append((seen.top, seen.thing))
        shape = ShapeSettings(clear_nats=s.clear_nats)
    cloth = cloth_of(looks, lab, flat.px_per_in, ignore=ignore, seen=flat.seen)
    rough = flat.px_from_in(flat.rectification.view.top_from_px(first.outline_px))
    ring = shaped(cloth, lab, rough, flat.px_per_in, shape)
    _judge_place(ring, flat.seen, s.rim_in * flat.px_per_in, s)
    return flat.in_from_px(ring)


def _laid_on(flat: FlatPicture, first: PhotoLook, s: LookSettings) -> tuple[Plane, Plane]:
    """Return the planes of a look at the photo, as seen straight down."""
    h, w = flat.seen.shape
    x = np.arange(0, w + s.node_px, s.node_px)
    y = np.arange(0, h + s.node_px, s.node_px)
    nodes = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2).astype(np.float64)
    px = flat.rectification.view.px_from_top(flat.in_from_px(nodes))
    small = ((px + 0.5) / first.scale - 0.5).astype(np.float32).reshape(len(y), len(x), 2)
    across, down = np.meshgrid(
        np.arange(w, dtype=np.float32) / s.node_px, np.arange(h, dtype=np.float32) / s.node_px
    )
    x_at, y_at = (
        cv2.remap(np.ascontiguousarray(small[..., k]), across, down, cv2.INTER_LINEAR)
        for k in (0, 1)
    )

    def laid(plane: Plane) -> Plane:
        how = cv2.INTER_LINEAR
        out = cv2.remap(plane, x_at, y_at, how, borderMode=cv2.BORDER_REPLICATE)
        return np.asarray(out, dtype=np.float32)

    return laid(first.top), laid(first.thing)


def _judge_place(ring: Points, shown: Mask, rim_px: float, s: LookSettings) -> None:
    """Raise if too much of the outline lies where the photo ends."""
    inner = np.asarray(cv2.distanceTransform(shown.astype(np.uint8), cv2.DIST_L2, 5))
    edge = shapely.segmentize(shapely.LinearRing(ring), 2.0)
    col, row = np.round(shapely.get_coordinates(edge)).astype(np.intp).T
    h, w = inner.shape
    depth = inner[np.clip(row, 0, h - 1), np.clip(col, 0, w - 1)]
    if float((depth <= rim_px).mean()) > s.touching:
        raise TopNotFoundError(
            "The top is not wholly in the picture.",
            "Take the photo from further away, with some floor showing on all sides.",
        )
