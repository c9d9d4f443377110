import copy

import numpy as np
import pytest

torch = pytest.importorskip("torch")

from onnx import TensorProto, helper, numpy_helper  # noqa: E402

from seamwalk.training import checkpoint, export, thaw  # noqa: E402
from seamwalk.training.augment import reclothed, turned  # noqa: E402
from seamwalk.training.export_check import off_by, onnx_runtime, opencv  # noqa: E402
from seamwalk.training.loss import losses, total, truth_planes  # noqa: E402
from seamwalk.training.network import (  # noqa: E402
    NetworkSettings,
    SeamNetwork,
    fold,
    weight_count,
)

SMALL = NetworkSettings(
    widths=(16, 16, 32, 32, 32), depths=(1, 1, 1, 1, 1), strips=(0, 0, 7, 7, 7), fine=16
)


def used_network(settings: NetworkSettings) -> SeamNetwork:
    """Weights and norms as after some training: nothing at its start value."""
    torch.manual_seed(3)
    network = SeamNetwork(settings)
    with torch.no_grad():
        for module in network.modules():
            if isinstance(module, torch.nn.BatchNorm2d):
                module.running_mean.normal_(0, 0.1)
                module.running_var.uniform_(0.5, 2.0)
                module.weight.uniform_(0.5, 1.5)
                module.bias.normal_(0, 0.1)
    return network.eval()


@pytest.fixture(scope="module")
def small() -> SeamNetwork:
    return used_network(SMALL)


@pytest.mark.parametrize(("height", "width"), [(64, 96), (32, 160)])
def test_planes_have_the_size_of_the_picture(small, height, width):
    planes = small(torch.rand(2, 3, height, width))
    assert planes.shape == (2, 6, height, width)


def test_network_has_the_size_that_was_planned():
    # Chosen by us: large enough for many kinds of tops, small enough for the package.
    assert 2_500_000 < weight_count(SeamNetwork()) < 3_600_000


def test_folded_network_says_the_same(small):
    picture = torch.rand(1, 3, 64, 64)
    with torch.no_grad():
        torch.testing.assert_close(fold(small)(picture), small(picture), rtol=1e-4, atol=1e-4)
    assert not any(isinstance(m, torch.nn.BatchNorm2d) for m in fold(small).modules())


def test_a_straight_seam_is_followed_farther_along_rows_and_columns_than_across():
    """Influence of far pixels on the middle one, by the gradient."""
    torch.manual_seed(0)
    network = SeamNetwork(
        NetworkSettings(
            widths=(16, 16, 16, 16, 16), depths=(1, 1, 2, 1, 1), strips=(0, 0, 21, 0, 0)
        )
    ).eval()
    features = torch.rand(1, 16, 65, 65, requires_grad=True)
    network.encoders[1](features)[0, :, 32, 32].sum().backward()
    reach = features.grad.abs().sum((0, 1))
    assert reach[32, 12] > 0
    assert reach[12, 32] > 0
    assert reach[32, 20] > 3 * reach[20, 20]


def test_exported_file_says_what_the_weights_say(small, tmp_path):
    path = tmp_path / "small.onnx"
    export.write(small, path, {"steps": 3})
    rounded = SeamNetwork(SMALL)
    rounded.load_state_dict(small.state_dict())
    exact = tmp_path / "exact.onnx"
    exact.write_bytes(export.graph_bytes(small))
    for height, width in ((64, 64), (96, 160)):
        assert off_by(small, onnx_runtime(exact, 1), height, width) < 1e-4
        # Half precision keeps eleven bits of each weight (IEEE 754): a thousandth, on heats.
        assert off_by(small, onnx_runtime(path, 1), height, width) < 5e-3


def test_exported_file_reads_in_opencv_too(small, tmp_path):
    path = tmp_path / "small.onnx"
    export.write(small, path)
    picture = np.random.default_rng(1).random((1, 3, 96, 64), np.float32)
    ours, theirs = onnx_runtime(path, 1)(picture), opencv(path)(picture)
    np.testing.assert_allclose(theirs, ours, atol=1e-3)


def test_exported_network_fits_the_package(tmp_path):
    size = export.write(SeamNetwork(), tmp_path / "whole.onnx")
    assert size == (tmp_path / "whole.onnx").stat().st_size <= export.MOST_BYTES


def test_checkpoint_gives_the_same_network_again(small, tmp_path):
    first, second = tmp_path / "a.pt", tmp_path / "b.pt"
    checkpoint.write(small, first, {"steps": 7})
    once, about = checkpoint.read(first)
    checkpoint.write(once, second, about)
    twice, again = checkpoint.read(second)
    assert about == again == {"steps": 7}
    assert once.settings == small.settings
    for name, value in once.state_dict().items():
        assert torch.equal(value, twice.state_dict()[name]), name
        if value.ndim <= 1:
            assert torch.equal(value, small.state_dict()[name]), name
        else:
            torch.testing.assert_close(value, small.state_dict()[name], rtol=1e-3, atol=1e-4)


def test_checkpoint_is_small_enough_to_travel(tmp_path):
    checkpoint.write(SeamNetwork(), tmp_path / "ema.pt")
    assert (tmp_path / "ema.pt").stat().st_size < 9_000_000


def test_other_files_are_no_checkpoints(tmp_path):
    torch.save({"a": 1}, tmp_path / "other.pt")
    with pytest.raises(ValueError, match="no weights"):
        checkpoint.read(tmp_path / "other.pt")


def direction(angle: float) -> torch.Tensor:
    """Truth of a line through the middle at this angle (x right, y down), 33 px."""
    y, x = torch.meshgrid(torch.arange(33.0) - 16, torch.arange(33.0) - 16, indexing="ij")
    away = -np.sin(angle) * x + np.cos(angle) * y
    truth = torch.zeros(1, 6, 33, 33)
    truth[:, 0] = torch.exp(-0.5 * away**2)
    truth[:, 4], truth[:, 5] = np.cos(2 * angle), np.sin(2 * angle)
    return truth


@pytest.mark.parametrize("way", range(8))
@pytest.mark.parametrize("angle", [0.0, 0.3, 1.2, 2.5])
def test_directions_turn_with_the_picture(way, angle):
    # The turned line is drawn afresh: flips and swaps of a line are lines again (analytic).
    expected = angle
    if way & 1:
        expected = -expected
    if way & 2:
        expected = -expected
    if way & 4:
        expected = np.pi / 2 - expected
    truth = direction(angle)
    picture, out = turned(truth[:, :3], truth, np.array([way]))
    torch.testing.assert_close(out, direction(expected), atol=1e-5, rtol=0)
    torch.testing.assert_close(picture[:, 0], out[:, 0])


def test_reclothing_keeps_kinds_and_sameness():
    cloth = torch.zeros(2, 5, 24)
    cloth[:, :, 0] = torch.tensor([0.0, 3.0, 9.0, 10.0, 11.0])
    out = reclothed(cloth, np.array([[0, 0], [4, 1]]), prints=10, surfaces=2)
    assert out[0, :, 0].tolist() == [0, 3, 9, 10, 11]
    assert out[1, :, 0].tolist() == [4, 7, 3, 11, 10]
    assert torch.equal(out[:, :, 1:], cloth[:, :, 1:])


def perfect_planes(truth: torch.Tensor) -> torch.Tensor:
    return torch.cat([torch.logit(truth[:, :4].clamp(1e-4, 1 - 1e-4)), truth[:, 4:]], 1)


def test_loss_is_least_at_the_truth():
    rng = np.random.default_rng(2)
    targets = torch.zeros(2, 6, 32, 32, dtype=torch.uint8)
    targets[:, 0, 10] = targets[:, 3, 10, 5] = targets[:, 1, :20] = targets[:, 2, 25:] = 255
    targets[:, 4:] = 128
    targets[:, 4, 10] = 255
    truth = truth_planes(targets)
    assert truth[0, 4, 10].tolist() == [1.0] * 32
    best = losses(perfect_planes(truth), truth)
    assert best.max() < 1e-3
    for plane in range(6):
        worse = perfect_planes(truth)
        noise = torch.from_numpy(rng.normal(0, 1, (2, 32, 32)).astype(np.float32))
        worse[:, plane] = worse[:, plane] * 0.2 + noise
        assert total(losses(worse, truth)) > total(best) + 0.005


@pytest.fixture(scope="module")
def thawed(small, tmp_path_factory):
    path = tmp_path_factory.mktemp("thaw") / "seamnet.onnx"
    export.write(small, path, {"seed": 3})
    return thaw.read(path)


def test_exported_file_gives_a_network_that_says_the_same(small, thawed):
    network, about = thawed
    assert about["seed"] == "3"
    picture = torch.rand(1, 3, 64, 96)
    with torch.no_grad():
        # The file keeps kernels as float16.
        torch.testing.assert_close(network(picture), small(picture), rtol=2e-2, atol=2e-2)


def test_settled_network_says_the_same_in_use_and_while_learning(thawed):
    network = copy.deepcopy(thawed[0])
    pictures = torch.rand(4, 3, 96, 96)
    with torch.no_grad():
        before = network(pictures)
        thaw.settle(network, [pictures])
        torch.testing.assert_close(network.eval()(pictures), before, rtol=1e-3, atol=1e-3)
        # All there is was in the batch, so its own mean and variance are those stated.
        torch.testing.assert_close(network.train()(pictures), before, rtol=1e-2, atol=1e-2)


def test_settled_kernels_are_as_large_as_fresh_ones(thawed):
    network = copy.deepcopy(thawed[0])
    thaw.settle(network, [torch.rand(2, 3, 64, 64)])
    fresh = {name: conv for name, conv, _ in thaw.normed(SeamNetwork(SMALL))}
    for name, conv, _ in thaw.normed(network):
        spread = float(fresh[name].weight.detach().std())
        assert float(conv.weight.detach().std()) == pytest.approx(spread, rel=0.5), name


def test_other_onnx_files_are_not_thawed(tmp_path):
    path = tmp_path / "other.onnx"
    kernel = numpy_helper.from_array(np.ones((6, 3, 3, 3), np.float32), "conv.weight")
    ends = [helper.make_tensor_value_info(n, TensorProto.FLOAT, None) for n in ("picture", "out")]
    step = helper.make_node("Conv", ["picture", "conv.weight"], ["out"])
    graph = helper.make_graph([step], "other", ends[:1], ends[1:], [kernel])
    path.write_bytes(helper.make_model(graph).SerializeToString())
    with pytest.raises(ValueError, match=r"other\.onnx"):
        thaw.read(path)
