"""The words of a look: few, and such that reading them gives exactly this look.

Whatever they are made from, what counts is how they are read; so every step is checked by
reading.
"""

from collections.abc import Mapping, Sequence

from seamwalk.model.choice import MotifChoice
from seamwalk.model.sizes import Sizes
from seamwalk.model.top import PatchId
from seamwalk.motifs.look_groups import LookGroup
from seamwalk.motifs.wish import read_wish, winner, written
from seamwalk.motifs.wish_places import CLASS, WishPlaces

Wanted = Mapping[PatchId, MotifChoice]


def wishes_for(
    groups: Sequence[LookGroup],
    likes: Mapping[str, MotifChoice],
    sizes: Sizes,
    places: WishPlaces,
) -> tuple[str, ...]:
    """Return the wishes that give every group its motif and nothing else.

    Parameters
    ----------
    likes : mapping
        What each group gets, by its word.

    Notes
    -----
    Where a narrower word takes patches away from a group, they are named once more within it.
    Where one wider word does for several groups, it stands for them.
    """
    own = {g.word: written(g.word, likes[g.word]) for g in groups}
    # As they are read: a length in words may differ from the number by a rounding error.
    read = {word: read_wish(text, places).like for word, text in own.items()}
    wanted = {p: read[g.word] for g in groups for p in g.patches}
    texts = tuple(own.values())
    names = {s.patch: s.class_name.lower() for s in sizes.patches}
    group_of = {p: g.word for g in groups for p in g.patches}
    for narrowest in (False, True):
        wrong = _wrong(texts, wanted, places)
        words = [f"patch {p}" if narrowest else f"{names[p]} in {group_of[p]}" for p in wrong]
        more = (written(w, wanted[p]) for w, p in zip(words, wrong, strict=True))
        texts = tuple(dict.fromkeys((*texts, *more)))
    for place in places.by_word.values():
        if place.rank < CLASS:
            for like in dict.fromkeys(read.values()):
                texts = _shorter(texts, place.word, like, wanted, places)
    return texts


def _shorter(
    texts: tuple[str, ...], word: str, like: MotifChoice, wanted: Wanted, places: WishPlaces
) -> tuple[str, ...]:
    """Return the wishes with one wide word for all those within it, if that means the same.

    A word that names mostly other patches would be misread by people.
    """
    mine = places.find(word).patches
    if 2 * sum(wanted.get(p) == like for p in mine) < len(mine):
        return texts
    kept = []
    for text in texts:
        wish = read_wish(text, places)
        if wish.like != like or not wish.place.patches <= mine:
            kept.append(text)
    fewer = (written(word, like), *kept)
    if len(fewer) < len(texts) and not _wrong(fewer, wanted, places):
        return fewer
    return texts


def _wrong(texts: Sequence[str], wanted: Wanted, places: WishPlaces) -> list[PatchId]:
    """Return the patches that wishes would not give what is wanted, in order."""
    wishes = [read_wish(text, places) for text in texts]
    out = []
    for patch, like in sorted(wanted.items()):
        found = winner(wishes, patch)
        if found is None or found.like != like:
            out.append(patch)
    return out
