"""What the throughput report asks of the simulator beside the baseline: rework's delay, and one person away.

Computed before the notebook and kept; the notebook reads it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from functools import partial

import numpy as np
import pandas as pd

from ...cache import cached
from ...costing.totals import total_by
from ...flow.rework_cost import NOT_NAMED
from ...flow.visits import History, history
from ...intake import as_of
from ...intake.shop import Shop
from ...workshop import rework_delay
from ...workshop import without_one as one_away
from ...workshop.arrays import Floats
from ...workshop.baseline import Baseline
from ...workshop.limits import NORMAL_80
from ...workshop.model import Workshop
from ...workshop.replicate import simulate
from ...workshop.without_one import Absence
from ..answer import Parameters
from ..periods import whole_months
from ..shared import THREADS, baseline_or_none

LONGEST_DAYS = max(rework_delay.HORIZON_DAYS, one_away.HORIZON_DAYS)
MOST_REPLICATIONS = max(rework_delay.REPLICATIONS, one_away.REPLICATIONS)
"""The shop unchanged is run once for both."""
LEAST_SHARE = 0.05
"""Causes with a smaller share of the returns are switched off together; their delay is split by hours."""


@dataclass(frozen=True)
class Ahead:
    """What the simulator says of rework and of one person away.

    Attributes
    ----------
    causes : tuple of tuple of str
        Causes switched off together, usually one.
    delay : ndarray(float), shape (C, R)
        Contribution a year lost by the delay each group of causes brings, by replication, money.
    absences : tuple of Absence
        Skill by skill.
    """

    causes: tuple[tuple[str, ...], ...]
    delay: Floats
    absences: tuple[Absence, ...]


def prepare(shop: Shop, parameters: Parameters, progress: Callable[[str, float], None]) -> None:
    """Compute the baseline and what else is asked of the simulator before the notebook starts."""
    last = parameters.as_of or as_of(shop)
    progress("the workshop simulated", 0.0)
    base, _ = baseline_or_none(shop, last, parameters.seed)
    progress("the workshop simulated", 0.5)
    if base is not None:
        ahead_of(shop, base, last, parameters.period_months, partial(history, shop, last))
    progress("the workshop simulated", 1.0)


def ahead_of(shop: Shop, base: Baseline, last: date, months: int, past: Callable[[], History]) -> Ahead:
    """Return what the simulator says of rework and of one person away, from the cache where it is kept.

    Parameters
    ----------
    shop : Shop
        The cleaned tables.
    base : Baseline
        Of the shop on `last`.
    last : date
        Last day that counts.
    months : int
        Whole months whose rework is looked at.
    past : callable
        Returns what the cards tell up to `last`; called when nothing is kept.
    """
    key = [shop.fingerprint, last, base.seed, months]
    return cached("ahead", key, lambda: compute(past(), base, *whole_months(last, months)))


def compute(past: History, base: Baseline, first: date, to: date) -> Ahead:
    """Return what the simulator says of the rework begun from `first` to `to`, and of one person away."""
    workshop, state, seed = base.workshop, base.state, base.seed
    causes, shares = returns_by_cause(past, workshop, first, to)
    nothing = simulate(workshop, state, horizon_days=LONGEST_DAYS, seed=seed, replications=MOST_REPLICATIONS, threads=THREADS)
    delay = rework_delay.delay_of_causes(workshop, state, shares, seed, THREADS, nothing=nothing)
    absences = one_away.without_one(workshop, state, booked_by_skill(past, workshop), seed, THREADS, nothing=nothing)
    return Ahead(causes, delay, tuple(absences))


def returns_by_cause(past: History, workshop: Workshop, first: date, to: date) -> tuple[tuple[tuple[str, ...], ...], Floats]:
    """Return the causes, rare ones together, and the share of each stage's returns that carries them, shape (C, S)."""
    table = past.visits
    begun = table["started"].between(pd.Timestamp(first), pd.Timestamp(to) + pd.Timedelta(days=1), inclusive="left")
    back = table[table["is_return"] & begun]
    cause = back["cause"].astype(object).where(back["cause"].notna(), NOT_NAMED)
    stage = pd.Index(workshop.stages.astype(object)).get_indexer(pd.Index(back["returned_from"].astype(object)))
    names = sorted(set(cause))
    counts = np.zeros((len(names), len(workshop.stages)))
    np.add.at(counts, (np.searchsorted(names, list(cause))[stage >= 0], stage[stage >= 0]), 1.0)
    rare = counts.sum(axis=1) < LEAST_SHARE * max(counts.sum(), 1.0)
    groups = [[place] for place in np.flatnonzero(~rare).tolist()] + ([np.flatnonzero(rare).tolist()] if rare.any() else [])
    total = counts.sum(axis=0)
    share = np.divide(counts, total, out=np.zeros_like(counts), where=total > 0)
    rows = np.array([share[group].sum(axis=0) for group in groups]).reshape(len(groups), counts.shape[1])
    return tuple(tuple(names[place] for place in group) for group in groups), np.minimum(rows, 1.0)


def booked_by_skill(past: History, workshop: Workshop) -> Floats:
    """Return the hours each person of the workshop booked at each skill in the last year, shape (P, K)."""
    frame, settings = past.booked, past.shop.settings
    recent = (frame["day"] > pd.Timestamp(past.as_of) - pd.Timedelta(days=365)).to_numpy()
    codes, skills = [worker.code for worker in settings.workers], workshop.skills.tolist()
    person = np.append(pd.Index(workshop.people.astype(object)).get_indexer(pd.Index(codes, dtype=object)), -1)
    skill = np.append(pd.Index(skills, dtype=object).get_indexer(pd.Index(past.skills, dtype=object)), -1)
    p = person[frame["worker"].to_numpy(np.int64) % len(person)]
    k = skill[frame["stage"].to_numpy(np.int64) % len(skill)]
    place = np.where(recent & (p >= 0) & (k >= 0), p * len(skills) + k, -1)
    shape = (len(workshop.people), len(skills))
    hours: Floats = total_by(place, frame["hours"].to_numpy(), shape[0] * shape[1]).reshape(shape)
    return hours


def delay_by_row(rework: pd.DataFrame, ahead: Ahead, years: float) -> pd.DataFrame:
    """Return delay_contribution, delay_low, delay_high of each row of a rework table, money over `years`.

    A group's delay is split over its rows by hours. One whose 80 % range reaches zero counts as none.
    """
    columns = {name: np.zeros(len(rework)) for name in ("delay_contribution", "delay_low", "delay_high")}
    hours = rework["hours"].to_numpy(float)
    for names, each in zip(ahead.causes, ahead.delay, strict=True):
        rows = rework["cause"].isin(names).to_numpy()
        share = np.where(rows, hours, 0.0) / max(float(hours[rows].sum()), 1e-9)
        mean, error = float(each.mean()), float(each.std(ddof=1)) / len(each) ** 0.5
        low, high = mean - NORMAL_80 * error, mean + NORMAL_80 * error
        for name, value in zip(columns, (mean if low > 0 else 0.0, low, high), strict=True):
            columns[name] += share * value * years
    return pd.DataFrame(columns, index=rework.index)


def absence_rows(absences: tuple[Absence, ...]) -> pd.DataFrame:
    """Return one row a skill and length of absence: means over replications with their 80 % ranges (P10 to P90)."""
    rows = []
    for one in absences:
        row: dict[str, object] = {"skill": one.skill, "away": one.away, "others": one.others}
        for name in MEASURES:
            values = getattr(one, name)
            known = values[~np.isnan(values)]
            low, high = np.quantile(known, (0.1, 0.9)) if len(known) else (np.nan, np.nan)
            row |= {name: known.mean() if len(known) else np.nan, f"{name}_low": low, f"{name}_high": high}
        rows.append(row)
    return pd.DataFrame(rows, columns=ABSENCE_COLUMNS)


MEASURES = ("orders_late", "wait_days_change", "contribution_lost")
ABSENCE_COLUMNS = [
    "skill", "away", "others",
    *(f"{name}{end}" for name in MEASURES for end in ("", "_low", "_high")),
]  # fmt: skip
