"""Which motif goes where.

Of the wishes that name a patch the one with the narrowest word wins (:mod:`.wish_places`), among
equals the later; patches that no wish names get what is usual for the person, else what suits them
(:mod:`.defaults`).
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from seamwalk.errors import MotifError, SettingsError, UsageError
from seamwalk.model.block import BlockPlan
from seamwalk.model.choice import MotifChoice
from seamwalk.model.sizes import Sizes
from seamwalk.model.top import PatchId, Top
from seamwalk.motifs.area import Area, lay_out
from seamwalk.motifs.defaults import ChooseSettings, default_motifs
from seamwalk.motifs.wish import Wish, read_wish, winner
from seamwalk.motifs.wish_places import WishPlaces, wish_places
from seamwalk.units import Units


def choose(
    top: Top,
    sizes: Sizes,
    overrides: Sequence[str] = (),
    *,
    usual: Sequence[str] = (),
    area: Area | None = None,
    blocks: BlockPlan | None = None,
    places: WishPlaces | None = None,
    units: Units = "in",
    settings: ChooseSettings | None = None,
) -> tuple[MotifChoice, ...]:
    """Return a motif for every patch, patches of one motif and measure together.

    Parameters
    ----------
    top : Top
        The top to be quilted.
    sizes : Sizes
        Its shapes and classes, patches in the top's order.
    overrides : sequence of str
        Wishes as written by a person, ``WHERE=MOTIF [measure=value …]``.
    usual : sequence of str
        Wishes for patches that no override names; those for places that the top does not have
        count for nothing.
    area : Area, optional
        `lay_out(top)`, if it is there already.
    blocks : BlockPlan, optional
        Without it no wish can name blocks and sashing.
    places : WishPlaces, optional
        `wish_places(…)`, if it is there already.
    units : {"in", "cm"}
        Of bare numbers in wishes.

    Raises
    ------
    UsageError
        If a wish cannot be read or names a place that the top does not have.
    SettingsError
        If a usual wish cannot be read.
    MotifError
        If a wish names a motif that nobody knows.
    """
    settings = settings or ChooseSettings()
    area = area or lay_out(top)
    wishes: list[Wish] = []
    habits: list[Wish] = []
    if overrides or usual:
        places = places or wish_places(sizes, area, blocks, settings)
        wishes = [read_wish(text, places, units) for text in overrides]
        habits = list(_usual(usual, places, units))
    defaults = default_motifs(sizes, area, settings)
    covered: dict[MotifChoice, list[PatchId]] = {}
    for size in sizes.patches:
        best = winner(wishes, size.patch) or winner(habits, size.patch)
        like = best.like if best is not None else MotifChoice((), defaults[size.class_name])
        covered.setdefault(like, []).append(size.patch)
    return tuple(replace(like, patches=tuple(patches)) for like, patches in covered.items())


def _usual(texts: Sequence[str], places: WishPlaces, units: Units) -> Iterator[Wish]:
    """Yield the usual wishes for places that the top has."""
    for text in texts:
        if places.get(text.partition("=")[0]) is None:
            continue
        try:
            yield read_wish(text, places, units)
        except (UsageError, MotifError) as error:
            seen = f"Your settings ask for “{text}”: {error.seen}"
            raise SettingsError(seen, error.advice) from None


def count_by_motif(choices: Iterable[MotifChoice]) -> dict[str, int]:
    """Return how many patches each motif covers."""
    out: dict[str, int] = {}
    for choice in choices:
        out[choice.motif] = out.get(choice.motif, 0) + len(choice.patches)
    return out
