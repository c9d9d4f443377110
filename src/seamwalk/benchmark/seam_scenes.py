"""Scenes drawn at random for the seam map, and what came of mapping one."""

import resource
import time
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from seamwalk.benchmark.scene_photo import scene_photo
from seamwalk.benchmark.seam_arcs import ArcScore, arc_score, unmapped_arcs
from seamwalk.errors import UsageError
from seamwalk.scenes.cards import CardPlace
from seamwalk.scenes.render import SceneSettings


@dataclass(frozen=True, slots=True)
class SeamDrawSettings:
    """From what scenes are drawn: every design in every kind of cloth.

    Attributes
    ----------
    most_tilt_deg, most_bumps_in : float
        Alike likely from 0 on.
    same_fabric : float
        In a third of the scenes, up to this share of patches takes a neighbour's fabric.
    least_contrast : float
        Fabrics stand apart by this share of full contrast at least.
    design : str
        A key of `tops.DESIGNS` for every scene; empty for each straight one in turn.
    """

    most_tilt_deg: float = 30.0
    most_bumps_in: float = 0.25
    same_fabric: float = 0.15
    least_contrast: float = 0.5
    width_px: int = 3200
    height_px: int = 2400
    design: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class SeamResult:
    """One picture mapped.

    Attributes
    ----------
    seed : int
        Number of the scene, or place of the photo in its folder.
    name : str
    patches, found : int
    f1, visible : (float, float)
        At IoU 0.5 and 0.8.
    junctions_in : list of float or None
        Errors of junctions, inches; None for those missed.
    mask_iou : float
    checks : list of (confidence, inferred, same fabric, real, length)
        Of every seam between two patches.
    recall, lengths, boundary
        See :class:`seamwalk.benchmark.seam_scoring.SeamScore`.
    seconds : float
        Of the whole measurement.
    roughly : float
        F of seams within twice the distance.
    arcs : ArcScore or None
        What became of curved seams; None where the truth doesn't tell.
    error : str
        The sentence, when the picture was refused.
    """

    seed: int
    name: str
    patches: int = 0
    found: int = 0
    f1: tuple[float, float] = (0.0, 0.0)
    visible: tuple[float, float] = (0.0, 0.0)
    junctions_in: list[float | None] = field(default_factory=list)
    mask_iou: float = 0.0
    checks: list[tuple[float, bool, bool, bool, float]] = field(default_factory=list)
    recall: dict[str, float] = field(default_factory=dict)
    lengths: dict[str, float] = field(default_factory=dict)
    boundary: tuple[float, float, float] = (0.0, 0.0, 0.0)
    px_per_in: float = 0.0
    seconds: float = 0.0
    peak_mb: float = 0.0
    error: str = ""
    roughly: float = 0.0
    arcs: ArcScore | None = None

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> "SeamResult":
        """Return the result from one line of a file of results."""
        tuples = {k: tuple(float(v) for v in data[k]) for k in ("f1", "visible", "boundary")}
        checks = [
            (float(c), bool(i), bool(s), bool(r), float(n)) for c, i, s, r, n in data["checks"]
        ]
        arcs = data.get("arcs")
        score = None if arcs is None else ArcScore.from_json(arcs)
        return cls(**{**data, **tuples, "checks": checks, "arcs": score})

    @property
    def design(self) -> str:
        """Design of a scene."""
        return self.name.split(", ")[0]

    @property
    def fabrics(self) -> str:
        """Set of fabrics of a scene."""
        return self.name.split(", ")[1]


def draw(seed: int, settings: SeamDrawSettings | None = None) -> SceneSettings:
    """Return the settings of scene number `seed`."""
    from seamwalk.scenes.fabrics import SETS
    from seamwalk.scenes.floors import FLOORS
    from seamwalk.scenes.tops import CURVED, DESIGNS

    s = settings or SeamDrawSettings()
    rng = np.random.default_rng([seed, 11])
    # Every design meets every set of fabrics in turn, whatever the number of scenes.
    # Curved ones are measured by themselves, so that a scene's number goes on meaning the same.
    designs, sets = [d for d in DESIGNS if d not in CURVED], list(SETS)
    # Nothing below depends on the design, so that another one changes nothing else.
    design = s.design or designs[seed % len(designs)]
    fabrics = sets[(seed // len(designs) + seed) % len(sets)]
    cards = tuple(
        CardPlace(k, at="upper left" if k == 0 else "lower right", angle_deg=float(a))
        for k, a in enumerate(rng.uniform(-25, 25, 2))
    )
    same = float(rng.uniform(0, s.same_fabric)) if rng.random() < 1 / 3 else 0.0
    return replace(
        SceneSettings(),
        design=design,
        seed=seed,
        columns=int(rng.integers(4, 7)),
        rows=int(rng.integers(3, 6)),
        block_in=float(rng.choice([6.0, 7.5, 8.0, 9.0, 10.0])),
        border_in=float(rng.choice([0.0, 2.0, 3.0])),
        fabrics=fabrics,
        contrast=float(rng.uniform(s.least_contrast, 1.0)),
        same_fabric=same,
        floor=str(rng.choice(list(FLOORS))),
        bumps_in=float(rng.uniform(0, s.most_bumps_in)),
        tilt_deg=float(rng.uniform(0, s.most_tilt_deg)),
        azimuth_deg=float(rng.uniform(0, 360)),
        roll_deg=float(rng.uniform(-4, 4)),
        light_deg=float(rng.uniform(0, 360)),
        blur_px=float(rng.uniform(0.5, 1.2)),
        cards=cards,
        width_px=s.width_px,
        height_px=s.height_px,
    )


def kept_result(data: Mapping[str, Any], settings: SeamDrawSettings | None = None) -> SeamResult:
    """Return the result from one line of a file of results of scenes drawn so.

    Raises
    ------
    UsageError
        If its scene has another design.
    """
    result = SeamResult.from_json(data)
    design = draw(result.seed, settings).design
    if result.design != design:
        raise UsageError(
            f"Results of another design are kept there: scene {result.seed} is {result.design}, "
            f"not {design}.",
            "Give --keep another file for each --design.",
        )
    return result


def map_scene(seed: int, folder: Path, settings: SeamDrawSettings | None = None) -> SeamResult:
    """Render scene number `seed`, map its photo and compare with its truth."""
    from seamwalk.scale import ScaleChoice
    from seamwalk.scenes.render import render

    wanted = draw(seed, settings)
    name = f"{wanted.design}, {wanted.fabrics}, {wanted.floor}"
    with scene_photo(render(wanted), folder) as (photo, truth):
        return map_photo(seed, name, photo, truth, ScaleChoice())


def map_photo(
    seed: int, name: str, photo: Path, truth: Mapping[str, Any], scale: Any
) -> SeamResult:
    """Map a photo and compare with its truth.

    Parameters
    ----------
    scale : ScaleChoice
        What is said about the scale.
    """
    from seamwalk.benchmark.seam_scoring import seam_score
    from seamwalk.errors import SeamwalkError
    from seamwalk.pipeline import measure_photo

    start = time.perf_counter()
    try:
        found = measure_photo(photo, scale)
    except SeamwalkError as error:
        return SeamResult(
            seed,
            name,
            patches=len(truth["patches"]),
            error=str(error),
            arcs=unmapped_arcs(truth),
        )
    seconds = time.perf_counter() - start
    assert found.rectification is not None
    view = found.rectification.view
    got = seam_score(truth, found.top, view)
    middle = np.array(found.top.outline.centroid.coords)
    ppi = float(found.rectification.px_per_in(middle)[0])
    return SeamResult(
        seed,
        name,
        got.patches,
        got.found,
        (got.f1[0.5], got.f1[0.8]),
        (got.visible[0.5], got.visible[0.8]),
        [None if np.isinf(j) else j / ppi for j in got.junctions_px],
        got.mask_iou,
        [(c.confidence, c.inferred, c.same, c.real, c.length_px) for c in got.checks],
        got.recall,
        got.lengths,
        got.boundary,
        ppi,
        seconds,
        resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
        roughly=got.roughly[0],
        arcs=arc_score(truth, found.top, found.sizes, view),
    )
