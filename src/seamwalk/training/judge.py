"""The judge of borders fitted by one command on the training's own pictures.

The judge must fit the heat of the network in use, so it is fitted anew whenever that is trained
anew: pictures are drawn as flat pictures show tops, the network looks at them, the road from heat
to regions cuts them, and every border met while joining is a case to learn from.  No scene that
accuracy is measured on takes part.
"""

import hashlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray

from seamwalk.model.picture import SeamEvidence
from seamwalk.training.judge_borders import Cut, Met, Odds, cut_of, met
from seamwalk.training.judge_copies import KINDS, worse
from seamwalk.training.judge_fit import (
    FitSettings,
    calibrated,
    calibration_error,
    fit,
    log_odds,
    policy,
    stopped,
)
from seamwalk.training.judge_pictures import (
    FlatSettings,
    FlatSketch,
    fabric_store,
    flat_sketch,
    picture_of,
)
from seamwalk.vision.heat_features import MEASURES
from seamwalk.vision.heat_graph import Array
from seamwalk.vision.heat_weights import Judge
from seamwalk.vision.seam_network import COS2, JUNCTION, SEAM, SIN2

if TYPE_CHECKING:
    from onnxruntime import InferenceSession

Look = Callable[[NDArray[np.uint8]], SeamEvidence]
"""What the network says of a picture (S, S, 3)."""

MEAN_HEAT = MEASURES.index("mean heat")
CONTRAST = MEASURES.index("colour contrast")


@dataclass(frozen=True, slots=True)
class JudgeSettings:
    """How many pictures, and what becomes of them."""

    pictures: int = 200
    seed: int = 1
    aside: int = 4
    """Every so many-th picture is set aside for stop and calibration."""
    again: str = "stray alike"
    """Copies that second looks learn from besides, of every other pair of pictures: ridges that
    many blocks show are what they must not fall for …"""
    not_again: str = "faint alike"
    """… and copies that they do not learn from: seams that fade in plain cloth too, which shows
    them in truth, made them see seams wherever the network has a faint doubt."""
    least_seen: float = 0.6
    """Pictures whose heat explains less of the true lines are left out: nobody could read them."""
    seen_heat: float = 0.35
    seen_px: int = 2
    """A true line is explained where there is so much heat so near."""
    first_stop: float = 0.35
    """Joining goes on until all borders left are said to be this probable; at first by heat and
    colour alone."""
    flat: FlatSettings = field(default_factory=FlatSettings)
    fit: FitSettings = field(default_factory=FitSettings)

    def is_aside(self, number: int) -> bool:
        """Return whether a picture is set aside."""
        return number % self.aside == self.aside - 1


@dataclass(frozen=True, slots=True, eq=False)
class Case:
    """Cuts of one picture: with its evidence as it is, then with worse copies."""

    number: int
    cuts: tuple[Cut, ...]


def cases(look: Look, settings: JudgeSettings, first: Judge | None = None) -> Iterator[Case]:
    """Yield the pictures that can be read, over-cut; the same for the same seed and network.

    Parameters
    ----------
    first : Judge or None
        With it they are cut for a second look, as its verdicts lead to.
    """
    s = settings
    store = fabric_store(np.random.default_rng([s.seed, 0]), s.flat)
    for number in range(s.pictures):
        rng = np.random.default_rng([s.seed, 1, number])
        flat = flat_sketch(rng, s.flat)
        rgb = picture_of(flat, store)
        evidence = look(rgb)
        if explained(evidence, flat, s) < s.least_seen:
            continue
        kinds = [KINDS[number % len(KINDS)]]
        if first is not None:
            kinds = [k for k in kinds if k != s.not_again]
            kinds += [s.again] if number // 2 % 2 else []
        # Pictures set aside are judged as they are.
        kinds = [] if s.is_aside(number) else kinds
        seen = [evidence, *(worse(rng, evidence, flat.truth, flat.fabric, k) for k in kinds)]
        cuts = (cut_of(rgb, e, flat.mask, flat.truth, flat.px_per_in, first) for e in seen)
        yield Case(number, tuple(cuts))


def explained(evidence: SeamEvidence, flat: FlatSketch, settings: JudgeSettings) -> float:
    """Return the share of the true lines between patches that heat shows, chance taken off.

    Heat all over the cloth would be near every line too: what is met of the lines counts only so
    far as it is more than what is met of the cloth between them (Cohen's kappa does the same).
    """
    s, t = settings, flat.truth
    line = np.zeros(t.shape, dtype=np.bool_)
    line[1:] |= (t[1:] != t[:-1]) & (t[1:] > 0) & (t[:-1] > 0)
    line[:, 1:] |= (t[:, 1:] != t[:, :-1]) & (t[:, 1:] > 0) & (t[:, :-1] > 0)
    size = 2 * s.seen_px + 1
    near = np.asarray(cv2.dilate(evidence.seam, np.ones((size, size), np.uint8))) > s.seen_heat
    away = np.asarray(cv2.distanceTransform((~line).astype(np.uint8), cv2.DIST_L2, 5))
    between = (away > 2 * s.seen_px) & (t > 0)
    if not line.any():
        return 0.0
    chance = float(near[between].mean()) if between.any() else 0.0
    return (float(near[line].mean()) - chance) / max(1 - chance, 1e-6)


def by_heat(found: Array) -> Array:
    """Return log-odds by heat and colour alone."""
    return log_odds(np.clip(0.8 * found[:, MEAN_HEAT] + 0.2 * found[:, CONTRAST], 0.01, 0.99))


def without_others(odds: Odds) -> Odds:
    """Return `odds` of a first look for the measures of a second one."""
    return lambda found: odds(found[:, : len(MEASURES)])


def judged_on(
    every: Sequence[Case],
    settings: JudgeSettings,
    say: Callable[[str], None],
    first: Judge | None = None,
) -> Judge:
    """Return the judge fitted on cases, and say how it does on those set aside.

    Parameters
    ----------
    first : Judge or None
        The judge that the cases of a second look were cut with: joining starts by its verdicts.
    """
    s = settings
    aside = [c for c in every if s.is_aside(c.number)]
    learned = [cut for c in every if not s.is_aside(c.number) for cut in c.cuts]
    if not aside or not learned:
        raise ValueError("Too few pictures to fit a judge and set some aside.")
    limit = float(log_odds(s.first_stop))
    start = by_heat if first is None else without_others(policy(first, s.fit))
    mets = [met(cut, start, limit) for cut in learned]
    judge = fit(mets, np.random.default_rng([s.seed, 2]), replace(s.fit, members=1))
    # Again on the borders that its own verdicts lead to.
    mets += [met(cut, policy(judge, s.fit), limit) for cut in learned]
    judge = fit(mets, np.random.default_rng([s.seed, 3]), s.fit)
    say(f"{sum(len(m.real) for m in mets)} borders of {len(learned)} cuts")
    # The copies are worse than the pictures that come: neither stop nor calibration is theirs.
    cuts = [c.cuts[0] for c in aside]
    judge, f1 = stopped(judge, cuts, s.fit)
    say(
        "F1 of patches set aside, by stop: "
        + " ".join(f"{stop:.2f} {f:.4f}" for stop, f in zip(s.fit.stops, f1, strict=True))
    )
    odds, real = left(cuts, policy(judge, s.fit), float(log_odds(judge.stop)))
    judge = calibrated(judge, odds, real)
    say(
        f"stop {judge.stop}, scale {judge.scale:.3f}, lean {judge.lean:.3f}; calibration error"
        f" {calibration_error(judge.sure(odds), real):.4f} of {len(real)} borders left"
    )
    return judge


def left(cuts: Sequence[Cut], odds: Odds, limit: float) -> tuple[Array, NDArray[np.bool_]]:
    """Return log-odds (M,) and truth of the borders left when nothing more is to join."""
    ends: list[Met] = [met(cut, odds, limit) for cut in cuts]
    found = np.concatenate([m.found[m.last] for m in ends]).astype(np.float64)
    return odds(found), np.concatenate([m.real[m.last] for m in ends])


def about(settings: JudgeSettings, read: int, weights: Path) -> str:
    """Return the note kept with a judge: on what it was fitted."""
    digest = hashlib.sha256(weights.read_bytes()).hexdigest()[:12]
    return (
        f"Fitted on {read} flat pictures of the training's own tops (seed {settings.seed}) as"
        f" {weights.name} (SHA-256 {digest}…) sees them; every {settings.aside}th was set aside"
        " for stop, scale and lean."
    )


def network_look(weights: Path) -> Look:
    """Return how the network of an ONNX file looks at pictures with sides of whole strides."""
    import onnxruntime

    options = onnxruntime.SessionOptions()
    options.log_severity_level = 3
    # One thread rounds the same way on every machine.
    options.intra_op_num_threads = options.inter_op_num_threads = 1
    session: InferenceSession = onnxruntime.InferenceSession(
        weights.read_bytes(), options, providers=["CPUExecutionProvider"]
    )
    name = session.get_inputs()[0].name

    def look(rgb: NDArray[np.uint8]) -> SeamEvidence:
        picture = np.ascontiguousarray(rgb.transpose(2, 0, 1)[None], dtype=np.float32) / 255
        (out,) = session.run(None, {name: picture})
        p = np.asarray(out, dtype=np.float32)[0]
        return SeamEvidence(p[SEAM], p[JUNCTION], p[COS2], p[SIN2])

    return look
