"""The connection to a Dask scheduler."""

from __future__ import annotations

import socket
from contextlib import AbstractContextManager, nullcontext
from typing import Any
from urllib.parse import urlsplit


def connection(address: str) -> AbstractContextManager[Any]:
    """Return a connection to the scheduler at `address`: the one this process has open already, else a new one, closed after use."""
    from distributed import Client

    try:
        current = Client.current()
    except ValueError:
        return connect(address)
    return nullcontext(current) if current.scheduler.address == address else connect(address)


def connect(address: str) -> AbstractContextManager[Any]:
    """Return a new connection to the scheduler at `address`.

    What workers hold is fetched from them where this machine reaches them all; through the scheduler, which is Dask's default,
    every answer would travel twice.
    """
    from distributed import Client

    client = Client(address)
    client.direct_to_workers = all(map(_reachable, client.scheduler_info()["workers"]))
    return client  # type: ignore[no-any-return]


def _reachable(address: str) -> bool:
    """Tell whether something answers at ``tcp://host:port`` within a second."""
    place = urlsplit(address)
    try:
        socket.create_connection((place.hostname or "", place.port or 0), timeout=1.0).close()
    except (OSError, ValueError):
        return False
    return True
