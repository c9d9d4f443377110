"""Measures of a wish that make no sense are refused in one sentence, before anything is laid out.

Limits: matchstick quilting has lines 1/8 in apart or somewhat less, and no bed quilt is 240 in
wide (common practice, no source).
"""

from pathlib import Path

import pytest
from tests.motifs.tops import grid, sizes_of

from seamwalk.errors import MotifError, SeamwalkError, SettingsError, UsageError
from seamwalk.motifs.choose import choose
from seamwalk.motifs.motif import known
from seamwalk.motifs.wish import read_motif, written
from seamwalk.motifs.wish_measures import MEASURES
from seamwalk.trade import CLOSEST_SEWN_IN, LARGEST_TOP_IN

TAKES_LENGTHS = [
    ("arches", "depth"),
    ("cable", "spacing"),
    ("clamshells", "spacing"),
    ("crosshatch", "spacing"),
    ("fans", "depth"),
    ("leaf-lines", "depth"),
    ("lines", "spacing"),
    ("outline", "spacing"),
    ("piano-keys", "spacing"),
    ("spiral", "spacing"),
    ("waves", "spacing"),
]


@pytest.mark.parametrize(("motif", "measure"), TAKES_LENGTHS)
def test_nothing_closer_than_can_be_sewn_and_nothing_larger_than_a_top(motif, measure):
    for said in ("0.001 in", "0.02", "1 mm"):
        with pytest.raises(UsageError, match=r"is closer than can be sewn\. Give 1/16 in or more"):
            read_motif(f"all={motif} {measure}={said}")
    for said in ("1000 in", "241", "30 yd"):
        with pytest.raises(UsageError, match=r"is larger than any top\. Give 240 in or less"):
            read_motif(f"all={motif} {measure}={said}")
    for said in (CLOSEST_SEWN_IN, LARGEST_TOP_IN):
        read_motif(f"all={motif} {measure}={said}")


def test_limits_hold_for_bare_lengths_and_are_told_in_the_persons_units():
    with pytest.raises(UsageError, match=r"“0\.1” is closer than can be sewn\. Give 0\.2 cm"):
        read_motif("all=spiral 0.1", "cm")
    with pytest.raises(UsageError, match=r"larger than any top\. Give 609\.6 cm or less"):
        read_motif("all=spiral 700", "cm")


@pytest.mark.parametrize(
    ("wish", "says"),
    [
        ("all=lines nan", "“nan” after lines is not a measure"),
        ("all=lines inf", "“inf” after lines is not a measure"),
        ("all=lines -1 in", "“-1 in” after lines is not a measure"),
        ("all=leaf lines -½", "“-½” after leaf-lines is not a measure"),
        ("all=lines 1e3", "“1e3” after lines is not a measure"),
        ("all=lines spacing", "“spacing” after lines is not a measure"),
        ("all=lines spacing=nan", "“nan” is not a length"),
        ("all=lines spacing=-1", "“-1” is not a length"),
        ("all=lines 0 in", "above zero"),
        ("all=lines 1/0", "divides by zero"),
        ("all=lines spacing=", "gives no spacing after “=”"),
        ("all=lines angle=", "gives no angle after “=”"),
        ("all=lines angle=inf", "is not an angle"),
        ("all=lines angle=1e400", "is not an angle"),
        ("all=lines width=1", "has a measure “width”"),
        ("all=lines spacing=1 spacing=2", "gives the spacing twice"),
        ("all=lines 1 in spacing=2", "gives the spacing twice"),
        ("all=lines at 30° angle=40", "gives the angle twice"),
    ],
)
def test_what_is_no_measure_is_refused_in_one_sentence(wish, says):
    with pytest.raises(UsageError) as caught:
        read_motif(wish)
    assert says in caught.value.seen
    assert caught.value.seen.count(". ") == 0
    assert caught.value.advice


@pytest.mark.parametrize(
    ("wish", "has"),
    [
        ("all=ditch 1 in", "Write ditch alone"),
        ("all=none depth=1", "Write none alone"),
        ("all=arches spacing=1", "It takes depth and edge"),
        ("all=arches 1 in apart", "It takes depth and edge"),
        ("all=lines 1 in deep", "It takes spacing and angle"),
        ("all=lines edge=arch", "It takes spacing and angle"),
        ("all=spiral depth=2", "It takes spacing and angle"),
        ("all=leaf-lines angle=30", "It takes depth"),
    ],
)
def test_a_measure_that_the_motif_does_not_heed_is_refused(wish, has):
    with pytest.raises(UsageError) as caught:
        read_motif(wish)
    assert has in caught.value.advice


def test_every_motif_takes_what_its_page_lists():
    # The pages of docs/motifs are the source: the first column of their tables.
    pages = Path(__file__).parents[2] / "docs" / "motifs"
    given = {"depth": "1", "spacing": "1", "angle": "30", "edge": "line"}
    for motif in known():
        # Its page says that wishes are those for the cable.
        page = pages / f"{motif.removeprefix('three-strand-')}.md"
        if not page.exists():
            continue
        listed = [r for r in page.read_text(encoding="utf-8").splitlines() if r.startswith("| `")]
        heads = " ".join(row.split("|")[1] for row in listed)
        for measure in MEASURES:
            wish = f"all={motif} {measure}={given[measure]}"
            if f"`{measure}`" in heads:
                read_motif(wish)
            else:
                with pytest.raises(UsageError, match="can't give"):
                    read_motif(wish)


def test_lengths_may_be_written_without_a_leading_nought():
    assert read_motif("all=lines .5 in") == read_motif("all=lines 1/2 in")
    assert read_motif("all=lines 1 inch apart") == read_motif("all=lines spacing=1")


def test_what_is_written_is_read_again_at_the_limits():
    for said in ("1/16 in", "240 in"):
        where, like = read_motif(f"all=crosshatch {said}")
        assert read_motif(written(where, like)) == (where, like)


def test_a_misspelt_motif_is_still_told_as_one():
    with pytest.raises(MotifError, match="Did you mean arches"):
        read_motif("all=archs 1 in")


def test_a_usual_wish_that_cannot_be_sewn_names_the_settings():
    top = grid(2, 2)
    with pytest.raises(SettingsError, match=r"Your settings ask for “all=lines 0\.01 in”"):
        choose(top, sizes_of(top), usual=["all=lines 0.01 in"])


def test_the_same_region_named_twice_follows_the_later_wish():
    # As documented: among equally narrow words the later wins.
    top = grid(2, 2)
    (choice,) = choose(top, sizes_of(top), ["all=lines 1 in", "all=lines 2 in"])
    assert choice.spacing_in == 2.0


def test_errors_end_with_the_status_of_a_wish_not_understood():
    with pytest.raises(SeamwalkError) as caught:
        read_motif("all=crosshatch 0.01 in")
    assert caught.value.exit_status == 2
