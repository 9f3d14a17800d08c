"""Lead times: when is each order done, and what may be promised?"""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd
from pydantic import Field

from ...errors import DataError
from ...flow.months import month_table
from ...flow.visits import history
from ...forecast import backtest, calibrate
from ...forecast.demand import Demand, forecast_demand
from ...forecast.plain_rules import LEVELS, QUANTILES
from ...forecast.promises import RECALIBRATED, Choice, Record, choose, plain_choice, scored
from ...forecast.survival import chance_held
from ...intake import as_of, until
from ...intake.shop import Shop
from ...workshop.baseline import Baseline
from .. import answer as answers
from ..answer import Answer, Figure, Found, Table, rounded
from ..compose import compose
from ..margin.tables import made
from ..periods import whole_months
from ..sentences import Writing
from ..shared import baseline_or_none, track_record_of
from . import tables
from .headline import Told, headline
from .page import page

__all__ = ["QUESTION", "Parameters", "answer", "page"]

QUESTION = "When is each order done, and what may be promised?"
SHAPES = {
    "open_orders": tables.OPEN_ORDERS,
    "new_orders": tables.NEW_ORDERS,
    "backtest": tables.BACKTEST,
    "record": tables.RECORD,
    "demand": tables.DEMAND,
    "past": tables.PAST,
    "outlook": tables.OUTLOOK,
}
CAUTIONS = (
    ("promise_care", "A date is a promise to a customer: agree in writing what happens when it is missed."),
    ("hours_limit", "No date is worth hours beyond the law or the policy: torch, mill and polishing motor hurt people who hurry."),
)


class Parameters(answers.Parameters):
    """Parameters of the lead-time report."""

    service_level_percent: float | None = Field(None, gt=0, lt=100, description="percent of promises to be kept; left out: [policy]")


def answer(shop: Shop, parameters: Parameters) -> Answer:
    """Return dates for open and new orders, how right such dates were, and the demand ahead.

    Parameters
    ----------
    shop : Shop
        The cleaned tables.
    parameters : Parameters
        Service level, last day.
    """
    last, seed = parameters.as_of or as_of(shop), parameters.seed
    writing, period = Writing.of(shop.settings), whole_months(last, parameters.period_months)
    level = (parameters.service_level_percent or shop.settings.policy.service_level_percent) / 100.0
    record = track_record_of(shop, last, seed)  # before the baseline, which another process still computes
    base, reason = _baseline(shop, last, seed)
    table = scored(record, seed)
    chosen = {
        horizon: plain_choice(table, horizon) if base is None else choose(record, table, horizon, seed) for horizon in backtest.HORIZONS
    }
    demand, past, refused = _demand(shop, last, seed)
    frames = {"backtest": table, "record": _record_rows(record, table, seed), "past": past}
    findings = [*refused, *_unsimulated(base, reason)]
    if demand is not None:
        frames["demand"] = demand.table()
    if base is None:
        frames["open_orders"] = tables.plain_open_rows(shop, last, chosen["open"])
    else:
        frames["open_orders"] = tables.open_rows(shop, base, last, chosen["open"])
        frames["outlook"] = tables.outlook_rows(shop, base, last)
        findings += [Found(level=one.level, code=one.code, text=one.text, where=one.where) for one in base.findings]
    frames["new_orders"] = tables.new_rows(shop, base, last, level, chosen["new"])
    if frames["new_orders"]["days_p50"].isna().all():
        chosen["new"] = plain_choice(table, "new")
        frames["new_orders"] = tables.new_rows(shop, None, last, level, chosen["new"])
    told = _told(shop, frames, last, level)
    figures = _figures(told, frames, table, chosen["open"], demand, writing)
    shown = _tables(frames, shop.settings.shop.currency)
    notes = [Found(level="note", code=code, text=text) for code, text in (*CAUTIONS, _used(chosen))]
    return compose(shop, "lead_time", parameters, period, headline(told, writing), figures, shown, [*findings, *notes], last)


def _baseline(shop: Shop, last: date, seed: int) -> tuple[Baseline | None, str]:
    """Return the baseline, or None and the reason; without any job card the benches of the model would do nothing."""
    if until(shop, last)["labour"].empty:
        return None, "no job card tells what was done at which bench. Keep table labour."
    return baseline_or_none(shop, last, seed)


def _tables(frames: dict[str, pd.DataFrame], currency: str) -> dict[str, Table]:
    return {name: made(frames.get(name, _none(shape)), shape, currency) for name, shape in SHAPES.items()}


def _none(shape: tuple[tuple[str, str, str], ...]) -> pd.DataFrame:
    return pd.DataFrame(columns=[one[0] for one in shape])


def _unsimulated(base: Baseline | None, reason: str) -> list[Found]:
    text = f"Dates are told from the last orders delivered, and not where orders wait: {reason}"
    return [] if base is not None else [Found(level="warn", code="no_simulation", text=text)]


def _used(chosen: dict[str, Choice]) -> tuple[str, str]:
    def said(choice: Choice) -> str:
        return f"{choice.method}{', corrected' if choice.corrected else ''}"

    return "methods_used", f"Dates of open orders by {said(chosen['open'])}, of new ones by {said(chosen['new'])}."


def _demand(shop: Shop, last: date, seed: int) -> tuple[Demand | None, pd.DataFrame, list[Found]]:
    counts, days, past = tables.month_counts(shop, last)
    try:
        return forecast_demand(counts, days, seed), past, []
    except DataError as error:
        return None, past, [Found(level="warn", code="no_demand", text=f"Demand is not forecast: {error}", where="orders")]


def _told(shop: Shop, frames: dict[str, pd.DataFrame], last: date, level: float) -> Told:
    seen = until(shop, last)
    months = month_table(history(seen, last), 12)
    whole = months[~months["partial"].astype(bool)]
    due = whole["n_due"].fillna(0)
    kept = float((whole["on_time_share"].fillna(0.0) * due).sum())
    new, open_ = frames.get("new_orders", _none(tables.NEW_ORDERS)), frames.get("open_orders", _none(tables.OPEN_ORDERS))
    promised = open_[open_["late_probability"].notna()]
    usual = new.sort_values("recent_orders", ascending=False).head(1)
    days, name = None, ""
    if len(usual) and usual["promise_on"].iloc[0] is not None:
        days = float((usual["promise_on"].iloc[0] - last).days - 1)
        name = f"{usual['style'].iloc[0]}, {usual['alloy'].iloc[0]}"
    return Told(days, name, level, len(open_), len(promised), float(promised["late_probability"].sum()), round(kept), int(due.sum()))


def _record_rows(record: Record, table: pd.DataFrame, seed: int) -> pd.DataFrame:
    """Stated against kept, pooled over origins, with the range that the origins' shared luck leaves."""
    rows = []
    for horizon in backtest.HORIZONS:
        for method in ("model", RECALIBRATED, "recent", "recent_by_load", "promised"):
            part = record.of("model" if method == RECALIBRATED else method, horizon)
            if method == RECALIBRATED:
                known = (table["method"] == RECALIBRATED) & (table["horizon"] == horizon)
                part = calibrate.leave_one_out(part) if known.any() else part.head(0)
            rows += [_record_row(part, method, horizon, q, level, seed) for q, level in zip(QUANTILES, LEVELS, strict=True) if len(part)]
    return pd.DataFrame(rows, columns=[one[0] for one in tables.RECORD])


def _record_row(part: pd.DataFrame, method: str, horizon: str, quantile: str, level: float, seed: int) -> tuple[object, ...]:
    low, high = calibrate.coverage_interval(part, quantile, seed)
    kept = float(chance_held(part["happened"], part[quantile], part["censored"]).mean())
    return method, horizon, level, kept, low, high, len(part)


def _figures(
    told: Told, frames: dict[str, pd.DataFrame], table: pd.DataFrame, choice: Choice, demand: Demand | None, writing: Writing
) -> list[Figure]:
    new = frames.get("new_orders", _none(tables.NEW_ORDERS)).sort_values("recent_orders", ascending=False).head(1)
    low, high = (float(new[name].iloc[0]) if len(new) else None for name in ("days_p50", "days_p95"))
    late = frames.get("open_orders", _none(tables.OPEN_ORDERS))["late_probability"].dropna().astype(float)
    spread = 1.2816 * float(np.sqrt((late * (1 - late)).sum()))
    figures = [
        Figure(name="Days to promise", value=told.promise_days, low=low, high=high, level=0.9, unit="days",
               basis="5 in 10 to 19 in 20", n=told.due),
        Figure(
            name="Open orders likely late", value=_r(told.late), low=_r(max(told.late - spread, 0)), high=_r(told.late + spread), level=0.8,
            unit="orders", n=told.promised, basis="simulated",
        ),
    ]  # fmt: skip
    if demand is not None:
        ahead = demand.count_paths[:, :3].sum(axis=1)
        ends = np.quantile(ahead, (0.1, 0.9))
        figures.append(
            Figure(
                name="Orders in 3 months",
                value=_r(ahead.mean()),
                low=_r(ends[0]),
                high=_r(ends[1]),
                level=0.8,
                unit="orders",
                basis="forecast",
            )
        )
    share = told.kept / told.due if told.due else None
    figures.append(Figure(name="Promises kept", value=_r(share), unit="share", n=told.due, basis="counted", period="last 12 months"))
    pooled = backtest.pooled(table) if len(table) else table
    rows = pooled[(pooled["method"] == choice.method) & (pooled["horizon"] == "open")] if len(table) else table
    bias = float(rows["bias_days"].iloc[0]) if len(rows) else None
    figures.append(
        Figure(
            name="Dates off by", value=_r(bias), unit="days", basis="measured on past days", n=int(rows["n"].iloc[0]) if len(rows) else 0
        )
    )
    return figures


def _r(value: float | None) -> float | None:
    return None if value is None else rounded(float(value))
