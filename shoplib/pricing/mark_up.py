"""The best mark-up on the making part with the wait taken into account: fewer quotes won, shorter queue, shorter weeks quoted.

Each level is simulated under the luck of doing nothing; a replication is one draw of how customers answer, so the spread of the best
level over replications is what the quotes leave open.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from ..workshop.baseline import Baseline
from ..workshop.outcome import Outcome, outcome
from ..workshop.replicate import simulate
from ..workshop.scenario import Scenario
from .market import Floats

LEVELS = (0.1, 0.2, 0.4)
REPLICATIONS = 32
HORIZON_DAYS = 730
YEARS = 2


@dataclass(frozen=True)
class MarkUps:
    """What mark-ups bring; L levels, the first 0, R replications.

    Attributes
    ----------
    levels : ndarray(float), shape (L,)
        Share added to the making part.
    gain : ndarray(float), shape (R, L)
        Throughput contribution a year more than at level 0, money.
    orders : ndarray(float), shape (R, L)
        Orders delivered a year.
    flow_days : ndarray(float), shape (R, L)
        Mean days from order to delivery of orders taken in the second year; NaN without one.
    """

    levels: Floats
    gain: Floats
    orders: Floats
    flow_days: Floats

    @property
    def best(self) -> float:
        """Level with the largest mean gain."""
        return float(self.levels[int(self.gain.mean(axis=0).argmax())])

    @property
    def best_range(self) -> tuple[float, float]:
        """80 % range of the best level over the draws of how customers answer."""
        low, high = np.quantile(self.levels[self.gain.argmax(axis=1)], (0.1, 0.9), method="inverted_cdf")
        return float(low), float(high)

    def table(self) -> pd.DataFrame:
        """Return mark_up_share, contribution_change, low, high (80 %, a year), orders_a_year, days_in_shop, best_odds."""
        low, high = np.quantile(self.gain, (0.1, 0.9), axis=0)
        winner = self.gain.argmax(axis=1)
        flow = [float(np.nanmean(column)) if np.isfinite(column).any() else np.nan for column in self.flow_days.T]
        return pd.DataFrame({
            "mark_up_share": self.levels, "contribution_change": self.gain.mean(axis=0), "low": low, "high": high,
            "orders_a_year": self.orders.mean(axis=0), "days_in_shop": flow,
            "best_odds": [float(np.mean(winner == k)) for k in range(len(self.levels))],
        })  # fmt: skip


def mark_ups(base: Baseline, levels: tuple[float, ...] = LEVELS, replications: int = REPLICATIONS, threads: int = 2) -> MarkUps:
    """Simulate mark-ups against doing nothing over two years.

    Parameters
    ----------
    base : Baseline
        Doing nothing, of the same seed.
    levels : tuple of float
        Shares added to the making part.
    replications : int
        Replications of each level.
    threads : int
        As in `simulate`.
    """
    plans = [base.nothing]
    for level in levels:
        records = simulate(
            base.workshop, base.state, horizon_days=HORIZON_DAYS, seed=base.seed, replications=replications,
            scenario=Scenario(mark_up=level), threads=threads,
        )  # fmt: skip
        plans.append(outcome(records))
    money, orders, flow = (np.column_stack(part) for part in zip(*(_figures(plan, replications) for plan in plans), strict=True))
    return MarkUps(np.array([0.0, *levels]), money - money[:, :1], orders, flow)


def _figures(plan: Outcome, replications: int) -> tuple[Floats, Floats, Floats]:
    """Return contribution a year (orders in process credited by their share of hours), orders a year, days in the shop."""
    months = 12 * YEARS
    done = plan.contribution[:replications, :months].sum(axis=1)
    credit = plan.credit[:replications, YEARS - 1] if plan.credit.shape[1] >= YEARS else np.zeros(replications)
    flow = plan.flow_days[:replications, 12 : months - 3]
    known = np.isfinite(flow)
    days = np.divide(np.where(known, flow, 0.0).sum(axis=1), known.sum(axis=1), out=np.full(len(flow), np.nan), where=known.any(axis=1))
    return (done + credit) / YEARS, plan.delivered[:replications, :months].sum(axis=1) / YEARS, days
