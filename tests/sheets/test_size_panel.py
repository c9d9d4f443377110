"""The panel beside the measured picture: nothing cut off, nothing explained that isn't there."""

import pytest
import shapely
from tests.sheets.sampler import full_sizes, grid_top, sampler_sizes

from seamwalk.sheets import size_panel
from seamwalk.sheets.checks import Check
from seamwalk.sheets.drawing import Fill, Label
from seamwalk.sheets.kinds import kinds
from seamwalk.sheets.lettering import width

EM = 0.16
ALL = frozenset({"likely", "unsure", "check", "off", "cannot tell", "block", "letter"})


def _texts(items):
    return [i.text for i in items if isinstance(i, Label)]


def _checks(count):
    return tuple(
        Check(
            k,
            "Seam line (3 pieces) hardly seen",
            f"upright, {k} in from the left",
            0.42,
            (0.0, 0.0),
            (),
            (),
        )
        for k in range(1, count + 1)
    )


def _set(sizes, marks=ALL, columns=1, units="in", found=()):
    parts = size_panel.sections(sizes, kinds(sizes, units), marks, units, EM, found)
    return size_panel.arranged(parts, (1.0, 2.0), columns, EM)


def _box(label):
    w, h = width(label.text, label.size_in, label.bold), label.size_in
    x = label.at[0] - {"left": 0, "middle": w / 2, "right": w}[label.anchor]
    return shapely.box(x, label.at[1] - h / 2, x + w, label.at[1] + h / 2)


def _assert_set_well(items, columns, height):
    """No text lies over another, all stay inside their column and the height told."""
    labels = [i for i in items if isinstance(i, Label)]
    boxes = [_box(label) for label in labels]
    for k, one in enumerate(boxes):
        for two in boxes[k + 1 :]:
            assert one.intersection(two).area < 1e-9
    step = (size_panel.COLUMN + 1.5) * EM
    for label, area in zip(labels, boxes, strict=True):
        column = int((label.at[0] - 1.0) // step)
        assert column < columns
        assert area.bounds[0] >= 1.0 + column * step - 1e-9
        assert area.bounds[2] <= 1.0 + column * step + size_panel.COLUMN * EM + 1e-9
        assert 2.0 <= area.bounds[1] <= area.bounds[3] <= 2.0 + height + 1e-9


def test_everything_is_said_and_fits():
    sizes = full_sizes(sampler_sizes(grid_top(6, 5), off=(2, 3), unsure=(9,)), chance=0.8)
    for columns in (1, 2, 3):
        for units in ("in", "cm"):
            for count in (0, 3, 9, 14):
                found = _checks(count)
                items, height = _set(sizes, columns=columns, units=units, found=found)
                _assert_set_well(items, columns, height)
    items, _ = _set(sizes)
    texts = _texts(items)
    assert texts.count("diagonal") == 2
    assert "Not square" in texts
    assert "Block 8 × 8 in? 90%" in texts
    assert "2 across, 1 down" in texts
    assert "30 squares, 4 × 4? 80%" in texts
    assert "2 off, 1 ?" in texts
    assert "Cut both side borders 12 in long." in texts
    assert "3 ?" in texts
    assert texts[texts.index("3 ?") + 1].startswith("size shown, but not sure enough to call it")
    for style in ("solid:", "dashed:", "dotted:"):
        assert sum(t.startswith(style) for t in texts) == 1


def test_a_pattern_in_other_units_has_both_sizes_in_the_list():
    # The sampler's squares are 4 in, 10.16 cm.
    texts = _texts(_set(sampler_sizes(grid_top()), units="cm")[0])
    assert "Patches, finished size" in texts
    assert "12 squares, 4 × 4 in (10.2 × 10.2 cm)" in texts


def test_only_what_is_there_is_explained():
    items, _ = _set(sampler_sizes(grid_top()), marks=frozenset())
    texts = _texts(items)
    assert "What to do" not in texts
    for word in ("dashed", "dotted", "block", "list", "Check"):
        assert not any(word in t for t in texts)
    assert "12 squares, 4 × 4" in texts


def test_checks_are_listed_with_their_numbers_and_the_rest_counted():
    sizes = sampler_sizes(grid_top())
    texts = _texts(_set(sizes, found=_checks(9))[0])
    assert [t for t in texts if t.isdigit()][:9] == [str(k) for k in range(1, 10)]
    assert texts.count("Seam line (3 pieces) hardly seen") == 9
    assert any(t.startswith("Upright, 1 in from the left; about 4") for t in texts)
    assert not any("more" in t and "weigh" in t for t in texts)
    assert "And 5 more that weigh less." in _texts(_set(sizes, found=_checks(14))[0])


def test_columns_share_the_height():
    sizes = full_sizes(sampler_sizes(grid_top(6, 5)))
    heights = [_set(sizes, columns=n)[1] for n in (1, 2)]
    assert heights[1] < 0.75 * heights[0]


def test_sections_move_with_their_place():
    sizes = full_sizes(sampler_sizes(grid_top()))
    for part in size_panel.sections(sizes, kinds(sizes, "in"), ALL, "in", EM):
        one, two = part((0, 0)), part((3, 5))
        assert one.height == pytest.approx(two.height)
        for a, b in zip(one.items, two.items, strict=True):
            if isinstance(a, Label):
                assert (b.at[0] - a.at[0], round(b.at[1] - a.at[1], 9)) == (3, 5)
            elif isinstance(a, Fill):
                assert round(b.ring[0][0] - a.ring[0][0], 9) == 3


def test_letters_stand_for_their_row():
    sizes = sampler_sizes(grid_top())
    rows = kinds(sizes, "in")
    assert size_panel.class_letters(rows) == {"square 4": "A"}
