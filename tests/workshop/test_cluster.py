"""The connection to a Dask scheduler goes straight to the workers only where all can be reached."""

from __future__ import annotations

import socket

import pytest

from shoplib.workshop.cluster import _reachable, connect


def test_who_answers_is_reachable_and_who_does_not_is_not() -> None:
    """A port that listens, the same once it is closed, and an address without a port."""
    listener = socket.create_server(("127.0.0.1", 0))
    address = f"tcp://127.0.0.1:{listener.getsockname()[1]}"
    there = _reachable(address)
    listener.close()
    assert (there, _reachable(address), _reachable("inproc://one/2")) == (True, False, False)


@pytest.mark.parametrize("answers", [True, False])
def test_answers_come_straight_from_workers_that_can_be_reached(answers: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """And through the scheduler where one cannot; the answer is the same."""
    distributed = pytest.importorskip("distributed", reason="no Dask: its connection is not tested")
    monkeypatch.setattr("shoplib.workshop.cluster._reachable", lambda address: answers)
    with (
        distributed.LocalCluster(n_workers=1, threads_per_worker=1, processes=False, dashboard_address=None, protocol="tcp") as cluster,
        connect(cluster.scheduler_address) as client,
    ):
        assert (client.direct_to_workers, client.submit(sum, [1, 2]).result()) == (answers, 3)
