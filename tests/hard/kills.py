"""Runs that are killed without warning, and what they leave behind."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path

import psutil

from tests.reports.runs import ROOT

SAMPLE = "import sys; from pathlib import Path; from tests.reports.runs import made; sys.exit(made(Path(sys.argv[1]), Path(sys.argv[2]), 'gallery')[0])"
"""The sample report of the tests: everything a run does, without a fit."""
COMMAND = "import sys; from shoplib.cli import main; main(['run', *sys.argv[3:], '--data', sys.argv[1], '--out', sys.argv[2]])"


def begin(code: str, data: Path, out: Path, *more: str) -> subprocess.Popen[bytes]:
    """Start a run in a process group of its own."""
    return subprocess.Popen(
        [sys.executable, "-c", code, str(data), str(out), *more],
        cwd=ROOT,
        start_new_session=True,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )


def kill_after(run: subprocess.Popen[bytes], seconds: float) -> bool:
    """Kill a run, its kernels left to themselves as when the machine takes it; return whether it was still at work."""
    try:
        run.communicate(timeout=seconds)
        return False
    except subprocess.TimeoutExpired:
        run.kill()
        end_group(run)
        return True


def end_group(run: subprocess.Popen[bytes]) -> None:
    """End the kernels a killed run has left, and wait for it."""
    try:
        os.killpg(run.pid, signal.SIGKILL)
    except ProcessLookupError:
        return
    finally:
        run.communicate()


def plays(process: psutil.Process) -> bool:
    """Tell whether a process is one of joblib's, as those that play past days; one that has just ended is not."""
    try:
        return "LokyProcess" in " ".join(process.cmdline())
    except psutil.NoSuchProcess:
        return False


def contents(out: Path) -> dict[str, bytes]:
    """Return every file an owner sees in the output folder."""
    files = (file for file in out.rglob("*") if file.is_file())
    return {
        file.relative_to(out).as_posix(): file.read_bytes()
        for file in files
        if not any(part.startswith(".") for part in file.relative_to(out).parts)
    }


def broken(now: dict[str, bytes], whole: dict[str, bytes]) -> list[str]:
    """Return the files that are neither missing nor, byte for byte, those of a whole run."""
    return sorted(name for name, content in now.items() if content != whole.get(name))


def kill_often(data: Path, home: Path, times: int, seed: int, code: str = SAMPLE, more: Sequence[str] = ()) -> list[str]:
    """Kill a run at `times` random moments over the folder of an earlier one; return what was wrong afterwards, nothing when all held.

    After each kill every report is whole; after all of them a run gives the bytes of a run alone and leaves nothing hidden.
    """
    out, wrong, luck = home / "out", [], random.Random(seed)
    began = time.monotonic()
    first = begin(code, data, out, *more)
    said = first.communicate()[1]
    usual, whole = time.monotonic() - began, contents(out)
    if first.returncode:
        return [f"the run alone failed: {said.decode()}"]
    for number in range(times):
        moment = luck.uniform(0.0, usual)
        kill_after(begin(code, data, out, *more), moment)
        wrong += [f"kill {number} after {moment:.2f} s: {name} is not whole" for name in broken(contents(out), whole)]
        wrong += [f"kill {number} after {moment:.2f} s: {name} is gone" for name in sorted(set(whole) - set(contents(out)))]
    last = begin(code, data, out, *more)
    said = last.communicate()[1]
    hidden = [file.name for file in out.iterdir() if file.name.startswith(".") and file.name != ".lock"]
    wrong += [f"the next run failed: {said.decode()}"] if last.returncode else []
    wrong += [f"left behind: {name}" for name in hidden] + [
        f"not the bytes of a run alone: {name}" for name in broken(contents(out), whole)
    ]
    return wrong
