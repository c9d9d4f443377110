"""The terminal: words in characters that it has, and a clean end where it takes no more."""

import codecs
import io
import json
import os
import sys
from collections.abc import Mapping
from contextlib import suppress

LOOK_ALIKES = {
    "±": "+-",
    "×": "x",
    "−": "-",
    "–": "-",
    "—": "-",
    "…": "...",
    "“": '"',
    "”": '"',
    "″": '"',
    "‘": "'",
    "’": "'",
    "→": "->",
    "≤": "<=",
    "≥": ">=",
    "°": " deg",
    "·": "-",
    "¼": " 1/4",
    "½": " 1/2",
    "¾": " 3/4",
}
"""What is printed instead, where a terminal lacks a character; others become backslash codes.

With a blank before it 12½ stays 12 1/2 and is no 121/2."""

STOPPED = 130
"""Exit status after a Ctrl-C: 128 and the signal's number, as shells have it."""

_STEERING = dict.fromkeys((*range(9), *range(11, 32), *range(127, 160)))
"""The control characters of ISO 646 and ISO 6429, tab and line feed excepted."""

_HANDLER = "seamwalk.look-alikes"


def _look_alike(error: UnicodeError) -> tuple[str, int]:
    """Return plain characters for those that an encoding lacks, as `codecs` asks for them."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    lacking = error.object[error.start : error.end]
    plain = (LOOK_ALIKES.get(c) or c.encode("ascii", "backslashreplace").decode() for c in lacking)
    return "".join(plain), error.end


codecs.register_error(_HANDLER, _look_alike)


class Voice(io.TextIOWrapper):
    """Standard output that has a look-alike for every character and remembers why it failed.

    Attributes
    ----------
    lost : OSError or None
        Why something could not be written.
    """

    lost: OSError | None = None

    def __init__(self, stream: io.TextIOWrapper) -> None:
        super().__init__(
            stream.buffer,
            encoding=stream.encoding,
            errors=_HANDLER,
            line_buffering=stream.line_buffering,
            write_through=stream.write_through,
        )

    def write(self, text: str, /) -> int:
        """Write and remember why that failed, if it did."""
        try:
            return super().write(text)
        except OSError as error:
            self.lost = error
            raise

    def flush(self) -> None:
        """Flush and remember why that failed, if it did."""
        try:
            super().flush()
        except OSError as error:
            self.lost = error
            raise


def prepare() -> None:
    """Let nothing that is printed fail for want of a character."""
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout = Voice(sys.stdout)
    if isinstance(sys.stderr, io.TextIOWrapper):
        sys.stderr.reconfigure(errors=_HANDLER)


def harmless(text: str) -> str:
    """Return text without the characters that steer a terminal."""
    return text.translate(_STEERING)


def say(text: str) -> None:
    """Print a line on standard output."""
    if sys.stdout is not None:
        sys.stdout.write(f"{harmless(text)}\n")
        sys.stdout.flush()


def complain(text: str) -> None:
    """Print a line about what went wrong on standard error; there is no other place to say so."""
    if sys.stderr is not None:
        with suppress(OSError):
            sys.stderr.write(f"seamwalk: {harmless(text)}\n")
            sys.stderr.flush()


def stopped() -> int:
    """Say that a Ctrl-C was heard, and return the exit status for it."""
    complain("stopped; files not finished were not written.")
    return STOPPED


def say_json(document: Mapping[str, object]) -> None:
    """Print a document for programs; what the encoding lacks is escaped as JSON does it."""
    text = json.dumps(document, indent=1, ensure_ascii=False)
    try:
        text.encode(getattr(sys.stdout, "encoding", None) or "utf-8")
    except UnicodeEncodeError:
        text = json.dumps(document, indent=1)
    say(text)


def lost() -> OSError | None:
    """Return why standard output takes no more, None if it does; what is left is dropped then."""
    why = sys.stdout.lost if isinstance(sys.stdout, Voice) else None
    if why is not None:
        # Else it is tried once more when the program ends, with a traceback.
        with suppress(OSError, ValueError):
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, sys.stdout.fileno())
            os.close(nowhere)
    return why


def stopped_by_hand(error: BaseException | None) -> bool:
    """Say whether a Ctrl-C is behind an error.

    One that falls into an import of compiled code comes out as an ImportError.
    """
    seen: list[BaseException] = []
    while error is not None and error not in seen:
        if isinstance(error, KeyboardInterrupt):
            return True
        seen.append(error)
        error = error.__cause__ or error.__context__
    return False
