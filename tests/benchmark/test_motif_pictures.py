"""Pictures of the motifs' pages: small, there for every page, and drawn from the motifs."""

import numpy as np
import pytest
from PIL import Image

from seamwalk.benchmark.motif_pictures import (
    FOLDER,
    MOST_BYTES,
    PICTURES,
    TOPS,
    Panel,
    PictureSettings,
    drawn,
    motif_picture,
    planned,
    write_picture,
)
from seamwalk.motifs.motif import known
from seamwalk.sheets.palette import BLUE, components


def stitched(rgb):
    """Return the pixels in the colour of the stitching."""
    return (np.abs(rgb.astype(int) - components(BLUE)).max(axis=2) < 40).sum()


@pytest.mark.parametrize("name", sorted(PICTURES))
def test_every_picture_has_its_page_and_shows_three_kinds_of_top(name):
    assert name in known()
    panels = PICTURES[name]
    assert len({p.top for p in panels}) >= 3
    assert all(any(name in wish for wish in p.wishes) for p in panels)
    page = FOLDER / f"{name}.md"
    assert f"]({name}.png)" in page.read_text(encoding="utf-8")
    assert (FOLDER / f"{name}.png").stat().st_size <= MOST_BYTES


def test_a_picture_shows_the_stitching_as_long_as_it_is():
    top = TOPS["medallion"]()
    settings = PictureSettings(stitch_px=2.0)
    empty = drawn(top, planned(top, ["all=none"]), settings)
    assert stitched(empty) == 0
    plan = planned(top, ["border=lines spacing=1 1/4"])
    shown = drawn(top, plan, settings)
    x0, _, x1, _ = top.outline.bounds
    length_px = (
        sum(s.curve.length for s in plan.strokes if s.required) * shown.shape[1] / (x1 - x0)
    )
    # Two pixels wide; smooth edges count for less.
    assert 1.0 * length_px < stitched(shown) < 2.2 * length_px


def test_panels_stand_side_by_side():
    panels = (Panel("medallion", ("all=none",)), Panel("mitred", ("all=none",)))
    one, other = (motif_picture([p]) for p in panels)
    both = motif_picture(panels)
    gap = PictureSettings().gap_px
    assert both.shape[1] == one.shape[1] + gap + other.shape[1]
    assert (both[:, one.shape[1] : one.shape[1] + gap] == 255).all()


def test_written_pictures_have_few_colours(tmp_path):
    path = write_picture(min(PICTURES), tmp_path)
    with Image.open(path) as image:
        assert image.mode == "P"
        assert len(image.getcolors()) <= 16
