"""The printed reference card: a square that a camera can find and measure.

The card's figure is a square of 12 × 12 cells::

    ############     outer ring: the dark frame, one cell wide; its outer side is THE size
    #..........#     a white ring, one cell wide
    #.########.#     an AprilTag 36h11 marker, 8 × 8 cells, its own black border included
    #.#......#.#
    …

White paper at least one cell wide lies round the frame.  The frame's band has two edges of known
distance, so the line half way between them does not move when the picture is blurred.

References
----------
Olson, AprilTag: A robust and flexible visual fiducial system, ICRA 2011; Wang and Olson, AprilTag
2, IROS 2016 (family 36h11).  Codes 0 to 3 of the family are written out below; a test compares
them with OpenCV's own dictionary.
"""

from dataclasses import dataclass

from seamwalk.units import MM_PER_IN

CELLS = 12
"""Cells along one side of the figure."""

MARKER_AT = 2
"""The marker's first cell, from the left and from the top."""

IDS = (0, 1, 2, 3)
"""Numbers a card can have: up to four cards in one photo."""

DEFAULT_SIDE_IN = 6.0
"""Outer side of the dark frame as printed, inches: the largest whole number of inches that
leaves a white margin of one cell and room for the text on both letter and A4."""

PAPER_IN = {"letter": (8.5, 11.0), "a4": (210 / MM_PER_IN, 297 / MM_PER_IN)}
"""Width and height of the papers that cards are made for, with the figure in the middle: ANSI/ASME
Y14.1 size A, ISO 216 A4."""

_MARKERS: dict[int, tuple[str, ...]] = {
    0: (
        "########",
        "###.####",
        "##..#.##",
        "####.#.#",
        "####..##",
        "#.#...##",
        "#.#.#..#",
        "########",
    ),
    1: (
        "########",
        "#.##.###",
        "#.#..#.#",
        "####..##",
        "###....#",
        "#...#.##",
        "##..#..#",
        "########",
    ),
    2: (
        "########",
        "##...###",
        "###.####",
        "#.##.###",
        "######.#",
        "##.##.##",
        "#...#..#",
        "########",
    ),
    3: (
        "########",
        "####..##",
        "##.##..#",
        "#.##.#.#",
        "#...##.#",
        "#...####",
        "#.##...#",
        "########",
    ),
}


@dataclass(frozen=True, slots=True)
class CardFigure:
    """Dark cells of one card.

    Attributes
    ----------
    dark : tuple of tuple of bool
        [row][column], 12 × 12, True where ink is.
    side_in : float
        Outer side of the frame, inches.
    """

    id: int
    dark: tuple[tuple[bool, ...], ...]
    side_in: float

    @property
    def cell_in(self) -> float:
        """Side of one cell, inches: also the width of the dark band."""
        return self.side_in / CELLS


def figure(card_id: int, side_in: float = DEFAULT_SIDE_IN) -> CardFigure:
    """Return the dark and light cells of card `card_id` (0 to 3) with the frame's outer side.

    Raises
    ------
    ValueError
        If there is no such card or the side is not above zero.
    """
    if card_id not in _MARKERS:
        raise ValueError(f"card ids are {IDS}, not {card_id}")
    if side_in <= 0:
        raise ValueError("a card needs a side above zero")
    marker = _MARKERS[card_id]
    last = CELLS - 1

    def dark(row: int, col: int) -> bool:
        if row in (0, last) or col in (0, last):
            return True
        r, c = row - MARKER_AT, col - MARKER_AT
        inside = 0 <= r < len(marker) and 0 <= c < len(marker)
        return inside and marker[r][c] == "#"

    cells = tuple(tuple(dark(r, c) for c in range(CELLS)) for r in range(CELLS))
    return CardFigure(card_id, cells, side_in)
