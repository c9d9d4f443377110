import numpy as np
import pytest

from seamwalk.vision.piecing_adjust import AdjustSettings, Net, Seen, adjust, straight_through
from seamwalk.vision.piecing_valid import Rings, allowed


def cross_net(centre):
    nodes = np.array([(0, 0), (-4, 0), (4, 0), (0, -4), (0, 4)], float)
    nodes[0] = centre
    return Net(nodes, np.full(5, 0.3), np.array([(1, 0), (0, 2), (3, 0), (0, 4)]))


def seen_on(true, net, rng, sigma, per=30):
    piece = np.repeat(np.arange(len(net.pieces)), per)
    t = np.tile(np.linspace(0.1, 0.9, per), len(net.pieces))[:, None]
    a, b = (true[net.pieces[piece, k]] for k in (0, 1))
    d = b - a
    normal = np.column_stack([-d[:, 1], d[:, 0]]) / np.hypot(*d.T)[:, None]
    xy = a + t * d + normal * rng.normal(0, sigma, len(piece))[:, None]
    return Seen(piece, xy, np.full(len(piece), sigma))


def test_a_crossing_moves_to_where_its_lines_cross():
    rng = np.random.default_rng(0)
    net = cross_net((0.2, -0.15))
    true = cross_net((0, 0)).nodes
    moved, sigma = adjust(net, seen_on(true, net, rng, 0.02), AdjustSettings(0.03))
    assert np.hypot(*(moved[0] - true[0])) < 0.015
    assert sigma[0] < 0.02


def test_a_third_of_wild_points_changes_little():
    rng = np.random.default_rng(1)
    net = cross_net((0.1, 0.1))
    true = cross_net((0, 0)).nodes
    seen = seen_on(true, net, rng, 0.02)
    wild = rng.random(len(seen.xy)) < 0.3
    xy = np.where(wild[:, None], seen.xy + rng.normal(0, 0.5, seen.xy.shape), seen.xy)
    moved, _ = adjust(net, Seen(seen.piece, xy, seen.sigma), AdjustSettings(0.03))
    assert np.hypot(*(moved[0] - true[0])) < 0.05


def test_a_real_jog_stays():
    # Two seams that miss each other by 1/8 in are not pulled into one line.
    nodes = np.array([(0, 0), (3, 0), (6, 0.25)], float)
    net = Net(nodes, np.full(3, 0.05), np.array([(0, 1), (1, 2)]))
    seen = seen_on(nodes, net, np.random.default_rng(2), 0.01)
    moved, _ = adjust(net, seen, AdjustSettings(1 / 32))
    assert moved[:, 1] == pytest.approx(nodes[:, 1], abs=0.02)


def test_without_points_nothing_moves_but_jogs():
    net = cross_net((0, 0))
    none = Seen(np.zeros(0, np.intp), np.zeros((0, 2)), np.zeros(0))
    moved, sigma = adjust(net, none, AdjustSettings(0.03))
    assert moved == pytest.approx(net.nodes, abs=1e-9)
    assert (sigma <= 0.3 + 1e-9).all()


def test_turning_the_net_turns_the_answer():
    rng = np.random.default_rng(3)
    net, true = cross_net((0.2, 0.1)), cross_net((0, 0)).nodes
    seen = seen_on(true, net, rng, 0.05)
    c, s = np.cos(0.7), np.sin(0.7)
    turn = np.array([[c, s], [-s, c]])
    one, _ = adjust(net, seen, AdjustSettings(0.03))
    two, _ = adjust(
        Net(net.nodes @ turn, net.node_sigma, net.pieces),
        Seen(seen.piece, seen.xy @ turn, seen.sigma),
        AdjustSettings(0.03),
    )
    assert two == pytest.approx(one @ turn, abs=1e-6)


def test_seams_run_straight_on_through_a_crossing_but_not_round_a_corner():
    net = cross_net((0, 0))
    found = {tuple(t) for t in straight_through(net.nodes, net.pieces, AdjustSettings(0.03))}
    assert {frozenset((a, c)) for a, _, c in found} == {frozenset((1, 2)), frozenset((3, 4))}
    corner = np.array([(0, 0), (1, 0), (1, 1)], float)
    assert len(straight_through(corner, np.array([(0, 1), (1, 2)]), AdjustSettings(0.03))) == 0


def test_moves_that_would_fold_a_patch_are_cut_short():
    at = np.array([(0, 0), (2, 0), (2, 2), (0, 2), (1, 0), (1, 2)], float)
    rings = Rings((np.array([0, 4, 5, 3]), np.array([4, 1, 2, 5])), np.array([0, 4, 1, 2, 5, 3]))
    assert rings.are_valid(at)
    wanted = at.copy()
    wanted[4] = wanted[5] = (3.5, 0.0)
    wanted[5] = (3.5, 2.0)
    assert not rings.are_valid(wanted)
    got = allowed(rings, at, wanted)
    assert rings.are_valid(got)
    fine = at.copy()
    fine[4] = (1.3, 0.0)
    assert allowed(rings, at, fine) == pytest.approx(fine)


def test_moves_that_would_squeeze_a_patch_flat_are_cut_short():
    at = np.array([(0, 0), (2, 0), (2, 2), (0, 2), (1, 0), (1, 2)], float)
    rings = Rings((np.array([0, 4, 5, 3]), np.array([4, 1, 2, 5])), np.array([0, 4, 1, 2, 5, 3]))
    wanted = at.copy()
    wanted[4:, 0] = 1.97
    assert allowed(rings, at, wanted) == pytest.approx(wanted)
    got = allowed(rings, at, wanted, narrowest=0.1)
    assert rings.slivers(got, 0.1) == []
    assert rings.slivers(wanted, 0.1) == [1]
