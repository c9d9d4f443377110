"""A network that learns: one step at a time, with a running mean of its weights.

References
----------
I. Loshchilov, F. Hutter, "Decoupled weight decay regularization", ICLR 2019 (AdamW).
B. Polyak, A. Juditsky, "Acceleration of stochastic approximation by averaging", SIAM Journal on
Control and Optimization 30, 1992 (the mean of the weights).
"""

from collections.abc import Callable

import torch
import torch.distributed as dist
from torch import Tensor, nn

from seamwalk.training import checkpoint, thaw
from seamwalk.training.loss import losses, total
from seamwalk.training.network import SeamNetwork
from seamwalk.training.train_settings import TrainSettings


def starting_network(settings: TrainSettings) -> SeamNetwork:
    """Return the weights to start from: those given, or random ones of the seed."""
    if settings.init is not None:
        if settings.init.suffix == ".onnx":
            return thaw.read(settings.init)[0]
        return checkpoint.read(settings.init)[0]
    with torch.random.fork_rng(devices=[]):
        torch.manual_seed(settings.seed)
        return SeamNetwork(settings.network)


class Learner:
    """A network, its running mean, and what changes them.

    Parameters
    ----------
    network : SeamNetwork
        On its device.
    settings : TrainSettings

    Attributes
    ----------
    steps, before : int
        Steps taken; steps of the trainings whose moments this one goes on with.
    """

    def __init__(self, network: SeamNetwork, settings: TrainSettings) -> None:
        self.settings = settings
        self.device = next(network.parameters()).device
        on_card = self.device.type == "cuda"
        last = on_card and settings.channels_last
        self.layout = torch.channels_last if last else torch.contiguous_format
        self.network = network.to(memory_format=self.layout)  # type: ignore[call-overload]
        self.mean = SeamNetwork(network.settings).to(self.device)
        self.mean.to(memory_format=self.layout)  # type: ignore[call-overload]
        self.mean.load_state_dict(network.state_dict())
        self.mean.requires_grad_(False)
        kernels = [p for p in network.parameters() if p.ndim > 1]
        others = [p for p in network.parameters() if p.ndim <= 1]
        self.optimiser = torch.optim.AdamW(
            [
                {"params": kernels, "weight_decay": settings.weight_decay},
                {"params": others, "weight_decay": 0.0},
            ],
            lr=settings.lr,
            fused=on_card,
        )
        self.steps = self.before = 0
        if settings.init is not None and settings.init.suffix != ".onnx":
            moments = settings.init.with_name(checkpoint.MOMENTS)
            if moments.exists():
                self.before = checkpoint.read_moments(self.optimiser, moments)
        # Once, not in every step: listing what a network holds takes longer than averaging it.
        now, mean = network.state_dict(), self.mean.state_dict()
        smooth = [name for name, value in now.items() if value.is_floating_point()]
        self.followed = [now[n] for n in smooth], [mean[n] for n in smooth]
        self.forward: nn.Module = network
        if dist.is_initialized():
            self.forward = nn.parallel.DistributedDataParallel(
                network,
                [self.device] if on_card else None,
                broadcast_buffers=False,
                # Saves copying each of three hundred gradients to and fro.
                gradient_as_bucket_view=True,
            )
        self.losses: Callable[[Tensor, Tensor], Tensor] = losses
        if settings.compiled:
            self.losses = torch.compile(losses, dynamic=False)
        if settings.network_compiled:
            # Left to itself the compiler puts channels apart, which is slower here than not
            # compiling at all: 160 pictures a second instead of 200 (640 px, H100).
            from torch._inductor import config

            config.force_layout_optimization = True
            self.forward.compile()

    def step(self, pictures: Tensor, truth: Tensor, rate: float) -> Tensor:
        """Learn from a batch; return the parts of the loss."""
        for group in self.optimiser.param_groups:
            group["lr"] = rate
        self.forward.train()
        pictures = pictures.contiguous(memory_format=self.layout)
        with torch.autocast(self.device.type, torch.bfloat16, self.device.type == "cuda"):
            planes = self.forward(pictures)
        parts = self.losses(planes, truth)
        self.optimiser.zero_grad(set_to_none=True)
        total(parts).backward()  # type: ignore[no-untyped-call]
        nn.utils.clip_grad_norm_(self.network.parameters(), self.settings.steepest)
        self.optimiser.step()
        self._follow()
        self.steps += 1
        return parts.detach()

    @torch.no_grad()
    def _follow(self) -> None:
        # The mean of few steps forgets its start fast: decay ramps up.
        taken = self.before + self.steps
        decay = min(self.settings.mean_decay, (taken + 1) / (taken + 20))
        now, mean = self.followed
        torch._foreach_lerp_(mean, now, 1 - decay)
