"""A step of light that is blurred, as every lens blurs an edge."""

import math

STEP_WIDTH = math.sqrt(2 * math.pi)
"""Width of a blurred step, in σ of the Gaussian that blurred it: about 2.5.  Where it is steepest
a step of height h rises by h / (√(2π) σ), the Gaussian's own peak, so that at this slope it would
be √(2π) σ wide."""
