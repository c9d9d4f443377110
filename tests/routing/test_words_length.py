"""How long a path is to describe."""

import dataclasses
import itertools
import math

import numpy as np
import pytest
from tests.routing.instances import arches, irregular, leaves
from tests.routing.sewn import MACHINE, sewn

from seamwalk.geometry.curve import Arc, Curve, Line, Point
from seamwalk.model.stitching import Stroke, StrokeId
from seamwalk.routing.graph import network
from seamwalk.routing.route import plan_route
from seamwalk.routing.telling.length import phrases, tokens, words_length


@pytest.mark.parametrize(
    ("text", "count"),
    [
        # Lempel and Ziv 1976 (from memory): the exhaustive history 0.001.10.100.1000.101.
        ("0001101001000101", 6),
        # By hand from the definition: 0.1; 0.0000; 0.10101.
        ("01", 2),
        ("00000", 2),
        ("0101010", 3),
        ("", 0),
        ("0", 1),
    ],
)
def test_the_published_history(text: str, count: int) -> None:
    assert phrases(text) == count


def _slow(text: str) -> int:
    """Count the components by the definition, looking at every earlier place."""
    count = at = 0
    while at < len(text):
        n = 1
        while at + n <= len(text) and any(text[i : i + n] == text[at : at + n] for i in range(at)):
            n += 1
        at += n
        count += 1
    return count


def test_random_sequences_as_by_the_definition() -> None:
    rng = np.random.default_rng(5)
    for letters in (2, 3, 7):
        for _ in range(50):
            text = "".join(map(str, rng.integers(0, letters, rng.integers(1, 60))))
            assert phrases(text) == _slow(text)


def moved(strokes: list[Stroke], angle: float, shift: Point, name: str) -> list[Stroke]:
    """Return strokes turned and moved, with new names."""
    c, s = math.cos(angle), math.sin(angle)

    def at(p: Point) -> Point:
        return (c * p[0] - s * p[1] + shift[0], s * p[0] + c * p[1] + shift[1])

    out = []
    for stroke in strokes:
        parts = [
            Arc(at(x.start), at(x.end), at(x.centre), x.sweep_rad)
            if isinstance(x, Arc)
            else Line(at(x.start), at(x.end))
            for x in stroke.curve
        ]
        named = StrokeId(f"{name}{stroke.id}")
        out.append(dataclasses.replace(stroke, id=named, curve=Curve(tuple(parts))))
    return out


def test_equal_moves_in_a_block_turned_and_moved_are_equal_tokens() -> None:
    # Directions are relative to the path, so a block sewn alike reads alike, wherever it lies.
    block = arches(1, 1)
    way = "a0,0,0 a0,0,1 a0,0,2 a0,0,3"
    first = list(tokens((r := sewn(block, way)).network, r.threads))
    assert len(set(first)) > 1
    for angle, shift in ((0.0, (9.0, 0.0)), (math.pi / 2, (3.0, 4.0)), (0.3, (0.1, -2.0))):
        again = sewn(moved(block, angle, shift, ""), way)
        assert list(tokens(again.network, again.threads)) == first


def test_the_mirrored_way_is_another() -> None:
    block = arches(1, 1)
    one = sewn(block, "a0,0,0 a0,0,1")
    other = sewn(block, "-a0,0,1 -a0,0,0")
    assert list(tokens(one.network, one.threads)) != list(tokens(other.network, other.threads))


def test_one_more_equal_block_costs_at_most_one_phrase() -> None:
    # What has occurred is pointed at: a known property of the factorisation of repeated text.
    found = []
    for count in range(1, 6):
        strokes = [
            s for k in range(count) for s in moved(arches(1, 1), 0.0, (9.0 * k, 0.0), f"{k}-")
        ]
        ways = [f"{k}-a0,0,0 {k}-a0,0,1 {k}-a0,0,2 {k}-a0,0,3" for k in range(count)]
        route = sewn(strokes, *ways)
        found.append(words_length(route.network, route.threads))
    assert all(0 <= b - a <= 1 for a, b in itertools.pairwise(found))
    assert found[-1] <= found[0] + 1


def test_a_second_pass_of_a_ditch_is_travel() -> None:
    strokes = [dataclasses.replace(s, kind="ditch") for s in leaves(1, 1) if s.kind == "edge"]
    strokes = [dataclasses.replace(s, required=True) for s in strokes[:1]]
    name = str(strokes[0].id)
    route = sewn(strokes, f"{name} -{name}")
    assert [t[3] for t in tokens(route.network, route.threads)] == [False, True]


def test_an_ordered_top_reads_shorter_than_an_irregular_one_of_its_size() -> None:
    # Design targets: tens of phrases for tops of equal blocks.
    even = plan_route(network(arches(6, 6)), MACHINE)
    odd = plan_route(network(irregular(144, np.random.default_rng(2))), MACHINE)
    per_leg = [
        words_length(r.network, r.threads) / sum(len(t.legs) for t in r.threads)
        for r in (even, odd)
    ]
    assert per_leg[0] < per_leg[1]
