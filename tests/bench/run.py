"""How time and memory of a whole run grow from 1,000 to 100,000 orders: the invented workshop, nine people, same months and load.

The largest takes some fifteen minutes of a processor, and a minute more to invent.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import psutil

from shoplib.demo import write_demo

from .measure import HOME, Measure

SIZES = (1_000, 10_000, 100_000)
LOOK_SECONDS = 0.25
CODE = "import sys; from shoplib.cli import main; main(['run', '-q', '--data', sys.argv[1], '--out', sys.argv[2]])"
TOTAL = "import json, resource, subprocess, sys; subprocess.run(sys.argv[1:], check=True); u = resource.getrusage(resource.RUSAGE_CHILDREN); print(u.ru_utime + u.ru_stime)"


def run_whole() -> list[Measure]:
    """Run every report at each size, once, the cache empty; processor seconds, for two threads share them."""
    seconds, peaks = [], []
    with tempfile.TemporaryDirectory() as name:
        for size in SIZES:
            write_demo(Path(name) / f"shop{size}", size)
            taken, peak = _run(Path(name) / f"shop{size}", Path(name) / f"of{size}")
            seconds.append(taken)
            peaks.append(peak)
    slope = float(np.polyfit(np.log(SIZES), np.log(seconds), 1)[0])
    last = float(np.log(seconds[2] / seconds[1]) / np.log(SIZES[2] / SIZES[1]))
    return [
        Measure("run_exponent", slope, "", slope, slope, "growth of a whole run's processor time from 1,000 to 100,000 orders, log on log"),
        Measure("run_exponent_last_decade", last, "", last, last, "the same from 10,000 to 100,000 orders only"),
        *(
            Measure(f"run_processor_seconds_{size}", taken, "s", taken, taken, f"seven reports of {size:,} orders")
            for size, taken in zip(SIZES, seconds, strict=True)
        ),
        *(
            Measure(f"run_peak_mb_{size}", peak, "MB", peak, peak, f"most memory of all processes of a run of {size:,} orders together")
            for size, peak in zip(SIZES, peaks, strict=True)
        ),
        Measure(
            "run_peak_mb", max(peaks), "MB", min(peaks), max(peaks), "most memory of all processes of a run together (shared pages once)"
        ),
    ]


def _run(shop: Path, home: Path) -> tuple[float, float]:
    """Return processor seconds and peak memory in MB of a run and all it starts."""
    home.mkdir()
    command = [sys.executable, "-c", TOTAL, sys.executable, "-c", CODE, str(shop), str(home / "out")]
    run = subprocess.Popen(command, cwd=HOME, stdout=subprocess.PIPE, text=True, env={**os.environ, "SHOPLIB_CACHE": str(home / "cache")})
    peak = 0.0
    while run.poll() is None:
        peak = max(peak, _memory_mb(run.pid))
        time.sleep(LOOK_SECONDS)
    said = run.communicate()[0]
    if run.returncode:
        raise RuntimeError(f"the run of {shop.name} failed")
    return float(said.split()[-1]), peak


def _memory_mb(process: int) -> float:
    """Return the memory of a process and its descendants, pages they share counted once."""
    try:
        family = [psutil.Process(process), *psutil.Process(process).children(recursive=True)]
    except psutil.NoSuchProcess:
        return 0.0
    total = 0
    for one in family:
        try:
            total += one.memory_full_info().pss
        except psutil.Error:
            continue
    return total / 1e6


BENCHES = {"run_exponent": run_whole, "run_processor_seconds": run_whole, "run_peak_mb": run_whole}
