"""Rendering made one program: once for a whole training, or its minutes go by in compiling."""

import shutil

import pytest

torch = pytest.importorskip("torch")

from tests.training.squares import SQUARES  # noqa: E402
from tests.training.test_training import FEW, SMALL, settings_for  # noqa: E402

from seamwalk.training import compiled  # noqa: E402
from seamwalk.training.feed import Feed  # noqa: E402
from seamwalk.training.learner import Learner  # noqa: E402
from seamwalk.training.loss import losses  # noqa: E402
from seamwalk.training.network import SeamNetwork  # noqa: E402
from seamwalk.training.render import render  # noqa: E402
from seamwalk.training.shelf import Shelf, ShelfSettings  # noqa: E402
from seamwalk.training.train import picture_batch  # noqa: E402

pytestmark = [
    pytest.mark.usefixtures("one_thread"),
    # What torch says to itself where every warning is an error.
    pytest.mark.filterwarnings("ignore:The .grad attribute of a Tensor"),
    # Constants are kept between calls where nothing is compiled; traced, they are part of it.
    pytest.mark.filterwarnings("ignore:Dynamo detected a call to a `functools.lru_cache`"),
]


def test_one_compilation_serves_every_batch_of_a_training(tmp_path):
    torch._dynamo.reset()
    # Tracing and its guards are the same whatever makes the program; "eager" makes it at once.
    whole = torch.compile(render, dynamic=False, fullgraph=True, backend="eager")
    learner = Learner(SeamNetwork(SMALL), settings_for(tmp_path))
    learner.losses = torch.compile(losses, dynamic=False, fullgraph=True, backend="eager")
    with Feed(SQUARES, FEW) as feed:
        shelf = Shelf(feed, torch.device("cpu"), ShelfSettings(places=4, reuse=2))
        learner.step(*picture_batch(shelf, 2, shelf.rng, whole), 1e-3)
        before = shelf.store.texels.clone()
        with torch.compiler.set_stance("fail_on_recompile"):
            for _ in range(6):
                learner.step(*picture_batch(shelf, 2, shelf.rng, whole), 1e-3)
                feed.page_store.fresh[:] = 1
            # Both uses of sketches and new swatches were among them.
            assert shelf.handed > shelf.taken
            assert not torch.equal(before, shelf.store.texels)
            batch = shelf.batch(2)
            pictures = whole(batch, shelf.store, device=shelf.device)
            with pytest.raises(RuntimeError, match="recompil"):
                whole(shelf.batch(3), shelf.store, device=shelf.device)
    torch.testing.assert_close(pictures, render(batch, shelf.store))


@pytest.mark.skipif(shutil.which("g++") is None, reason="torch compiles with g++")
# Parts of torch that only compiling loads warn of one another.
@pytest.mark.filterwarnings("ignore")
def test_what_was_compiled_is_found_again_on_a_fresh_machine(tmp_path):
    import torch._inductor.config
    from torch._dynamo.utils import counters
    from torch._inductor.utils import fresh_cache

    def function(x):
        return (x.sin() + 2.0).clamp(0.0, 2.5)

    numbers, file = torch.arange(64.0), tmp_path / "compiled.bin"
    assert not compiled.bring(file, 0)
    hits = []
    one_process = torch._inductor.config.patch(compile_threads=1)
    for _ in range(2):
        torch._dynamo.reset()
        counters.clear()
        # An empty folder for what torch compiles, as on a machine just started.
        with fresh_cache(), one_process, torch.no_grad():
            compiled.bring(file, 1)
            made = torch.compile(function, dynamic=False)(numbers)
            torch.testing.assert_close(made, function(numbers))
            assert compiled.keep(file, 1) > 0
        hits.append(counters["inductor"]["fxgraph_cache_hit"])
    assert hits == [0, 1]
    # The other card's file is another.
    assert [path.name for path in tmp_path.iterdir()] == ["compiled-1.bin"]
