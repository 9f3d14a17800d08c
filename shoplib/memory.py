"""Memory on a large shop: what a computation used goes back to the system, and large computations do not meet."""

from __future__ import annotations

import ctypes
import gc
import sys
from pathlib import Path

LARGE_BYTES = 40_000_000
"""Tables of this size (some 300,000 labour rows) take about 1 GB while they are fitted."""
LARGE_PROCESS_BYTES = 700_000_000
"""Below it there is little to give back, and looking for it would cost a small shop time."""


def give_back() -> None:
    """Give memory that nothing uses back to the system, in a process that has grown large.

    After large tables are gone the C library keeps their room for itself, a gigabyte on a shop of a million labour rows, in
    each process of a run. Where it cannot be asked (it is not glibc) nothing happens.
    """
    if sys.platform != "linux":
        return
    import resource

    trim = getattr(ctypes.CDLL(None), "malloc_trim", None)
    if trim is not None and resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024 > LARGE_PROCESS_BYTES:
        gc.collect()
        trim(0)


def is_large(data: Path) -> bool:
    """Tell whether a shop's files are so large that two computations at once would need several gigabytes."""
    files = [file for file in data.iterdir() if file.is_file()] if data.is_dir() else [data]
    return sum(file.stat().st_size for file in files if file.is_file()) > LARGE_BYTES
