"""What advice on sizes rests on, and how it says a length."""

from dataclasses import dataclass

from seamwalk.model.sizes import PatchSize, Straightness, TopSize
from seamwalk.model.top import Top
from seamwalk.units import CM_PER_IN, Units, format_inches
from seamwalk.vision.measure_classes import PatchClass
from seamwalk.vision.measure_doubt import Doubt
from seamwalk.vision.measure_finished import FinishedShape
from seamwalk.vision.measure_grain import Grain

Weighted = tuple[float, str]
"""Weight and words of one piece of advice."""


@dataclass(frozen=True, slots=True)
class AdviceSettings:
    """When something is worth saying."""

    most: int = 6
    """More advice than this is not read."""
    named: int = 3
    """Patches that are off and named one by one, at most."""
    unsure_share: float = 0.2
    """Patches that cannot be judged are worth a word from this share on."""
    wide_in: float = 0.25
    """A ± of the whole top above this cannot tell whether a border can be eased, inches."""
    differ_in: float = 0.125
    """Edges and middle differ from this on, inches."""
    wave_in: float = 0.125
    """Edges wave from this on, inches, beyond the ±."""
    maker_in: float = 1 / 32
    """Patches that are all off by this tell of the seam allowance, inches."""
    sure: float = 0.9
    """Classes whose size has this chance tell of it."""
    missed_deg: float = 2.5
    """A top that seems further from square than this has more likely a corner not found: a
    badly crooked one is off by 1°."""


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """What the advice rests on; patches, shapes and classes in the top's order.

    Attributes
    ----------
    others : list of PatchClass
        The same classes on the grain that was not taken; empty where the grain was given.
    """

    top: Top
    shapes: list[FinishedShape]
    patches: tuple[PatchSize, ...]
    classes: list[PatchClass]
    others: list[PatchClass]
    grain: Grain
    whole: TopSize
    straight: Straightness | None
    doubt: Doubt
    units: Units
    tolerance_in: float
    cards: int | None = None


def sentence(parts: list[str]) -> str:
    """Return the parts as the beginning of a sentence."""
    text = ", and ".join(parts)
    return text[:1].upper() + text[1:]


def plain(value_in: float, units: Units) -> str:
    """Return a length to 1/8 in or 0.1 cm, without its unit."""
    return f"{value_in * CM_PER_IN:.1f}" if units == "cm" else format_inches(value_in)
