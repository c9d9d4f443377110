import numpy as np
import pytest

from seamwalk.vision.measure_meant import MeantSettings, meant_size


def test_a_sure_measure_gives_the_size_it_is_next_to():
    # 3 finished from 3 1/2 cut: unfinished = finished + 1/2 in (trade standard).
    size, chance = meant_size([3.01], [[0.02**2]], 1 / 8)
    assert size == (3.0,)
    assert chance > 0.99


def test_doubt_is_shared_with_the_neighbours_and_round_sizes_win():
    size, chance = meant_size([3.06], [[0.08**2]], 1 / 8)
    # Half way between 3 and 3 1/8 the whole inch is likelier (common practice: round sizes).
    assert size == (3.0,)
    assert 0.5 < chance < 0.95
    _, wider = meant_size([3.06], [[0.3**2]], 1 / 8)
    assert wider < chance


def test_width_and_height_are_judged_together():
    # A scale wrong by 2 % moves both dimensions alike: 2 x 8 seen as 2.04 x 8.16.
    together = np.outer([2, 8], [2, 8]) * 0.02**2 + np.eye(2) * 0.01**2
    assert meant_size([2.04, 8.16], together, 1 / 8)[0] == (2.0, 8.0)
    apart = np.diag([0.01**2, 0.01**2])
    assert meant_size([2.04, 8.16], apart, 1 / 8)[0] != (2.0, 8.0)


def test_the_metric_grain_knows_whole_centimetres():
    size, _ = meant_size([7.6 / 2.54], [[0.06**2]], 0.5 / 2.54)
    assert size[0] * 2.54 == pytest.approx(7.5)
    size, _ = meant_size([7.8 / 2.54], [[0.12**2]], 0.5 / 2.54)
    assert size[0] * 2.54 == pytest.approx(8.0)


@pytest.mark.parametrize("sigma", [0.03, 0.06, 0.12])
def test_chances_are_kept(sigma):
    # By simulation: of the sizes said with a chance c, the share c is right.
    rng = np.random.default_rng(int(sigma * 100))
    s = MeantSettings()
    candidates = np.arange(8, 97) / 8
    parts = {0: s.whole, 4: s.half, 2: s.quarter, 6: s.quarter}
    weight = np.array([parts.get(k % 8, s.other) for k in range(8, 97)])
    meant = rng.choice(candidates, size=1500, p=weight / weight.sum())
    said, right = [], []
    for true in meant:
        size, chance = meant_size([true + rng.normal(0, sigma)], [[sigma**2]], 1 / 8)
        said.append(chance)
        right.append(size[0] == true)
    said, right = np.array(said), np.array(right)
    for low in (0.2, 0.5, 0.7, 0.9):
        group = (said >= low) & (said < low + 0.2)
        n = int(group.sum())
        if n >= 60:
            # Three standard deviations of a binomial share.
            p = said[group].mean()
            assert abs(right[group].mean() - p) < 3 * np.sqrt(p * (1 - p) / n) + 0.01
    assert abs(right.mean() - said.mean()) < 0.03
