"""Many scenes measured side by side, each result kept as soon as it is there."""

import json
import os
import tempfile
from collections.abc import Callable, Iterable
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import asdict
from multiprocessing import get_context
from pathlib import Path
from typing import TypeVar

from seamwalk.benchmark.seam_scenes import SeamResult
from seamwalk.benchmark.size_scenes import SizeResult

Result = TypeVar("Result", SizeResult, SeamResult)


def run_scenes(
    seeds: Iterable[int],
    measure: Callable[[int, Path], Result],
    kind: type[Result],
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
    kind : type
        Of the results.
    jobs : int
        Processes.
    keep : Path or None
        File of results, one JSON document a line: read first, added to as results come.
    """
    wanted = list(seeds)
    done: dict[int, Result] = {}
    if keep is not None and keep.is_file():
        for line in keep.read_text(encoding="utf-8").splitlines():
            result = kind.from_json(json.loads(line))
            done[result.seed] = result
    missing = [seed for seed in wanted if seed not in done]
    # Processes side by side share the cores: more threads each would only get in the way.
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    with (
        tempfile.TemporaryDirectory() as folder,
        ProcessPoolExecutor(jobs, mp_context=get_context("spawn")) as pool,
    ):
        futures = [pool.submit(measure, seed, Path(folder)) for seed in missing]
        try:
            for count, future in enumerate(as_completed(futures), start=1):
                result = future.result()
                done[result.seed] = result
                progress(f"scene {result.seed} ({count} of {len(missing)})")
                if keep is not None:
                    with keep.open("a", encoding="utf-8") as file:
                        file.write(json.dumps(asdict(result)) + "\n")
        except BaseException:
            # Else leaving the pool would wait for hours of scenes nobody asks for any more.
            pool.shutdown(cancel_futures=True)
            raise
    return [done[seed] for seed in wanted]
