"""Results of long runs, kept one a line, so that a run that was stopped goes on where it ended."""

import json
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor, Future, as_completed
from dataclasses import asdict
from pathlib import Path
from typing import Any, TypeVar

Case = TypeVar("Case")
Result = TypeVar("Result")


def gathered(
    wanted: Sequence[Case],
    *,
    pool: Executor,
    submit: Callable[[Case], "Future[Result]"],
    load: Callable[[Mapping[str, Any]], Result],
    case_of: Callable[[Result], Case],
    keep: Path | None,
    say: Callable[[Result, int, int], None],
) -> list[Result]:
    """Return the results of all cases, those kept before among them.

    Parameters
    ----------
    wanted : sequence
        Cases, hashable.
    pool : Executor
        Shut down at once where a case fails: else leaving it would wait for hours of cases that
        nobody asks for any more.
    submit : callable
        Hands one case to the pool.
    load : callable
        Makes a result, a dataclass, of one line.
    case_of : callable
        The case that a result belongs to.
    keep : Path or None
        File of results, one JSON document a line: read first, added to as results come.
    say : callable
        Told each new result, how many there are, and of how many.
    """
    done: dict[Case, Result] = {}
    if keep is not None and keep.is_file():
        for line in keep.read_text(encoding="utf-8").splitlines():
            result = load(json.loads(line))
            done[case_of(result)] = result
    missing = [case for case in wanted if case not in done]
    futures = [submit(case) for case in missing]
    try:
        for count, future in enumerate(as_completed(futures), start=1):
            result = future.result()
            done[case_of(result)] = result
            say(result, count, len(missing))
            if keep is not None:
                with keep.open("a", encoding="utf-8") as file:
                    file.write(json.dumps(asdict(result)) + "\n")  # type: ignore[call-overload]
    except BaseException:
        pool.shutdown(cancel_futures=True)
        raise
    return [done[case] for case in wanted]
