"""Reading a JSON file that says its schema, with one clear sentence for what is wrong with it."""

import json
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from seamwalk.errors import FileFormatError

_BOUNDS = {
    "greater_than": "above",
    "greater_than_equal": "at least",
    "less_than": "below",
    "less_than_equal": "at most",
}
_KINDS = {
    "int": "is not a whole number",
    "float": "is not a number",
    "finite_number": "is not a number",
    "string": "is not a text",
    "bool": "is not true or false",
    "list": "is not a list",
    "tuple": "is not a list",
    "dict": "is not a group of names and values",
    "model": "is not a group of names and values",
    "too_long": "has too many parts",
    "too_short": "has too few parts",
}
"""What is said of each kind of mistake, by how its name begins."""

Document = TypeVar("Document", bound=BaseModel)


def parsed(text: str) -> Any:
    """Return what JSON text holds.

    Raises
    ------
    ValueError
        If it is no JSON, is nested too deeply, or has half a character (one of a pair of
        surrogates), which no file could be written with; with what is wrong in words.
    """
    try:
        data = json.loads(text)
        if "\\ud" in text or "\\uD" in text:
            json.dumps(data, ensure_ascii=False).encode("utf-8")
    except RecursionError:
        raise ValueError("it is nested too deeply") from None
    except UnicodeEncodeError:
        raise ValueError("it holds half of a character") from None
    except ValueError:
        raise ValueError("it is not complete, or something else") from None
    return data


def read_document(
    path: Path, kind: type[Document], schema: str, *, what: str, cure: str
) -> Document:
    """Return the document in a file.

    Parameters
    ----------
    kind : type
        Of the document.
    schema : str
        That the file must say.
    what : str
        What it should be, with its article: "a plan".
    cure : str
        What to do if it is not.

    Raises
    ------
    FileFormatError
        If the file is missing, says another schema or none, or contradicts itself.
    """
    name = Path(path).name
    try:
        data = parsed(Path(path).read_text(encoding="utf-8-sig"))
    except FileNotFoundError:
        raise FileFormatError(f"There is no file {name}.", "Check the name.") from None
    except (OSError, UnicodeDecodeError):
        raise FileFormatError(f"{name} cannot be read as JSON.", cure) from None
    except ValueError as error:
        raise FileFormatError(f"{name} cannot be read as JSON: {error}.", cure) from None
    if not isinstance(data, dict) or "schema" not in data:
        raise FileFormatError(f"{name} does not say that it is {what}.", cure)
    if data["schema"] != schema:
        raise FileFormatError(
            f"{name} is of the kind “{str(data['schema'])[:60]}”, not “{schema}”.", cure
        )
    try:
        return kind.model_validate(data)
    except ValidationError as problem:
        raise FileFormatError(
            f"{name} is not {what} that I can use: {wrong_in(problem)}.", cure
        ) from None


def wrong_in(problem: ValidationError) -> str:
    """Return in plain words what is wrong first in a document, and where."""
    first = problem.errors(include_url=False)[0]
    kind, context = str(first["type"]), first.get("ctx", {})
    place = ".".join(str(k) for k in first["loc"])
    if kind == "value_error":
        said = str(context["error"])
        return f"in “{place}”, {said}" if place else said
    if kind == "missing":
        words = "is missing"
    elif kind == "literal_error":
        words = f"should be {context['expected']}"
    elif kind in _BOUNDS:
        words = f"is not {_BOUNDS[kind]} {next(iter(context.values()))}"
    else:
        words = next(
            (w for start, w in _KINDS.items() if kind.startswith(start)), "is not understood"
        )
    return f"“{place}” {words}" if place else f"the whole {words}"
