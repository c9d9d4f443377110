"""A console for tables and lines that shows every text as it is.

Names of files, warnings and classes come from outside: none is read as markup, and nothing in
them steers the terminal.
"""

from collections.abc import Iterable

from rich.console import Console, ConsoleOptions, RenderableType
from rich.segment import Segment

from seamwalk.terminal import harmless


class PlainConsole(Console):
    """A console without markup, emoji names or control characters in what it is given.

    Parameters
    ----------
    stderr : bool
        Prints on standard error.
    """

    def __init__(self, *, stderr: bool = False) -> None:
        super().__init__(stderr=stderr, markup=False, emoji=False)

    def render(
        self, renderable: RenderableType, options: ConsoleOptions | None = None
    ) -> Iterable[Segment]:
        """Yield the segments of something, none of them steering the terminal but its own."""
        for text, style, control in super().render(renderable, options):
            yield Segment(text if control else harmless(text), style, control)


def shows_unicode(console: Console) -> bool:
    """Say whether a console has more than the characters of one country."""
    return "utf" in console.encoding.lower()
