"""Time by stage and peak memory of one photo, measured in a fresh process.

Run as ``python -m seamwalk.benchmark.speed PHOTO`` it prints one JSON document; the benchmark
command starts it so, because a process's peak memory only ever grows.
"""

import compileall
import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import seamwalk


def measure_speed(photo: Path) -> dict[str, Any]:
    """Return ``seconds`` by stage, ``total_s`` and ``peak_mb`` of planning `photo`.

    Raises
    ------
    RuntimeError
        If the run failed.
    """
    # As pip does when it installs: an editable copy may be told never to keep compiled modules.
    compileall.compile_dir(Path(seamwalk.__file__).parent, quiet=2)
    done = subprocess.run(
        [sys.executable, "-m", __name__, str(photo)], capture_output=True, text=True, check=False
    )
    if done.returncode:
        raise RuntimeError(done.stderr.strip())
    document: dict[str, Any] = json.loads(done.stdout)
    return document


def _run(photo: Path) -> dict[str, Any]:
    import resource

    start = time.perf_counter()
    from seamwalk.folder import Folder
    from seamwalk.pipeline import measure_photo, plan_top
    from seamwalk.results import write_measured, write_planned
    from seamwalk.scale import ScaleChoice

    seconds: dict[str, float] = {}
    current: tuple[str, float] = ("importing", start)

    def stage(name: str) -> None:
        nonlocal current
        now = time.perf_counter()
        label, since = current
        seconds[label] = seconds.get(label, 0.0) + now - since
        current = (name, now)

    measured = measure_photo(photo, ScaleChoice(), progress=stage)
    planned = plan_top(measured, progress=stage)
    stage("drawing and writing")
    with tempfile.TemporaryDirectory() as place:
        folder = Folder(Path(place))
        write_measured(folder, measured)
        write_planned(folder, planned)
    stage("")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    peak_mb = peak / 1e6 if sys.platform == "darwin" else peak / 1024
    return {
        "photo": photo.name,
        "megapixels": round(measured.photo.rgb.size / 3e6, 1) if measured.photo else None,
        "patches": len(measured.top.patches),
        "seconds": {name: round(s, 2) for name, s in seconds.items()},
        "total_s": round(time.perf_counter() - start, 2),
        "peak_mb": round(peak_mb),
    }


if __name__ == "__main__":
    sys.stdout.write(json.dumps(_run(Path(sys.argv[1]))))
