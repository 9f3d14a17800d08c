"""The output folder: what lies there is whole, whenever a run is killed."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from shoplib.errors import OutputError
from shoplib.reports.place import ALIVE, MAKING, READY, put, tidy, workspace, write


def made_in(scratch: Path, **files: str) -> Path:
    folder = scratch / "report"
    for name, text in files.items():
        (folder / "day").mkdir(parents=True, exist_ok=True)
        (folder / "day" / name).write_text(text)
    return folder


def test_a_whole_report_is_moved_to_its_place(tmp_path: Path) -> None:
    """Over an earlier one."""
    (tmp_path / "day").mkdir()
    (tmp_path / "day" / "a").write_text("old")
    with workspace(tmp_path) as scratch:
        put(made_in(scratch, a="new", b="new"), tmp_path)
    assert [(tmp_path / "day" / name).read_text() for name in "ab"] == ["new", "new"]


def test_a_run_leaves_no_folder_of_its_own(tmp_path: Path) -> None:
    """Also when it fails."""
    with pytest.raises(ZeroDivisionError), workspace(tmp_path) as scratch:
        made_in(scratch, a="half")
        raise ZeroDivisionError
    assert not list(tmp_path.glob(".m*"))


def test_a_report_that_was_not_whole_is_never_seen(tmp_path: Path) -> None:
    """The earlier one stays."""
    (tmp_path / "day").mkdir()
    (tmp_path / "day" / "a").write_text("old")
    with pytest.raises(ZeroDivisionError), workspace(tmp_path) as scratch:
        made_in(scratch, a="half")
        raise ZeroDivisionError
    assert (tmp_path / "day" / "a").read_text() == "old"


def test_the_next_run_removes_what_a_killed_one_had_not_finished(tmp_path: Path) -> None:
    """Its lock went with it."""
    (tmp_path / f"{MAKING}dead").mkdir()
    (tmp_path / f"{MAKING}dead" / ALIVE).write_text("")
    tidy(tmp_path)
    assert not (tmp_path / f"{MAKING}dead").exists()


def test_the_next_run_finishes_the_moves_of_a_killed_one(tmp_path: Path) -> None:
    """Of two files one had been moved; both are new then."""
    made_in(tmp_path / f"{READY}dead", b="new").rename(tmp_path / f"{READY}dead-report")
    (tmp_path / "day").mkdir()
    (tmp_path / "day" / "a").write_text("new")
    (tmp_path / "day" / "b").write_text("old")
    with workspace(tmp_path):
        pass
    assert ((tmp_path / "day" / "b").read_text(), list(tmp_path.glob(f"{READY}*-*"))) == ("new", [])


def test_a_run_that_lives_is_left_alone(tmp_path: Path) -> None:
    """Its folder is locked."""
    with workspace(tmp_path) as scratch, workspace(tmp_path):
        assert scratch.is_dir()


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may write everywhere")
def test_a_folder_that_cannot_be_written_is_an_output_error(tmp_path: Path) -> None:
    """What, where, what to do."""
    tmp_path.chmod(0o500)
    with pytest.raises(OutputError, match="--out"), workspace(tmp_path / "out"):
        pass


def test_a_file_is_written_aside_and_renamed(tmp_path: Path) -> None:
    """Nothing is left beside it, and whoever may read the folder may read it."""
    write(tmp_path / "x" / "a", "text")
    assert ([file.name for file in (tmp_path / "x").iterdir()], (tmp_path / "x" / "a").stat().st_mode & 0o777) == (["a"], 0o644)
