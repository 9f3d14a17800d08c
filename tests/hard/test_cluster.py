"""A worker of a cluster that dies in the middle of a run costs time, not the answer."""

from __future__ import annotations

import os
import signal
import threading
import time

import pytest

from shoplib.workshop.replicate import simulate
from tests.bench.whole import whole_model

REPLICATIONS = 512


def test_a_worker_killed_in_the_middle_costs_time_alone() -> None:
    """Two workers, one killed while it computes: the same bytes as on this machine."""
    distributed = pytest.importorskip("distributed", reason="no Dask: a cluster is not tested")
    workshop, here = whole_model()
    alone = simulate(workshop, here, horizon_days=400, seed=3, replications=REPLICATIONS, threads=2)
    killed: list[float] = []
    with (
        distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster,
        distributed.Client(cluster) as client,
    ):
        watch = threading.Thread(target=lambda: killed.append(kill_one_at_work(client)))
        watch.start()
        together = simulate(workshop, here, horizon_days=400, seed=3, replications=REPLICATIONS, cluster=cluster.scheduler_address)
        ended = time.monotonic()
        watch.join()
    assert killed[0] < ended and together.cards.tobytes() == alone.cards.tobytes() and together.totals.tobytes() == alone.totals.tobytes()


def kill_one_at_work(client: object) -> float:
    """Kill the first worker seen at work; return when."""
    workers: dict[str, int] = client.run(os.getpid)  # type: ignore[attr-defined]
    end = time.monotonic() + 60
    while time.monotonic() < end:
        for address, tasks in client.processing().items():  # type: ignore[attr-defined]
            if tasks:
                os.kill(workers[address], signal.SIGKILL)
                return time.monotonic()
        time.sleep(0.01)
    raise AssertionError("no worker was ever at work")
