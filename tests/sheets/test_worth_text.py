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
        "What this path saves: patch by patch the same stitching takes 5 h 10 min and leaves 96 "
        "thread ends to bury; line by line 3 h 20 min and 1. Here it is 2 h 00 min and none."
    )


def test_ways_that_come_to_the_same_are_told_once() -> None:
    # Where nothing lies in a patch both ways are one.
    same = OtherWay(200.0, 20, 0)
    found = replace(TOTALS, compared={"patch by patch": same, "line by line": same})
    assert saving_text(found).startswith(
        "What this path saves: patch by patch or line by line the same stitching takes 3 h 20 min "
        "and leaves no thread ends to bury. Here"
    )


def test_the_bound_tells_a_difference_and_no_other_time() -> None:
    # 90 − 87 min. Turning the quilt and bobbins are in the 2 h, but no bound knows them.
    assert bound_text(TOTALS) == (
        "No other path saves more than 3 min of stitching, pivots and thread ends; how little "
        "turning the quilt and changing bobbins could take is not known."
    )


def test_the_bound_never_promises_too_much() -> None:
    # 90 − 86.4 = 3.6 min: one could save 4, not 3.
    found = replace(TOTALS, lower_bounds={"minutes": 86.4})
    assert "more than 4 min" in bound_text(found)


def test_a_proven_path() -> None:
    found = replace(TOTALS, lower_bounds={"minutes": 90.0}, minutes={"stitching": 90.0})
    assert bound_text(found) == (
        "No other path saves a minute of stitching, pivots and thread ends."
    )


def test_one_cause_that_is_left_out() -> None:
    found = replace(TOTALS, minutes={"stitching": 90.0, "bobbin changes": 3.0})
    assert bound_text(found).endswith("; how little changing bobbins could take is not known.")


def test_nothing_known_nothing_said() -> None:
    assert worth_lines(replace(TOTALS, lower_bounds={}, compared={})) == []
