"""The machine's costs, by hand calculation."""

import pytest

from seamwalk.model.machine import MachineProfile


def test_seconds_per_inch():
    # 400 stitches a minute of 2.8 mm are 1.12 m a minute: 25.4 mm take 1.361 s (arithmetic).
    assert MachineProfile().s_per_in == pytest.approx(25.4 / 1120 * 60)


def test_smooth_turns_need_no_pivot():
    m = MachineProfile()
    assert m.pivot_cost_s(0) == 0
    assert m.pivot_cost_s(30) == pytest.approx(0.6)
    assert m.pivot_cost_s(90) == pytest.approx(4 + 0.14 * 60 + 0.02 * 90)
