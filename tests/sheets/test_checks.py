"""What to check: one question for each doubt, worst first, in words that can be found."""

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.sheets.sampler import grid_top, sampler_sizes

from seamwalk.sheets.checks import MOST_MARKS, checks, listed, more_words, sure_words

TOP = grid_top(5, 4)
SIZES = sampler_sizes(TOP)


def seam_at(x, y):
    """Id of the seam whose middle is there."""
    for s in TOP.seams:
        (xa, ya), (xb, yb) = s.points
        if ((xa + xb) / 2, (ya + yb) / 2) == (x, y):
            return s.id
    raise AssertionError


def found(confidence, inferred=(), sizes=SIZES, units="in"):
    seams = tuple(
        replace(s, confidence=confidence.get(s.id, s.confidence), inferred=s.id in inferred)
        for s in TOP.seams
    )
    return checks(replace(TOP, seams=seams), sizes, units)


def test_a_top_without_doubt_has_nothing_to_check():
    assert found({}) == ()


def test_a_whole_seam_line_is_one_check():
    column = [seam_at(8, y) for y in (2, 6, 10, 14)]
    (check,) = found(dict.fromkeys(column, 0.53))
    assert check.sentence == (
        "Seam line (4 pieces) hardly seen, about 5 in 10 sure: upright, 8 in from the left."
    )
    assert set(check.seams) == set(column)
    assert check.at[0] == 8
    (cm,) = found(dict.fromkeys(column, 0.53), units="cm")
    assert "20.3 cm from the left" in cm.where
    across = [seam_at(x, 12) for x in (2, 6)]
    (check,) = found(dict.fromkeys(across, 0.7))
    assert check.where == "across, 4 in from the bottom"


@pytest.mark.parametrize(
    ("confidence", "inferred", "what"),
    [
        (0.3, False, "Seam hardly seen"),
        (0.75, False, "Seam faintly seen"),
        (0.3, True, "Seam inferred, not seen"),
        (0.95, True, "Seam inferred, not seen"),
    ],
)
def test_words_for_one_seam(confidence, inferred, what):
    seam = seam_at(8, 6)
    (check,) = found({seam: confidence}, {seam} if inferred else ())
    assert check.what == what
    assert check.where == "right of the patch second from the left, second row"
    assert check.at == (8.0, 6.0)
    assert check.patches == (7, 8) or check.patches == (8, 7)


def test_the_outer_edge_by_its_side():
    (check,) = found({seam_at(20, 6): 0.5})
    assert check.what == "Outer edge hardly seen"
    assert check.where == "the right edge, 6 in from the top"


@settings(max_examples=60, deadline=None)
@given(st.floats(0, 1))
def test_confidence_in_words_is_never_rounded_up(sure):
    words = sure_words(sure)
    if words.startswith("less"):
        assert sure < 0.1 + 1e-9
    else:
        tenths = int(words.split()[1])
        assert tenths / 10 <= sure + 1e-9
        assert sure < (tenths + 1) / 10 or tenths == 9


def test_worst_first():
    likely, unsure, hopeless = seam_at(4, 2), seam_at(8, 6), seam_at(12, 10)
    long_likely = [seam_at(16, y) for y in (2, 6, 10, 14)]
    of = {likely: 0.85, unsure: 0.5, hopeless: 0.05, **dict.fromkeys(long_likely, 0.65)}
    order = [set(c.seams) for c in found(of)]
    assert order == [{hopeless}, {unsure}, set(long_likely), {likely}]


@settings(max_examples=20, deadline=None)
@given(st.lists(st.sampled_from([0.1, 0.5, 0.7, 0.95]), min_size=49, max_size=49))
def test_numbers_run_from_one_and_order_follows_doubt(values):
    result = found({s.id: v for s, v in zip(TOP.seams, values, strict=True)})
    assert [c.number for c in result] == list(range(1, len(result) + 1))
    ranks = [0 if c.sure <= 0.25 else 1 if c.sure < 0.6 else 2 for c in result]
    assert ranks == sorted(ranks)
    told = [s for c in result for s in c.seams]
    assert len(told) == len(set(told))
    for one, two in pairwise(result):
        assert one.at != two.at


def test_only_nine_are_listed_and_the_rest_counted():
    assert MOST_MARKS == 9
    # Every second seam of a row of upright ones: no two on one line, which a sure row parts.
    of = {s.id: 0.5 for k, s in enumerate(TOP.seams) if k % 2}
    result = found(of)
    assert len(result) > 9
    assert [c.number for c in listed(result)] == list(range(1, 10))
    assert more_words(len(result)) == f"And {len(result) - 9} more that weigh less."
    assert more_words(9) == ""


def test_sizes_that_are_off_are_asked_about_last():
    sizes = sampler_sizes(TOP, off=(7,))
    seam = seam_at(16, 14)
    first, last = found({seam: 0.85}, sizes=sizes)
    assert first.seams == (seam,)
    assert last.sentence == (
        "3/8 in too large: is the seam where it is drawn? Second from the left, second row."
    )
    assert (last.sure, last.patches) == (None, (7,))


def test_a_patch_as_large_as_two_is_asked_about_before_faint_seams():
    top = grid_top(5, 4)
    sizes = sampler_sizes(top)
    # Patches 1 and 2 in one: the seam between them was missed.
    joined = top.patches[0].polygon.union(top.patches[1].polygon)
    gone = next(s for s in top.seams if {s.left, s.right} == {1, 2})
    keep = replace(top.patches[0], polygon=joined)
    seams = tuple(
        replace(s, left=1 if s.left == 2 else s.left, right=1 if s.right == 2 else s.right)
        for s in top.seams
        if s.id != gone.id
    )
    wide = replace(
        sizes.patches[0],
        shape="rectangle",
        class_name="rectangle 4 x 8",
        finished=replace(sizes.patches[0].finished, size_in=(8.0, 4.0, 8.0, 4.0)),
    )
    faint = tuple(replace(s, confidence=0.8) if s.id == seam_at(16, 14) else s for s in seams)
    result = checks(
        replace(top, patches=(keep, *top.patches[2:]), seams=faint, raw_edges=False),
        replace(sizes, patches=(wide, *sizes.patches[2:])),
    )
    assert [c.what for c in result] == [
        "As large as two squares 4 × 4: is a seam missing?",
        "Seam faintly seen",
    ]
    assert joined.contains_properly(_point(result[0].at))


def _point(xy):
    from shapely import Point

    return Point(xy)
