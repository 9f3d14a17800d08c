"""What the throughput report puts together before it says anything: the past by stage and month, the outlook, the money."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import pandas as pd

from ...costing import Costing, cost, group_table
from ...flow.holds import holds_by_reason
from ...flow.months import LittlesLaw, flow_days, littles_law, month_table, touch_hours
from ...flow.rework_cost import rework_table, with_delay
from ...flow.shop_curve import ShopCurve, shop_curve
from ...flow.stages import delivered_in, stage_table
from ...flow.visits import History, history
from ...flow.watch import chart_table
from ...flow.yields import rolled_yield, stage_yields
from ...intake.shop import Shop
from ...workshop.baseline import Baseline
from ...workshop.limits import DEMAND
from ..periods import month_start, whole_months
from ..shared import baseline_or_none
from .ahead import ABSENCE_COLUMNS, absence_rows, ahead_of, delay_by_row

MONTHS_SHOWN = 13
"""So many months, or the period and one more, so that the same month a year ago is in view."""

NOT_MADE = ("repair", "guarantee")
"""Kinds of order that are no chain to choose."""


@dataclass(frozen=True)
class Facts:
    """All the report rests on; tables as in `tables`.

    Attributes
    ----------
    past : History
        What the cards tell.
    first, to : date
        The period.
    base : Baseline or None
        The simulation; None when the shop cannot be simulated.
    reason : str
        Why not.
    costing : Costing
        What the orders earned, with the limiting bench as simulated.
    months : DataFrame
        All months of the shop.
    stages, limits, rework, without_one, make_first, holds, control : DataFrame
        Tables of the report.
    law : LittlesLaw
        Of the period.
    curve : ShopCurve or None
        Where the shop stands on its curve.
    """

    past: History
    first: date
    to: date
    base: Baseline | None
    reason: str
    costing: Costing
    months: pd.DataFrame
    stages: pd.DataFrame
    limits: pd.DataFrame
    rework: pd.DataFrame
    without_one: pd.DataFrame
    make_first: pd.DataFrame
    holds: pd.DataFrame
    control: pd.DataFrame
    law: LittlesLaw
    curve: ShopCurve | None

    @property
    def limiting(self) -> str | None:
        """The limiting skill; None where demand limits or nothing is known."""
        return self.base.limits.limiting if self.base else None

    @property
    def orders(self) -> pd.DataFrame:
        """Costed orders delivered in the period."""
        closed = self.costing.orders
        return closed[closed["closed_on"].between(pd.Timestamp(self.first), pd.Timestamp(self.to))]


def gather(shop: Shop, last: date, months: int, seed: int) -> Facts:
    """Return what the report rests on.

    Parameters
    ----------
    shop : Shop
        The cleaned tables.
    last : date
        Last day that counts.
    months : int
        Whole months looked at.
    seed : int
        Seed of all draws.
    """
    first, to = whole_months(last, months)
    base, reason = baseline_or_none(shop, last, seed)
    past = history(shop, last)
    limiting = base.limits.limiting if base else None
    costing = cost(shop, last, limiting)
    rework = rework_table(past, first, to).assign(delay_low=np.nan, delay_high=np.nan)
    absences = pd.DataFrame(columns=ABSENCE_COLUMNS)
    if base:
        ahead = ahead_of(shop, base, last, months, lambda: past)
        rework = _delayed(rework, delay_by_row(rework, ahead, months / 12.0))
        absences = absence_rows(ahead.absences)
    stages = stage_table(past, first, to, seed=seed)
    closed = costing.orders[costing.orders["closed_on"].between(pd.Timestamp(first), pd.Timestamp(to))]
    groups = group_table(closed[~closed["kind"].isin(NOT_MADE)], ["style_alloy"])
    return Facts(
        past, first, to, base, reason, costing, months_of(past), limited(stages, base), limits_table(stages, base),
        rework.sort_values(["cause", "stage", "alloy"], kind="stable", ignore_index=True), absences,
        groups if limiting else groups.iloc[:0],
        holds_by_reason(past.shop["holds"], past.shop["orders"], first, to), chart_table(past), littles_law(past, first, to),
        shop_curve(past, first, to),
    )  # fmt: skip


def _delayed(rework: pd.DataFrame, delay: pd.DataFrame) -> pd.DataFrame:
    keys = list(zip(rework["cause"], rework["stage"], rework["alloy"], strict=True))
    ranged = rework.assign(delay_low=delay["delay_low"], delay_high=delay["delay_high"])
    return with_delay(ranged, dict(zip(keys, delay["delay_contribution"].astype(float), strict=True)))


def months_of(past: History) -> pd.DataFrame:
    """Return every month of the shop, with the median of flow beside what `month_table` tells."""
    table = month_table(past, None)
    days = pd.Series(flow_days(past))
    month = past.shop["orders"]["delivered_on"].to_numpy("datetime64[M]").astype("datetime64[s]")
    return table.assign(flow_days_p50=table["month"].map(days.groupby(month).median()))


def limited(stages: pd.DataFrame, base: Baseline | None) -> pd.DataFrame:
    """Return the stages with what an hour more is worth at their skill, and a last row for demand."""
    columns = ["orders_per_extra_hour", "low", "high", "limiting_probability"]
    if base is None:
        return stages.assign(**dict.fromkeys(columns, np.nan))
    limits = base.limits.table().set_index("skill")
    told = limits[columns].reindex(stages["skill"]).reset_index(drop=True)
    demand = {"stage": DEMAND, "skill": None, "limiting_probability": limits.at[DEMAND, "limiting_probability"]}
    rows = pd.concat([stages.reset_index(drop=True), told], axis=1)
    return pd.concat([rows.astype(object), pd.DataFrame([demand], dtype=object)], ignore_index=True)


def limits_table(stages: pd.DataFrame, base: Baseline | None) -> pd.DataFrame:
    """Return one row a skill, the most worthwhile hour first, demand last; without the simulation loads only."""
    grouped = stages.groupby("skill", sort=False)
    skills = grouped.agg(stages=("stage", ", ".join), hours_booked=("hours_booked", "sum"), load=("load", "first")).reset_index()
    if base is None:
        return skills.assign(orders_per_extra_hour=np.nan, low=np.nan, high=np.nan, limiting_probability=np.nan)
    table = base.limits.table().merge(skills, on="skill", how="left")
    return table.sort_values("orders_per_extra_hour", ascending=False, na_position="last", kind="stable", ignore_index=True)


def shown_months(facts: Facts, months: int) -> pd.DataFrame:
    """Return the months of the report: 13 or the period and one more, and the running one."""
    begin = pd.Timestamp(month_start(facts.to, max(months, MONTHS_SHOWN - 1)))
    table = facts.months
    return table[table["month"] >= begin].reset_index(drop=True)


@dataclass(frozen=True)
class Stretch:
    """Key figures of a stretch of whole months; NaN where nothing tells.

    Attributes
    ----------
    orders : int
        Delivered.
    orders_a_week, flow_days, bench_share, right_first_time, on_time, on_time_last : float
        Orders a week; mean days in the shop; hours booked ÷ working hours in the shop; route yield; promises kept.
    due, due_last : int
        First and last promises that fell due.
    """

    orders: int
    orders_a_week: float
    flow_days: float
    bench_share: float
    right_first_time: float
    on_time: float
    on_time_last: float
    due: int
    due_last: int


def stretch(facts: Facts, first: date, to: date) -> Stretch:
    """Return the key figures of the whole months from `first` to `to`."""
    past, table = facts.past, facts.months
    here = table[table["month"].between(pd.Timestamp(first), pd.Timestamp(to))]
    delivered = delivered_in(past, first, to)
    done = delivered.to_numpy()
    days, weeks = flow_days(past)[done], ((to - first).days + 1) / 7.0
    yields = stage_yields(past, delivered)["first_pass_yield"]
    due, due_last = int(here["n_due"].sum()), int(here["n_due_last"].sum())
    return Stretch(
        int(done.sum()), float(done.sum()) / weeks, float(np.nanmean(days)) if np.isfinite(days).any() else float("nan"),
        _bench_share(past, done), rolled_yield(yields), _kept(here, "on_time_share", "n_due"),
        _kept(here, "on_time_last_share", "n_due_last"), due, due_last,
    )  # fmt: skip


def before(facts: Facts, months: int) -> Stretch | None:
    """Return the key figures of as many months before the period; None where the history is too short."""
    start, end = month_start(facts.first, months), facts.first - timedelta(days=1)
    whole = facts.months["month"].between(pd.Timestamp(start), pd.Timestamp(end)).sum()
    return stretch(facts, start, end) if whole == months else None


def _kept(months: pd.DataFrame, share: str, due: str) -> float:
    count = float(months[due].sum())
    return float((months[share].fillna(0.0) * months[due]).sum()) / count if count else float("nan")


def _bench_share(past: History, done: np.ndarray) -> float:
    """Return hours booked on the orders ÷ working hours between their order and delivery."""
    orders, hours = past.shop["orders"], touch_hours(past)
    use = done & np.isfinite(hours)
    begin, end = (orders[name].to_numpy("datetime64[s]")[use] for name in ("ordered_on", "delivered_on"))
    span = past.clock.hours_between(begin, end + np.timedelta64(1, "D")).sum() if use.any() else 0.0
    return float(hours[use].sum() / span) if span > 0 else float("nan")


def work_in_process_fine_g(facts: Facts) -> float:
    """Return the g fine of open orders by their quoted weight and mark; NaN where no weight is quoted."""
    orders = facts.past.shop["orders"]
    is_open = orders["delivered_on"].isna() & orders["cancelled_on"].isna()
    phi = {alloy.code: alloy.phi for alloy in facts.past.shop.settings.alloys}
    fine = orders["quoted_weight_g"] * orders["alloy"].map(phi).astype(float)
    return float(fine[is_open].sum(min_count=1))
