"""What a plan brings against doing nothing: orders, cash by month, present value, payback, odds; all under common luck."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..workshop.outcome import Outcome
from .candidates import Candidate
from .money import cumulative, npv, payback_month

Floats = NDArray[np.float64]
LOW, HIGH = 0.1, 0.9


@dataclass(frozen=True)
class Terms:
    """What turns orders into money.

    Attributes
    ----------
    horizon_months : int
        Months judged, at most those of the runs.
    capital_rate : float
        Cost of capital a year, 0–1.
    metal_per_g : float
        What a gross gram in process ties up, money.
    spoiled_per_g : float
        What a spoiled gross gram loses for good, money.
    spoilage_share : float
        Share of a starter's grams spoiled while learning.
    hours_per_g : dict of str to float
        Hours a gross gram asks of a skill.
    """

    horizon_months: int
    capital_rate: float
    metal_per_g: float
    spoiled_per_g: float
    spoilage_share: float
    hours_per_g: dict[str, float]


@dataclass(frozen=True)
class Judged:
    """A plan judged over a horizon; R replications.

    Attributes
    ----------
    candidate : Candidate
        The plan.
    flows : ndarray(float), shape (R, months + 1)
        Cash against doing nothing; month 0 is the decision.
    value : ndarray(float), shape (R,)
        Net present value, the credit for orders in process at the horizon included.
    orders_gain : ndarray(float), shape (R,)
        Orders a year more from the start of the plan.
    backlog_orders : float
        Mean orders a year of the gain that are open orders delivered earlier, not new ones.
    spent : ndarray(float), shape (R,)
        Equipment, pay, work sent out and spoiled metal over the horizon, money.
    result : Outcome
        What the plan comes to.
    """

    candidate: Candidate
    flows: Floats
    value: Floats
    orders_gain: Floats
    backlog_orders: float
    spent: Floats
    result: Outcome

    @property
    def payback(self) -> int | None:
        """First month from which mean cumulative cash stays at or above zero; None when never."""
        return payback_month(self.flows.mean(axis=0))

    @property
    def payback_probability(self) -> float:
        """Share of replications whose cumulative cash stays at or above zero within the horizon."""
        return float(np.mean([payback_month(row) is not None for row in self.flows]))

    @property
    def value_range(self) -> tuple[float, float]:
        """80 % range of the present value."""
        low, high = np.quantile(self.value, (LOW, HIGH))
        return float(low), float(high)

    def cash_bands(self) -> Floats:
        """Return low, middle and high cumulative cash by month, shape (3, months + 1)."""
        return np.quantile(cumulative(self.flows), (LOW, 0.5, HIGH), axis=0)


def judge(candidate: Candidate, plan: Outcome, nothing: Outcome, terms: Terms) -> Judged:
    """Judge a plan against doing nothing under the same replications.

    Parameters
    ----------
    candidate : Candidate
        The plan.
    plan, nothing : Outcome
        Of the same seed; the first R replications of `nothing` are compared when the plan has fewer.
    terms : Terms
        Horizon and what turns orders into money.
    """
    runs, months = len(plan.delivered), min(terms.horizon_months, plan.delivered.shape[1])
    base = first_runs(nothing, runs)
    flows, cost = np.zeros((runs, months + 1)), costs(candidate, plan, terms)[:, :months]
    flows[:, 1:] = (plan.contribution - base.contribution)[:, :months] - cost
    flows[:, 1:] -= (plan.in_process_g - base.in_process_g)[:, :months] * terms.metal_per_g * terms.capital_rate / 12.0
    flows[:, 0] = -candidate.equipment
    year = max(round(months / 12.0), 1)
    credit = (plan.credit - base.credit)[:, min(year, plan.credit.shape[1]) - 1] if plan.credit.shape[1] else np.zeros(runs)
    value = npv(flows, terms.capital_rate) + credit / (1.0 + terms.capital_rate) ** (months / 12.0)
    first = min(candidate.from_month - 1, months - 1)
    years = (months - first) / 12.0
    gain = (plan.delivered - base.delivered)[:, first:months].sum(axis=1) / years
    taken = (plan.arrived - base.arrived)[:, first:months].sum(axis=1) / years
    spent = candidate.equipment + cost.sum(axis=1)
    return Judged(candidate, flows, np.asarray(value), gain, float(np.maximum(gain - taken, 0.0).mean()), spent, plan)


def costs(candidate: Candidate, plan: Outcome, terms: Terms) -> Floats:
    """Return what the plan costs by replication and month, money: pay while it lasts, work sent out, metal spoiled."""
    runs, months = plan.delivered.shape
    month = np.arange(1, months + 1)
    paid = (month >= candidate.from_month).astype(float)
    cost = np.tile(candidate.monthly * paid, (runs, 1))
    if candidate.scenario.extra_people:
        cost *= employed(plan, candidate.from_month)
    cost += candidate.per_order * plan.delivered * paid
    if candidate.spoilage_months and candidate.scenario.extra_people:
        learning = (month >= candidate.from_month) & (month < candidate.from_month + candidate.spoilage_months)
        grams = plan.busy_h[:, :, -1] / max(terms.hours_per_g.get(candidate.stage, np.inf), 1e-9)
        cost += grams * learning * terms.spoilage_share * terms.spoiled_per_g
    return cost


def employed(plan: Outcome, from_month: int) -> Floats:
    """Return 1 for each replication and month in which the person of the plan is still there: something is booked in it or later."""
    busy = plan.busy_h[:, :, -1] > 0
    later = np.maximum.accumulate(busy[:, ::-1], axis=1)[:, ::-1].astype(float)
    later[:, : from_month - 1] = 0.0
    return later


def first_runs(result: Outcome, runs: int) -> Outcome:
    """Return the first `runs` replications of a result."""
    from dataclasses import fields, replace

    kept = {one.name: getattr(result, one.name)[:runs] for one in fields(result) if one.name not in ("months", "year_ends", "cut")}
    return result if len(result.delivered) == runs else replace(result, **kept)


def breakeven_demand(factors: Floats, values: Floats) -> float | None:
    """Return the demand factor at which the mean value is zero, by straight lines through the levels run; None outside 0.5 … 1.5.

    Parameters
    ----------
    factors, values : ndarray(float), shape (n,)
        Demand factors run, ascending, and the mean value at each.
    """
    signs = np.flatnonzero(np.diff(np.sign(values)) != 0)
    if len(signs):
        k = int(signs[0])
        return float(factors[k] - values[k] * (factors[k + 1] - factors[k]) / (values[k + 1] - values[k]))
    slope, height = np.polyfit(factors, values, 1)
    zero = -height / slope if slope > 0 else np.nan
    return float(zero) if 0.5 <= zero <= 1.5 else None
