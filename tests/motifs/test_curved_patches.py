"""Motifs on curved patches, of a top whose curved seams are exact quarter circles.

A curve that stays inside a patch is inside its polygon (shapely as the reference library).
"""

import math

import pytest
import shapely
from tests.motifs.asserts import assert_stitchable
from tests.motifs.tops import sizes_of

from seamwalk.geometry.curve import CHORD_TOLERANCE_IN
from seamwalk.model.choice import MotifChoice
from seamwalk.model.machine import MachineProfile
from seamwalk.motifs.arches import arches
from seamwalk.motifs.area import lay_out
from seamwalk.motifs.motif import Region, known
from seamwalk.motifs.plan import choose, make_strokes
from seamwalk.scenes.designs.pattern import Layout
from seamwalk.scenes.sewing import SewingSettings
from seamwalk.scenes.tops import make_top

R = 0.7 * 4.0


@pytest.fixture(scope="module")
def top():
    return make_top(
        "drunkards path",
        Layout(2, 2, 8.0),
        border_in=2.0,
        sewing=SewingSettings(sigma_in=0.0),
        seed=1,
    )


@pytest.mark.parametrize("wishes", [(), *((f"all={motif}",) for motif in known())], ids=str)
def test_every_motif_is_stitchable_on_curved_patches(top, wishes):
    sizes = sizes_of(top)
    strokes = make_strokes(top, sizes, choose(top, sizes, wishes)).strokes
    assert_stitchable(strokes, top)
    by_id = {p.id: p.polygon.buffer(0.02) for p in top.patches}
    for stroke in strokes:
        if stroke.patch is not None:
            assert shapely.covers(
                by_id[stroke.patch], shapely.LineString(stroke.curve.sampled())
            ), stroke.id


def test_the_ditch_follows_the_arc(top):
    area = lay_out(top)
    curved = [s for s in top.seams if s.sweep_rad]
    assert curved
    for seam in curved:
        (ditch,) = area.ditches[seam.id]
        (arc,) = seam.curve.pieces
        exact = shapely.points(seam.curve.sampled(1e-4))
        away = shapely.distance(shapely.LineString(ditch.sampled()), exact)
        assert away.max() <= 1.01 * CHORD_TOLERANCE_IN
        assert ditch.length == pytest.approx(math.pi * R / 2, rel=math.radians(5.5) ** 2 / 24)
        assert arc.radius == pytest.approx(R)


def test_arches_leave_curved_patches_out(top):
    area = lay_out(top)
    region = Region(area, tuple(p.id for p in top.patches), MachineProfile())
    found = arches(region, MotifChoice(region.patches, "arches"))
    curved = {p for s in top.seams if s.sweep_rad for p in (s.left, s.right)}
    assert set(found.left_out) == curved
    straight = [o for o in area.outlines.values() if o.patch not in curved]
    assert straight
    assert all(o.convex and not o.curved for o in straight)
