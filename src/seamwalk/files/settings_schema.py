"""What a settings file may say, field by field.

The same fields read the file, explain it when it is written, and show it.
"""

import re
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationInfo
from pydantic_core import PydanticCustomError

from seamwalk.errors import UsageError
from seamwalk.model.settings import PaperName
from seamwalk.trade import BATTING_GAP_IN
from seamwalk.units import Units, parse_length_between

THROAT_LIMITS = ("3 in", "48 in")
"""Least and largest throat: a toy machine's and a longarm's, with room."""


def _length(
    low: str, high: str, *, mm: bool = False, unit_needed: bool = False
) -> BeforeValidator:
    """Return a reader of lengths in inches between two limits.

    Parameters
    ----------
    mm : bool
        Bare numbers are millimetres, not the file's units.
    unit_needed : bool
        Bare numbers are refused: no unit goes without saying.
    """

    def read(value: object, info: ValidationInfo) -> float:
        units: Units = (info.context or {}).get("units", "in")
        text = _text(value)
        if re.fullmatch(r"[\d\s.,/-]+", text):
            if unit_needed:
                raise PydanticCustomError("length", "“{text}” has no unit", {"text": text})
            text = f"{text}mm" if mm else text
        try:
            return parse_length_between(text, low, high, default=units)
        except UsageError as error:
            raise PydanticCustomError(
                "length", "{seen}", {"seen": error.seen.removesuffix(".")}
            ) from None

    return BeforeValidator(read)


def _text(value: object) -> str:
    """Return a number or text as text; nothing else is a length."""
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise PydanticCustomError("length", "{what} is no length", {"what": _word(value)})
    return str(value).strip()


def _word(value: object) -> str:
    names: dict[type, str] = {bool: "true or false", list: "a list", dict: "a table"}
    return names.get(type(value), "this")


def _number(low: float, high: float) -> BeforeValidator:
    """Return a reader of plain numbers between two limits."""

    def read(value: object) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise PydanticCustomError("number", "{what} is no number", {"what": repr(value)})
        if not low <= value <= high:
            raise PydanticCustomError(
                "number",
                "{value} is not between {low} and {high}",
                {"value": f"{value:g}", "low": f"{low:g}", "high": f"{high:g}"},
            )
        return float(value)

    return BeforeValidator(read)


def _one_of(names: tuple[str, ...]) -> BeforeValidator:
    def read(value: object) -> str:
        text = " ".join(str(value).lower().split())
        if not isinstance(value, str) or text not in names:
            raise PydanticCustomError(
                "choice",
                "“{value}” is none of {names}",
                {"value": str(value), "names": ", ".join(names)},
            )
        return text

    return BeforeValidator(read)


def _wish() -> BeforeValidator:
    """Return a reader of wishes; whether their words mean something only a top can say."""

    def read(value: object) -> str:
        where, _, motif = value.partition("=") if isinstance(value, str) else ("", "", "")
        if not where.strip() or not motif.strip():
            raise PydanticCustomError(
                "choice",
                "“{value}” does not say which motif goes where",
                {"value": str(value)},
            )
        return f"{where.strip()}={motif.strip()}"

    return BeforeValidator(read)


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


def _field(about: str, example: str) -> Any:
    return Field(default=None, description=about, examples=[example])


class BattingTable(_Table):
    """The section [batting]."""

    kind: Annotated[str | None, _one_of(tuple(BATTING_GAP_IN))] = _field(
        "What is between top and backing: " + ", ".join(BATTING_GAP_IN) + ".", '"cotton"'
    )
    package: Annotated[float | None, _length("1/4 in", "24 in")] = _field(
        "Widest gap between stitching that the package allows.", '"4 in"'
    )


class MachineTable(_Table):
    """The section [machine]."""

    throat: Annotated[float | None, _length(*THROAT_LIMITS)] = _field(
        "Needle to tower.", '"8 1/2 in"'
    )
    thickness: Annotated[float | None, _length("0.5 mm", "40 mm", mm=True)] = _field(
        "Thickness of the quilt rolled up tightly; a bare number is millimetres.", '"5 mm"'
    )
    speed: Annotated[float | None, _number(20, 3000)] = _field(
        "Stitches a minute while the needle moves, at your pace.", "400"
    )
    stitch_length: Annotated[float | None, _length("0.5 mm", "8 mm", mm=True)] = _field(
        "Length of a stitch; a bare number is millimetres.", '"2.8 mm"'
    )
    smallest_radius: Annotated[float | None, _length("1/4 in", "12 in")] = _field(
        "Tightest curve that you stitch without lifting the foot: the radius.", '"1 in"'
    )
    bobbin: Annotated[float | None, _length("2 m", "2000 m", unit_needed=True)] = _field(
        "Thread on one bobbin.", '"70 m"'
    )
    quilt_turn: Annotated[float | None, _number(0, 3600)] = _field(
        "Seconds to turn the whole quilt round.", "25"
    )
    buried_end: Annotated[float | None, _number(0, 3600)] = _field(
        "Seconds to bury a thread end inside the top.", "120"
    )
    edge_end: Annotated[float | None, _number(0, 3600)] = _field(
        "Seconds for a thread end at the edge, under the binding.", "15"
    )
    bobbin_change: Annotated[float | None, _number(0, 3600)] = _field(
        "Seconds to change the bobbin.", "90"
    )


class SettingsDocument(_Table):
    """A whole settings file."""

    units: Annotated[str | None, _one_of(("in", "cm"))] = _field(
        "Unit of bare numbers, here and on the command line, and of the results: in or cm.",
        '"in"',
    )
    paper: Annotated[PaperName | None, _one_of(("letter", "a4"))] = _field(
        "Sheets that you print on: letter or a4.", '"letter"'
    )
    binding: Annotated[float | None, _length("1/8 in", "2 in")] = _field(
        "From the raw edge to the binding's seam.", '"1/4 in"'
    )
    circles: Annotated[
        tuple[Annotated[float, _length("1/2 in", "60 in")], ...] | None, Field(strict=False)
    ] = _field(
        "Round things that you own, straight across. Measure round them and divide by 3.1416: "
        "that is surer.",
        '["4 in", "6 1/2 in", "21 cm"]',
    )
    motifs: Annotated[tuple[Annotated[str, _wish()], ...] | None, Field(strict=False)] = _field(
        "What you like where, like border=cable, on every top that has the place; --motif wins.",
        '["border=cable", "sashing=ditch"]',
    )
    batting: BattingTable = BattingTable()
    machine: MachineTable = MachineTable()


def entries() -> dict[str, tuple[str, str]]:
    """Return what every setting is about and an example of it, by its name in the file."""
    out: dict[str, tuple[str, str]] = {}
    tables: tuple[tuple[type[_Table], str], ...] = (
        (SettingsDocument, ""),
        (BattingTable, "batting."),
        (MachineTable, "machine."),
    )
    for model, start in tables:
        for name, info in model.model_fields.items():
            if info.examples:
                out[start + name] = (info.description or "", str(info.examples[0]))
    return out
