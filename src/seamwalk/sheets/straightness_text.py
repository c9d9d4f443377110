"""How square and straight a top is, in the words of someone who holds it."""

import math

from seamwalk.model.sizes import Angle, BlockSize, Length, Sizes, Straightness
from seamwalk.sheets.kinds import said_with_chance
from seamwalk.sheets.size_text import in_pattern, length_text, plus_minus, short_length
from seamwalk.trade import SIZE_TOLERANCE_IN
from seamwalk.units import Units, format_small

EDGES = ("upper edge", "right edge", "lower edge", "left edge")
"""In the order of the nouns."""

_WORTH_SAYING_IN = 0.125
"""Bows and waves below the finest step that sizes are written in are not worth a word, inches."""

_MOST_REASONS = 4
"""More reasons than this are a list to study, not a sentence to read."""


def headline(sizes: Sizes) -> str:
    """Return the verdict in a few words; empty where there is none."""
    s = sizes.straightness
    if s is None:
        return ""
    if s.verdict == "not square":
        bent = [name for name, bow in zip(EDGES, s.bows, strict=True) if _shows(bow)]
        if bent and _square_at_the_corners(s, sizes):
            return f"Square but for its {' and '.join(bent)}"
    return {
        "square": "Square",
        "not square": "Not square",
        "cannot tell": "Can't tell whether it is square",
    }[s.verdict]


def _square_at_the_corners(s: Straightness, sizes: Sizes) -> bool:
    """Tell whether no lean or taper shows, and none that couldn't be eased in is left open."""
    width, height = sizes.top.width.value_in, sizes.top.height.value_in
    return all(
        abs(a.value_deg) <= a.plus_minus_deg
        and over * math.tan(math.radians(_most(a))) <= SIZE_TOLERANCE_IN
        for a, over in ((s.skew, height), (s.taper_across, height), (s.taper_down, width))
    )


def _shows(length: Length) -> bool:
    """Tell whether a bow or wave surely differs from straight by enough to be worth a word."""
    size = abs(length.value_in)
    return size > length.plus_minus_in and size >= _WORTH_SAYING_IN


def reasons(sizes: Sizes, units: Units) -> list[str]:
    """Return what the verdict on the whole top rests on, the weightiest first.

    For a top that is not square, what surely differs from straight; for others how much could be
    hidden in the ±.
    """
    s = sizes.straightness
    if s is None:
        return []
    if s.verdict == "not square":
        return _found(s, sizes, units)[:_MOST_REASONS]
    width, height = sizes.top.width.value_in, sizes.top.height.value_in
    lean = _most(s.skew)
    grow = max((_most(s.taper_across), height), (_most(s.taper_down), width))
    lines = (_over(lean, height, units), _over(*grow, units), _within(_largest(s), units))
    if s.verdict == "square":
        return [
            f"leans by less than {lines[0]}",
            f"tapers by less than {lines[1]}",
            f"edges straight within {lines[2]}",
        ]
    return [
        f"could lean by up to {lines[0]}",
        f"could taper by up to {lines[1]}",
        f"edges could bow or wave by up to {lines[2]}",
    ]


def _found(s: Straightness, sizes: Sizes, units: Units) -> list[str]:
    """Everything that lies outside its ±, sorted by how far."""
    width, height = sizes.top.width.value_in, sizes.top.height.value_in
    found: list[tuple[float, str]] = []

    def angle(a: Angle, over_in: float, words: str) -> None:
        if abs(a.value_deg) > a.plus_minus_deg:
            much = format_small(over_in * math.tan(math.radians(abs(a.value_deg))), units)
            # The ± stands with the angle; the length only says what that comes to.
            text = words.format(much=f"about {much}", angle=_angle(a))
            found.append((abs(a.value_deg) / max(a.plus_minus_deg, 1e-9), text))

    way = "left" if s.skew.value_deg > 0 else "right"
    angle(s.skew, height, f"leans: the lower edge lies {{much}} too far {way} ({{angle}})")
    word = "wider" if s.taper_across.value_deg > 0 else "narrower"
    angle(s.taper_across, height, f"gets {word} downwards: {{much}} over the height ({{angle}})")
    word = "higher" if s.taper_down.value_deg > 0 else "lower"
    angle(s.taper_down, width, f"gets {word} to the right: {{much}} over the width ({{angle}})")
    for name, bow, wave in zip(EDGES, s.bows, s.waves, strict=True):
        told = [(bow, "bows out" if bow.value_in > 0 else "bows in"), (wave, "waves")]
        told = [(length, words) for length, words in told if _shows(length)]
        if told:
            # Of one edge only the larger is told: bow and wave would pass for two faults.
            length, words = max(told, key=lambda one: abs(one[0].value_in))
            size, pm = abs(length.value_in), length.plus_minus_in
            much = format_small(size, units).removesuffix(f" {units}")
            text = f"{name} {words} by {much} ± {plus_minus(pm, units)} {units}"
            found.append((size / max(pm, 1e-9), text))
    return [text for _, text in sorted(found, key=lambda f: -f[0])]


def block_lines(
    block: BlockSize, units: Units, pattern: Units | None = None
) -> tuple[str, str, str]:
    """Return the size of the repeated block, how often it comes, and what was measured.

    Parameters
    ----------
    pattern : {"in", "cm"}, optional
        Units of the pattern, where they are not `units`.
    """

    def words(u: Units) -> str:
        return " × ".join(short_length(v, u) for v in block.finished_in)

    size = in_pattern(words, units, pattern or units)
    # With the pattern's size its units are told already.
    said = f"{size} {units}" if pattern in (None, units) else size
    finished = said_with_chance(said, block.chance)
    if block.name:
        finished = f"{block.name}, {finished}"
    measured = f"{length_text(block.width, units)} × {length_text(block.height, units)}"
    return (
        f"{finished} on point" if block.angle_deg else finished,
        f"{block.columns} across, {block.rows} down",
        f"measured {measured} {units}",
    )


def _angle(a: Angle) -> str:
    return f"{abs(a.value_deg):.1f}° ± {max(1, math.ceil(a.plus_minus_deg * 10 - 1e-9)) / 10:.1f}°"


def _most(a: Angle) -> float:
    """The largest value that the ± still holds, degrees."""
    return abs(a.value_deg) + a.plus_minus_deg


def _largest(s: Straightness) -> float:
    """The largest bow or wave that the ± still holds, inches."""
    return max(abs(v.value_in) + v.plus_minus_in for v in (*s.bows, *s.waves))


def _over(angle_deg: float, length_in: float, units: Units) -> str:
    """What an angle comes to over a length, both rounded up."""
    much = length_in * math.tan(math.radians(angle_deg))
    return f"{_within(much, units)} ({math.ceil(angle_deg * 10 - 1e-9) / 10:.1f}°)"


def _within(value_in: float, units: Units) -> str:
    """A limit, rounded up."""
    return f"{plus_minus(value_in, units)} {units}"
