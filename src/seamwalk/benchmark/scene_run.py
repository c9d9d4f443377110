"""Many scenes measured side by side, each result kept as soon as it is there."""

import os
import tempfile
from collections.abc import Callable, Iterable, Mapping
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path
from typing import Any, TypeVar

from seamwalk.benchmark.kept_results import gathered
from seamwalk.benchmark.seam_scenes import SeamResult
from seamwalk.benchmark.size_scenes import SizeResult

Result = TypeVar("Result", SizeResult, SeamResult)


def run_scenes(
    seeds: Iterable[int],
    measure: Callable[[int, Path], Result],
    load: Callable[[Mapping[str, Any]], Result],
    *,
    jobs: int,
    keep: Path | None = None,
    progress: Callable[[str], None] = lambda _: None,
) -> list[Result]:
    """Return the results of scenes by their numbers.

    Parameters
    ----------
    seeds : iterable of int
        Numbers of the scenes.
    measure : callable
        Does one scene, given its number and a folder for its photo.
    load : callable
        Makes a result of one line of the file of results.
    jobs : int
        Processes.
    keep : Path or None
        File of results, one JSON document a line: read first, added to as results come.
    """
    # Processes side by side share the cores: more threads each would only get in the way.
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    with (
        tempfile.TemporaryDirectory() as folder,
        ProcessPoolExecutor(jobs, mp_context=get_context("spawn")) as pool,
    ):
        return gathered(
            list(seeds),
            pool=pool,
            submit=lambda seed: pool.submit(measure, seed, Path(folder)),
            load=load,
            case_of=lambda result: result.seed,
            keep=keep,
            say=lambda r, count, of: progress(f"scene {r.seed} ({count} of {of})"),
        )
