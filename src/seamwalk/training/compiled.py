"""What torch compiled, kept in a file: on a fresh machine the next run need not wait for it.

The file holds programs. Read only what you wrote yourself: a forged one runs what its writer
wants.
"""

import gzip
import os
from pathlib import Path

import torch


def _of_card(path: Path, card: int) -> Path:
    """Return the file of one card: programs are told apart by the card's number."""
    return path if card == 0 else path.with_name(f"{path.stem}-{card}{path.suffix}")


def bring(path: Path, card: int) -> bool:
    """Give torch what was compiled before; say whether there was anything.

    What other versions of torch, other code or another kind of card made is left aside by torch.

    Parameters
    ----------
    path : Path
        As `keep` got it; there may be no such file yet.
    card : int
        From 0.
    """
    file = _of_card(path, card)
    if not file.exists():
        return False
    return torch.compiler.load_cache_artifacts(gzip.decompress(file.read_bytes())) is not None


def keep(path: Path, card: int) -> int:
    """Write what this process has compiled or was given, and return how many bytes that takes.

    Parameters
    ----------
    path : Path
        The file is replaced whole, or not at all; its folder is made if needed.
    card : int
        From 0.
    """
    made = torch.compiler.save_cache_artifacts()
    if made is None:
        return 0
    # Listings of programs shrink to a fifth.
    content = gzip.compress(made[0], 6)
    file = _of_card(path, card)
    file.parent.mkdir(parents=True, exist_ok=True)
    # Trainings beside each other may have one file: none may take the other's half.
    part = file.with_suffix(f"{file.suffix}.{os.getpid()}.part")
    part.write_bytes(content)
    part.replace(file)
    return len(content)
