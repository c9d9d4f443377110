"""The network at work: sizes, tiles, and that both runtimes say the same."""

import itertools
from importlib.resources import files

import cv2
import numpy as np
import pytest

from seamwalk.vision import seam_network
from seamwalk.vision.seam_network import JUNCTION, OBJECT, SEAM, TOP, TileSettings, planes


@pytest.fixture(scope="module")
def checks():
    """Return squares of 40 px in two colours on a grey floor, (300, 420, 3)."""
    rgb = np.full((300, 420, 3), 120, np.uint8)
    y, x = np.mgrid[0:240, 0:320]
    dark = ((y // 40 + x // 40) % 2).astype(bool)
    rgb[30:270, 50:370] = np.where(dark[..., None], [30, 60, 120], [235, 225, 205])
    return np.asarray(cv2.GaussianBlur(rgb, (0, 0), 0.8), dtype=np.uint8)


def test_planes_are_as_large_as_the_picture_and_within_their_range(checks):
    out = planes(checks)
    assert out.shape == (6, 300, 420)
    for k in (SEAM, TOP, OBJECT, JUNCTION):
        assert 0 <= out[k].min() <= out[k].max() <= 1


def test_seams_of_a_plain_chequer_are_seen_and_its_squares_are_not(checks):
    # As large as the pictures that the network learned from; so small, it might be a tiled floor.
    out = planes(np.asarray(cv2.resize(checks, (840, 600), interpolation=cv2.INTER_CUBIC)))
    on = np.zeros((600, 840), bool)
    for x in range(180, 740, 80):
        on[80:520, x] = True
    middles = np.zeros_like(on)
    for y in range(100, 540, 80):
        for x in range(140, 740, 80):
            middles[y - 12 : y + 12, x - 12 : x + 12] = True
    heat = cv2.dilate(out[SEAM], np.ones((3, 3)))
    assert np.median(heat[on]) > 0.5
    assert np.median(out[SEAM][middles]) < 0.1


def test_tiles_say_what_the_whole_says(checks):
    whole = planes(checks)
    tiled = planes(checks, settings=TileSettings(most_px=320, overlap_px=128))
    # A tile sees less of its surroundings than the whole does, and its middle nearly as much.
    assert np.abs(tiled - whole)[SEAM].mean() < 0.02


@pytest.mark.parametrize(("length", "most", "overlap"), [(1000, 320, 64), (321, 320, 64)])
def test_tiles_cover_everything_and_overlap(length, most, overlap):
    settings = TileSettings(most, overlap)
    spans = list(seam_network._spans(length, settings))
    assert spans[0].start == 0
    assert spans[-1].stop == length
    assert all(s.stop - s.start <= most for s in spans)
    for a, b in itertools.pairwise(spans):
        assert a.stop - b.start >= overlap
    total = np.zeros(length)
    for span in spans:
        total[span] += seam_network._fade(span, length, settings)
    assert total.min() > 0


def test_two_runtimes_say_the_same(checks):
    # OpenCV's own runtime is the outside reference (general library).
    weights = files("seamwalk.vision").joinpath("weights", seam_network.WEIGHTS)
    net = cv2.dnn.readNetFromONNX(str(weights))
    picture = checks[:288, :416]
    net.setInput(cv2.dnn.blobFromImage(picture, 1 / 255))
    assert np.abs(net.forward()[0] - planes(picture)).max() < 1e-3


def test_the_weights_are_small_enough_for_the_package():
    # Set by the design: 8 MB.
    weights = files("seamwalk.vision").joinpath("weights", seam_network.WEIGHTS)
    assert len(weights.read_bytes()) <= 8_000_000
