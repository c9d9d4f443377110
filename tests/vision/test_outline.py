"""The outline against drawn truth; colours and floors are drawn here, nothing is taken over.

Expected corners are those that were drawn; where nothing else is said, limits are
design targets (mask IoU ≥ 0.98) or common practice, no source.
"""

import cv2
import numpy as np
import pytest
import shapely
from scipy import ndimage
from skimage.color import rgb2lab
from skimage.measure import label
from tests.vision.drawn_floors import SHAPE, covered, hexagons, joined, picture, squares, turned

from seamwalk.errors import TopNotFoundError
from seamwalk.model.picture import Photo
from seamwalk.vision.outline import outline_in_photo
from seamwalk.vision.outline_cloth import cloth_of
from seamwalk.vision.outline_rim import RimSettings
from seamwalk.vision.outline_shape import shaped
from seamwalk.vision.top_mask import MaskSettings
from seamwalk.vision.workpicture import lab_of

PX_PER_IN = 12.0


def iou(ring, truth):
    got = shapely.Polygon(ring)
    return got.intersection(truth).area / got.union(truth).area


def from_corners(ring, truth):
    """How far each true corner is from the nearest one found, pixels."""
    true = np.array(truth.exterior.coords)[:-1]
    return np.sqrt(((true[:, None] - ring[None]) ** 2).sum(axis=2)).min(axis=1)


# Looks drawn by hand: what is asked for is the shape, whatever the network says.


def look_of(truth, *, blur=2.0, shift=(0.0, 0.0)):
    """Probabilities of cloth and of a thing, blurred as a network's are."""
    share = covered(np.array(truth.exterior.coords)[:-1] + shift)
    top = 0.02 + 0.96 * cv2.GaussianBlur(share, (0, 0), blur)
    return top, np.zeros(SHAPE, np.float32)


def shape_of(rgb, look, **known):
    lab = lab_of(rgb, SHAPE[::-1])
    cloth = cloth_of([look], lab, PX_PER_IN, **known)
    rough = np.array([[100.0, 80], [700, 80], [700, 620], [100, 620]])
    return shaped(cloth, lab, rough, PX_PER_IN)


@pytest.fixture(scope="module")
def oblong():
    patches = turned(squares(150, 110, 640, 590), 3.0)
    return picture(patches, "planks"), joined(patches).simplify(0.1)


def test_a_rectangle_has_four_corners_where_they_were_drawn(oblong):
    rgb, truth = oblong
    ring = shape_of(rgb, look_of(truth))
    assert len(ring) == 4
    # Twice what an edge is known to that falls anywhere between two pixels, 1/sqrt(12).
    assert from_corners(ring, truth).max() < 2 / np.sqrt(12)


def test_the_edge_of_the_cloth_counts_where_the_look_is_a_little_off(oblong):
    rgb, truth = oblong
    ring = shape_of(rgb, look_of(truth, shift=(1.5, -1.0)))
    assert len(ring) == 4
    assert from_corners(ring, truth).max() < 1.0


def test_a_look_that_errs_along_an_edge_makes_no_corner(oblong):
    rgb, truth = oblong
    top, thing = look_of(truth)
    # A strip of 40 px of border said to be floor, but hardly surely, and one of floor said cloth.
    top[105:125, 300:420] = 0.45
    top[300:380, 655:672] = 0.55
    ring = shape_of(rgb, (top, thing))
    assert len(ring) == 4
    assert from_corners(ring, truth).max() < 1.0


def test_a_thing_across_the_edge_does_not_dent_it(oblong):
    rgb, truth = oblong
    top, thing = look_of(truth)
    rgb = rgb.copy()
    rgb[60:180, 350:400] = (220, 170, 140)
    top[60:180, 350:400], thing[60:180, 350:400] = 0.02, 0.97
    ring = shape_of(rgb, (top, thing))
    assert len(ring) == 4
    assert from_corners(ring, truth).max() < 1.0


def test_a_known_card_over_a_corner_hides_it_but_does_not_move_it(oblong):
    rgb, truth = oblong
    top, thing = look_of(truth)
    card = np.zeros(SHAPE, np.bool_)
    card[60:180, 100:220] = True
    rgb = rgb.copy()
    rgb[card] = 245
    top[card] = 0.6
    ring = shape_of(rgb, (top, thing), ignore=card)
    assert len(ring) == 4
    assert from_corners(ring, truth).max() < 1.0


def test_hexagons_at_the_edges_keep_their_corners():
    patches = hexagons(8, 8, 40, 120, 110)
    truth = joined(patches).simplify(0.5)
    ring = shape_of(picture(patches, "plain"), look_of(truth))
    # Eight columns and rows of whole hexagons: 62 corners, counted on the drawing.
    assert len(truth.exterior.coords) - 1 == 62
    assert abs(len(ring) - 62) <= 4
    assert iou(ring, truth) > 0.99
    assert from_corners(ring, truth).max() < 0.2 * 40


def test_clipped_corners_are_corners():
    patches = squares(150, 110, 640, 590)
    x0, y0, x1, y1 = joined(patches).bounds
    cut = [[x0 + 70, y0], [x1 - 70, y0], [x1, y0 + 70], [x1, y1 - 70]]
    cut += [[x1 - 70, y1], [x0 + 70, y1], [x0, y1 - 70], [x0, y0 + 70]]
    truth = shapely.Polygon(cut)
    ring = shape_of(picture(patches, "plain", within=truth), look_of(truth))
    assert len(ring) == 8
    assert from_corners(ring, truth).max() < 2.0


def test_round_corners_stay_round():
    patches = squares(150, 110, 640, 590)
    truth = joined(patches).buffer(-70).buffer(70, quad_segs=24)
    ring = shape_of(picture(patches, "plain", within=truth), look_of(truth))
    assert len(ring) > 8
    # Chords within 0.3 in of an arc of 70 px: what they cut off is less than that all along it.
    assert iou(ring, truth) > 0.99
    assert shapely.Polygon(ring).hausdorff_distance(truth) < 0.3 * PX_PER_IN + 1


def test_colours_decide_where_two_looks_disagree():
    patches = squares(150, 110, 640, 590)
    truth = joined(patches)
    rgb = picture(patches, "plain")
    one, other = look_of(truth), look_of(truth)
    # A strip of floor along the right edge, 30 px wide, is cloth to one look.
    one[0][110:590, 672:700] = 0.98
    lab = lab_of(rgb, SHAPE[::-1])
    cloth = cloth_of([one, other], lab, PX_PER_IN)
    assert (cloth.evidence[130:570, 678:694] < 0).all()


# Whole photos, seen by the network.


@pytest.mark.parametrize("kind", ["plain", "planks", "checked"])
def test_the_top_is_found_on_floors_with_lines_of_their_own(kind):
    patches = turned(squares(150, 110, 640, 590), 4.0)
    ring = outline_in_photo(Photo(picture(patches, kind), "x.jpg"))
    assert len(ring) == 4
    assert iou(ring, joined(patches)) >= 0.98


def test_a_threshold_of_colour_finds_the_same_top_on_a_plain_floor():
    # The classical way, which shares nothing with the network: cloth is what is further from the
    # floor's colour than the floor round the rim is itself (CIELAB; common practice, no source).
    rgb = picture(turned(squares(150, 110, 640, 590), 7.0), "plain")
    rim = np.zeros(SHAPE, bool)
    rim[:20] = rim[-20:] = True
    lab = rgb2lab(rgb)
    away = np.linalg.norm(lab - np.median(lab[rim], axis=0), axis=2)
    cloth = ndimage.binary_fill_holes(ndimage.binary_opening(away > away[rim].max()))
    parts = label(cloth)
    classical = parts == np.bincount(parts.ravel())[1:].argmax() + 1
    learned = covered(outline_in_photo(Photo(rgb, "x.jpg"))) > 0.5
    assert (classical & learned).sum() >= 0.98 * (classical | learned).sum()


def test_a_slanted_view_has_its_four_corners():
    patches = squares(150, 110, 640, 590)
    x0, y0, x1, y1 = joined(patches).bounds
    frame = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], np.float32)
    seen = np.array([[230, 120], [560, 140], [700, 600], [70, 570]], np.float32)
    slant = cv2.getPerspectiveTransform(frame, seen)
    patches = [cv2.perspectiveTransform(p[None], slant)[0] for p in patches]
    ring = outline_in_photo(Photo(picture(patches, "planks"), "x.jpg"))
    assert len(ring) == 4
    assert np.abs(ring - seen).max() < 3


def test_hexagons_at_the_edges_are_seen():
    patches = hexagons(8, 8, 40, 120, 110)
    ring = outline_in_photo(Photo(picture(patches, "plain"), "x.jpg"))
    assert len(ring) > 40
    assert iou(ring, joined(patches)) > 0.98


@pytest.mark.parametrize("kind", ["plain", "planks", "checked"])
def test_a_bare_floor_has_no_top(kind):
    # A floor that fills the picture might be the middle of a top: no edge shows either way.
    with pytest.raises(TopNotFoundError, match=r"No edge of a quilt top|can't find a pieced top"):
        outline_in_photo(Photo(picture([], kind), "x.jpg"))


def test_a_top_cut_off_by_the_frame_is_refused():
    patches = squares(150, 310, 640, 790)
    with pytest.raises(TopNotFoundError, match="not wholly in the picture") as caught:
        outline_in_photo(Photo(picture(patches, "plain"), "x.jpg"))
    assert caught.value.advice


def test_two_tops_are_refused():
    patches = [*squares(60, 150, 340, 560), *squares(460, 150, 740, 560)]
    with pytest.raises(TopNotFoundError, match="more than one"):
        outline_in_photo(Photo(picture(patches, "plain"), "x.jpg"))


def test_a_picture_of_nothing_is_refused():
    with pytest.raises(TopNotFoundError):
        outline_in_photo(Photo(np.zeros((90, 90, 3), np.uint8), "x.jpg"))


def test_floor_is_looked_for_exactly_where_the_mask_would_be_refused():
    # One number for one question: does the top touch the rim of the photo?
    assert RimSettings().touching == MaskSettings().touching
