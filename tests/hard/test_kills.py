"""Runs killed without warning leave whole reports, and the next run is clean. Fifty kills: ``python -m tests.hard kills --times 50``."""

from __future__ import annotations

import time
from pathlib import Path

import psutil

from tests.reports.runs import ROOT, kernels_find_samples, small_shop

from .kills import COMMAND, SAMPLE, begin, broken, contents, end_group, kill_often


def test_three_kills_at_random_moments_cost_nothing(tmp_path: Path, shared_cache: Path) -> None:
    """Earlier reports are whole after each; the run after them gives the bytes of a run alone."""
    with kernels_find_samples(shared_cache):
        assert kill_often(small_shop(tmp_path / "shop"), tmp_path, 3, seed=10) == []


def test_kernels_whose_run_is_gone_end_by_themselves(tmp_path: Path, shared_cache: Path) -> None:
    """The run alone is killed, as by a system short of memory, in the midst of a fit; nothing it started lives on."""
    run = begin(COMMAND, ROOT / "data_demo", tmp_path / "out", "hiring", "lead_time", "-q")
    try:
        started = busy_descendants(run.pid)
        run.kill()
        gone, alive = psutil.wait_procs(started, timeout=15)
    finally:
        end_group(run)
    assert gone and alive == []


def busy_descendants(process: int) -> list[psutil.Process]:
    """Wait until two kernels are at work, and return all that the run has started."""
    until = time.monotonic() + 60
    while time.monotonic() < until:
        started = psutil.Process(process).children(recursive=True)
        if sum(sum(one.cpu_times()[:2]) > 3 for one in started) >= 2:
            return started
        time.sleep(0.1)
    raise AssertionError("no kernel came to work within a minute")


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
