"""Discs: each where it belongs, none over another, as little hidden as can be."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from tests.sheets.sampler import grid_top, sampler_sizes

from seamwalk.sheets.check_marks import MARKS, check_items, disc
from seamwalk.sheets.checks import Check, checks, listed
from seamwalk.sheets.drawing import Fill, Label
from seamwalk.sheets.palette import contrast
from seamwalk.sheets.patch_labels import label_items

TOP = grid_top(5, 4)
EM = 0.2


def labels(top, sizes, em):
    return [
        item
        for size, patch in zip(sizes.patches, top.patches, strict=True)
        for item in label_items(size, patch, "A", "in", em)[0]
    ]


def discs(items):
    """Middles and figures of the discs, in order."""
    return [(i.at, i.text) for i in items if isinstance(i, Label)]


def doubtful(confidence=0.4, every=2):
    seams = tuple(
        replace(s, confidence=confidence) if k % every == 0 else s for k, s in enumerate(TOP.seams)
    )
    return replace(TOP, seams=seams)


@pytest.mark.parametrize("every", [1, 2, 3, 5])
def test_at_most_nine_apart_from_each_other_and_from_what_is_written(every):
    top = doubtful(every=every)
    sizes = sampler_sizes(top, off=(7,))
    written = labels(top, sizes, EM)
    found = listed(checks(top, sizes))
    items = check_items(found, top, written, EM)
    places = discs(items)
    assert [text for _, text in places] == [str(c.number) for c in found]
    assert len(places) <= 9
    at = np.array([xy for xy, _ in places])
    apart = np.hypot(*(at[:, None] - at[None]).transpose(2, 0, 1)) + 99 * np.eye(len(at))
    assert apart.min() > 2 * MARKS.radius * EM
    rings = [shapely.Polygon(i.ring) for i in items if isinstance(i, Fill)]
    boxes = [shapely.Polygon(i.ring) for i in written if isinstance(i, Fill)]
    assert len(boxes) == 20
    assert max(r.intersection(b).area for r in rings for b in boxes) == pytest.approx(0, abs=1e-3)
    # Nobody has to look for the place: it is within two discs.
    for check, xy in zip(found, at, strict=True):
        assert np.hypot(*(xy - check.at)) < 4 * MARKS.radius * EM


def test_a_long_seam_carries_its_disc():
    seam = TOP.seams[20]
    check = Check(3, "Seam faintly seen", "", 0.7, (6.0, 8.0), (seam.id,), (1,))
    ((at, text),) = discs(check_items([check], TOP, [], EM))
    assert (at, text) == ((6.0, 8.0), "3")


def test_a_short_seam_stays_in_sight_beside_its_disc():
    top = grid_top(4, 4, 0.6)
    check = Check(1, "Seam faintly seen", "", 0.7, (0.9, 0.6), (top.seams[5].id,), ())
    ((at, _),) = discs(check_items([check], top, [], EM))
    assert np.hypot(at[0] - 0.9, at[1] - 0.6) >= MARKS.radius * EM


def test_a_patch_that_is_meant_has_its_disc_inside_and_its_size_in_sight():
    sizes = sampler_sizes(TOP)
    written = labels(TOP, sizes, EM)
    patch = TOP.patches[7]
    middle = patch.polygon.centroid.coords[0]
    check = Check(1, "Inward corner", "", None, middle, (), (patch.id,))
    fill, label = check_items([check], TOP, written, EM)
    ring = shapely.Polygon(fill.ring)
    assert patch.polygon.contains(ring)
    own = [shapely.Polygon(i.ring) for i in written if isinstance(i, Fill)]
    assert not any(ring.intersects(box) for box in own)
    assert label.text == "1"


def test_a_disc_does_not_lean_into_the_next_patch():
    patch = TOP.patches[7]
    x0, y0, _, _ = patch.polygon.bounds
    check = Check(1, "Inward corner", "", None, (x0 + 0.3 * EM, y0 + 2.0), (), (patch.id,))
    fill, _ = check_items([check], TOP, [], EM)
    assert patch.polygon.buffer(0.5 * EM).contains(shapely.Polygon(fill.ring))
    assert patch.polygon.contains(shapely.Polygon(fill.ring).centroid)
    assert shapely.Polygon(fill.ring).centroid.x > x0 + 0.5 * MARKS.radius * EM


def test_a_disc_reads_on_any_cloth():
    fill, label = disc((1.0, 2.0), 4, EM)
    # Web Content Accessibility Guidelines 2.2, 1.4.3: text 4.5 : 1; 1.4.11: outlines 3 : 1.
    assert contrast(label.colour, fill.colour) >= 4.5
    for grey in range(0, 256, 5):
        cloth = f"#{grey:02X}{grey:02X}{grey:02X}"
        assert max(contrast(c, cloth) for c in (fill.edge.colour, fill.edge.casing)) >= 3
