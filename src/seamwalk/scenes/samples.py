"""The sample photos: nine tops of an imaginary sewing circle, from easy to hard.

Every Thursday evening someone lays her finished top on whatever floor there is and photographs
it with the phone she has.  The tops, floors, phones and people are made up.
"""

from dataclasses import replace
from pathlib import Path

from seamwalk.scenes.cards import CardPlace
from seamwalk.scenes.render import SceneSettings, render, save

MOST_BYTES = 2_700_000
"""Largest sample file: nine of them must stay a small download."""

QUALITIES = (92, 88, 84, 80, 75, 70)
"""JPEG qualities tried in turn until a sample is small enough."""

_UPPER = CardPlace(0, at="upper left", angle_deg=5.0, above_in=-0.04, past="end")
_LOWER = CardPlace(1, at="lower right", angle_deg=-8.0, above_in=-0.04, past="end")
_PHONE = SceneSettings(
    width_px=3000,
    height_px=4000,
    cards=(_UPPER, _LOWER),
    radial=(-0.02, 0.015, -0.004),
    focal_error=0.006,
)
"""A phone held upright at arm's length; cards on the floor, 1 mm under the cloth's face."""

SAMPLES: dict[str, SceneSettings] = {
    "nine-patch": replace(
        _PHONE,
        design="nine patch",
        seed=11,
        columns=4,
        rows=5,
        block_in=9.0,
        border_in=3.0,
        fabrics="solids",
        floor="plain",
        tilt_deg=2.0,
        light_deg=200.0,
    ),
    "rail-fence": replace(
        _PHONE,
        design="rail fence",
        seed=12,
        columns=5,
        rows=6,
        block_in=7.5,
        border_in=2.5,
        fabrics="tonals",
        floor="wood",
        tilt_deg=10.0,
        azimuth_deg=100.0,
        cast=(1.04, 1.0, 0.92),
    ),
    "sashed-blocks": replace(
        _PHONE,
        design="sashed",
        seed=13,
        columns=4,
        rows=5,
        block_in=8.0,
        fabrics="tonals",
        floor="tiles",
        tilt_deg=16.0,
        azimuth_deg=80.0,
        roll_deg=2.0,
    ),
    "pinwheels": replace(
        _PHONE,
        design="pinwheel",
        seed=14,
        columns=4,
        rows=5,
        block_in=8.0,
        border_in=4.0,
        fabrics="small prints",
        floor="carpet",
        tilt_deg=20.0,
        azimuth_deg=95.0,
        focal_mm_equiv=28.0,
        focal_error=-0.008,
    ),
    "on-point": replace(
        _PHONE,
        design="on point",
        seed=15,
        columns=4,
        rows=5,
        block_in=7.0,
        border_in=3.5,
        fabrics="small prints",
        floor="wood",
        tilt_deg=24.0,
        azimuth_deg=70.0,
        roll_deg=-3.0,
        bumps_in=0.1,
    ),
    "stars": replace(
        _PHONE,
        design="star",
        seed=16,
        columns=3,
        rows=4,
        block_in=12.0,
        border_in=4.0,
        fabrics="prints",
        floor="tiles",
        tilt_deg=22.0,
        azimuth_deg=110.0,
        skew_deg=0.8,
        piecing_in=1 / 24,
    ),
    "flying-geese": replace(
        _PHONE,
        design="flying geese",
        seed=17,
        columns=4,
        rows=5,
        block_in=8.0,
        border_in=2.0,
        fabrics="small prints",
        floor="carpet",
        tilt_deg=28.0,
        azimuth_deg=85.0,
        cards=(_LOWER,),
        cast=(0.96, 1.0, 1.05),
    ),
    "log-cabin": replace(
        _PHONE,
        design="log cabin",
        seed=18,
        columns=4,
        rows=5,
        block_in=10.5,
        fabrics="prints",
        floor="wood",
        tilt_deg=33.0,
        azimuth_deg=92.0,
        bumps_in=0.2,
        falloff=0.4,
    ),
    "hexagons": replace(
        _PHONE,
        design="hexagons",
        seed=19,
        columns=7,
        rows=8,
        block_in=6.0,
        border_in=3.0,
        fabrics="florals",
        same_fabric=0.06,
        floor="checked",
        tilt_deg=35.0,
        azimuth_deg=75.0,
        bumps_in=0.25,
        taper_deg=0.5,
        blur_px=0.9,
        shot_noise=0.018,
    ),
}
"""Settings of each sample by its file name."""


def write_samples(folder: Path) -> list[Path]:
    """Write every sample's photo and truth into the folder and return the photos' paths."""
    return [_write_small(name, settings, folder) for name, settings in SAMPLES.items()]


def _write_small(name: str, settings: SceneSettings, folder: Path) -> Path:
    """Write one sample at the best quality that keeps it small, and return its photo's path."""
    scene = render(settings)
    photo = folder / f"{name}.jpg"
    for quality in QUALITIES:
        photo, _ = save(scene, folder, name, quality=quality)
        if photo.stat().st_size <= MOST_BYTES:
            break
    return photo
