"""The network of benches in C: compiled when asked for, called with the same arrays as the kernel."""

from __future__ import annotations

import ctypes
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from .common import Network

SOURCE = Path(__file__).with_name("twin.c")
FLAGS = ("-Ofast", "-march=native", "-shared", "-fPIC")
TUNED = (*FLAGS, "-fno-tree-slp-vectorize")
"""Without vectors in the scan over people, which has just stored one of the numbers it would load eight at a time: a tenth quicker."""
WORDS, NUMBERS = ctypes.c_uint64, ctypes.c_double


def available() -> bool:
    """Return whether gcc is there."""
    return shutil.which("gcc") is not None


def build(folder: Path, flags: tuple[str, ...] = TUNED) -> Any:
    """Compile the source into `folder` and return its function."""
    library = folder / f"twin{len(list(folder.glob('twin*.so')))}.so"
    subprocess.run(["gcc", *flags, "-o", str(library), str(SOURCE), "-lm"], check=True)
    return ctypes.CDLL(str(library)).run_network


def _address(array: Any) -> Any:
    return array.ctypes.data_as(ctypes.c_void_p)


def player(function: Any, network: Network, orders: int, replications: int, seed: int) -> tuple[Callable[[], None], tuple[Any, ...]]:
    """Return a call without arguments that plays all replications, and the arrays it fills: arrival, finish, totals, events."""
    arrays, stages = network.arrays(), network.stages
    out = (np.zeros((replications, orders)), np.zeros((replications, orders)), np.zeros((replications, stages, 3)),
           np.zeros(replications, np.int64))
    given = [_address(arrays[name]) for name in ("mean", "sd", "usual", "usual_word", "onward", "people_of", "stages_of")]
    sizes = [ctypes.c_long(size) for size in (replications, orders, stages, len(network.can))]

    def play() -> None:
        out[2][:] = 0.0
        function(WORDS(seed), WORDS(0), *sizes, NUMBERS(network.gap), *given, ctypes.c_long(0), ctypes.c_long(orders), *map(_address, out))

    return play, out
