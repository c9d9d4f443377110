"""Tops as a flat picture shows them, with the true patch of every pixel: what the judge learns on.

The training's own tops, fabrics and light, but looked at straight down, without a lens, at the
resolutions that :mod:`seamwalk.vision.flatten` makes, and whole or in large parts.  What a camera
can spoil is kept within what a person would still call a sharp photo.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np
import torch
from numpy.typing import NDArray

from seamwalk.training.fabric_store import FabricStore
from seamwalk.training.feed import TOPS
from seamwalk.training.light import COLUMN
from seamwalk.training.render import batch_of, render
from seamwalk.training.sketch import ClothRow, Ingredients, PiecedTop, Sketch
from seamwalk.training.tops import make_top
from seamwalk.training.view_bumps import Bumps, draw_bumps
from seamwalk.training.view_camera import Camera, pinhole
from seamwalk.training.view_outlines import outlines
from seamwalk.training.views import MOST_PATCHES, View, patch_widths, sketch_of
from seamwalk.vision.partition import one_piece

Labels = NDArray[np.int32]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class FlatSettings:
    """What the flat pictures are like."""

    sides_px: tuple[int, int] = (608, 1184)
    """Least and most pixels of a side; multiples of 32."""
    px_per_in: tuple[float, float] = (12.0, 24.0)
    """Resolutions of flat pictures of whole tops."""
    narrow_px: float = 18.0
    """A narrow patch (six of seven are wider) is at least this wide: strips of an inch at the
    resolutions in use; ridges of less run into one another."""
    margin: float = 0.06
    """Share of the picture's side that is floor, where a whole top is shown."""
    tilt_deg: float = 1.0
    """Standard deviation of what straightening leaves of the camera's tilt."""
    turn_deg: float = 1.2
    """And of the turn of the top in the picture."""
    off_share: float = 0.4
    """Share of pictures whose mask is a little too large or small."""
    off_px: tuple[int, int] = (2, 4)
    """By how much."""
    least_patches: int = 8
    """Fewer patches in view have too few borders to learn from."""
    prints: int = 320
    surfaces: int = 24
    """Swatches to choose from: more than a top has, few enough to be drawn in seconds."""


CALMED = {
    "blur_sigma_px": (0.0, 1.3),
    "motion_x_px": (0.0, 1.5),
    "motion_y_px": (0.0, 1.5),
    "shrink": (0.6, 1.0),
    "noise_shot": (0.0, 1e-3),
    "noise_read": (0.0, 6e-3),
    "haze": (0.0, 0.15),
    "hot": (0.0, 0.5),
}
"""Limits on numbers of the light; wider ones only teach that some pictures cannot be read."""

LEAST_QUALITY = 50.0
"""The same for compression, where 0 stands for none."""


@dataclass(frozen=True, slots=True, eq=False)
class FlatSketch:
    """A flat picture before it is rendered.

    Attributes
    ----------
    sketch : Sketch
        Of side S.
    truth : (S, S) int32
        0 where no cloth of the top is seen, else 1 + the patch in view.
    fabric : (n + 1,) int32
        Fabric of each value of `truth`; −1 for 0.
    mask : (S, S) bool
        The top as it might be found: one piece without holes, the edge perhaps a little off.
    px_per_in : float
        Resolution.
    """

    sketch: Sketch
    truth: Labels
    fabric: NDArray[np.int32]
    mask: Mask
    px_per_in: float


def fabric_store(rng: np.random.Generator, settings: FlatSettings) -> FabricStore:
    """Draw the swatches of all pictures."""
    every = Ingredients()
    drawn = [TOPS.swatch(rng, every) for _ in range(settings.prints)]
    drawn += [TOPS.surface(rng, every) for _ in range(settings.surfaces)]
    return FabricStore(np.stack(drawn), "cpu")


def flat_sketch(rng: np.random.Generator, settings: FlatSettings) -> FlatSketch:
    """Draw a top and the way a flat picture shows it."""
    s = settings
    while True:
        top = make_top(rng)
        view = _view(rng, top, s)
        if view is None:
            continue
        px_per_in, camera, bumps, side = view
        seen = outlines(top, camera, bumps, side, MOST_PATCHES)
        if len(seen.patches) < s.least_patches:
            continue
        drawn = sketch_of(
            rng, top, View(camera, bumps, side), Ingredients(objects=False), s.prints, s.surfaces
        )
        truth = patch_of_pixels(drawn)
        if truth.max() == 0:
            continue
        fabric = np.concatenate([[-1], top.roles[seen.patches]]).astype(np.int32)
        mask = _mask(rng, truth > 0, s)
        calm = replace(drawn, light=calmed(drawn.light))
        return FlatSketch(calm, truth, fabric, mask, px_per_in)


def patch_of_pixels(sketch: Sketch) -> Labels:
    """Return 0 where `sketch` shows no cloth of the top, else 1 + the patch in view, (S, S)."""
    cloth = sketch.cloth[:, ClothRow().kind] == 1
    number = np.where(cloth, np.cumsum(cloth), 0).astype(np.int32)
    return number[sketch.labels[1::2, 1::2]]


def calmed(packed: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return numbers of the light (64,) within the limits of `CALMED` and `LEAST_QUALITY`."""
    out = packed.copy()
    for name, (low, high) in CALMED.items():
        out[COLUMN[name]] = np.clip(out[COLUMN[name]], low, high)
    quality = COLUMN["quality"]
    if out[quality] > 0:
        out[quality] = max(float(out[quality]), LEAST_QUALITY)
    return out


def picture_of(flat: FlatSketch, store: FabricStore) -> NDArray[np.uint8]:
    """Return the picture (S, S, 3), sRGB."""
    with torch.no_grad():
        picture = render(batch_of([flat.sketch]), store)[0]
    bytes_ = (picture.clamp(0, 1) * 255 + 0.5).to(torch.uint8)
    return np.ascontiguousarray(bytes_.permute(1, 2, 0).numpy())


def _view(
    rng: np.random.Generator, top: PiecedTop, s: FlatSettings
) -> tuple[float, Camera, Bumps | None, int] | None:
    """Draw pixels per inch, camera, bumps and side; None where patches are too narrow."""
    corners = np.concatenate(top.rings).astype(np.float64)
    low, high = corners.min(axis=0), corners.max(axis=0)
    longer = float((high - low).max())
    least, most = s.sides_px
    px_per_in = float(np.exp(rng.uniform(*np.log(s.px_per_in))))
    px_per_in = max(px_per_in, s.narrow_px / float(np.quantile(patch_widths(top), 0.15)))
    if px_per_in > s.px_per_in[1]:
        return None
    room = 1 + 2 * s.margin
    whole = longer * px_per_in * room
    part = whole > most
    side = rng.integers(least, most + 1) if part else max(whole, least)
    side = int(min(-(-int(side) // 32) * 32, most))
    target = low + (high - low) * (rng.uniform(0.25, 0.75, 2) if part else 0.5)
    turn = int(rng.integers(4)) * np.pi / 2 + np.radians(rng.normal(0, s.turn_deg))
    distance = longer * float(rng.uniform(1.2, 3.0))
    tilt = abs(np.radians(rng.normal(0, s.tilt_deg)))
    camera = pinhole(target, distance, float(tilt), float(rng.uniform(0, 2 * np.pi)), 0.0)
    # The camera's own turn hangs on its azimuth: set it against the picture's axes.
    own = float(np.arctan2(camera.axes[0, 1], camera.axes[0, 0]))
    c, n = np.cos(turn - own), np.sin(turn - own)
    right, down = c * camera.axes[0] + n * camera.axes[1], c * camera.axes[1] - n * camera.axes[0]
    camera = replace(
        camera,
        axes=np.stack([right, down, camera.axes[2]]),
        focal_px=px_per_in * distance,
        centre_px=np.full(2, side / 2) + rng.uniform(-0.3, 0.3, 2) * s.margin * side,
    )
    bumps = draw_bumps(rng, low, high)
    if bumps is not None and bumps.fold is not None:
        # A drape over an edge is not looked at straight down.
        bumps = replace(bumps, fold=None, rounds=7)
    return px_per_in, camera, bumps, side


def _mask(rng: np.random.Generator, cloth: Mask, s: FlatSettings) -> Mask:
    mask = one_piece(cloth)
    if rng.random() >= s.off_share:
        return mask
    size = 2 * int(rng.integers(s.off_px[0], s.off_px[1] + 1)) + 1
    kernel = np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size)))
    change = cv2.dilate if rng.random() < 0.5 else cv2.erode
    moved = np.asarray(change(mask.astype(np.uint8), kernel)) > 0
    return one_piece(moved) if moved.any() else mask
