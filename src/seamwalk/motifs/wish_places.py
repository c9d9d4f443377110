"""What a wish may name on a top: shapes, blocks, borders and the rest of the setting, patches.

Each word stands for a set of patches.  Of two words for one patch the narrower wins, and how
narrow a word is depends on its kind alone, never on the order in which wishes are written.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from difflib import get_close_matches

from seamwalk.errors import UsageError
from seamwalk.model.block import BlockPlan
from seamwalk.model.sizes import Sizes
from seamwalk.model.top import PatchId
from seamwalk.motifs.area import Area
from seamwalk.motifs.border_rings import BorderRings, Patches, border_rings
from seamwalk.motifs.defaults import ChooseSettings, is_strip

ALL, MIDDLE, SHAPE, FABRIC, REGION, ONE_REGION, CLASS, WITHIN, PATCH = range(9)
"""How narrow a word is, by its kind."""

MOST_CLASSES = 6
"""So many classes of patches are told in a sentence; the others stand in sizes.csv."""

OTHER_WORDS = {
    "everything": "all",
    "everywhere": "all",
    "whole top": "all",
    "top": "all",
    "centre": "middle",
    "center": "middle",
    "corner squares": "border corner",
    "corner square": "border corner",
    "geese": "flying geese",
}
"""What people say as well."""

Named = tuple[str, int, Iterable[PatchId]]


@dataclass(frozen=True, slots=True)
class WishPlace:
    """One word and the patches it stands for.

    Attributes
    ----------
    word : str
        As it is said, in the singular.
    rank : int
        How narrow it is.
    patches : frozenset of PatchId
        Never empty.
    """

    word: str
    rank: int
    patches: Patches


@dataclass(frozen=True, slots=True)
class WishPlaces:
    """The words that mean something on one top.

    Attributes
    ----------
    by_word : mapping
        Each place by its word, hyphens written as blanks.
    rings : BorderRings
        Its borders.
    """

    by_word: Mapping[str, WishPlace]
    rings: BorderRings

    def find(self, said: str) -> WishPlace:
        """Return the place that is called `said`.

        Upper case, quotation marks, hyphens for blanks, a plural s, and ``the`` or ``all the``
        before are forgiven; ``squares in border 1`` is what two places share.

        Raises
        ------
        UsageError
            If the top has no such place.
        """
        text = _plain(said)
        found = self.get(said)
        if found is not None:
            return found
        for one, other in self._pairs(text):
            raise UsageError(
                f"No {one.word} of this top lies in “{other.word}”.",
                f"Write one without the other instead of “{said.strip()}”.",
            )
        close = get_close_matches(text, list(self.by_word), n=1)
        hint = f"Did you mean {close[0]}? " if close else ""
        raise UsageError(f"The top has no “{text}”.", f"{hint}{self.sentence()}")

    def get(self, said: str) -> WishPlace | None:
        """Return the place that is called `said`, None if the top has none."""
        text = _plain(said)
        found = self._word(text)
        if found is not None:
            return found
        for one, other in self._pairs(text):
            both = one.patches & other.patches
            if both:
                rank = PATCH if PATCH in (one.rank, other.rank) else WITHIN
                return WishPlace(f"{one.word} in {other.word}", rank, both)
        return None

    def _pairs(self, text: str) -> Iterator[tuple[WishPlace, WishPlace]]:
        """Yield the two places of ``squares in border 1``; names of blocks may hold “in” too."""
        at = text.find(" in ")
        while at >= 0:
            one, other = self._word(text[:at]), self._word(text[at + 4 :])
            if one is not None and other is not None:
                yield one, other
            at = text.find(" in ", at + 1)

    def _word(self, text: str) -> WishPlace | None:
        for start in ("", "the ", "all the ", "all ", "every ", "each "):
            if not text.startswith(start):
                continue
            rest = text[len(start) :]
            rest = OTHER_WORDS.get(rest, rest)
            names = [rest, rest.removesuffix("s"), rest.removesuffix("es")]
            words = rest.split()
            if words[:1] == ["block"] and len(words) > 1:
                names.append(" ".join([*words[1:], "block"]))
            for name in names:
                if name in self.by_word:
                    return self.by_word[name]
        return None

    def sentence(self) -> str:
        """Return what can be said of this top, in one sentence or two."""
        of: dict[int, list[WishPlace]] = {}
        for place in self.by_word.values():
            of.setdefault(place.rank, []).append(place)
        shapes = [f"{p.word} ({len(p.patches)})" for p in of.get(SHAPE, ())]
        # What has another word already is not told twice.
        twins = {"border 1"} if len(self.rings.rings) == 1 else set()
        twins |= {f"{p.word} block" for p in of.get(ONE_REGION, ())}
        regions = [
            p.word for p in (*of.get(REGION, ()), *of.get(ONE_REGION, ())) if p.word not in twins
        ]
        classes = [p.word for p in of.get(CLASS, ())]
        parts = [f"It has: {', '.join(shapes)}"]
        if regions:
            parts.append(f"and {', '.join(regions)}")
        if 1 < len(classes) <= MOST_CLASSES:
            parts.append(f"and by size {', '.join(classes)}")
        wide = [p.word for p in (*of.get(ALL, ()), *of.get(MIDDLE, ()))]
        first = of[PATCH][0].word if PATCH in of else "patch 0"
        return f"{'; '.join(parts)}; or say {', '.join(wide)}, or one patch like {first}."


def wish_places(
    sizes: Sizes,
    area: Area,
    blocks: BlockPlan | None = None,
    settings: ChooseSettings | None = None,
) -> WishPlaces:
    """Return all words that a wish may use on a top.

    Parameters
    ----------
    sizes : Sizes
        Shapes and classes.
    area : Area
        The top inside its binding line.
    blocks : BlockPlan, optional
        Its blocks and their setting; without it no word for them is known.
    """
    settings = settings or ChooseSettings()
    rings = border_rings(area, blocks, settings)
    found: dict[str, tuple[int, set[PatchId]]] = {}
    for word, rank, patches in (
        *_by_shape(sizes),
        *_by_fabric(area, blocks),
        *_by_border(sizes, area, rings, blocks, settings),
        *(() if blocks is None else _by_block(blocks)),
        *((s.class_name.lower(), CLASS, (s.patch,)) for s in sizes.patches),
        *((f"patch {s.patch}", PATCH, (s.patch,)) for s in sizes.patches),
    ):
        # A word with two meanings keeps the wider: a hexagon is a shape before it is a block.
        have = found.setdefault(word, (rank, set()))
        if have[0] == rank:
            have[1].update(patches)
    by_word = {_plain(w): WishPlace(w, rank, frozenset(p)) for w, (rank, p) in found.items() if p}
    return WishPlaces(by_word, rings)


def _by_shape(sizes: Sizes) -> Iterator[Named]:
    for size in sizes.patches:
        mine = (size.patch,)
        yield "all", ALL, mine
        yield size.shape, SHAPE, mine
        if "triangle" in size.shape:
            yield "triangle", SHAPE, mine


def _by_fabric(area: Area, blocks: BlockPlan | None) -> Iterator[Named]:
    """Yield the fabrics, and the one that covers most of the blocks as their background."""
    patches = area.top.patches
    if len({p.fabric for p in patches}) < 2 or not all(p.fabric for p in patches):
        return
    placed = () if blocks is None else blocks.placements
    inner = {p for q in placed for p in q.patches} or {p.id for p in patches}
    covered: dict[str, float] = {}
    for patch in patches:
        yield f"fabric {patch.fabric.lower()}", FABRIC, (patch.id,)
        if patch.id in inner:
            covered[patch.fabric] = covered.get(patch.fabric, 0.0) + patch.polygon.area
    most = max(sorted(covered), key=lambda f: covered[f])
    yield "background", FABRIC, [p.id for p in patches if p.fabric == most and p.id in inner]


def _by_border(
    sizes: Sizes,
    area: Area,
    rings: BorderRings,
    blocks: BlockPlan | None,
    settings: ChooseSettings,
) -> Iterator[Named]:
    """Yield the borders, all and one by one, and what they enclose."""
    inner: set[PatchId] = set()
    if blocks is not None:
        inner.update(p for q in blocks.placements for p in q.patches if p is not None)
        inner.update(x.patch for x in blocks.leftover if x.role not in ("", "border"))
    # A long strip that no block or sashing has is a border too, if only at one side.
    strips = {
        p
        for p, o in area.outlines.items()
        if p not in inner and o.convex and len(o.sides) == 4 and is_strip(o, area, settings)
    }
    every = rings.strips | strips
    if rings.strips:
        outer = every | rings.corners
        yield "middle", MIDDLE, [s.patch for s in sizes.patches if s.patch not in outer]
    yield "border", REGION, every
    yield "border corner", REGION, rings.corners
    for number, ring in enumerate(rings.rings, start=1):
        yield f"border {number}", ONE_REGION, ring
    if len(rings.rings) > 1:
        yield "inner border", ONE_REGION, rings.rings[0]
        yield "outer border", ONE_REGION, rings.rings[-1]


def _by_block(blocks: BlockPlan) -> Iterator[Named]:
    """Yield the blocks, all and kind by kind, and what lies between them."""
    for placed in blocks.placements:
        mine = [p for p in placed.patches if p is not None]
        yield "block", REGION, mine
        yield f"block {placed.block + 1}", ONE_REGION, mine
        name = blocks.blocks[placed.block].name
        if name:
            yield name.lower(), ONE_REGION, mine
            yield f"{name.lower()} block", ONE_REGION, mine
    for left in blocks.leftover:
        if left.role not in ("", "border"):
            yield left.role, REGION, (left.patch,)


def _plain(said: str) -> str:
    return " ".join(said.strip().strip("\"'“”").lower().replace("-", " ").split())
