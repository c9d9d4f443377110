"""What the path saves, and how near it is to the best: sums that anyone can do.

Minutes are read off the totals given: 60 + 30 for stitching and pivots, 25 for turning the quilt
and 5 for bobbins make 2 h.
"""

from dataclasses import replace

from seamwalk.model.route import OtherWay, Totals
from seamwalk.sheets.worth_text import bound_text, saving_text, worth_lines

TOTALS = Totals(
    threads=1,
    buried_ends=0,
    edge_ends=2,
    stitched_in=1800.0,
    doubled_in=0.0,
    travel_in=0.0,
    pivots=100,
    turning_deg=9000.0,
    quilt_turns=60,
    minutes={"stitching": 60.0, "pivots": 30.0, "quilt turns": 25.0, "bobbin changes": 5.0},
    thread_yd=172.0,
    bobbins=2,
    lower_bounds={"minutes": 87.0},
    compared={
        "patch by patch": OtherWay(310.0, 48, 96),
        "line by line": OtherWay(200.0, 20, 1),
    },
)


def test_the_saving() -> None:
    assert saving_text(TOTALS) == (
        "Patch by patch it would take 5 h 10 min and 96 thread ends to bury; line by line it "
        "would take 3 h 20 min and 1 thread end to bury; this path takes 2 h 00 min and no thread "
        "ends to bury."
    )


def test_the_bound_compares_like_with_like() -> None:
    # Turning the quilt and bobbins are in the 2 h, but no bound knows them.
    assert bound_text(TOTALS) == (
        "No path takes less than 1 h 27 min; this one takes 1 h 30 min. Turning the quilt and "
        "changing bobbins come on top of both: 30 min here, and for these the least is not known."
    )


def test_a_proven_path() -> None:
    found = replace(TOTALS, lower_bounds={"minutes": 90.0}, minutes={"stitching": 90.0})
    assert bound_text(found) == "No path takes less than this one, 1 h 30 min, to the minute."


def test_one_cause_that_is_left_out() -> None:
    found = replace(TOTALS, minutes={"stitching": 90.0, "bobbin changes": 3.0})
    assert bound_text(found).endswith(
        "Changing bobbins comes on top of both: 3 min here, and for that the least is not known."
    )


def test_nothing_known_nothing_said() -> None:
    assert worth_lines(replace(TOTALS, lower_bounds={}, compared={})) == []
