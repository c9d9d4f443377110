"""Going on from the middle: the best rest of a plan."""
