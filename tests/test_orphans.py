"""Processes end with the one they work for."""

from __future__ import annotations

import os
import subprocess
import sys
import threading

import psutil

from shoplib.orphans import end_with

from .hard.kills import plays

WORKER = "import os, time; from shoplib.orphans import end_with; end_with(os.getppid()); print('watching', flush=True); time.sleep(60)"
MASTER = f"import subprocess, sys, time; print(subprocess.Popen([sys.executable, '-c', {WORKER!r}]).pid, flush=True); time.sleep(60)"
POOL = """
import os, time
from joblib import Parallel, delayed
from shoplib.orphans import end_with
Parallel(n_jobs=2, initializer=end_with, initargs=(os.getpid(),))(delayed(time.sleep)(60) for _ in range(2))
"""


def test_a_worker_ends_when_its_master_is_killed() -> None:
    """Within a few seconds, though it has a minute to go."""
    master = subprocess.Popen([sys.executable, "-c", MASTER], stdout=subprocess.PIPE, text=True)
    assert master.stdout is not None
    worker = psutil.Process(int(master.stdout.readline()))
    assert master.stdout.readline() == "watching\n"
    master.kill()
    master.communicate()
    assert psutil.wait_procs([worker], timeout=10)[1] == []


def test_a_worker_ends_whose_master_is_killed_before_it_has_begun() -> None:
    """Killed as soon as its second worker is there: the first knows what it is to be, but imports still, and has nothing to do yet."""
    master = subprocess.Popen([sys.executable, "-c", POOL], stderr=subprocess.DEVNULL)
    seen: list[psutil.Process] = []
    while sum(map(plays, seen)) < 2:
        assert master.poll() is None
        seen = psutil.Process(master.pid).children(recursive=True)
    master.kill()
    master.communicate()
    assert psutil.wait_procs(seen, timeout=15)[1] == []


def test_a_process_that_works_for_itself_watches_nobody() -> None:
    """No thread is started."""
    before = threading.active_count()
    end_with(os.getpid())
    assert threading.active_count() == before
