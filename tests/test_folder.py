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


def test_what_this_run_does_not_write_is_cleared_away(tmp_path):
    for name in ("density.png", "plan.json"):
        (tmp_path / name).write_text(f"old {name}")
    folder = Folder(tmp_path)
    folder.clear("density.png", "plan.json", "never-there.png")
    # A picture can be drawn again; a plan may hold her corrections.
    assert [p.name for p in tmp_path.iterdir()] == ["plan-1.json"]
    assert "plan-1.json" in folder.notes[0]
    assert len(folder.notes) == 1


def test_what_is_cleared_shares_the_number_of_what_is_replaced(tmp_path):
    for name in ("plan.json", "density.png"):
        (tmp_path / name).write_text(f"old {name}")
    folder = Folder(tmp_path, KEPT_WITH_A_BEGUN_PLAN)
    folder.write_text("plan.json", "new")
    folder.clear("density.png")
    assert sorted(p.name for p in tmp_path.iterdir()) == [
        "density-1.png",
        "plan-1.json",
        "plan.json",
    ]


def test_a_folder_knows_what_it_changed(tmp_path):
    (tmp_path / "top.json").write_text("one")
    same, other, new = Folder(tmp_path), Folder(tmp_path), Folder(tmp_path / "new")
    same.write_text("top.json", "one")
    other.write_text("top.json", "two")
    new.write_text("top.json", "two")
    assert [f.changed for f in (same, other, new)] == [set(), {"top.json"}, {"top.json"}]


def test_a_file_is_no_folder(tmp_path):
    (tmp_path / "x").write_text("")
    for place in (tmp_path / "x", tmp_path / "x" / "y"):
        with pytest.raises(UsageError, match="not a folder"):
            Folder(place).check()
