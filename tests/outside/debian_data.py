"""Where Debian's package opencv-doc puts its pictures; never part of this repository."""

from pathlib import Path

import pytest

FOLDER = Path("/usr/share/doc/opencv-doc/examples/data")


def needs(*names):
    """Return a mark that skips a test when one of these files is not installed."""
    missing = [n for n in names if not (FOLDER / n).is_file()]
    return pytest.mark.skipif(
        bool(missing), reason="Debian's package opencv-doc is not installed here"
    )
