"""What one more server brings, against the Erlang C formula: M/M/c to M/M/c + 1."""

import numpy as np

from tests.published.test_queueing import Queue, erlang_c


def waits(servers: int, arrivals: float) -> tuple[float, np.ndarray]:
    """Return the mean wait by the formula C ÷ (c − a), service 1 (Erlang 1917), and that of the simulator by replication."""
    return erlang_c(servers, arrivals) / (servers - arrivals), Queue(arrivals, 1.0, servers, orders=6_000, warm=1_000).wait


def test_a_third_server_shortens_the_wait_as_the_formula_says():
    """Load 1.7 on two servers and on three: the difference within four standard errors."""
    (two, slow), (three, fast) = waits(2, 1.7), waits(3, 1.7)
    gained = slow - fast
    assert abs(gained.mean() - (two - three)) <= 4 * gained.std(ddof=1) / len(gained) ** 0.5
