"""A training that stands still ends, and says where it stood; common practice, no source."""

import subprocess
import sys

import pytest

from seamwalk.training.watchdog import AFTER_STEPS

PROGRAM = """
import sys, time
from pathlib import Path
from seamwalk.training.watchdog import Watchdog
with Watchdog(Path(sys.argv[1]), 0.5) as dog:
    for number in range(int(sys.argv[2])):
        dog.step(number)
        time.sleep(0.02)
    time.sleep(float(sys.argv[3]))
print("done")
"""


@pytest.mark.parametrize(
    ("steps", "still_s", "ends"),
    [(AFTER_STEPS + 1, 5.0, True), (AFTER_STEPS + 30, 0.0, False), (AFTER_STEPS, 0.8, False)],
)
def test_standing_still_ends_the_process(tmp_path, steps, still_s, ends):
    path = tmp_path / "stuck0.txt"
    command = [sys.executable, "-c", PROGRAM, str(path), str(steps), str(still_s)]
    ran = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert (ran.returncode != 0) == ends, ran.stderr
    assert ("done" in ran.stdout) != ends
    # Where it stood, or nothing: no file is left where all went well.
    assert path.exists() == ends
    if ends:
        assert "line 9" in path.read_text()
