"""The simulator's kernel beside the same model in simpy, Ciw and C, by size, on two threads and two workers, and until it is ready."""

from __future__ import annotations

import logging
import math
import os
import subprocess
import sys
import tempfile
from collections.abc import Callable
from multiprocessing import get_context
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

import numpy as np

from shoplib.intake import as_of, load
from shoplib.workshop import fit
from shoplib.workshop.cluster import connect
from shoplib.workshop.kernel import run_network
from shoplib.workshop.model import State, Workshop
from shoplib.workshop.replicate import simulate
from shoplib.workshop.state import state

from . import c_twin, ciw_twin, simpy_twin
from .common import ORDERS, Network, common
from .measure import HOME, Measure, interleaved, median, ratio
from .whole import whole_model

DEMO = HOME / "data_demo"
SEED, RUNS = 7, 64
"""Replications of the kernel at a time; the engines in Python play one."""
SIZES = (100, 1_000, 10_000, 100_000)
HORIZON_DAYS, REPLICATIONS = 1096, 256
Player = Callable[[], None]


def kernel_player(network: Network, orders: int = ORDERS, replications: int = RUNS) -> Player:
    """Return a call that plays the network with the compiled kernel."""
    arrays = network.arrays()
    out = (np.zeros((replications, orders)), np.zeros((replications, orders)), np.zeros((replications, network.stages, 3)),
           np.zeros(replications, np.int64))

    def play() -> None:
        run_network(SEED, 0, **arrays, counted=(0, orders), arrival=out[0], finish=out[1], totals=out[2], events=out[3])

    return play


def over_engines() -> list[Measure]:
    """Replications a second against simpy and Ciw, one core."""
    network = common()
    ours, simpy_times, ciw_times = interleaved(
        [kernel_player(network), lambda: simpy_twin.play(network, ORDERS, SEED, 0), lambda: ciw_twin.play(network, ORDERS, SEED, 0)], 7)
    each = [one / RUNS for one in ours]
    what = f"the common model, {ORDERS} orders a year: time of a replication in {{}} ÷ in the kernel; equal draws, equal paths"
    return [ratio("simulation_over_simpy", simpy_times, each, what.format("simpy")),
            ratio("simulation_over_ciw", ciw_times, each, what.format("Ciw"))]


def over_c() -> list[Measure]:
    """Time against the C twin."""
    if not c_twin.available():
        print("simulation_time_over_c is left out: there is no gcc here to compile the C twin with.", flush=True)
        return []
    with tempfile.TemporaryDirectory() as home:
        network = common()
        play, _ = c_twin.player(c_twin.build(Path(home)), network, ORDERS, RUNS, SEED)
        ours, theirs = interleaved([kernel_player(network), play], 41)
    return [ratio("simulation_time_over_c", ours, theirs, "time of the kernel ÷ its twin in C, gcc " + " ".join(c_twin.TUNED[:2]))]


def exponent() -> list[Measure]:
    """Growth of time from 100 to 100,000 orders a year at the same people and load: the slope of its logarithm."""
    players = [kernel_player(common(orders), orders, max(1, 100_000 // orders)) for orders in SIZES]
    times = interleaved(players, 7)
    each = [[time / max(1, 100_000 // orders) for time in size] for size, orders in zip(times, SIZES, strict=True)]
    slopes = [float(np.polyfit(np.log(SIZES), [math.log(size[i]) for size in each], 1)[0]) for i in range(len(each[0]))]
    return [median("simulation_exponent", slopes, "power", "time of a replication from 100 to 100,000 orders a year, same people and load")]


def full_over_common() -> list[Measure]:
    """The whole model against the common one, a replication of a year of 800 orders each."""
    workshop, here = whole_model()

    def whole() -> None:
        simulate(workshop, here, horizon_days=365, seed=SEED, replications=RUNS)

    ours, theirs = interleaved([whole, kernel_player(common())], 15)
    what = "calendars, absences, promises inside the run, enquiries, returns, holds ÷ the common model, a replication, records included"
    return [ratio("simulation_full_over_common", ours, theirs, what)]


def demo() -> tuple[Workshop, State]:
    """Return the invented workshop, fitted, and where it stands."""
    shop = load(DEMO)
    day = as_of(shop)
    workshop = fit(shop, day)
    return workshop, state(shop, workshop, day)


def baseline(workshop: Workshop, here: State, **how: Any) -> Any:
    """Return the demo's baseline: three years, doing nothing."""
    return simulate(workshop, here, horizon_days=HORIZON_DAYS, seed=SEED, replications=REPLICATIONS, **how)


def _half(line: Connection, workshop: Workshop, here: State) -> None:
    """Play half of the baseline's replications whenever told to, alone in a process."""
    while line.recv():
        simulate(workshop, here, horizon_days=HORIZON_DAYS, seed=SEED, replications=REPLICATIONS // 2)
        line.send(True)


def two() -> list[Measure]:
    """The demo's baseline on two threads and on two Dask workers ÷ two bare processes that play half each."""
    from distributed import LocalCluster

    workshop, here = demo()
    spawn = get_context("spawn")
    lines = [spawn.Pipe() for _ in range(2)]
    halves = [spawn.Process(target=_half, args=(there, workshop, here), daemon=True) for _, there in lines]
    for half in halves:
        half.start()

    def bare() -> None:
        for line, _ in lines:
            line.send(True)
        for line, _ in lines:
            line.recv()

    with LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None, silence_logs=logging.CRITICAL) as cluster, connect(cluster.scheduler_address):
        address = cluster.scheduler_address
        threads, dask, processes = interleaved(
            [lambda: baseline(workshop, here, threads=2), lambda: baseline(workshop, here, cluster=address), bare], 7, warm=2)
        alike = baseline(workshop, here, threads=2).cards.tobytes() == baseline(workshop, here, cluster=address).cards.tobytes()
    for line, _ in lines:
        line.send(False)
    what = "the invented workshop's baseline, 256 replications of three years, on two {} ÷ two bare processes; " + (
        "identical results" if alike else "RESULTS DIFFER")
    return [ratio("simulation_two_threads", threads, processes, what.format("threads")),
            ratio("simulation_two_dask", dask, processes, what.format("Dask workers"))]


READY = """
import time, numpy, pandas, shoplib.workshop
begin = time.perf_counter()
{}
print(time.perf_counter() - begin)
"""
PARTS = {"": ("the whole model", "from tests.bench.whole import play\nplay()"),
         "_common": ("the common model", "from tests.bench.common import play\nplay()")}


def ready() -> list[Measure]:
    """Seconds from importing the kernel until it has played once, in a fresh process: cached, and compiled anew."""
    measures = []
    for suffix, (what, code) in PARTS.items():
        cold, warm = zip(*[_fresh(READY.format(code)) for _ in range(5)], strict=True)
        measures += [median(f"kernel_ready_seconds{suffix}_cached", warm, "s", f"{what}: import and first replication in a fresh process"),
                     median(f"kernel_ready_seconds{suffix}_compiled", cold, "s", f"{what}: the same, compiled anew")]
    return measures


def _fresh(code: str) -> tuple[float, float]:
    """Return what a fresh process prints with an empty cache, then with the cache it left."""
    with tempfile.TemporaryDirectory() as cache:
        environment = {**os.environ, "NUMBA_CACHE_DIR": cache}
        told = [subprocess.run([sys.executable, "-c", code], cwd=HOME, env=environment, check=True, capture_output=True, text=True).stdout
                for _ in range(2)]
    return float(told[0]), float(told[1])


BENCHES = {
    "simulation_over_simpy": over_engines, "simulation_over_ciw": over_engines, "simulation_time_over_c": over_c,
    "simulation_exponent": exponent, "simulation_full_over_common": full_over_common, "simulation_two_threads": two,
    "simulation_two_dask": two, "kernel_ready_seconds": ready,
}
