"""Network and classical contrast share no evidence; on plain cloth both see the same patches."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from seamwalk.geometry.lens import Lens
from seamwalk.model.picture import Photo, Rectification, View
from seamwalk.scenes.render import SceneSettings, render
from seamwalk.vision.flatten import flatten
from seamwalk.vision.heat import partition_of
from seamwalk.vision.partition import partition
from seamwalk.vision.seam_network import look
from seamwalk.vision.seams import find_seams

PLAIN = SceneSettings(
    columns=2, rows=2, block_in=9.0, fabrics="solids", width_px=1400, height_px=1150, bumps_in=0.0
)


def flat_of(settings):
    """Return the flat picture of a scene, with its true camera, and the true mask and patches."""
    scene = render(settings)
    camera = scene.truth.camera
    r = camera.rotation
    plane = np.column_stack([r[:, 0], r[:, 1], -r @ camera.position_in])
    lens = Lens(camera.focal_px, camera.centre_px, camera.radial)
    view = View(lens, np.linalg.inv(plane))
    rgb = scene.photo.rgb if isinstance(scene.photo, Photo) else scene.photo
    photo = scene.photo if isinstance(scene.photo, Photo) else Photo(rgb, "scene")
    top = scene.truth.top
    x0, y0, x1, y1 = top.outline.bounds
    flat = flatten(
        photo, Rectification(view, (), "card", 6.0, 0.1), (x0 - 1, y0 - 1, x1 + 1, y1 + 1), 32.0
    )
    labels = np.zeros(flat.seen.shape, np.int32)
    for k, patch in enumerate(top.patches, start=1):
        ring = flat.px_from_in(np.array(patch.polygon.exterior.coords))
        cv2.fillPoly(labels, [np.round(ring * 16).astype(np.int32)], k, shift=4)
    return flat, labels > 0, labels


def found_in(labels, other):
    """Return the share of regions that have one of nearly the same pixels in the other."""
    hits = []
    for k in np.unique(labels[labels > 0]):
        mine = labels == k
        theirs = other == np.bincount(other[mine]).argmax()
        hits.append((mine & theirs).sum() > 0.8 * (mine | theirs).sum())
    return np.mean(hits)


@pytest.mark.parametrize("design", ["nine patch", "pinwheel"])
def test_both_roads_see_the_same_patches_of_plain_cloth(design):
    flat, mask, true = flat_of(replace(PLAIN, design=design, seed=3))
    learned = partition_of(look(flat.rgb).evidence, flat, mask).labels
    classical = partition(flat, find_seams(flat, mask)).labels
    assert found_in(true, learned) == 1
    assert found_in(learned, classical) > 0.95
    assert found_in(classical, learned) > 0.95
