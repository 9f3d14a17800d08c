"""Runs killed without warning leave whole reports, and the next run is clean. Fifty kills: ``python -m tests.hard kills --times 50``."""

from __future__ import annotations

import subprocess
import time
from pathlib import Path

import psutil

from tests.reports.runs import ROOT, kernels_find_samples, small_shop

from .kills import COMMAND, SAMPLE, begin, broken, contents, end_group, kill_often, plays


def test_three_kills_at_random_moments_cost_nothing(tmp_path: Path, shared_cache: Path) -> None:
    """Earlier reports are whole after each; the run after them gives the bytes of a run alone."""
    with kernels_find_samples(shared_cache):
        assert kill_often(small_shop(tmp_path / "shop"), tmp_path, 3, seed=10) == []


def test_all_that_a_run_has_started_ends_when_the_run_is_gone(tmp_path: Path) -> None:
    """The run alone is killed, as by a system short of memory, while a kernel plays past days in processes of its own."""
    with kernels_find_samples(tmp_path / "cache"):
        run = begin(COMMAND, ROOT / "data_demo", tmp_path / "out", "lead_time", "-q")
    try:
        started = with_players(run)
        run.kill()
        gone, alive = psutil.wait_procs(started, timeout=15)
    finally:
        end_group(run)
    assert gone and alive == []


def with_players(run: subprocess.Popen[bytes]) -> list[psutil.Process]:
    """Wait until a kernel of the run has two processes play past days; return all that the run has started."""
    while run.poll() is None:
        started = psutil.Process(run.pid).children(recursive=True)
        if sum(map(plays, started)) >= 2:
            return started
        time.sleep(0.1)
    raise AssertionError("the run ended before past days were played in processes of their own")


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
