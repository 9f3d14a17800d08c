"""What work done again costs by delay: the same shop with one cause of rework switched off, under common luck.

A piece that comes back takes hours at the bench that limits from orders that wait there. How much contribution that delays or
loses is told by the simulator: the chance of each stage to send back is cut by the share of its returns that carry the cause.
"""

from __future__ import annotations

import numpy as np

from .arrays import Floats
from .model import State, Workshop
from .replicate import NOTHING, simulate
from .scenario import Scenario

REPLICATIONS = 24
HORIZON_DAYS = 730


def delay_of_causes(workshop: Workshop, state: State, shares: Floats, seed: int, threads: int = 1, cluster: str | None = None) -> Floats:
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
        As in `simulate`.

    Returns
    -------
    ndarray(float), shape (C, R)
        Contribution of orders delivered without the cause less doing nothing, money a year.
    """

    def earned(plan: Scenario) -> Floats:
        run = simulate(
            workshop, state, horizon_days=HORIZON_DAYS, seed=seed, replications=REPLICATIONS, scenario=plan,
            threads=threads, cluster=cluster,
        )  # fmt: skip
        return run.contribution_by(HORIZON_DAYS)

    if not len(shares):
        return np.zeros((0, REPLICATIONS))
    base = earned(NOTHING)
    rows = [earned(without(share)) - base for share in shares]
    return np.array(rows).reshape(len(shares), len(base)) / (HORIZON_DAYS / 365.25)


def without(share: Floats) -> Scenario:
    """Return the plan in which each stage sends back less by `share`, shape (S,)."""
    return Scenario(return_factor=tuple((stage, 1.0 - float(part)) for stage, part in enumerate(share) if part > 0))
