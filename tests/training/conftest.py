"""What several tests of the training ask for."""

import pytest


@pytest.fixture
def one_thread():
    """Torch works on one thread, as the workers' processes do."""
    import torch

    before = torch.get_num_threads()
    torch.set_num_threads(1)
    yield
    torch.set_num_threads(before)
