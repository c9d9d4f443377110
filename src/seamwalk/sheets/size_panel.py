"""Side panel of the measured picture: the whole top, what to check and to do, the kinds, the key.

Each section is made for a place and a width and says how far down it reaches, so that the
picture can stand them beside it or below it.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from seamwalk.geometry.curve import Curve, Point
from seamwalk.model.sizes import Sizes
from seamwalk.sheets import lettering
from seamwalk.sheets.check_marks import MARKS, disc
from seamwalk.sheets.checks import Check, listed, more_words
from seamwalk.sheets.drawing import Fill, InkLine, Item, Label, Pen, box
from seamwalk.sheets.kinds import Kind
from seamwalk.sheets.palette import BLUE, GREY, INK, PALE, PURPLE, VERMILION, WHITE
from seamwalk.sheets.seam_style import SEAM_STYLE, Sureness, seam_pens
from seamwalk.sheets.size_text import length_text, letters
from seamwalk.sheets.straightness_text import block_lines, headline, reasons
from seamwalk.units import Units, pattern_units

LEADING = 1.5
"""Distance of lines of text, in ems."""
COLUMN = 24.0
"""Width of a column of the panel, ems: some forty letters."""
GAP = 1.3
"""Room between sections, ems."""
_HEAD = 1.2
_INDENT = 1.9
_CHECK_INDENT = 2.4
_CHECKS_TOGETHER = 5


@dataclass(frozen=True, slots=True)
class Section:
    """A part of the panel that has been set.

    Attributes
    ----------
    height : float
        Inches on the drawing.
    """

    items: tuple[Item, ...]
    height: float


Set = Callable[[Point], Section]
"""Sets a section with its upper left corner at a point."""


def class_letters(rows: Sequence[Kind]) -> dict[str, str]:
    """Return the letter of every class: the letter of the row in which it stands."""
    return {name: letters(k) for k, row in enumerate(rows) for name in row.classes}


def sections(
    sizes: Sizes,
    rows: Sequence[Kind],
    marks: frozenset[str],
    units: Units,
    em: float,
    found: Sequence[Check] = (),
) -> list[Set]:
    """Return the sections that this top has, in the order of reading.

    Parameters
    ----------
    marks : frozenset of str
        What is drawn on the picture and needs explaining: ``likely``, ``unsure``, ``check``,
        ``off``, ``cannot tell``, ``block``, ``letter``.
    found : sequence of Check
        All that should be checked, worst first.
    """
    out: list[Set] = [lambda at: _whole_top(sizes, units, at, em)]
    shown = listed(found)
    more = more_words(len(found))
    # In two parts, so that columns can part them.
    for k in range(0, len(shown), _CHECKS_TOGETHER):
        part = shown[k : k + _CHECKS_TOGETHER]
        out.append(_checks_part(part, more if part[-1] is shown[-1] else "", em))
    if sizes.advice:
        out.append(lambda at: _advice(sizes.advice, at, em))
    title = "Patches, finished size"
    if pattern_units(sizes.grain_in, units) == units:
        title += f" ({units})"
    out.append(lambda at: _patches(rows, "letter" in marks, title, at, em))
    out.append(lambda at: _key(marks, at, em))
    return out


def arranged(parts: Sequence[Set], at: Point, columns: int, em: float) -> tuple[list[Item], float]:
    """Return the sections under one another, in columns side by side, and how high they are.

    Sections stay whole and in order; a column is closed when it has its share of the height.
    """
    heights = [part(at).height for part in parts]
    share = (sum(heights) + GAP * em * (len(heights) - columns)) / columns
    items: list[Item] = []
    column, y, lowest = 0, at[1], 0.0
    for part, height in zip(parts, heights, strict=True):
        used = y - at[1]
        if used > 0 and used + 0.5 * height > share and column + 1 < columns:
            column, y = column + 1, at[1]
        section = part((at[0] + column * (COLUMN + 1.5) * em, y))
        items += section.items
        y += height + GAP * em
        lowest = max(lowest, y - GAP * em - at[1])
    return items, lowest


class _Setter:
    """Sets lines one under the other."""

    def __init__(self, at: Point, em: float) -> None:
        self.x, self.y, self.em = at[0], at[1], em
        self.top = at[1]
        self.items: list[Item] = []

    def heading(self, text: str) -> None:
        self.y += 0.9 * self.em
        self._label(text, 0.0, _HEAD, bold=True)
        self.y += 1.1 * self.em

    def text(
        self,
        text: str,
        indent: float = 0.0,
        *,
        bold: bool = False,
        mark: str = "",
        size: float = 1,
    ) -> None:
        """Set a text in as many lines as it needs, `mark` hanging at its left."""
        em = self.em
        room = (COLUMN - indent) * em
        for k, line in enumerate(lettering.wrapped(text, size * em, room, bold)):
            self.y += 0.5 * LEADING * em
            if k == 0 and mark:
                self._label(mark, indent - _INDENT, 1.0, bold=True)
            self._label(line, indent, size, bold=bold)
            self.y += 0.5 * LEADING * em
        self.y += 0.15 * em

    def pair(self, left: str, right: str, column: float) -> None:
        """Set two texts in one line, the second at `column`."""
        self.y += 0.5 * LEADING * self.em
        self._label(left, _INDENT + 0.4, 1.0)
        self._label(right, column, 1.0, bold=True)
        self.y += 0.5 * LEADING * self.em

    def section(self) -> Section:
        return Section(tuple(self.items), self.y - self.top)

    def _label(self, text: str, indent: float, size: float, *, bold: bool = False) -> None:
        at = (self.x + indent * self.em, self.y)
        self.items.append(Label(text, at, size * self.em, bold=bold, anchor="left"))


def _whole_top(sizes: Sizes, units: Units, at: Point, em: float) -> Section:
    s = _Setter(at, em)
    s.heading("The whole top")
    for name, length, line in (
        ("width, middle", sizes.top.width, ((0, 0.5), (1, 0.5))),
        ("height, middle", sizes.top.height, ((0.5, 0), (0.5, 1))),
        ("diagonal", sizes.top.diagonals[0], ((0, 0), (1, 1))),
        ("diagonal", sizes.top.diagonals[1], ((1, 0), (0, 1))),
    ):
        s.items += _icon(s.x, s.y + 0.5 * LEADING * em, line, em)
        s.pair(name, f"{length_text(length, units)} {units}", 11.5)
    if sizes.straightness is not None:
        s.y += 0.4 * em
        mark = {"square": "=", "not square": "!", "cannot tell": "?"}
        sign = mark[sizes.straightness.verdict]
        s.text(headline(sizes), _INDENT, bold=True, mark=sign)
        for reason in reasons(sizes, units):
            s.text(reason, _INDENT)
    if sizes.block is not None:
        s.y += 0.4 * em
        first, *rest = block_lines(sizes.block, units, pattern_units(sizes.grain_in, units))
        s.items += _block_icon(s.x, s.y + 0.5 * LEADING * em, em)
        s.text(f"Block {first}", _INDENT, bold=True)
        for line_text in rest:
            s.text(line_text, _INDENT)
    return s.section()


def _checks_part(part: Sequence[Check], more: str, em: float) -> Set:
    def set_at(at: Point) -> Section:
        s = _Setter(at, em)
        if part[0].number == 1:
            s.heading("Check first, the worst first")
        for check in part:
            s.items += disc((s.x + MARKS.radius * em, s.y + 0.5 * LEADING * em), check.number, em)
            s.text(check.what, _CHECK_INDENT, bold=True)
            where = f"{check.where[:1].upper()}{check.where[1:]}"
            how = f"; {check.sure_words}" if check.sure_words else ""
            s.text(where + how, _CHECK_INDENT)
            s.y += 0.3 * em
        if more:
            s.text(more, _CHECK_INDENT)
        return s.section()

    return set_at


def _advice(advice: Sequence[str], at: Point, em: float) -> Section:
    s = _Setter(at, em)
    s.heading("What to do")
    for k, sentence in enumerate(advice, start=1):
        s.text(sentence, _INDENT, mark=f"{k}.")
        s.y += 0.25 * em
    return s.section()


def _patches(rows: Sequence[Kind], lettered: bool, title: str, at: Point, em: float) -> Section:
    s = _Setter(at, em)
    s.heading(title)
    indent = _INDENT if lettered else 0.3
    for k, row in enumerate(rows):
        size = "sides in sizes.csv" if row.gathered else row.size_or_question
        doubt = _doubt(row)
        room = COLUMN - indent - 0.8 - lettering.width(doubt, 1.0, True)
        lines = [f"{row.count} {row.name}, {size}"]
        if lettering.width(lines[0], 1.0) > room:
            lines = [f"{row.count} {row.name},", *lettering.wrapped(size, 1.0, room)]
        upper, tall = s.y, LEADING * len(lines) * em
        if k % 2 == 0:
            s.items.append(Fill(box(s.x - 0.2 * em, upper, s.x + COLUMN * em, upper + tall), PALE))
        middle = upper + 0.5 * LEADING * em
        right = (s.x + (COLUMN - 0.3) * em, middle)
        if lettered:
            s.items.append(
                Label(letters(k), (s.x + 0.1 * em, middle), em, bold=True, anchor="left")
            )
        if doubt:
            s.items.append(Label(doubt, right, em, bold=True, anchor="right"))
        for n, line in enumerate(lines):
            place = (s.x + indent * em, upper + (n + 0.5) * LEADING * em)
            s.items.append(Label(line, place, em, anchor="left"))
        s.y += tall
    return s.section()


def _doubt(row: Kind) -> str:
    parts = [f"{row.off} off" if row.off else "", f"{row.unsure} ?" if row.unsure else ""]
    return ", ".join(p for p in parts if p)


def _icon(
    x: float, y: float, line: tuple[tuple[float, float], tuple[float, float]], em: float
) -> list[Item]:
    """A small frame with the measured line in it."""
    w, h = 1.5 * em, 1.1 * em
    ends = [(x + u * w, y - h / 2 + v * h) for u, v in line]
    return [
        Fill(box(x, y - h / 2, x + w, y + h / 2), WHITE, Pen(GREY, 0.09 * em)),
        InkLine(Curve.through(ends), Pen(BLUE, 0.18 * em)),
    ]


def _block_icon(x: float, y: float, em: float) -> list[Item]:
    return [Fill(box(x, y - 0.5 * em, x + 1.4 * em, y + 0.5 * em), WHITE, Pen(INK, 0.26 * em))]


_KEY = {
    "sure": f"solid: seam seen, {10 * SEAM_STYLE.sure:g} in 10 sure or more",
    "likely": (
        f"dashed: likely a seam, {10 * SEAM_STYLE.likely:g} to {10 * SEAM_STYLE.sure:g} in 10 sure"
    ),
    "unsure": "dotted: hardly seen, or not seen and suggested by the construction",
    "check": "check here first: see the list",
    "off": "off by more than the tolerance",
    "cannot tell": "size shown, but not sure enough to call it right or off",
    "block": "one block",
    "letter": "no room for a size: see the list",
}


_SURENESS: dict[str, Sureness] = {"sure": "sure", "likely": "likely", "unsure": "unsure"}


def _key(marks: frozenset[str], at: Point, em: float) -> Section:
    """What lines and outlines mean; only what there is."""
    s = _Setter(at, em)
    s.heading("On the picture")
    for mark, text in _KEY.items():
        if mark != "sure" and mark not in marks:
            continue
        s.items += _sample(mark, s.x, s.y + 0.5 * LEADING * em, em)
        s.text(text, 2.6)
    return s.section()


def _sample(mark: str, x: float, y: float, em: float) -> list[Item]:
    w = 0.14 * em
    frame = box(x, y - 0.45 * em, x + 2 * em, y + 0.45 * em)
    if mark == "off":
        hatch = [
            Curve.through([(a, y + 0.45 * em), (a + 0.4 * em, y - 0.45 * em)])
            for a in (x + 0.4 * em * k for k in range(5))
        ]
        pen = Pen(VERMILION, w)
        return [Fill(frame, WHITE, pen), *(InkLine(line, pen) for line in hatch)]
    if mark == "cannot tell":
        return [
            Fill(frame, WHITE, Pen(PURPLE, w, (w, 2.2 * w))),
            Label("3 ?", (x + em, y), 0.8 * em, bold=True),
        ]
    if mark == "block":
        return [Fill(frame, WHITE, Pen(INK, 0.26 * em))]
    if mark == "letter":
        return [Label("A", (x + em, y), em, bold=True)]
    if mark == "check":
        return disc((x + em, y), 1, 0.75 * em)
    ends = Curve.through([(x, y), (x + 2 * em, y)])
    return [InkLine(ends, pen) for pen in seam_pens(_SURENESS[mark], em)]
