"""Where the top ends, when looks at it from far and from near do not agree.

What is asked for is the rendered scene's own outline; the limit is the design's target for flat
photos (mask IoU ≥ 0.98).
"""

import json
from dataclasses import replace

import cv2
import numpy as np
import pytest
import shapely

from seamwalk.errors import TopNotFoundError
from seamwalk.framing import PictureSettings, fine_picture, framed
from seamwalk.scale import SaidScale, first_camera
from seamwalk.scenes.render import SceneSettings, render, save
from seamwalk.vision import outline
from seamwalk.vision.photo import read_photo

SCENE = replace(
    SceneSettings(),
    design="nine patch",
    seed=5,
    columns=2,
    rows=2,
    width_px=1600,
    height_px=1200,
    tilt_deg=8.0,
)


def laid_on(floor, folder):
    """The photo, the frame of its top, and its true outline, photo pixels."""
    path, truth = save(render(replace(SCENE, floor=floor)), folder, floor)
    photo = read_photo(path)
    patches = json.loads(truth.read_text())["patches"]
    top = shapely.union_all([shapely.Polygon(p["outline_px"]).buffer(0.5) for p in patches])
    frame = framed(photo, first_camera(photo, SaidScale()), PictureSettings())
    return photo, frame, top


@pytest.fixture(scope="module")
def laid(tmp_path_factory):
    return laid_on("wood", tmp_path_factory.mktemp("laid"))


def found_in(photo, frame, fine):
    rings, _ = cv2.findContours(
        cv2.resize(fine.mask.astype(np.uint8), None, fx=2, fy=2, interpolation=cv2.INTER_NEAREST),
        cv2.RETR_EXTERNAL,
        cv2.CHAIN_APPROX_NONE,
    )
    ring = max(rings, key=cv2.contourArea).reshape(-1, 2) / 2 - 0.25
    return shapely.Polygon(frame.rectification.view.px_from_top(fine.flat.in_from_px(ring)))


def alike(found, top):
    return found.intersection(top).area / found.union(top).area > 0.98


def test_where_a_close_look_finds_no_end_the_photo_alone_is_believed(laid, monkeypatch):
    photo, frame, top = laid
    found_by = outline.outline_in_flat

    def endless(flat, seen, first, ignore):
        if seen is not None:
            raise TopNotFoundError("Cloth as far as one sees.", "Step back.")
        return found_by(flat, seen, first, ignore)

    monkeypatch.setattr(outline, "outline_in_flat", endless)
    fine = fine_picture(photo, frame, PictureSettings())
    assert fine.by_photo
    assert alike(found_in(photo, frame, fine), top)


def test_where_both_looks_agree_both_are_believed(laid):
    photo, frame, top = laid
    fine = fine_picture(photo, frame, PictureSettings())
    assert not fine.by_photo
    assert alike(found_in(photo, frame, fine), top)


def test_squares_of_the_floor_that_look_like_patches_are_told_by_the_photo_s_rim(tmp_path):
    photo, frame, top = laid_on("checked", tmp_path)
    assert frame.look.by_rim
    fine = fine_picture(photo, frame, PictureSettings())
    assert fine.by_photo
    assert alike(found_in(photo, frame, fine), top)


def test_a_top_that_the_frame_cuts_is_refused_all_the_same(laid):
    photo, _, top = laid
    left = int(top.bounds[0] + 0.3 * (top.bounds[2] - top.bounds[0]))
    part = replace(photo, rgb=np.ascontiguousarray(photo.rgb[:, left:]))
    frame = framed(part, first_camera(part, SaidScale()), PictureSettings())
    with pytest.raises(TopNotFoundError, match="not wholly"):
        fine_picture(part, frame, PictureSettings())
