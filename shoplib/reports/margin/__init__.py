"""Margin: what the benches earned, and on which chains."""

from __future__ import annotations

from datetime import date
from typing import Literal

import pandas as pd
from pydantic import Field

from ...costing import Costing, bridges, cost, group_table, skill_loads
from ...intake import as_of
from ...intake.shop import Shop
from ...settings import Settings
from .. import answer as answers
from ..answer import Answer, Figure, Found
from ..compose import compose
from ..periods import whole_months
from ..sentences import Writing
from . import tables
from .headline import Told, headline
from .page import page

__all__ = ["QUESTION", "Parameters", "answer", "page"]

QUESTION = "What did the benches earn, and on which chains?"
CAUTIONS = (
    ("few_orders", "Groups under 5 orders are not ranked."),
    ("rank_by_hour", "Ranking by an hour at the limiting bench counts only while that bench is full."),
    ("metal_paper", "Metal result is not the benches' doing and mostly paper: spend it only if the grams are not replaced."),
    ("overheads_hour", "Overheads an hour are for knowing what a month must carry, not for refusing an order."),
    ("not_advice", "These figures are arithmetic on the shop's own data, not tax or legal advice."),
)


class Parameters(answers.Parameters):
    """Parameters of the margin report."""

    group_by: Literal["style", "alloy", "customer_type", "metal_terms"] = Field("style", description="grouping shown first")
    limiting_bench: str | None = Field(None, description="skill of the limiting bench; left out: the busiest")


def answer(shop: Shop, parameters: Parameters) -> Answer:
    """Return what the benches earned in the period, by order, group and month, down to the result.

    Parameters
    ----------
    shop : Shop
        The cleaned tables.
    parameters : Parameters
        Period, last day and grouping.
    """
    last = parameters.as_of or as_of(shop)
    first, to = whole_months(last, parameters.period_months)
    costing = cost(shop, last, parameters.limiting_bench)
    orders, closed = _in_period(costing.orders, first, to)
    groups = group_table(orders)
    months = costing.months[costing.months["month"].between(f"{first:%Y-%m}", f"{last:%Y-%m}")]
    told = _told(shop, costing, orders, groups, parameters.period_months, first, to)
    writing = Writing.of(shop.settings)
    return compose(
        shop,
        "margin",
        parameters,
        (first, to),
        headline(told, writing),
        _figures(told, orders, months, writing, f"{first:%Y-%m} to {to:%Y-%m}", costing),
        _tables(shop.settings, costing, orders, closed, groups, months),
        [*_findings(costing), *(Found(level="note", code=code, text=text) for code, text in CAUTIONS)],
        last,
    )


def _in_period(orders: pd.DataFrame, first: date, to: date) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Delivered orders of the period, and all closed in it (those called off among them)."""
    closed = orders[orders["closed_on"].between(pd.Timestamp(first), pd.Timestamp(to))]
    return closed[closed["delivered_on"].notna()], closed


def _told(shop: Shop, costing: Costing, orders: pd.DataFrame, groups: pd.DataFrame, months: int, first: date, to: date) -> Told:
    loads = skill_loads(shop, first, to).set_index("skill")["load"]
    bench = costing.limiting_skill or ""
    return Told(
        len(orders),
        months,
        float(orders["making_margin"].sum()),
        float(orders["making_charge"].sum()),
        bench,
        float(loads.get(bench, float("nan"))),
        groups[groups["by"] == "style"],
    )


def _figures(told: Told, orders: pd.DataFrame, months: pd.DataFrame, writing: Writing, period: str, costing: Costing) -> list[Figure]:
    hours = orders["limiting_hours"].sum()
    per_hour = float(orders["contribution"].sum() / hours) if hours > 0 else None
    whole, money = months[~months["partial"]], writing.currency
    figures = [
        ("Making margin", told.making_margin, money),
        ("Metal result", float(orders["metal_result"].sum()), money),
        ("Contribution an hour", per_hour, f"{money}/h at {told.bench}" if told.bench else f"{money}/h"),
        ("Weight above quote", float(orders["weight_over_quote_money"].sum()), money),
        ("Result after all", float(whole["result"].sum()), money),
    ]
    return [Figure(name=name, value=value, unit=unit, period=period, n=len(orders), basis=costing.basis) for name, value, unit in figures]


def _tables(
    settings: Settings, costing: Costing, orders: pd.DataFrame, closed: pd.DataFrame, groups: pd.DataFrame, months: pd.DataFrame
) -> dict[str, answers.Table]:
    currency = settings.shop.currency
    shown = months["month"].tolist()
    full = [month for month in shown if not bool(months.set_index("month").loc[month, "partial"])]
    frames = {
        "orders": (closed.sort_values("order_id"), tables.ORDERS),
        "months": (costing.months, tables.MONTHS),
        "bridge": (bridges(costing.orders[costing.orders["delivered_on"].notna()], full), tables.BRIDGE),
        "groups": (groups, tables.GROUPS),
        "open_orders": (costing.open_orders.sort_values("order_id"), tables.OPEN_ORDERS),
        "price_parts": (tables.price_parts(orders), tables.PRICE_PARTS),
    }
    return {name: tables.made(frame, columns, currency) for name, (frame, columns) in frames.items()}


def _findings(costing: Costing) -> list[Found]:
    return [Found(level=one.level, code=one.code, text=one.text, where=one.where) for one in costing.findings]  # type: ignore[arg-type]
