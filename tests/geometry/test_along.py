"""Samples along pieces, and exact distances from them, against shapely's finely drawn lines."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from seamwalk.geometry.along import Pieces
from seamwalk.geometry.curve import Arc, Curve, Line

PLACES = st.tuples(st.floats(-5, 5), st.floats(-5, 5))


@st.composite
def pieces(draw):
    a, b = draw(PLACES), draw(PLACES)
    chord = math.dist(a, b)
    if chord < 0.1:
        b = (a[0] + 1.0, a[1])
        chord = 1.0
    if draw(st.booleans()):
        return Line(a, b)
    # Up to nearly a whole circle: a rise above half the chord turns by more than 180°.
    return Arc.by_rise(a, b, draw(st.floats(0.05, 3.0)) * chord * draw(st.sampled_from([-1, 1])))


@settings(max_examples=60, deadline=None)
@given(st.lists(pieces(), min_size=1, max_size=6), st.floats(0.05, 2.0))
def test_samples_lie_on_their_pieces_close_enough_and_sum_to_the_length(some, spacing):
    curves = [Curve((p,)) for p in some]
    points, of, length = Pieces.of(curves).samples(spacing)
    for k, piece in enumerate(some):
        mine = points[of == k]
        assert mine[0] == pytest.approx(piece.start)
        assert mine[-1] == pytest.approx(piece.end, abs=1e-9)
        assert np.hypot(*np.diff(mine, axis=0).T).max() <= spacing * (1 + 1e-9)
        assert length[of == k].sum() == pytest.approx(piece.length)
        if isinstance(piece, Arc):
            away = np.hypot(*(mine - piece.centre).T)
            assert away == pytest.approx(np.full(len(mine), piece.radius))


@settings(max_examples=60, deadline=None)
@given(pieces(), PLACES)
def test_distance_is_that_from_the_finely_drawn_piece(piece, place):
    found = Pieces.of([Curve((piece,))]).distance(np.array([place]), np.array([0]))
    drawn = shapely.LineString(Curve((piece,)).sampled(1e-6))
    assert found[0] == pytest.approx(drawn.distance(shapely.Point(place)), abs=2e-6)
