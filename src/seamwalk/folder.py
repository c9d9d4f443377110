"""One run, one folder: what is written where, never half, never over someone's work.

Every file is made under a temporary name beside its place and renamed when it is whole.  A
``top.json`` or ``plan.json`` already there may hold someone's corrections: when it differs from
the new one it is kept under a number (``top-1.json``), and the caller is told.  What an earlier
run wrote and this one doesn't write is cleared away, so that files that lie together belong
together.
"""

import os
import tempfile
from collections.abc import Callable
from pathlib import Path

from seamwalk.errors import UsageError

KEPT = ("top.json", "plan.json")
"""Files that people edit by hand or by other programs."""

KEPT_WITH_A_BEGUN_PLAN = (
    *KEPT,
    "guide.txt",
    "overlay.jpg",
    "path.svg",
    "circles.png",
    "density.png",
    "sizes.csv",
    "measured.png",
)
"""A plan that is being sewn is kept whole: what hangs beside the machine stays readable."""


class Folder:
    """A folder that results are written to.

    Parameters
    ----------
    path : Path
        Made when the first file is written.
    kept : tuple of str
        Files that are put aside under a number, never replaced by others; those put aside in
        one run share the number where they can.

    Attributes
    ----------
    changed : set of str
        Those of `kept` that this run wrote and that were not there, or were different.

    Raises
    ------
    UsageError
        If the path is a file or cannot be written to.
    """

    def __init__(self, path: Path, kept: tuple[str, ...] = KEPT) -> None:
        self.path = path
        self.kept = kept
        self._number = 0
        self.written: list[Path] = []
        self.notes: list[str] = []
        self.changed: set[str] = set()

    def check(self) -> None:
        """Fail early, before any work, if the folder cannot be used."""
        existing = self.path
        while not existing.exists() and existing != existing.parent:
            existing = existing.parent
        if not existing.is_dir():
            raise UsageError(f"{existing} is a file, not a folder.", "Give --out another name.")
        if not os.access(existing, os.W_OK):
            raise UsageError(f"I may not write to {existing}.", "Give --out another folder.")

    def write(self, name: str, make: Callable[[Path], object]) -> Path:
        """Write file `name` by calling `make` with a temporary path of the same ending."""
        target = self.path / name
        try:
            self.path.mkdir(parents=True, exist_ok=True)
            handle, temporary = tempfile.mkstemp(suffix=target.suffix, prefix=".", dir=self.path)
        except OSError as error:
            raise UsageError(
                f"I can't write to {self.path} ({error.strerror}).", "Give --out another folder."
            ) from error
        os.close(handle)
        made = Path(temporary)
        try:
            make(made)
            made.chmod(0o666 & ~_umask())
            there = target.exists()
            if name in self.kept and not (there and target.read_bytes() == made.read_bytes()):
                self.changed.add(name)
                if there:
                    self._keep(target, "was different")
            made.replace(target)
        except OSError as error:
            raise UsageError(
                f"I can't write {target} ({error.strerror or error}).",
                "Free some space or give --out another folder.",
            ) from error
        finally:
            made.unlink(missing_ok=True)
        self.written.append(target)
        return target

    def write_text(self, name: str, text: str) -> Path:
        """Write a UTF-8 text file."""
        return self.write(name, lambda path: path.write_text(text, encoding="utf-8", newline=""))

    def clear(self, *names: str) -> None:
        """Take away what an earlier run wrote and this one doesn't: it would mislead.

        What may hold someone's work is put aside under a number, the rest is removed.
        """
        for name in names:
            target = self.path / name
            if not target.is_file():
                continue
            try:
                if name in self.kept:
                    self._keep(target, "does not belong to this run")
                else:
                    target.unlink()
            except OSError as error:
                raise UsageError(
                    f"I can't take away {target} ({error.strerror or error}).",
                    "It belongs to an earlier run: give --out another folder.",
                ) from error

    def _keep(self, target: Path, why: str) -> None:
        if not self._number or _numbered(target, self._number).exists():
            self._number = 1
            while any(_numbered(self.path / name, self._number).exists() for name in self.kept):
                self._number += 1
        kept = _numbered(target, self._number)
        target.rename(kept)
        self.notes.append(f"The earlier {target.name} {why}: it is kept as {kept.name}.")


def _numbered(path: Path, number: int) -> Path:
    return path.with_stem(f"{path.stem}-{number}")


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
