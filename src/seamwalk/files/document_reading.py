"""Reading a JSON file that says its schema, with one clear sentence for what is wrong with it."""

import json
from pathlib import Path
from typing import TypeVar

from pydantic import BaseModel, ValidationError

from seamwalk.errors import FileFormatError

Document = TypeVar("Document", bound=BaseModel)


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
        data = json.loads(Path(path).read_text(encoding="utf-8-sig"))
    except FileNotFoundError:
        raise FileFormatError(f"There is no file {name}.", "Check the name.") from None
    except (OSError, UnicodeDecodeError, json.JSONDecodeError, RecursionError):
        raise FileFormatError(f"{name} cannot be read as JSON.", cure) from None
    if not isinstance(data, dict) or "schema" not in data:
        raise FileFormatError(f"{name} does not say that it is {what}.", cure)
    if data["schema"] != schema:
        raise FileFormatError(
            f"{name} is of the kind “{str(data['schema'])[:60]}”, not “{schema}”.", cure
        )
    try:
        return kind.model_validate(data)
    except ValidationError as problem:
        first = problem.errors(include_url=False, include_context=False)[0]
        place = ".".join(str(k) for k in first["loc"])
        wrong = f"{place}: {first['msg']}" if place else first["msg"]
        valid = what.removeprefix("a ")
        raise FileFormatError(f"{name} is not a valid {valid} ({wrong}).", cure) from None
