"""Memory of worker processes that make many large arrays of the same sizes.

By default the C library gives large blocks back to the system as soon as they are free, and the
system hands out fresh pages, cleared one by one, for the next picture.  Keeping them halves a
sketch's time on some machines.
"""

import ctypes
import sys

TRIM_THRESHOLD, TOP_PAD, MMAP_THRESHOLD = -1, -2, -3
"""Names of the options in glibc's malloc.h."""

KEPT_BYTES = 1 << 30
"""Free memory that a process may hold on to; a worker never has that much at once."""

PAD_BYTES = 64 << 20
"""Memory asked of the system at a time: about one sketch."""

LARGEST_BYTES = 32 << 20
"""glibc takes blocks up to this size from memory it keeps (its own upper limit)."""


def keep_freed_memory() -> bool:
    """Make this process keep the memory it frees; return False where that cannot be asked for.

    It is for processes that do one thing over and over, before their first picture.

    References
    ----------
    mallopt(3) in the Linux manual pages.
    """
    if not sys.platform.startswith("linux"):
        return False
    library = ctypes.CDLL(None)
    if not hasattr(library, "mallopt") or not hasattr(library, "gnu_get_libc_version"):
        return False
    options = (
        (MMAP_THRESHOLD, LARGEST_BYTES),
        (TRIM_THRESHOLD, KEPT_BYTES),
        (TOP_PAD, PAD_BYTES),
    )
    return all(library.mallopt(option, value) == 1 for option, value in options)
