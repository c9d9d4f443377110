"""Sketches of training pictures: a top, its fabrics, a camera, a floor, things, and the truth.

Order of work: a top is pieced, framed and laid; outlines go through the camera; patches, floor
and things are drawn into one map of labels; truth, relief, grooves and shadows follow from it.
Every number comes from the generator passed in, so the same seed gives the same sketch.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from seamwalk.training import light, tops
from seamwalk.training.sketch import GRID, Ingredients, PiecedTop, Sketch
from seamwalk.training.view_bumps import Bumps, draw_bumps
from seamwalk.training.view_camera import Camera, draw_camera, draw_framing
from seamwalk.training.view_fabrics import lay_fabrics
from seamwalk.training.view_floor import draw_floors, floor_labels, liken
from seamwalk.training.view_grooves import grooves
from seamwalk.training.view_outlines import Outlines, outlines
from seamwalk.training.view_placing import Placed, draw_things, lay_things
from seamwalk.training.view_raster import (
    direction_truth,
    draw_patches,
    junction_truth,
    near_seams,
    seam_truth,
)
from seamwalk.training.view_relief import across, fray, pressed
from seamwalk.training.view_shadows import shade

MOST_PATCHES = 3000
"""Most patches in one picture: the rest of the rows is for floors and things."""


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """How a top is looked at.

    Attributes
    ----------
    camera : Camera
        Where from.
    bumps : Bumps or None
        How the cloth lies; None for flat.
    side_px : int
        Side of the picture.
    """

    camera: Camera
    bumps: Bumps | None
    side_px: int


def sketch(
    rng: np.random.Generator,
    side_px: int,
    ingredients: Ingredients,
    swatches: int,
    surfaces: int,
) -> Sketch:
    """Return the sketch of a training picture.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of all choices.
    side_px : int
        Side of the picture.
    ingredients : Ingredients
        What the picture may hold.
    swatches, surfaces : int
        The renderer's store holds prints 0 … swatches − 1, then floor surfaces.
    """
    top = tops.make_top(rng)
    view = draw_view(rng, top, side_px, ingredients)
    return sketch_of(rng, top, view, ingredients, swatches, surfaces)


def draw_view(
    rng: np.random.Generator, top: PiecedTop, side_px: int, ingredients: Ingredients
) -> View:
    """Draw a camera and the way the cloth lies for `top`."""
    corners = np.concatenate(top.rings).astype(np.float64)
    low, high = corners.min(axis=0), corners.max(axis=0)
    bumps = draw_bumps(rng, low, high) if ingredients.curves else None
    widths = patch_widths(top)
    pick = int(rng.integers(len(top.rings)))
    patch = top.rings[pick].astype(np.float64)
    aim = (patch if rng.random() < 0.3 else patch.mean(axis=0)[None])[0]
    small = float(np.quantile(widths, 0.15))
    framing = draw_framing(rng, corners, aim, (small, float(widths[pick])), side_px)
    draped = bumps is not None and bumps.fold is not None
    camera = draw_camera(rng, corners, framing, side_px, lens=ingredients.curves, draped=draped)
    return View(camera, bumps, side_px)


def patch_widths(top: PiecedTop) -> NDArray[np.float64]:
    """Return the width of each patch of `top`, inches (N,).

    Four times area over perimeter is the side of a square and nearly twice the width of a strip;
    three quarters of it serve for both.
    """
    counts = np.array([len(r) for r in top.rings])
    starts = np.cumsum(counts) - counts
    xy = np.concatenate(top.rings).astype(np.float64)
    after = np.arange(1, len(xy) + 1)
    after[starts + counts - 1] = starts
    step = np.linalg.norm(xy[after] - xy, axis=1)
    cross = xy[:, 0] * xy[after, 1] - xy[after, 0] * xy[:, 1]
    area = np.abs(np.add.reduceat(cross, starts)) / 2
    out: NDArray[np.float64] = 3.0 * area / np.maximum(np.add.reduceat(step, starts), 1e-6)
    return np.maximum(out, 0.05)


def sketch_of(
    rng: np.random.Generator,
    top: PiecedTop,
    view: View,
    ingredients: Ingredients,
    swatches: int,
    surfaces: int,
) -> Sketch:
    """Return the sketch of `top` seen as `view` says; parameters as of :func:`sketch`."""
    camera, bumps, side = view.camera, view.bumps, view.side_px
    seen = outlines(top, camera, bumps, side, MOST_PATCHES)
    floors = draw_floors(rng, swatches, surfaces, varied=ingredients.floors)
    patches = lay_fabrics(rng, top.roles, seen, swatches, own_print=ingredients.own_print)
    first = len(floors)
    if ingredients.floors:
        liken(rng, floors, patches)
    labels = draw_patches(seen, first, side)
    seam = seam_truth(labels)
    beyond = across(seen, labels, first)
    relief = np.zeros((side, side), np.uint8)
    if ingredients.relief:
        relief = pressed(rng, seen, top.roles, beyond, side, camera, bumps)
        fray(rng, labels, seen, beyond, first)
    lines = np.zeros((side, side), np.uint8)
    if ingredients.lines:
        lines = grooves(rng, seen, camera, bumps, side)
    box = top.outline.astype(np.float64)
    ground = floor_labels(rng, first, box.min(axis=0), box.max(axis=0), camera, bumps, side)
    if ground is not None:
        cv2.copyTo(ground, (labels == 0).view(np.uint8), labels)
    things: list[Placed] = []
    if ingredients.objects:
        things = draw_things(rng, seen, camera, bumps, side, swatches)
    objects = lay_things(labels, things, first + len(patches))
    targets = _targets(seen, labels, seam, first, first + len(patches))
    cloth, thing = targets[..., 1] > 127, targets[..., 2] > 127
    light_of = light.draw(rng, ingredients)
    return Sketch(
        labels=labels,
        relief=relief * cloth,
        grooves=lines * cloth,
        shade=shade(rng, camera.px_from_cloth(box, bumps), things, ~(cloth | thing), thing),
        targets=targets,
        plane=plane(camera, bumps, side),
        cloth=np.concatenate([floors, patches, objects]),
        light=light_of.pack(),
    )


def plane(camera: Camera, bumps: Bumps | None, side_px: int) -> NDArray[np.float32]:
    """Return the inches (GRID, GRID, 2) seen at nodes from edge to edge of the picture."""
    node = np.linspace(0.0, side_px, GRID)
    px = np.stack(np.meshgrid(node, node), axis=-1).reshape(-1, 2)
    return camera.cloth_from_px(px, bumps).reshape(GRID, GRID, 2).astype(np.float32)


def _targets(
    seen: Outlines,
    labels: NDArray[np.uint16],
    seam: NDArray[np.uint8],
    first: int,
    stop: int,
) -> NDArray[np.uint8]:
    """Return the truth planes (S, S, 6); patches have the rows `first` … `stop` − 1."""
    side = seam.shape[0]
    size = (side, side)
    over = (labels >= stop).view(np.uint8) * np.uint8(255)
    shown = (labels >= first).view(np.uint8) * np.uint8(255)
    cv2.subtract(shown, over, dst=shown)
    thing = cv2.resize(over, size, interpolation=cv2.INTER_AREA)
    cloth = cv2.resize(shown, size, interpolation=cv2.INTER_AREA)
    free = cv2.bitwise_not(thing)
    visible = np.asarray(cv2.multiply(seam, free, scale=1.0 / 255.0), np.uint8)
    near = near_seams(visible)
    junction = cv2.multiply(junction_truth(seen, side), free, scale=1.0 / 255.0)
    cv2.min(junction, near, dst=junction)
    cosine, sine = direction_truth(seen, near)
    # OpenCV interleaves three planes of pairs much faster than six planes.
    planes = ((visible, cloth), (thing, junction), (cosine, sine))
    pairs = [cv2.merge(pair).view(np.uint16)[..., 0] for pair in planes]
    return cv2.merge(pairs).view(np.uint8)
