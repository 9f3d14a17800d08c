"""What work done again costs by delay: the same shop with one cause of rework switched off, under common luck.

A piece that comes back takes hours at the bench that limits from orders that wait there. How much contribution that delays or
loses is told by the simulator: the chance of each stage to send back is cut by the share of its returns that carry the cause.
"""

from __future__ import annotations

import numpy as np

from .arrays import Floats
from .model import State, Workshop
from .records import Records
from .replicate import simulate, simulate_each
from .scenario import Scenario

REPLICATIONS = 24
HORIZON_DAYS = 730


def delay_of_causes(
    workshop: Workshop, state: State, shares: Floats, seed: int, threads: int = 1, cluster: str | None = None,
    nothing: Records | None = None,
) -> Floats:  # fmt: skip
    """Return the contribution a year that each cause of rework costs by delay, by replication.

    Parameters
    ----------
    workshop, state : Workshop, State
        The shop and its open orders.
    shares : ndarray(float), shape (C, S)
        Share of what each stage sends back that carries each cause, 0–1.
    seed : int
        Of all runs: common luck.
    threads, cluster
        As in `simulate_each`.
    nothing : Records, optional
        The shop run on unchanged with the same seed, at least REPLICATIONS times over HORIZON_DAYS; left out: run here.

    Returns
    -------
    ndarray(float), shape (C, R)
        Contribution of orders delivered without the cause less doing nothing, money a year.
    """

    if not len(shares):
        return np.zeros((0, REPLICATIONS))
    base = nothing or simulate(
        workshop, state, horizon_days=HORIZON_DAYS, seed=seed, replications=REPLICATIONS, threads=threads, cluster=cluster
    )
    rows = simulate_each(
        workshop, state, [without(share) for share in shares], _earned, horizon_days=HORIZON_DAYS, seed=seed,
        replications=REPLICATIONS, threads=threads, cluster=cluster,
    )  # fmt: skip
    return (np.array(rows) - _earned(base.part(0, REPLICATIONS))) / (HORIZON_DAYS / 365.25)


def _earned(records: Records) -> Floats:
    return records.contribution_by(HORIZON_DAYS)


def without(share: Floats) -> Scenario:
    """Return the plan in which each stage sends back less by `share`, shape (S,)."""
    return Scenario(return_factor=tuple((stage, 1.0 - float(part)) for stage, part in enumerate(share) if part > 0))
