"""The path on paper: what comes again is told once, and nothing is lost.

What is expected is read off the runs given; common practice, no source.
"""

import re

from seamwalk.model.route import RunWords
from seamwalk.sheets.path_text import WIDTH, Again, folded, path_lines


def runs(*texts: str, thread: int = 0, first: int = 1) -> list[RunWords]:
    return [RunWords(thread, first + k, first + k, t) for k, t in enumerate(texts)]


def body(found: list[str]) -> list[str]:
    """Return the lines after what explains the numbers."""
    return found[found.index("") + 1 :]


def test_each_run_is_a_line_with_its_stops() -> None:
    mine = [
        RunWords(0, 1, 1, "start at the left edge, 4 in from the top"),
        RunWords(0, 1, 3, "leaf line 7, left to right, arcs alternate, start below"),
        RunWords(0, 3, 3, "end in the margin, at the right edge, 4 in from the top"),
    ]
    assert body(path_lines(mine)) == [
        "      1  start at the left edge, 4 in from the top",
        "    1-3  leaf line 7, left to right, arcs alternate, start below",
        "      3  end in the margin, at the right edge, 4 in from the top",
    ]


def test_equal_rows_are_told_once() -> None:
    mine = runs(*(f"leaf line {k}, left to right" for k in (3, 4, 5, 6, 7)))
    assert body(path_lines(mine)) == [
        "      1  leaf line 3, left to right",
        "    2-5  the next four alike: leaf line 4 to 7",
    ]


def test_a_figure_of_several_runs_is_told_once() -> None:
    once = (
        "leaf line {}, left to right",
        "travel in the margin, downwards, 4 in, to leaf line {}",
    )
    back = (
        "leaf line {}, right to left",
        "travel in the margin, downwards, 4 in, to leaf line {}",
    )
    texts = [
        t.format(k if i == 0 else k + 1)
        for k in range(1, 9)
        for i, t in enumerate(once if k % 2 else back)
    ]
    assert body(path_lines(runs(*texts))) == [
        "      1  leaf line 1, left to right",
        "      2  travel in the margin, downwards, 4 in, to leaf line 2",
        "      3  leaf line 2, right to left",
        "      4  travel in the margin, downwards, 4 in, to leaf line 3",
        "   5-16  these four again, three times: leaf line 3, 5 and 7; leaf line 4, 6",
        "         and 8",
    ]


def test_what_differs_in_a_word_is_not_folded() -> None:
    mine = runs("leaf line 3, left to right", "leaf line 4, right to left", "leaf line 5, upwards")
    assert len(body(path_lines(mine))) == 3


def test_more_of_a_line_or_more_pivots_is_not_alike() -> None:
    for one, other in (("7 1/2 in of it", "9 1/2 in of it"), ("2 pivots", "12 pivots")):
        mine = runs(
            f"leaf line 3, upwards, {one}",
            f"leaf line 4, upwards, {one}",
            f"leaf line 5, upwards, {other}",
        )
        assert len(body(path_lines(mine))) == 3
    # How far to travel is seen when one gets there.
    mine = runs(*(f"travel in the ditch, upwards, {k} in, to leaf line {k}" for k in (1, 2, 3)))
    assert len(body(path_lines(mine))) == 2


def test_two_alike_are_written_out() -> None:
    # A line that says so would be as long.
    mine = runs("leaf line 3, left to right", "leaf line 4, left to right")
    assert len(body(path_lines(mine))) == 2


def test_equal_threads_are_told_once() -> None:
    mine = [
        r
        for k in range(4)
        for r in runs(
            f"start at the left edge, {4 * k + 4} in from the top",
            f"leaf line {k + 1}, left to right",
            f"end in the margin, at the right edge, {4 * k + 4} in from the top",
            thread=k,
            first=3 * k + 1,
        )
    ]
    assert body(path_lines(mine)) == [
        "Thread 1 of 4",
        "      1  start at the left edge, 4 in from the top",
        "      2  leaf line 1, left to right",
        "      3  end in the margin, at the right edge, 4 in from the top",
        "",
        "Threads 2 to 4 alike: leaf line 2 to 4",
    ]


def test_threads_that_only_their_starts_tell_apart() -> None:
    mine = [
        r
        for k, x in enumerate((4, 9, 12))
        for r in runs(
            f"start at the upper edge, {x} in from the left",
            "clamshells, downwards, from row 1 to row 9",
            "end in the margin, at the lower edge, 5 in from the left",
            thread=k,
            first=3 * k + 1,
        )
    ]
    assert body(path_lines(mine))[-2:] == [
        "Threads 2 and 3 alike: at the upper edge, 9 in from the left; at the upper",
        "edge, 12 in from the left",
    ]


def test_folding_loses_nothing() -> None:
    # Written out again, what was folded is what was given, for every short sequence of two moves.
    for bits in range(2**9):
        items = [(bits >> k) & 1 for k in range(9)]
        out: list[int] = []
        for found in folded(items, lambda x: x):
            if isinstance(found, Again):
                assert list(found.times[0]) == out[-found.count :]
                out += [x for time in found.times[1:] for x in time]
            else:
                out.append(found)
        assert out == items


def test_every_stop_is_named_and_every_line_fits() -> None:
    texts = [
        f"arch over the right side of patch {k}, upwards, and some more words" for k in range(40)
    ]
    found = path_lines(runs(*texts), ["Two threads are used, and there is a long reason for it."])
    assert all(len(line) <= WIDTH for line in found)
    spans = [re.match(r" *(\d+)(?:-(\d+))?  ", line) for line in body(found)]
    stops = [int(s) for m in spans if m for s in m.groups() if s]
    assert (min(stops), max(stops)) == (1, 40)


def test_numbers_are_those_that_the_picture_has() -> None:
    # overlay.jpg numbers at most 30 steps, else every 2nd, 5th, 10th … (walk.MOST_NUMBERS): of 36
    # stops in one thread 35 are steps; of 692 in 17 threads 675, a 50th of which is less than 30.
    for count, threads, words in (
        (31, 1, "Numbers at the left are stops, as on overlay.jpg."),
        (36, 1, "Numbers at the left are stops; every second one stands on overlay.jpg."),
        (692, 17, "Numbers at the left are stops; every 50th stands on overlay.jpg."),
    ):
        size = -(-count // threads)
        mine = [RunWords(k // size, k + 1, k + 1, f"leaf line {k}") for k in range(count)]
        assert mine[-1].thread == threads - 1
        assert " ".join(path_lines(mine)).startswith(words)


def test_a_place_is_told_where_it_changes() -> None:
    here, there = "block 2 across, 3 down", "block 3 across, 3 down"
    mine = [
        RunWords(0, 1, 1, "arch over the left side of patch 7, upwards", here),
        RunWords(0, 2, 2, "ditch, upwards, 2 in"),
        RunWords(0, 3, 3, "arch over the upper side of patch 8, right to left", here),
        RunWords(0, 4, 4, "arch over the lower side of patch 9, left to right", there),
        RunWords(1, 5, 5, "arch over the right side of patch 9, upwards", there),
    ]
    assert body(path_lines(mine)) == [
        "Thread 1 of 2",
        "      1  arch over the left side of patch 7, upwards (block 2 across, 3 down)",
        "      2  ditch, upwards, 2 in",
        "      3  arch over the upper side of patch 8, right to left",
        "      4  arch over the lower side of patch 9, left to right (block 3 across, 3",
        "         down)",
        "",
        "Thread 2 of 2",
        "      5  arch over the right side of patch 9, upwards (block 3 across, 3 down)",
    ]
    assert "stands in brackets" in " ".join(path_lines(mine))
    assert "brackets" not in " ".join(path_lines(runs("ditch, upwards, 2 in")))


def test_a_change_of_bobbin_is_not_folded_away() -> None:
    # Of six equal threads the fourth begins with a new bobbin.
    mine = []
    for k in range(6):
        texts = [
            f"start at the left edge, {4 * k + 4} in from the top",
            f"leaf line {k + 1}, left to right",
            f"end in the margin, at the right edge, {4 * k + 4} in from the top",
        ]
        if k == 3:
            texts.insert(0, "change to bobbin 2")
        mine += [RunWords(k, k + 1, k + 1, t) for t in texts]
    found = body(path_lines(mine))
    assert found[found.index("Thread 4 of 6") + 1] == "      4  change to bobbin 2"
    assert "Threads 2 and 3 alike: leaf line 2 and 3" in found


def test_no_words_no_section() -> None:
    assert path_lines([]) == []
