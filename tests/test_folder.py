"""Nothing half-written, nothing of the user's lost."""

import pytest

from seamwalk.errors import UsageError
from seamwalk.folder import KEPT_WITH_A_BEGUN_PLAN, Folder


def test_a_file_that_fails_leaves_nothing(tmp_path):
    def fails(path):
        path.write_text("half")
        raise RuntimeError("broken off")

    with pytest.raises(RuntimeError, match="broken off"):
        Folder(tmp_path).write("top.json", fails)
    assert list(tmp_path.iterdir()) == []


def test_an_edited_top_is_kept(tmp_path):
    folder = Folder(tmp_path / "a" / "b")
    folder.write_text("top.json", "one")
    folder.write_text("top.json", "one")
    assert folder.notes == []
    folder.write_text("top.json", "two")
    folder.write_text("top.json", "three")
    names = sorted(p.name for p in folder.path.iterdir())
    assert names == ["top-1.json", "top-2.json", "top.json"]
    assert (folder.path / "top-1.json").read_text() == "one"
    assert "top-1.json" in folder.notes[0]


def test_pictures_are_simply_replaced(tmp_path):
    folder = Folder(tmp_path)
    folder.write_text("path.svg", "one")
    folder.write_text("path.svg", "two")
    assert [p.name for p in tmp_path.iterdir()] == ["path.svg"]


def test_a_plan_that_is_being_sewn_is_kept_whole_under_one_number(tmp_path):
    for name in ("plan.json", "guide.txt", "plan-1.json"):
        (tmp_path / name).write_text(f"old {name}")
    folder = Folder(tmp_path, KEPT_WITH_A_BEGUN_PLAN)
    for name in ("plan.json", "guide.txt", "path.svg"):
        folder.write_text(name, "new")
    # plan-1.json was there before, so all of this run are number 2.
    assert sorted(p.name for p in tmp_path.iterdir()) == [
        "guide-2.txt",
        "guide.txt",
        "path.svg",
        "plan-1.json",
        "plan-2.json",
        "plan.json",
    ]
    assert (tmp_path / "plan-1.json").read_text() == "old plan-1.json"
    assert (tmp_path / "plan-2.json").read_text() == "old plan.json"
    assert (tmp_path / "guide-2.txt").read_text() == "old guide.txt"


def test_a_file_is_no_folder(tmp_path):
    (tmp_path / "x").write_text("")
    for place in (tmp_path / "x", tmp_path / "x" / "y"):
        with pytest.raises(UsageError, match="not a folder"):
            Folder(place).check()
