"""What a benchmark measures and how: interleaved runs, medians, and the spread beside them.

To add a benchmark: write a module here with a dictionary `BENCHES` from each name it measures to the function that
measures it; the function returns its measures. `python -m tests.bench` finds the module by itself.
"""

from __future__ import annotations

import gc
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

HOME = Path(__file__).resolve().parents[2]


@dataclass(frozen=True)
class Measure:
    """One figure: its name, value, unit, the lowest and highest seen, and what it is."""

    name: str
    value: float
    unit: str
    low: float
    high: float
    what: str

    def line(self) -> str:
        """Return the figure as a line of text."""
        return f"{self.name:<44} {self.value:>10.4g} {self.unit:<10} ({self.low:.4g} to {self.high:.4g})  {self.what}"

    def plain(self) -> dict[str, str | float]:
        """Return the figure as the JSON file holds it."""
        return asdict(self)


def seconds(action: Callable[[], object]) -> float:
    """Return how long `action` takes once."""
    gc.collect()
    begin = time.perf_counter()
    action()
    return time.perf_counter() - begin


def interleaved(actions: Sequence[Callable[[], object]], rounds: int, warm: int = 1) -> list[list[float]]:
    """Return the times of each of `actions`, run in turn `rounds` times after `warm` rounds that do not count."""
    for _ in range(warm):
        for action in actions:
            action()
    times: list[list[float]] = [[] for _ in actions]
    for _ in range(rounds):
        for taken, action in zip(times, actions, strict=True):
            taken.append(seconds(action))
    return times


def ratio(name: str, ours: Sequence[float], theirs: Sequence[float], what: str) -> Measure:
    """Return the median of `ours` over the median of `theirs`, with the range of the rounds' own ratios."""
    each = [one / other for one, other in zip(ours, theirs, strict=True)]
    return Measure(name, statistics.median(ours) / statistics.median(theirs), "times", min(each), max(each), what)


def median(name: str, values: Sequence[float], unit: str, what: str) -> Measure:
    """Return the median of `values` with their range."""
    return Measure(name, statistics.median(values), unit, min(values), max(values), what)


def peak_mb(code: str, argument: str) -> float:
    """Return the peak resident memory, in MB, of a fresh process that runs `code` with one argument (Linux).

    Taken from the process's own high-water mark: what getrusage tells begins with that of the process that started it.
    """
    script = code + "\nprint(next(line.split()[1] for line in open('/proc/self/status') if line.startswith('VmHWM')))"
    done = subprocess.run([sys.executable, "-c", script, argument], cwd=HOME, capture_output=True, text=True, check=True)
    return int(done.stdout.split()[-1]) / 1024
