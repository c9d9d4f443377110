"""Errors that a person can act on.

Every error says in one sentence what was seen, and in ``advice`` what to do next.  The command
line prints both and exits with the error's ``exit_status``; any other exception is a bug and
keeps its traceback.

::

    SeamwalkError
    ├── UsageError             the command was not understood            (exit 2)
    ├── SettingsError          a settings file was not understood        (exit 2)
    ├── PhotoError             the picture cannot be read or used        (exit 1)
    ├── ReferenceNotFoundError no card or square gives the scale         (exit 1)
    ├── ScaleUncertainError    a reference is there but cannot be trusted (exit 1)
    ├── TopNotFoundError       no pieced top can be made out             (exit 1)
    ├── TopologyError          patches do not form a valid map           (exit 1)
    ├── MotifError             a motif does not fit where it was asked   (exit 2)
    └── FileFormatError        a top.json or plan.json is not valid      (exit 1)

Doubt is not an error: it travels with the results as ±, ``confidence`` or a warning.
"""


class SeamwalkError(Exception):
    """Root of all errors meant for the person at the sewing table.

    Parameters
    ----------
    seen : str
        What was seen, one clear sentence.
    advice : str
        What to do next, one clear sentence.
    """

    exit_status = 1

    def __init__(self, seen: str, advice: str) -> None:
        super().__init__(seen)
        self.seen = seen
        self.advice = advice

    def __str__(self) -> str:
        return f"{self.seen} {self.advice}"


class UsageError(SeamwalkError):
    """An option or value was not understood."""

    exit_status = 2


class SettingsError(SeamwalkError):
    """A settings file is missing, or says something that was not understood."""

    exit_status = 2


class PhotoError(SeamwalkError):
    """The picture cannot be read, or cannot be used as a photo of a top."""


class ReferenceNotFoundError(SeamwalkError):
    """Nothing of known size was found in the picture."""


class ScaleUncertainError(SeamwalkError):
    """A reference was found but does not give a scale that can be trusted."""


class TopNotFoundError(SeamwalkError):
    """No pieced top could be made out in the picture."""


class TopologyError(SeamwalkError):
    """Patches do not tile the top as a valid planar map."""


class MotifError(SeamwalkError):
    """A motif was asked for that is unknown or does not fit there."""

    exit_status = 2


class FileFormatError(SeamwalkError):
    """A file of seamwalk's own is damaged or of another version."""
