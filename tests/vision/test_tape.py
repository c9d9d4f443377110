"""A length read off a tape, as evidence beside one card."""

import numpy as np
import pytest
from tests.vision.projected import IN_PLANE, OUTLINE, TOP, Scene, cards, photo

from seamwalk.errors import UsageError
from seamwalk.vision.rectify import fit_camera, refine
from seamwalk.vision.tape import believed, parse_tape, tape_evidence


def measured(rectification, scene):
    """Return the lengths of the four edges, inches: top, right, bottom, left."""
    p = rectification.view.top_from_px(scene.px(OUTLINE))
    return np.hypot(*(np.roll(p, -1, axis=0) - p).T)


def spread(rectification, scene, edge):
    p = scene.px(OUTLINE)[[edge, (edge + 1) % 4]]
    a, b = rectification.view.top_from_px(p)
    value = np.hypot(*(b - a))
    moved = [np.hypot(*np.diff(m.top_from_px(p), axis=0)[0]) for m in rectification.modes]
    return float(np.sqrt(((np.array(moved) - value) ** 2).sum()))


@pytest.mark.parametrize("tilt", [0, 25])
def test_two_taped_edges_make_one_card_nearly_as_good_as_two(tilt):
    # The design's figures: one card .29 to .77 in on width and height, with two edges taped .1.
    scene, rng = Scene(tilt), np.random.default_rng(1)
    marks = cards(scene, rng, 0.02, count=1)
    first = fit_camera(photo(), marks, settings=IN_PLANE)
    tapes = parse_tape(["right=60", "bottom = 48 in"], "in")
    found = refine(
        first,
        photo(),
        marks,
        [],
        tapes=tape_evidence(tapes, first.view.top_from_px(scene.px(OUTLINE)), first.view),
        settings=IN_PLANE,
    )
    true = np.array([TOP[0], TOP[1], TOP[0], TOP[1]])
    assert np.abs(measured(found, scene) - true).max() < 0.2
    for edge in (1, 2):
        assert spread(found, scene, edge) < 1 / 16
        assert spread(found, scene, edge) < spread(first, scene, edge) / 2


def test_a_tape_that_contradicts_the_card_is_said_and_left_out():
    scene = Scene(10)
    first = fit_camera(photo(), cards(scene), settings=IN_PLANE)
    corners = first.view.top_from_px(scene.px(OUTLINE))
    evidence = tape_evidence(parse_tape(["left=62", "top=48"], "in"), corners, first.view)
    kept, said = believed(parse_tape(["left=62", "top=48"], "in"), evidence, first, "in")
    assert [one.length_in for one in kept] == [48]
    assert len(said) == 1
    assert "left" in said[0]
    assert "62" in said[0]


@pytest.mark.parametrize("text", ["71 3/8", "left", "left=", "middle=12", "left=long"])
def test_what_is_no_edge_and_length_is_refused(text):
    with pytest.raises(UsageError):
        parse_tape([text], "in")


def test_an_edge_twice_is_refused_and_centimetres_are_converted():
    with pytest.raises(UsageError, match="twice"):
        parse_tape(["left=71", "Left edge=72"], "in")
    assert parse_tape(["left=152.4"], "cm")[0].length_in == pytest.approx(60)
    assert parse_tape(["left=71 3/8"], "in")[0].length_in == 71.375


@pytest.mark.parametrize("side", ["width", "height"])
def test_width_and_height_go_through_the_middle(side):
    scene = Scene(20)
    first = fit_camera(photo(), cards(scene), settings=IN_PLANE)
    corners = first.view.top_from_px(scene.px(OUTLINE))
    (one,) = tape_evidence(parse_tape([f"{side}=50"], "in"), corners, first.view)
    a, b = first.view.top_from_px(one.px)
    assert np.hypot(*(b - a)) == pytest.approx({"width": 48, "height": 60}[side], abs=0.02)
    middle = (a + b) / 2 - corners[0]
    assert np.hypot(*middle) == pytest.approx(np.hypot(24, 30), abs=0.05)
