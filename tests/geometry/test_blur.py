"""How wide a blurred step is, against the step itself."""

import math

import pytest

from seamwalk.geometry.blur import STEP_WIDTH


@pytest.mark.parametrize("sigma", [0.5, 3.0])
def test_a_blurred_step_is_as_steep_as_a_ramp_of_its_width(sigma):
    # A unit step blurred by a Gaussian is (1 + erf(x / σ√2)) / 2 (definition of erf).
    a, b = (0.5 * (1 + math.erf(x / (sigma * math.sqrt(2)))) for x in (-1e-4, 1e-4))
    assert STEP_WIDTH * sigma == pytest.approx(2e-4 / (b - a), rel=1e-6)
