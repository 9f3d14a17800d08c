"""The tables of the lead-time report."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pandas as pd

from ...costing.calendar import closed_on, holidays_of, weekday_of
from ...forecast.lead_time import new_order_quantiles, quantiles
from ...forecast.plain_rules import QUANTILES, RECENT, RULES, days_of, open_on, record_begins
from ...forecast.promises import Choice
from ...intake import until
from ...intake.shop import Shop
from ...settings import WEEKDAYS
from ...workshop.baseline import Baseline
from ...workshop.model import DONE, HELD

FEWEST_A_MONTH = 5
"""Deliveries from which a month's middle wait is told."""
LEVELS_SHOWN = (0.80, 0.85, 0.90, 0.95)
OPEN_ORDERS = (
    ("order_id", "", "number on the job card"),
    ("promised_on", "date", "present promise"),
    ("stage_now", "", "where it stands"),
    ("finish_p50", "date", "day of delivery: 5 in 10"),
    ("finish_p80", "date", "8 in 10"),
    ("finish_p95", "date", "19 in 20"),
    ("late_probability", "share", "chance to miss the promise; 1 when overdue"),
    ("waits_at", "", "where it will wait longest"),
    ("style", "", "style"),
    ("price", "money", "agreed price"),
    ("late_days", "days", "days past the promise to expect, mean"),
    ("call_rank", "", "whom to call first: days late to expect × price"),
)
NEW_ORDERS = (
    ("style", "", "style"),
    ("alloy", "", "alloy"),
    ("days_p50", "days", "from order to delivery: 5 in 10"),
    ("days_p80", "days", "8 in 10"),
    ("days_p95", "days", "19 in 20"),
    ("promise_on", "date", "date to promise tomorrow at the service level"),
    ("promise_80", "date", "kept 8 in 10"),
    ("promise_90", "date", "kept 9 in 10"),
    ("promise_95", "date", "kept 19 in 20"),
    ("promise_85", "date", "kept 17 in 20"),
    ("days_85", "days", "17 in 20"),
    ("days_90", "days", "9 in 10"),
    ("recent_orders", "orders", "ordered in the last 12 months"),
)
BACKTEST = (
    ("method", "", "model, model_recalibrated or a plain rule"),
    ("origin", "date", "day on which it was said, from what was known then"),
    ("horizon", "", "open: orders open then; new: ordered in the four weeks after"),
    ("n", "orders", "orders asked about"),
    ("pinball_50", "days", "loss of the middle date"),
    ("pinball_80", "days", "loss of the 8-in-10 date"),
    ("pinball_95", "days", "loss of the 19-in-20 date"),
    ("coverage_50", "share", "delivered by the middle date"),
    ("coverage_80", "share", "delivered by the 8-in-10 date"),
    ("coverage_95", "share", "delivered by the 19-in-20 date"),
    ("bias_days", "days", "middle date less what came, mean"),
)
RECORD = (
    ("method", "", "method"),
    ("horizon", "", "open or new orders"),
    ("level", "share", "stated"),
    ("kept", "share", "happened"),
    ("low", "share", "90 % range from a bootstrap of whole origins"),
    ("high", "share", "90 % range"),
    ("n", "orders", "orders asked about, all origins"),
)
DEMAND = (
    ("month", "", "month"),
    ("orders_p10", "orders", "1 in 10 below"),
    ("orders_p50", "orders", "middle"),
    ("orders_p90", "orders", "1 in 10 above"),
)
PAST = (("month", "", "month"), ("orders", "orders", "orders placed"), ("partial", "", "the month runs on"))
OUTLOOK = (
    ("month", "", "month"),
    ("wait_p10", "days", "wait of a new order, 1 in 10 below"),
    ("wait_p50", "days", "middle"),
    ("wait_p90", "days", "1 in 10 above"),
    ("on_time_share", "share", "promises due in the month that would be kept if promises are made as now"),
    ("longest_seen", "days", "middle wait of the slowest month so far; beyond it the outlook extrapolates"),
)


def open_rows(shop: Shop, base: Baseline, last: date, choice: Choice) -> pd.DataFrame:
    """Return table ``open_orders``, in the order of their ids.

    Parameters
    ----------
    shop : Shop
        Whole.
    base : Baseline
        Where each open order stands and when it is done.
    last : date
        As-of date.
    choice : Choice
        Method and correction for open orders.
    """
    orders = until(shop, last)["orders"]
    seen = orders.set_index("order_id").reindex(base.state.order_id).reset_index()
    seen["promised_on"] = base.state.promised_on.astype("datetime64[D]")
    if choice.method == "model":
        sample = 1.0 + np.floor(base.open_finish)
        told = _open_table(seen, sample, _corrected(quantiles(sample), choice), last)
    else:
        told = _plainly(seen, orders, last, choice)
    return told.assign(stage_now=_stands(base), waits_at=_waits(base)).sort_values("order_id", ignore_index=True)


def plain_open_rows(shop: Shop, last: date, choice: Choice) -> pd.DataFrame:
    """Return table ``open_orders`` by a plain rule, where the shop cannot be simulated: nothing is known of benches and queues."""
    orders = until(shop, last)["orders"]
    seen = orders[orders["delivered_on"].isna() & orders["cancelled_on"].isna() & orders["ordered_on"].notna()]
    return _plainly(seen, orders, last, choice).assign(stage_now=None, waits_at=None).sort_values("order_id", ignore_index=True)


def _corrected(days: np.ndarray, choice: Choice) -> np.ndarray:
    return np.maximum.accumulate(np.maximum(np.ceil(days * choice.factors - 1e-9), 1.0), axis=1) if len(days) else days.reshape(0, 3)


def _plainly(seen: pd.DataFrame, orders: pd.DataFrame, last: date, choice: Choice) -> pd.DataFrame:
    """Return the rows of open orders by a plain rule; the odds are the share of the last flow times that would miss the promise."""
    origin = np.datetime64(last, "D")
    days = RULES[choice.method](orders, origin, seen)[list(QUANTILES)].to_numpy(dtype=float)
    flows, age = plain_flows(orders, last, choice)["flow_days"].to_numpy(), (origin - days_of(seen["ordered_on"])).astype(float)
    sample = days[None, :, 0] if choice.method == "promised" else np.maximum(flows[:, None] - age, 1.0)
    return _open_table(seen, sample, days, last)


def _open_table(seen: pd.DataFrame, sample: np.ndarray, days: np.ndarray, last: date) -> pd.DataFrame:
    """Return dates, odds and rank of open orders from a sample of their days to come, shape (draws, orders), and their quantiles."""
    promise = days_of(seen["promised_on"])
    due = np.where(np.isnat(promise), np.nan, (promise - np.datetime64(last, "D")).astype(float))
    told = np.isfinite(due) & (len(sample) > 0)
    late = np.where(told, np.where(due <= 0, 1.0, (sample > due).sum(axis=0) / max(len(sample), 1)), np.nan)
    past = np.where(np.isfinite(sample), np.maximum(sample - np.nan_to_num(due), 0.0), 365.0).sum(axis=0) / max(len(sample), 1)
    frame = pd.DataFrame({
        "order_id": seen["order_id"].to_numpy(), "promised_on": promise, "late_probability": late, "style": seen["style"].to_numpy(),
        "price": seen["price"].to_numpy(), "late_days": np.where(told, past, np.nan),
        **{f"finish_p{q}": _dates(last, days[:, k]) for k, q in enumerate((50, 80, 95))},
    })  # fmt: skip
    regret = (frame["late_days"] * frame["price"].fillna(0.0)).where(frame["late_probability"] > 0)
    return frame.assign(call_rank=regret.rank(ascending=False, method="first"))


def _open_days(orders: pd.DataFrame, base: Baseline, last: date, choice: Choice) -> np.ndarray:
    if choice.method != "model":
        said = RULES[choice.method](orders, np.datetime64(last, "D"), orders)
        return said[list(QUANTILES)].to_numpy(dtype=float)
    days = quantiles(1.0 + np.floor(base.open_finish))
    return np.maximum.accumulate(np.maximum(np.ceil(days * choice.factors - 1e-9), 1.0), axis=1) if len(days) else days.reshape(0, 3)


def _dates(last: date, days: np.ndarray) -> pd.Series:
    told = [last + timedelta(days=int(day)) if np.isfinite(day) else None for day in days]
    return pd.Series(told, dtype=object)


def _stands(base: Baseline) -> list[str]:
    stages, status = base.workshop.stages, base.state.status
    words = {DONE: "done, to be delivered", HELD: "on hold"}
    return [words.get(int(s), str(stages[at])) for s, at in zip(status, base.state.stage, strict=True)]


def _waits(base: Baseline) -> pd.Series:
    stages, waits = base.workshop.stages, base.open_waits
    return pd.Series([str(stages[int(row.argmax())]) if row.size and row.max() > 0.25 else None for row in waits], dtype=object)


def new_rows(shop: Shop, base: Baseline | None, last: date, level: float, choice: Choice) -> pd.DataFrame:
    """Return table ``new_orders``: styles and alloys ordered in the last year, and the days of an order placed tomorrow.

    Without a baseline `choice` is one of the plain rules.
    """
    orders = until(shop, last)["orders"]
    recent = orders[(orders["ordered_on"] > pd.Timestamp(last) - pd.Timedelta(days=365)) & orders["alloy"].notna()]
    kinds = recent.groupby(["style", "alloy"], sort=True).size().rename("recent_orders").reset_index()
    flows = plain_flows(orders, last, choice) if base is None or choice.method != "model" else _model_flows(base)
    levels = (0.5, *LEVELS_SHOWN, level)
    points = np.array([_kind_days(flows, row, levels, choice) for row in kinds.itertuples()]).reshape(len(kinds), len(levels))
    names = ["days_p50", "days_p80", "days_85", "days_90", "days_p95"]
    frame = kinds.assign(**{name: _finite(points[:, k]) for k, name in enumerate(names)})
    dates = {"promise_80": 1, "promise_85": 2, "promise_90": 3, "promise_95": 4, "promise_on": 5}
    return frame.assign(**{name: _dates(last, 1.0 + points[:, k]) for name, k in dates.items()})


def _model_flows(base: Baseline) -> pd.DataFrame:
    new = base.new_orders[base.new_orders["arrival_days"] < 28]
    came = np.floor(new["arrival_days"])
    return new.assign(flow_days=np.where(new["delivered_days"].isna(), np.inf, np.floor(new["delivered_days"]) - came))


def plain_flows(orders: pd.DataFrame, last: date, choice: Choice) -> pd.DataFrame:
    """Return the last twenty flow times, scaled by orders open where the rule says so."""
    done = orders.dropna(subset=["delivered_on"]).sort_values("delivered_on", kind="stable").tail(RECENT)
    flow = (days_of(done["delivered_on"]) - days_of(done["ordered_on"])).astype(float)
    if choice.method == "recent_by_load" and len(done):
        then, now = open_on(orders, days_of(done["ordered_on"])).mean(), open_on(orders, np.array([np.datetime64(last, "D")]))[0]
        flow = flow * now / max(then, 1e-9)
    return pd.DataFrame({"style": "", "alloy": "", "flow_days": flow})


def _kind_days(flows: pd.DataFrame, row: object, levels: tuple[float, ...], choice: Choice) -> np.ndarray:
    points = new_order_quantiles(flows, row.style, row.alloy, levels)  # type: ignore[attr-defined]
    factor = np.interp(levels, (0.5, 0.8, 0.95), choice.factors)
    return np.ceil(np.maximum(points * factor, 1.0) - 1e-9)


def _finite(values: np.ndarray) -> np.ndarray:
    return np.where(np.isfinite(values), values, np.nan)


def month_counts(shop: Shop, last: date) -> tuple[pd.Series, pd.Series, pd.DataFrame]:
    """Return orders by whole month, working days of these months and twelve more, and the table of the past with a running month."""
    orders = until(shop, last)["orders"]
    placed = days_of(orders["ordered_on"])
    placed = placed[~np.isnat(placed)]
    placed = placed[placed >= record_begins(placed)]
    first, end = placed.min().astype("datetime64[M]"), (np.datetime64(last, "D") + 1).astype("datetime64[M]")
    whole = np.arange(first + int(placed.min() > first.astype("datetime64[D]") + 6), end)
    counts = np.bincount((placed.astype("datetime64[M]") - first).astype(np.int64), minlength=int((end - first).astype(int)) + 1)
    months = np.arange(whole[0] if len(whole) else end, end + 12)
    offset = int((months[0] - first).astype(int))
    index = pd.DatetimeIndex(months.astype("datetime64[s]"))
    days = pd.Series(_working_days(shop, months), index=index)
    past = pd.DataFrame({"month": np.arange(first, end + 1).astype(str), "orders": counts[: int((end - first).astype(int)) + 1]})
    past = past.assign(partial=[month >= str(end) for month in past["month"]])
    past = past[~past["partial"] | (past["orders"] > 0)]
    return pd.Series(counts[offset : offset + len(whole)].astype(float), index=index[: len(whole)]), days, past


def _working_days(shop: Shop, months: np.ndarray) -> np.ndarray:
    calendar = shop.settings.calendar
    days = np.arange(months[0].astype("datetime64[D]"), (months[-1] + 1).astype("datetime64[D]"))
    open_ = np.array([name in calendar.working_days for name in WEEKDAYS])[weekday_of(days)]
    open_ &= ~holidays_of(calendar.holidays, days)[0] & ~closed_on(calendar, days)
    return np.bincount((days.astype("datetime64[M]") - months[0]).astype(np.int64), weights=open_.astype(float))


def longest_seen(orders: pd.DataFrame) -> float:
    """Return the middle wait, days, of the month of delivery in which it was longest; NaN before the first delivery."""
    done = orders.dropna(subset=["delivered_on"])
    flow = (done["delivered_on"] - done["ordered_on"]).dt.days.astype(float)
    by_month = flow.groupby(days_of(done["delivered_on"]).astype("datetime64[M]"))
    enough = by_month.median()[by_month.size() >= FEWEST_A_MONTH]
    return float(enough.max()) if len(enough) else float(flow.median())


def outlook_rows(shop: Shop, base: Baseline, last: date) -> pd.DataFrame:
    """Return what the wait does if nothing is changed, the next twelve months, and the longest wait known so far."""
    nothing = base.nothing
    flows = np.where(np.isnan(nothing.flow_days), np.nanmean(nothing.flow_days), nothing.flow_days)[:, :12]
    low, middle, high = np.quantile(flows, (0.1, 0.5, 0.9), axis=0)
    kept = nothing.kept[:, :12].sum(axis=0) / np.maximum(nothing.due[:, :12].sum(axis=0), 1)
    frame = {"month": nothing.months[:12].astype(str), "wait_p10": low, "wait_p50": middle, "wait_p90": high}
    frame = {**frame, "longest_seen": longest_seen(until(shop, last)["orders"])}
    return pd.DataFrame({**frame, "on_time_share": np.where(nothing.due[:, :12].sum(axis=0) > 0, kept, np.nan)})
