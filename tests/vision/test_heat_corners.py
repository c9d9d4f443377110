"""Corners of logs in one fabric: what is known of all of them decides each.

Source: how a log cabin is sewn, each log across the end of the one before (common practice, no
source); everything else by construction.
"""

import numpy as np
import pytest

from seamwalk.vision.heat_corners import alike_cut

W = 14
"""Width of a log, pixels."""
ROUNDS = 3
BLOCK = (2 * ROUNDS + 1) * W


class Cabin:
    """A top of log cabin blocks: how it is sewn, and as a guess that cuts some corners wrongly.

    Logs go round clockwise, two and two of one fabric; every block is turned by a quarter more.
    """

    def __init__(self, blocks, share, seed=0, *, alone=False):
        rng = np.random.default_rng(seed)
        size = (blocks * BLOCK, blocks * BLOCK)
        self.labels, self.wrong, self.fabric = (np.zeros(size, np.int32) for _ in range(3))
        self.turned, self.next = 0, 1
        for i in range(blocks):
            for j in range(blocks):
                part = slice(i * BLOCK, (i + 1) * BLOCK), slice(j * BLOCK, (j + 1) * BLOCK)
                for plane, one in zip(
                    (self.labels, self.wrong, self.fabric),
                    self._block(share, rng, alone),
                    strict=True,
                ):
                    plane[part] = np.rot90(one, (i + j) % 4)

    def _block(self, share, rng, alone):
        labels, fabric = np.zeros((BLOCK, BLOCK), np.int32), np.zeros((BLOCK, BLOCK), np.int32)
        x0 = y0 = ROUNDS * W
        x1 = y1 = x0 + W
        labels[y0:y1, x0:x1] = self._number()
        corners = []
        for _ in range(ROUNDS):
            logs = []
            for side in range(4):
                if side == 0:
                    part, x1 = (slice(y0, y1), slice(x1, x1 + W)), x1 + W
                elif side == 1:
                    part, y1 = (slice(y1, y1 + W), slice(x0, x1)), y1 + W
                    corners.append((slice(y1 - W, y1), slice(x1 - W, x1), logs[0]))
                elif side == 2:
                    part, x0 = (slice(y0, y1), slice(x0 - W, x0)), x0 - W
                else:
                    part, y0 = (slice(y0 - W, y0), slice(x0, x1)), y0 - W
                    corners.append((slice(y0, y0 + W), slice(x0, x0 + W), logs[2]))
                logs.append(self._number())
                labels[part], fabric[part] = logs[-1], 1 + side // 2
        wrong = labels.copy()
        for rows, columns, other in corners:
            if rng.random() < share:
                wrong[rows, columns] = self._number() if alone else other
                self.turned += 1
        return labels, wrong, fabric

    def _number(self):
        self.next += 1
        return self.next - 1


def lines(labels):
    out = np.zeros(labels.shape, bool)
    for a, b in (
        ((slice(0, -1), slice(None)), (slice(1, None), slice(None))),
        ((slice(None), slice(0, -1)), (slice(None), slice(1, None))),
    ):
        differs = labels[a] != labels[b]
        out[a] |= differs
        out[b] |= differs
    return out


def lab_of(fabric):
    return np.stack([30.0 + 15 * fabric, 10.0 * fabric, 5.0 * fabric], axis=2).astype(np.float32)


@pytest.mark.parametrize("seed", range(4))
def test_most_corners_follow_the_sum_of_faint_heat(seed):
    cabin = Cabin(6, 0.25, seed)
    assert cabin.turned > 30
    # True lines are a little warmer than nothing, amid noise nearly as large.
    noise = np.random.default_rng(seed).normal(0, 0.1, cabin.labels.shape)
    heat = (0.1 + 0.15 * lines(cabin.labels) + noise).clip(0, 1).astype(np.float32)
    found = alike_cut(cabin.wrong, heat, lab_of(cabin.fabric))
    # A log that lost both its ends looks like one of another round: some of those are left.
    assert (found != cabin.labels).sum() <= 0.35 * (cabin.wrong != cabin.labels).sum()


def test_corners_that_are_regions_of_their_own_are_given_away():
    cabin = Cabin(4, 0.3, 5, alone=True)
    assert cabin.turned > 15
    heat = (0.1 + 0.4 * lines(cabin.labels)).astype(np.float32)
    found = alike_cut(cabin.wrong, heat, lab_of(cabin.fabric))
    # A log that lost both its ends looks like one of another round: some of those are left.
    assert (found != cabin.labels).sum() <= 0.35 * (cabin.wrong != cabin.labels).sum()


def test_where_heat_says_nothing_all_stays():
    cabin = Cabin(4, 0.3, 1)
    flat = np.full(cabin.labels.shape, 0.1, np.float32)
    assert (alike_cut(cabin.wrong, flat, lab_of(cabin.fabric)) == cabin.wrong).all()


def test_corners_of_two_fabrics_are_not_touched():
    labels = Cabin(4, 0.0).labels
    heat = (1.0 - 0.9 * lines(labels)).astype(np.float32)
    fabric = np.random.default_rng(2).permutation(labels.max() + 1)
    assert (alike_cut(labels, heat, lab_of(fabric[labels] * 5)) == labels).all()


def test_butted_borders_keep_their_corners():
    """Upper and lower border over the whole width, as most are sewn: both hands in one top."""
    labels = np.ones((300, 300), np.int32)
    labels[:30], labels[-30:] = 2, 3
    labels[30:-30, :30], labels[30:-30, -30:] = 4, 5
    fabric = (labels > 1).astype(np.int32)
    rng = np.random.default_rng(3)
    heat = rng.uniform(0, 0.5, labels.shape).astype(np.float32)
    assert (alike_cut(labels, heat, lab_of(fabric)) == labels).all()


def test_blocks_of_both_hands_keep_theirs():
    cabin = Cabin(4, 0.0)
    labels, fabric = cabin.labels.copy(), cabin.fabric.copy()
    half = slice(None), slice(2 * BLOCK, None)
    labels[half], fabric[half] = labels[half][:, ::-1].copy(), fabric[half][:, ::-1].copy()
    heat = (0.1 + 0.5 * lines(labels)).astype(np.float32)
    assert (alike_cut(labels, heat, lab_of(fabric)) == labels).all()
