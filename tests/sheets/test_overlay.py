"""The overlay: the path lies where the camera saw it, and every cue is there.

Outside reference: OpenCV's ``projectPoints`` for the camera.  Colours: see test_palette.
"""

import dataclasses

import cv2
import numpy as np
import pytest
from tests.sheets.sampler import (
    Builder,
    grid_top,
    line,
    rectification_of,
    sampler_route,
    tilted_photo,
    tilted_pose,
    tilted_view,
)

from seamwalk.model.picture import Photo
from seamwalk.model.route import Begun
from seamwalk.sheets.legend import legend
from seamwalk.sheets.overlay import OverlaySettings, overlay, overlay_plain
from seamwalk.sheets.palette import GREEN, GREY, VERMILION, against, components, sequence_colour
from seamwalk.sheets.walk import length_in, runs, stops


@pytest.fixture(scope="module")
def photo():
    return tilted_photo(tilted_view())


@pytest.fixture(scope="module")
def drawn(photo):
    return overlay(photo, rectification_of(tilted_view()), grid_top(), sampler_route())


def _projected(points):
    """Pixels by OpenCV, without any of our camera code but its parameters."""
    lens, rotation, shift = tilted_pose()
    k1, k2, k3 = lens.radial
    matrix = np.array(
        [[lens.focal_px, 0, lens.centre_px[0]], [0, lens.focal_px, lens.centre_px[1]]]
    )
    matrix = np.vstack([matrix, [0, 0, 1]])
    on_plane = np.column_stack([points, np.zeros(len(points))])
    px, _ = cv2.projectPoints(
        on_plane, cv2.Rodrigues(rotation)[0], shift, matrix, np.array([k1, k2, 0, 0, k3])
    )
    return px.reshape(-1, 2)


def _at(picture, px):
    col, row = np.rint(px).astype(int)
    return picture[row, col].astype(int)


def _near(a, b, slack=40):
    return np.abs(np.asarray(a) - components(b)).max() <= slack


def test_first_pass_lies_where_opencv_projects_it(drawn):
    walk = runs(sampler_route())
    total = length_in(walk)
    hits = tried = 0
    for run in walk:
        if run.style != "first":
            continue
        # Away from the ends (marks, crossings) and the middle (arrow).
        for t in (0.27, 0.36, 0.64):
            point = run.curve.pieces[0].at(t)
            share = (run.from_in + t * run.curve.length) / total
            tried += 1
            hits += _near(_at(drawn, _projected([point])[0]), sequence_colour(share))
    # Where a later line crosses, its colour is on top.
    assert tried > 100
    assert hits / tried > 0.9


def test_the_photo_stays_as_it_was_away_from_the_path(photo, drawn):
    distance = np.full((photo.height_px, photo.width_px), 255, np.uint8)
    for run in runs(sampler_route()):
        px = np.rint(_projected(run.curve.sampled())).astype(np.int32)
        cv2.polylines(distance, [px.reshape(-1, 1, 2)], False, 0)
    far = cv2.distanceTransform(distance, cv2.DIST_L2, 5)[: drawn.shape[0]] > 130
    same = (drawn[: photo.height_px] == photo.rgb).all(axis=2)
    # The key may stand in a corner.
    assert far.sum() > 50_000
    assert same[far].mean() > 0.7
    middle = _at(drawn, _projected([(2.0, 2.0)])[0])
    assert (
        middle.tolist()
        == photo.rgb[tuple(np.rint(_projected([(2, 2)])[0]).astype(int)[::-1])].tolist()
    )


def test_second_pass_is_dashed_first_is_solid(drawn):
    walk = runs(sampler_route())
    total = length_in(walk)

    def gaps(run):
        ts = np.concatenate([np.linspace(0.15, 0.4, 80), np.linspace(0.6, 0.85, 80)])
        points = [run.curve.pieces[0].at(t) for t in ts]
        share = (run.from_in + run.to_in) / 2 / total
        case = components(against(sequence_colour(share)))
        seen = np.array([_at(drawn, p) for p in _projected(points)])
        return (np.abs(seen - case).max(axis=1) < 60).mean()

    firsts = [gaps(r) for r in walk if r.style == "first" and r.thread > 0]
    seconds = [gaps(r) for r in walk if r.style == "second"]
    assert np.median(firsts) < 0.02
    assert np.median(seconds) > 0.15


def test_starts_are_ringed_triangles_and_ends_squares(drawn):
    for stop in stops(runs(sampler_route())):
        if stop.kind == "step":
            continue
        x, y = np.rint(_projected([stop.at])[0]).astype(int)
        around = drawn[max(0, y - 24) : y + 24, max(0, x - 24) : x + 24].reshape(-1, 3)
        colour = GREEN if stop.kind == "start" else VERMILION
        assert (np.abs(around.astype(int) - components(colour)).max(axis=1) < 25).sum() > 10


def test_large_photos_are_reduced_and_proportions_kept():
    photo = Photo(np.full((3000, 4000, 3), 120, np.uint8), "large.jpg")
    view = tilted_view(width=4000, height=3000)
    small = overlay(
        photo,
        rectification_of(view),
        grid_top(),
        sampler_route(),
        settings=OverlaySettings(longest_px=1000),
    )
    assert small.shape[1] == 1000
    assert small.shape[0] >= 750
    # The same place at a quarter of the size.
    walk = runs(sampler_route())
    point = walk[0].curve.pieces[0].at(0.3)
    col, row = np.rint((view.px_from_top([point])[0] + 0.5) / 4 - 0.5).astype(int)
    window = small[row - 1 : row + 2, col - 1 : col + 2].reshape(-1, 3).astype(int)
    first = components(sequence_colour(walk[0].curve.length * 0.3 / length_in(walk)))
    assert np.abs(window - first).max(axis=1).min() < 40


def test_key_gets_its_own_strip_when_no_corner_is_free(photo):
    close = tilted_view(width=1200, height=900)
    cut = Photo(photo.rgb[100:560, 170:1030].copy(), "close.jpg")
    # A crop moves the principal point.
    lens = close.lens
    moved = type(lens)(
        lens.focal_px, (lens.centre_px[0] - 170, lens.centre_px[1] - 100), lens.radial
    )
    view = type(close)(moved, close.top_from_ray)
    out = overlay(cut, rectification_of(view), grid_top(), sampler_route())
    assert out.shape[1] == cut.width_px
    assert out.shape[0] > cut.height_px
    assert (out[-2:] == 255).all()


def test_plain_map_shows_the_path_and_pales_behind_it():
    top, route = grid_top(), sampler_route()
    out = overlay_plain(top, route, settings=OverlaySettings(plain_px=1000))
    margin = 0.04 * 16
    px_per_in = 1000 / (16 + 2 * margin)
    walk = runs(route)
    point = np.array(walk[0].curve.pieces[0].at(0.3))
    seen = _at(out, (point + margin) * px_per_in - 0.5)
    assert _near(seen, sequence_colour(0.3 * walk[0].curve.length / length_in(walk)))
    patch = _at(out, (np.array([2.0, 2.0]) + margin) * px_per_in - 0.5)
    assert patch.min() > 200
    # Neighbouring fabrics differ.
    assert patch[0] != _at(out, (np.array([6.0, 2.0]) + margin) * px_per_in - 0.5)[0]


def test_travel_back_and_forth_in_one_ditch_shows_twice():
    b = Builder()
    b.stitch(line((1, 4), (15, 4)), "ditch")
    b.stitch(line((15, 4), (1, 4)), "ditch")
    out = overlay_plain(grid_top(), b.route(), settings=OverlaySettings(plain_px=2000))
    margin = 0.04 * 16
    px_per_in = 2000 / (16 + 2 * margin)
    x = round((5.0 + margin) * px_per_in)
    y = round((4.0 + margin) * px_per_in)
    column = out[y - 20 : y + 20, x].astype(int)
    coloured = [
        [np.abs(column - components(sequence_colour(s))).max(axis=1) < 30 for s in shares]
        for shares in ((0.13, 0.14, 0.15, 0.16), (0.84, 0.85, 0.86, 0.87))
    ]
    first, second = (np.flatnonzero(np.any(c, axis=0)) for c in coloured)
    assert first.size
    # One is right of its way, the other too: they lie on two sides of the seam.
    if second.size:
        assert (first.mean() - 20) * (second.mean() - 20) < 0


def test_a_plan_without_threads_shows_only_the_top():
    route = Builder().route()
    out = overlay_plain(grid_top(), route, settings=OverlaySettings(plain_px=600))
    assert out.shape[1] == 600


def test_what_was_sewn_before_is_grey_and_in_the_key():
    route = sampler_route()
    first, *rest = route.threads
    done = {leg.piece: 1 for leg in first.legs}
    needle = route.network.pieces[first.legs[-1].piece].v
    begun = Begun(done, frozenset(done), needle, 0.0, runs=False)
    route = dataclasses.replace(route, threads=tuple(rest), begun=begun)
    settings = OverlaySettings(plain_px=1500)
    out = overlay_plain(grid_top(), route, settings=settings)
    x0, y0, x1, y1 = grid_top().outline.bounds
    margin = 0.04 * max(x1 - x0, y1 - y0)
    scale = 1500 / (max(x1 - x0, y1 - y0) + 2 * margin)
    hits = []
    sewn_now = {leg.piece for thread in rest for leg in thread.legs}
    for name in done:
        if name in sewn_now:
            continue
        at = np.array(route.network.pieces[name].curve.pieces[0].at(0.4))
        px = (at - (x0, y0) + margin) * scale - 0.5
        # The line is about two pixels wide.
        around = [px + (dx, dy) for dx in (-1, 0, 1) for dy in (-1, 0, 1)]
        hits.append(any(_near(_at(out, p), GREY) for p in around))
    assert len(hits) > 30
    assert np.mean(hits) > 0.9
    key, plain = (legend(runs(route), "", 20, done=d) for d in (True, False))
    assert key.shape[0] > plain.shape[0]
