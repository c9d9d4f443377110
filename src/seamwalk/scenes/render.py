"""From a few settings to a photo of a top and the truth about it."""

from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from seamwalk.model.picture import Photo
from seamwalk.model.top import Top
from seamwalk.scenes import cards, degrade
from seamwalk.scenes.bumps import bumps
from seamwalk.scenes.camera import Camera, focal_px, framed, looking
from seamwalk.scenes.cards import CardPlace
from seamwalk.scenes.cloth import paint
from seamwalk.scenes.designs.pattern import Layout
from seamwalk.scenes.fabrics import choose
from seamwalk.scenes.floors import FLOORS
from seamwalk.scenes.sampling import photographed
from seamwalk.scenes.sewing import SewingSettings
from seamwalk.scenes.tops import make_top, shared_fabrics, with_fabrics
from seamwalk.scenes.truth import CardTruth, Truth, top_corners

CLOTH_FINENESS = 1.4
"""Cloth pixels per photo pixel where the photo is finest."""

CLOTH_MOST_PX = 24e6
"""Largest cloth canvas, pixels: 16 bytes each."""


@dataclass(frozen=True, slots=True)
class SceneSettings:
    """All that a scene is made from; the same settings give the same picture."""

    design: str = "nine patch"
    """A key of `tops.DESIGNS`."""
    seed: int = 0
    """Seeds everything drawn at random."""
    columns: int = 4
    """Blocks across."""
    rows: int = 5
    """Blocks down."""
    block_in: float = 9.0
    """Finished block, inches."""
    border_in: float = 0.0
    """Finished border, inches; 0 for none."""
    fabrics: str = "solids"
    """A key of `fabrics.SETS`."""
    contrast: float = 1.0
    """1 clear, towards 0 hardly any contrast between fabrics."""
    same_fabric: float = 0.0
    """Share of patches that take a neighbour's fabric."""
    piecing_in: float = 1 / 32
    """Standard deviation of junctions, inches."""
    skew_deg: float = 0.0
    """Corner angle off square, degrees."""
    taper_deg: float = 0.0
    """Angle between left and right edge, degrees."""
    bow_in: float = 0.0
    """Bow of horizontal seams, inches."""
    relief: float = 0.6
    """Light and shade of seams and weave; 0 none."""
    bumps_in: float = 0.0
    """Highest rise of the cloth, inches (0.4 is 10 mm)."""
    light_deg: float = 215.0
    """Direction that the light comes from."""
    floor: str = "wood"
    """A key of `floors.FLOORS`."""
    floor_deg: float | None = None
    """Turn of the floor's lines against the top's upper edge; None for a seeded one."""
    width_px: int = 4000
    """Photo width."""
    height_px: int = 3000
    """Photo height."""
    tilt_deg: float = 0.0
    """0 looks straight down."""
    azimuth_deg: float = 90.0
    """Where the photographer stands: 90 below the bottom edge."""
    roll_deg: float = 0.0
    """Turn of the camera about its own axis."""
    focal_mm_equiv: float = 26.0
    """35 mm-equivalent focal length that the photo's data says."""
    focal_error: float = 0.0
    """True focal length over the stated one, minus 1."""
    centre_off_px: tuple[float, float] = (0.0, 0.0)
    """Principal point off the middle, pixels."""
    radial: tuple[float, float, float] = (0.0, 0.0, 0.0)
    """Lens distortion k1, k2, k3."""
    margin: float = 0.03
    """Share of the picture free round top and cards."""
    cards: tuple[CardPlace, ...] = field(
        default=(
            CardPlace(0, at="upper left", angle_deg=4.0),
            CardPlace(1, at="lower right", angle_deg=-7.0),
        )
    )
    """Cards in the scene."""
    falloff: float = 0.25
    """Light lost at the far corner."""
    cast: tuple[float, float, float] = (1.0, 1.0, 1.0)
    """Colour of the light."""
    blur_px: float = 0.7
    """Lens blur, standard deviation, pixels."""
    shot_noise: float = 0.012
    """Shot noise at full light."""
    read_noise: float = 0.002
    """Read noise."""
    sharpen: float = 0.0
    """Sharpening by the phone, times what a blur of 1.5 px takes away."""
    encoding: degrade.Encoding = "srgb"
    """Tone curve."""


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """A rendered photo and the truth about it."""

    photo: Photo
    truth: Truth
    settings: SceneSettings


def render(settings: SceneSettings) -> Scene:
    """Return the photo of the scene and its truth.

    Notes
    -----
    The top is painted flat at a finer resolution than the photo's, then every photo pixel is the
    mean of samples of it, in linear light.  Cards are drawn straight into the photo.
    """
    seeds = np.random.SeedSequence(settings.seed).spawn(6)
    rng_top, rng_cloth, rng_floor, rng_bumps, rng_cards, rng_noise = map(
        np.random.default_rng, seeds
    )
    sewing = SewingSettings(
        sigma_in=settings.piecing_in,
        skew_deg=settings.skew_deg,
        taper_deg=settings.taper_deg,
        bow_in=settings.bow_in,
    )
    layout = Layout(settings.columns, settings.rows, settings.block_in)
    top = make_top(
        settings.design, layout, border_in=settings.border_in, sewing=sewing, seed=settings.seed
    )
    roles = sorted({p.fabric for p in top.patches})
    fabric_of = choose(roles, settings.fabrics, rng_top, contrast=settings.contrast)
    top = with_fabrics(top, {role: f.name for role, f in fabric_of.items()})
    top = shared_fabrics(top, settings.same_fabric, rng_top)
    lift = bumps(settings.bumps_in, rng_bumps)
    corners = top_corners(np.array(top.outline.exterior.coords[:-1]))
    places = [(c, cards.centre_in(c, corners)) for c in settings.cards]
    camera = _camera(settings, top, places)
    truth = Truth(top, camera, lift, tuple(_card_truth(camera, c, at) for c, at in places))
    fineness = float(camera.px_per_in(corners).max())
    x0, y0, x1, y1 = top.outline.bounds
    fineness = min(CLOTH_FINENESS * fineness, (CLOTH_MOST_PX / ((x1 - x0) * (y1 - y0))) ** 0.5)
    cloth = paint(
        top,
        {f.name: f for f in fabric_of.values()},
        fineness,
        rng_cloth,
        relief=settings.relief,
        light_deg=settings.light_deg,
        lift=lift,
    )
    floor = FLOORS[settings.floor](rng_floor)
    size = (settings.width_px, settings.height_px)
    turn = settings.floor_deg
    if turn is None:
        turn = float(rng_floor.choice([0.0, 90.0]) + rng_floor.uniform(-12, 12))
    light = photographed(cloth, floor, camera, lift, size, floor_deg=turn)
    for card, at in places:
        cards.draw(light, camera, card, at, rng_cards)
    light = degrade.falloff(light, settings.falloff, settings.light_deg + settings.roll_deg)
    light = degrade.cast(light, settings.cast)
    light = degrade.blur(light, settings.blur_px)
    light = degrade.noise(light, settings.shot_noise, settings.read_noise, rng_noise)
    light = degrade.sharpened(light, settings.sharpen)
    rgb = degrade.encoded(light, settings.encoding)
    rgb.flags.writeable = False
    stated = focal_px(settings.focal_mm_equiv, *size)
    photo = Photo(rgb, f"{settings.design.replace(' ', '-')}.jpg", focal_px=stated, native=size)
    return Scene(photo, truth, settings)


def save(
    scene: Scene, folder: Path, name: str, *, quality: int = 92, orientation: int = 1
) -> tuple[Path, Path]:
    """Write NAME.jpg and NAME.truth.json into the folder and return their paths.

    Parameters
    ----------
    quality : int
        JPEG quality.
    orientation : {1, 3, 6, 8}
        EXIF orientation: how the stored pixels must be turned to stand upright.
    """
    from seamwalk.scenes.saving import write

    return write(scene, folder, name, quality=quality, orientation=orientation)


def settings_as_json(settings: SceneSettings) -> dict[str, Any]:
    """Return the settings as plain data."""
    return asdict(settings)


def _camera(
    settings: SceneSettings, top: Top, places: list[tuple[CardPlace, NDArray[np.float64]]]
) -> Camera:
    """Return the camera that shows the top and its cards."""
    size = (settings.width_px, settings.height_px)
    show = [np.array(top.outline.exterior.coords[:-1])]
    show += [cards.outline_in(c, at, c.paper_in) for c, at in places]
    true_focal = focal_px(settings.focal_mm_equiv, *size) * (1 + settings.focal_error)
    dx, dy = settings.centre_off_px
    return framed(
        np.concatenate(show),
        size_px=size,
        focal=true_focal,
        radial=settings.radial,
        rotation=looking(settings.tilt_deg, settings.azimuth_deg, settings.roll_deg),
        margin=settings.margin,
        centre_px=((size[0] - 1) / 2 + dx, (size[1] - 1) / 2 + dy),
    )


def _card_truth(camera: Camera, card: CardPlace, at: NDArray[np.float64]) -> CardTruth:
    inches = cards.outline_in(card, at)
    px = camera.px_from_top(inches, card.above_in)
    return CardTruth(card.id, card.side_in, card.above_in, inches, px)
