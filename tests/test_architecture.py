"""Layers, lint and types hold: the same three commands as in DEVELOPERS.md."""

import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]


@pytest.mark.parametrize(
    "command",
    [
        ["ruff", "check", "."],
        ["ruff", "format", "--check", "."],
        ["importlinter"],
        ["mypy"],
    ],
    ids=lambda c: " ".join(c),
)
def test_house_rules_hold(command):
    if command[0] == "mypy" and find_spec("torch") is None:
        # Without the extra [train] the training's types are unknown.
        command = ["mypy", "--exclude", "/seamwalk/training/"]
    if command[0] == "importlinter":
        run = [str(Path(sys.executable).parent / "lint-imports")]
    else:
        run = [sys.executable, "-m", *command]
    done = subprocess.run(run, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout[-3000:] + done.stderr[-1000:]


def test_nothing_heavy_is_imported_before_it_is_needed():
    code = (
        "import sys, seamwalk.cli;"
        "heavy = {'cv2', 'scipy', 'skimage', 'numpy', 'shapely', 'networkx', 'pymatching', 'PIL',"
        " 'reportlab', 'pydantic', 'onnxruntime', 'torch'};"
        "sys.exit(', '.join(sorted(heavy & set(sys.modules))) or 0)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr


def test_files_can_be_read_in_one_sitting():
    long = {
        str(p.relative_to(ROOT)): n
        for p in (ROOT / "src").rglob("*.py")
        if (n := len(p.read_text(encoding="utf-8").splitlines())) > 450
    }
    assert not long
