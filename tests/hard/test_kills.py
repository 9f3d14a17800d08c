"""Runs killed without warning leave whole reports, and the next run is clean. Fifty kills: ``python -m tests.hard kills --times 50``."""

from __future__ import annotations

from pathlib import Path

from tests.reports.runs import kernels_find_samples, small_shop

from .kills import SAMPLE, begin, broken, contents, kill_often


def test_three_kills_at_random_moments_cost_nothing(tmp_path: Path, shared_cache: Path) -> None:
    """Earlier reports are whole after each; the run after them gives the bytes of a run alone."""
    with kernels_find_samples(shared_cache):
        assert kill_often(small_shop(tmp_path / "shop"), tmp_path, 3, seed=10) == []


def test_a_report_cut_short_is_noticed() -> None:
    """The check itself can fail."""
    assert broken({"a.html": b"whole"[:3]}, {"a.html": b"whole"}) == ["a.html"]


def test_two_commands_at_once_into_one_folder_leave_whole_reports(tmp_path: Path, shared_cache: Path) -> None:
    """Two processes, not threads of one."""
    shop, out = small_shop(tmp_path / "shop"), tmp_path / "out"
    with kernels_find_samples(shared_cache):
        runs = [begin(SAMPLE, shop, out) for _ in range(2)]
        codes = [(run.communicate(), run.returncode)[1] for run in runs]
        both = contents(out)
        alone = begin(SAMPLE, shop, tmp_path / "alone")
        alone.communicate()
    assert (codes, broken(both, contents(tmp_path / "alone"))) == ([0, 0], [])
