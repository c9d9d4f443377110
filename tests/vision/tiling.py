"""What every partition promises."""

import numpy as np
from scipy import ndimage


def assert_tiles(labels, mask):
    """Labels 1 … n cover the mask, each 4-connected and without holes."""
    assert labels.dtype == np.int32
    assert np.array_equal(labels > 0, mask)
    n = int(labels.max())
    assert set(np.unique(labels[mask])) == set(range(1, n + 1))
    for k, box in enumerate(ndimage.find_objects(labels), start=1):
        region = np.pad(labels[box] == k, 1)
        assert ndimage.label(region)[1] == 1
        assert ndimage.label(~region, np.ones((3, 3)))[1] == 1
