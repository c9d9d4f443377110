"""In which order a top is stitched: what the quilter wishes, and what each order comes to."""

from dataclasses import dataclass
from typing import Literal

OrderName = Literal["quickest", "middle", "lines"]


@dataclass(frozen=True, slots=True)
class OrderWish:
    """What order is worth to her.

    Attributes
    ----------
    name : {"quickest", "middle", "lines"}
        ``quickest``: the least time of all.  ``middle``: from the middle outwards, the bulk out
        of the arm, few turns of the quilt, as well as `give_min` allows.  ``lines``: each line
        from edge to edge on a thread of its own, one family of lines after another, always the
        same way; where a top has no lines, one part of it after another.
    give_min : float or None
        Minutes that ``middle`` may take longer than ``quickest``; None allows `give_share`.
    give_share : float
        Share of the quickest route's minutes.
    """

    name: OrderName = "middle"
    give_min: float | None = None
    give_share: float = 0.1


@dataclass(frozen=True, slots=True)
class OrderFigures:
    """What an order comes to.

    Attributes
    ----------
    name : str
        As in `OrderWish`.
    minutes : float
        At the machine, all causes: of the path taken the same as in its `Totals`.
    threads, quilt_turns : int
        How many.
    outwards : float
        1 if all is stitched from the middle outwards, −1 if towards it, about 0 without order:
        rank correlation of time and distance, in each half.
    heavy : float
        Share of the stitching with more under the arm than half of the top, or than the throat
        takes.
    """

    name: OrderName
    minutes: float
    threads: int
    quilt_turns: int
    outwards: float
    heavy: float
