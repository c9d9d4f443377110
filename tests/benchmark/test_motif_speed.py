"""The table of the motifs' speed has every motif; how fast they are is not tested."""

from seamwalk.benchmark.motif_speed import SpeedSettings, large_top, motif_speed_table, time_motifs
from seamwalk.motifs.motif import known

SMALL = SpeedSettings(columns=2, rows=2, runs=1)


def test_the_top_has_2000_patches():
    settings = SpeedSettings()
    # Nine to a block, and four of the border.
    assert settings.columns * settings.rows * 9 + 4 == 2020
    assert len(large_top(SMALL).patches) == 2 * 2 * 9 + 4


def test_every_motif_is_timed_and_gives_strokes():
    patches, laying_s, found = time_motifs(SMALL)
    assert {r.motif for r in found} == set(known()) - {"none"}
    assert all(r.strokes > 0 and r.motif_s > 0 for r in found)
    table = motif_speed_table(patches, laying_s, found)
    assert table.startswith("40 patches")
    assert len([line for line in table.splitlines() if line.startswith("|")]) == len(found) + 3
