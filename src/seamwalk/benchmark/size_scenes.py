"""Scenes drawn at random for the accuracy of sizes, and what came of measuring one.

What is drawn: design, fabrics, floor, place and tilt of the camera, lens, bumps of the cloth, skew
and taper, one card or two, and what the ruler says of a card's side.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from seamwalk.benchmark.scene_photo import scene_photo
from seamwalk.scenes.cards import CardPlace
from seamwalk.scenes.render import Scene, SceneSettings, render

CARD_IN = 6.0
"""What the ruler says of every card's side, inches."""


@dataclass(frozen=True, slots=True)
class DrawSettings:
    """From what scenes are drawn.

    Attributes
    ----------
    designs, fabrics, floors : tuple of str
        Alike likely.
    most_tilt_deg, most_bumps_in : float
        Alike likely from 0 on; bumps reach 10 mm.
    ruler_sigma_in : float
        How far a card's true side is from what the ruler says.
    skew_sigma_deg, taper_sigma_deg : float
        Of the crooked half of the tops; the others are square.
    focal_sigma : float
        True focal length against the file's, relative.
    radial_sigma : (float, float, float)
        Of k1, k2, k3.
    centre_sigma_px : float
        Of the principal point.
    two_cards : float
        Share of scenes with two cards.
    width_px, height_px : int
        Size of the photo: 7.7 MP; tops are some 30 to 60 in, so that it has 25 to 60 px/in.
    """

    designs: tuple[str, ...] = (
        "nine patch", "pinwheel", "flying geese", "rail fence", "on point", "sashed", "scrappy",
        "mixed sizes", "square in square",
    )  # fmt: skip
    fabrics: tuple[str, ...] = ("solids", "tonals", "small prints", "prints")
    floors: tuple[str, ...] = ("plain", "wood", "tiles", "carpet")
    most_tilt_deg: float = 45.0
    most_bumps_in: float = 10 / 25.4
    ruler_sigma_in: float = 1 / 128
    skew_sigma_deg: float = 0.75
    taper_sigma_deg: float = 0.5
    focal_sigma: float = 0.01
    radial_sigma: tuple[float, float, float] = (0.02, 0.01, 0.004)
    centre_sigma_px: float = 8.0
    two_cards: float = 0.6
    width_px: int = 3200
    height_px: int = 2400


@dataclass(frozen=True, slots=True, eq=False)
class SizeResult:
    """One scene measured.

    Attributes
    ----------
    seed : int
    drawn : dict
        Design, fabrics, tilt_deg, bumps_in, cards, px_per_in (least over the top), card_in.
    sides, overall, diagonals, skew, taper : list of (error, ±)
        Measured minus true, inches or degrees; overall is width and height through the middle.
    verdict : str
        Square, not square or cannot tell.
    crooked_deg : float
        The larger of true skew and taper.
    error : str
        The sentence, when the photo was refused.
    """

    seed: int
    drawn: dict[str, Any]
    sides: list[tuple[float, float]] = field(default_factory=list)
    overall: list[tuple[float, float]] = field(default_factory=list)
    diagonals: list[tuple[float, float]] = field(default_factory=list)
    skew: list[tuple[float, float]] = field(default_factory=list)
    taper: list[tuple[float, float]] = field(default_factory=list)
    verdict: str = ""
    crooked_deg: float = 0.0
    warnings: tuple[str, ...] = ()
    error: str = ""

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> "SizeResult":
        """Return the result from one line of a file of results."""

        def pairs(name: str) -> list[tuple[float, float]]:
            return [(float(e), float(u)) for e, u in data[name]]

        return cls(
            data["seed"],
            data["drawn"],
            pairs("sides"),
            pairs("overall"),
            pairs("diagonals"),
            pairs("skew"),
            pairs("taper"),
            data["verdict"],
            data["crooked_deg"],
            tuple(data["warnings"]),
            data["error"],
        )


def draw(seed: int, settings: DrawSettings | None = None) -> SceneSettings:
    """Return the settings of scene number `seed`."""
    s = settings or DrawSettings()
    rng = np.random.default_rng([seed, 3])
    side_in = CARD_IN + float(rng.normal(0, s.ruler_sigma_in))
    cards = tuple(
        CardPlace(
            k,
            side_in=side_in,
            at="upper left" if k == 0 else "lower right",
            angle_deg=float(rng.uniform(-25, 25)),
            above_in=-float(rng.uniform(0.0, 0.04)),
            past="end" if rng.random() < 0.5 else "side",
        )
        for k in range(2)
    )
    if rng.random() > s.two_cards:
        cards = (cards[int(rng.integers(2))],)
    crooked = float(rng.random() < 0.5)
    block = float(rng.choice([6.0, 7.5, 8.0, 9.0, 10.0]))
    radial = tuple(float(rng.normal(0, k)) for k in s.radial_sigma)
    return replace(
        SceneSettings(),
        design=str(rng.choice(s.designs)),
        seed=seed,
        columns=int(rng.integers(4, 7)),
        rows=int(rng.integers(3, 6)),
        block_in=block,
        border_in=float(rng.choice([0.0, 2.0, 3.0])),
        fabrics=str(rng.choice(s.fabrics)),
        floor=str(rng.choice(s.floors)),
        skew_deg=crooked * float(rng.normal(0, s.skew_sigma_deg)),
        taper_deg=crooked * float(rng.normal(0, s.taper_sigma_deg)),
        bumps_in=float(rng.uniform(0, s.most_bumps_in)),
        tilt_deg=float(rng.uniform(0, s.most_tilt_deg)),
        azimuth_deg=float(rng.uniform(0, 360)),
        roll_deg=float(rng.uniform(-4, 4)),
        focal_mm_equiv=float(rng.uniform(24, 28)),
        focal_error=float(rng.normal(0, s.focal_sigma)),
        radial=(radial[0], radial[1], radial[2]),
        centre_off_px=(
            float(rng.normal(0, s.centre_sigma_px)),
            float(rng.normal(0, s.centre_sigma_px)),
        ),
        light_deg=float(rng.uniform(0, 360)),
        blur_px=float(rng.uniform(0.5, 1.2)),
        cards=cards,
        width_px=s.width_px,
        height_px=s.height_px,
    )


def measure_scene(seed: int, folder: Path, settings: DrawSettings | None = None) -> SizeResult:
    """Render scene number `seed`, measure its photo and compare with its truth.

    Parameters
    ----------
    folder : Path
        For the photo while it is measured.
    """
    from seamwalk.benchmark.scoring import side_errors
    from seamwalk.errors import SeamwalkError
    from seamwalk.files.top_file import to_document
    from seamwalk.pipeline import measure_photo
    from seamwalk.scale import ScaleChoice

    wanted = draw(seed, settings)
    scene = render(wanted)
    corners = scene.truth.corners_in
    drawn = {
        "design": wanted.design,
        "fabrics": wanted.fabrics,
        "tilt_deg": wanted.tilt_deg,
        "bumps_in": wanted.bumps_in,
        "cards": len(wanted.cards),
        "px_per_in": float(scene.truth.camera.px_per_in(corners).min()),
        "card_in": wanted.cards[0].side_in,
        "sizes_in": {"overall": [scene.truth.width_in, scene.truth.height_in]},
    }
    try:
        with scene_photo(scene, folder) as (photo, truth):
            found = measure_photo(photo, ScaleChoice(square=f"{CARD_IN} in"))
    except SeamwalkError as error:
        return SizeResult(seed, drawn, error=str(error))
    top = to_document(found.top, found.sizes, photo=found.photo, rectification=found.rectification)
    sides = [(value - true, pm) for true, value, pm in side_errors(truth, top)]
    return _compared(SizeResult(seed, drawn, sides, warnings=found.warnings), scene, found.sizes)


def _compared(result: SizeResult, scene: Scene, sizes: Any) -> SizeResult:
    """Return the result with the whole top's sizes and straightness compared."""
    truth, top = scene.truth, sizes.top
    a, b, c, d = _corner_angles(truth.corners_in)
    skew, across, down = (a - b + c - d) / 4, a + b - 180, a + d - 180
    pairs = ((top.width, truth.width_in), (top.height, truth.height_in))
    overall = [(m.value_in - t, m.plus_minus_in) for m, t in pairs]
    diagonals = [
        (m.value_in - t, m.plus_minus_in)
        for m, t in zip(top.diagonals, truth.diagonals_in, strict=True)
    ]
    s = sizes.straightness
    return replace(
        result,
        overall=overall,
        diagonals=diagonals,
        skew=[(s.skew.value_deg - skew, s.skew.plus_minus_deg)],
        taper=[
            (s.taper_across.value_deg - across, s.taper_across.plus_minus_deg),
            (s.taper_down.value_deg - down, s.taper_down.plus_minus_deg),
        ],
        verdict=s.verdict,
        crooked_deg=float(max(abs(skew), abs(across), abs(down))),
    )


def _corner_angles(corners: Any) -> list[float]:
    from seamwalk.geometry.polygon import inner_angles_deg

    return [float(v) for v in inner_angles_deg(np.asarray(corners))]
