"""The shape of an outline: four straight sides, and more where cloth and floor ask for them."""

from dataclasses import dataclass, field

import cv2
import numpy as np
from scipy import ndimage

from seamwalk.geometry.projective import Points
from seamwalk.vision.outline_cloth import Cloth
from seamwalk.vision.outline_corners import four_corners, outline_polygon, simplified
from seamwalk.vision.outline_sides import Round, SideSettings, settle
from seamwalk.vision.top_mask import Mask, Plane, drawn, with_what_lies_on_it


@dataclass(frozen=True, slots=True)
class ShapeSettings:
    """When an outline has more than four sides."""

    clear_nats: float = 1.0
    """Mean evidence in a place from which on it contradicts the outline: odds of 2.7 to 1."""
    wide_in: float = 0.5
    """Places narrower than this, inches, do not: edges wave, and the network blurs them."""
    within_in: float = 0.3
    """An outline of many corners stays this near to the mask's edge, inches: five
    pixels."""
    sides: SideSettings = field(default_factory=SideSettings)
    """How the four sides find the edge."""
    more_rounds: tuple[Round, ...] = (Round(0.3, 0.3, 3.0), Round(0.15, 0.1, 3.0))
    """The same for an outline of many corners, which starts nearer."""


def shaped(
    cloth: Cloth,
    lab: Plane,
    ring: Points,
    px_per_in: float,
    settings: ShapeSettings | None = None,
) -> Points:
    """Return the outline (N, 2) in pixels, clockwise, as exact as the picture shows it.

    A quadrilateral is laid on the cloth first, since most tops have four sides; only where
    cloth or floor clearly contradicts it does the outline follow the mask's own edge.

    Parameters
    ----------
    lab : (H, W, 3) float32
        CIELAB.
    ring : (M, 2) float64
        Roughly where the top lies, pixels.
    px_per_in : float
        Resolution; in a photo, roughly.

    Raises
    ------
    TopNotFoundError
        If there is no cloth.
    """
    s = settings or ShapeSettings()
    mask = _top(cloth, ring)
    usable = ~cloth.hidden
    quad = four_corners(outline_polygon(mask))
    quad = settle(quad, lab, cloth.evidence, usable, px_per_in, s.sides)
    more = _contradicted(mask, quad, cloth, px_per_in, s)
    if more is None:
        return quad
    many = outline_polygon(more, s.within_in * px_per_in)
    rounds = SideSettings(rounds=s.more_rounds)
    many = settle(many, lab, cloth.evidence, usable, px_per_in, rounds)
    return simplified(many, s.within_in * px_per_in / 2)


def _top(cloth: Cloth, ring: Points) -> Mask:
    """Return the piece of cloth that lies where the top is, and what lies on it."""
    inside = drawn(ring, cloth.hidden.shape)
    pieces, count = ndimage.label(cloth.evidence > 0)
    shared = np.bincount(pieces[inside], minlength=count + 1)
    shared[0] = 0
    if not shared.any():
        return inside
    return with_what_lies_on_it(pieces == int(np.argmax(shared)), cloth.hidden)


def _contradicted(
    mask: Mask, ring: Points, cloth: Cloth, px_per_in: float, s: ShapeSettings
) -> Mask | None:
    """Return the pixels within a ring, put right where cloth and floor clearly contradict it.

    None where nothing does.
    """
    inside = drawn(ring, mask.shape)
    pieces, count = ndimage.label((mask != inside) & ~cloth.hidden)
    if count == 0:
        return None
    numbers = np.arange(1, count + 1)
    depth = cv2.distanceTransform((pieces > 0).astype(np.uint8), cv2.DIST_L2, 5)
    wide = ndimage.maximum(depth, pieces, numbers) * 2 >= s.wide_in * px_per_in
    speaks = ndimage.mean(np.abs(cloth.evidence), pieces, numbers) >= s.clear_nats
    wrong = np.concatenate([[False], wide & speaks])
    if not wrong.any():
        return None
    out = np.where(wrong[pieces], mask, inside)
    whole, _ = ndimage.label(out)
    largest = 1 + int(np.argmax(np.bincount(whole.ravel())[1:]))
    return np.asarray(ndimage.binary_fill_holes(whole == largest), dtype=np.bool_)
