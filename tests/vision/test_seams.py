"""The seam map against drawn cloth; what is asked for follows from how each cloth is drawn."""

import cv2
import numpy as np
import pytest

from seamwalk.geometry.lens import Lens
from seamwalk.model.picture import FlatPicture, Rectification, View
from seamwalk.vision.seams import find_seams

PPI = 12.0


def flat_picture(rgb):
    view = View(Lens(1000.0, (0.0, 0.0)), np.eye(3))
    seen = np.ones(rgb.shape[:2], bool)
    return FlatPicture(rgb, seen, PPI, (0.0, 0.0), Rectification(view, (), "none", 1.0, 0.0))


def photographed(picture, rng):
    soft = cv2.GaussianBlur(picture.astype(np.float32), (0, 0), 0.6)
    return np.clip(soft + rng.normal(0, 2, soft.shape), 0, 255).astype(np.uint8)


def halves(angle_deg, one=(180, 70, 60), other=(60, 90, 170), side=144):
    """Two fabrics that meet on a line through the middle; the line's distance at each pixel."""
    rows, cols = np.indices((side, side)) - (side - 1) / 2
    t = np.radians(angle_deg)
    distance = -np.sin(t) * cols + np.cos(t) * rows
    return np.where((distance > 0)[..., None], one, other), distance


@pytest.mark.parametrize("angle_deg", [0, 30, 45, 90, 123, 160])
def test_a_seam_is_strong_where_it_is_and_runs_as_it_does(angle_deg):
    picture, distance = halves(angle_deg)
    rgb = photographed(picture, np.random.default_rng(1))
    found = find_seams(flat_picture(rgb), np.ones(distance.shape, bool))
    inner = np.zeros(distance.shape, bool)
    inner[24:-24, 24:-24] = True
    on, off = inner & (np.abs(distance) < 0.7), inner & (np.abs(distance) > 0.35 * PPI)
    assert np.median(found.strength[on]) > 0.7
    assert np.percentile(found.strength[off], 99) < 0.2
    turn = np.angle(np.exp(2j * (found.angle_rad[on] - np.radians(angle_deg)))) / 2
    # Directions are tried 11.25 degrees apart, so the nearest is 5.6 off at most.
    assert np.degrees(np.median(np.abs(turn))) <= 5.7


def test_plain_cloth_has_no_seams():
    rng = np.random.default_rng(2)
    rgb = photographed(np.full((144, 144, 3), (150, 120, 90)), rng)
    found = find_seams(flat_picture(rgb), np.ones((144, 144), bool))
    assert np.percentile(found.strength, 99) < 0.3


def test_a_check_is_print_and_the_seam_beside_it_is_not():
    rows, cols = np.indices((160, 200))
    check = np.where(
        ((rows // 4) % 2 + (cols // 4) % 2)[..., None] > 0, (225, 225, 220), (60, 90, 60)
    )
    picture = np.where((cols > 100)[..., None], (170, 120, 60), check)
    rgb = photographed(picture, np.random.default_rng(3))
    found = find_seams(flat_picture(rgb), np.ones(rows.shape, bool))
    seam = found.strength[30:-30, 99:103].max(axis=1)
    print_only = found.strength[30:-30, 30:90]
    assert np.median(seam) > 0.7
    assert print_only.mean() < 0.4 * np.median(seam)


def test_a_ditch_within_one_fabric_shows():
    picture = np.full((160, 160, 3), 190.0)
    # A ditch 1/12 in wide that loses an eighth of the light; all by design of this test.
    picture[:, 80] *= 0.875
    rgb = photographed(picture, np.random.default_rng(4))
    found = find_seams(flat_picture(rgb), np.ones((160, 160), bool))
    seam = found.strength[30:-30, 79:82].max(axis=1)
    cloth = found.strength[30:-30, 20:60]
    assert np.median(seam) > 0.4
    assert np.percentile(cloth, 95) < 0.2


def test_turning_the_picture_turns_the_map():
    rng = np.random.default_rng(5)
    cells = rng.integers(40, 230, (4, 4, 3))
    rgb = photographed(np.kron(cells, np.ones((36, 36, 1))), rng)
    one = find_seams(flat_picture(rgb), np.ones((144, 144), bool))
    turned = np.ascontiguousarray(np.rot90(rgb))
    two = find_seams(flat_picture(turned), np.ones((144, 144), bool))
    gap = np.abs(np.rot90(one.strength) - two.strength)
    # Ridges of 2 px may fall between the pixels of the coarser grid one way and not the other.
    assert np.mean(gap > 0.3) < 0.03


def test_the_map_keeps_its_promises():
    rng = np.random.default_rng(6)
    rgb = rng.integers(0, 255, (90, 120, 3)).astype(np.uint8)
    mask = np.zeros((90, 120), bool)
    mask[20:70, 15:100] = True
    found = find_seams(flat_picture(rgb), mask)
    assert found.strength.dtype == np.float32
    assert found.angle_rad.dtype == np.float32
    assert found.strength.shape == found.angle_rad.shape == mask.shape
    assert found.strength.min() >= 0
    assert found.strength.max() <= 1
    assert np.all(found.strength[~mask] == 0)
    assert found.angle_rad.min() >= 0
    assert found.angle_rad.max() < np.pi
    assert np.array_equal(found.strength, find_seams(flat_picture(rgb), mask).strength)
