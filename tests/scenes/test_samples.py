"""The sample photos: easy to hard, all different, small enough."""

from dataclasses import replace
from pathlib import Path

import pytest
from PIL import Image

from seamwalk.scenes import samples
from seamwalk.scenes.fabrics import SETS
from seamwalk.scenes.floors import FLOORS
from seamwalk.scenes.samples import SAMPLES, write_samples


def test_nine_samples_of_many_kinds() -> None:
    assert len(SAMPLES) == 9
    assert len({s.design for s in SAMPLES.values()}) == 9
    assert len({s.seed for s in SAMPLES.values()}) == 9
    assert {s.floor for s in SAMPLES.values()} == set(FLOORS)
    assert {s.fabrics for s in SAMPLES.values()} <= set(SETS)
    assert max(s.tilt_deg for s in SAMPLES.values()) <= 35
    assert sum(len(s.cards) == 1 for s in SAMPLES.values()) == 1
    assert all(s.width_px * s.height_px == 12_000_000 for s in SAMPLES.values())
    assert any(s.skew_deg for s in SAMPLES.values())


def test_files_are_written_and_kept_small(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    small = {name: replace(SAMPLES[name], width_px=300, height_px=400) for name in ("nine-patch",)}
    monkeypatch.setattr(samples, "SAMPLES", small)
    monkeypatch.setattr(samples, "MOST_BYTES", 30_000)
    photos = write_samples(tmp_path)
    assert [p.name for p in photos] == ["nine-patch.jpg"]
    for p in photos:
        assert p.stat().st_size <= 30_000
        with Image.open(p) as picture:
            assert picture.size == (300, 400)
        assert p.with_suffix(".truth.json").exists()
