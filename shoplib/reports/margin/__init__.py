"""Margin: what the benches earned, and on which chains."""

from __future__ import annotations

from datetime import date, timedelta
from functools import cache, partial
from typing import Literal

import pandas as pd
from pydantic import Field

from ...costing import Costing, bridges, cost, group_table
from ...intake import as_of
from ...intake.shop import Shop
from ...settings import Settings
from .. import answer as answers
from ..answer import Answer, Figure, Found, rounded
from ..compose import compose
from ..periods import month_start, whole_months
from ..sentences import Writing
from . import tables
from .headline import FULL, Told, headline
from .page import page
from .simulated import limiting_bench, prepare

__all__ = ["QUESTION", "Parameters", "answer", "page", "prepare"]

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
    limiting_bench: str | None = Field(None, description="skill of the limiting bench; left out: as simulated, else the busiest")


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
    found = cache(partial(limiting_bench, shop, last, parameters))
    costing, bench = cost(shop, last, lambda: found().skill), found()
    orders = _in_period(costing.orders, first, to)
    closed = pd.concat([orders, _in_period(costing.cancelled, first, to)], ignore_index=True)
    groups = group_table(orders)
    told = _told(costing, orders, groups, parameters.period_months, bench.scarce)
    writing = Writing.of(shop.settings)
    return compose(
        shop,
        "margin",
        parameters,
        (first, to),
        headline(told, writing),
        _figures(told, costing, orders, first, to, writing),
        _tables(shop.settings, costing, orders, closed, groups, (first, to), bench.scarce),
        [*_findings(costing), bench.found, *(Found(level="note", code=code, text=text) for code, text in CAUTIONS)],
        last,
    )


def _in_period(orders: pd.DataFrame, first: date, to: date) -> pd.DataFrame:
    return orders[orders["closed_on"].between(pd.Timestamp(first), pd.Timestamp(to))]


def _told(costing: Costing, orders: pd.DataFrame, groups: pd.DataFrame, months: int, scarce: bool) -> Told:
    loads = costing.loads.set_index("skill")["load"]
    bench = costing.limiting_skill or ""
    return Told(
        len(orders),
        months,
        float(orders["making_margin"].sum()),
        float(orders["making_charge"].sum()),
        bench,
        float(loads.get(bench, float("nan"))),
        groups[groups["by"] == "style"],
        scarce,
        bool(orders["labour"].sum() > 0),
    )


def _figures(told: Told, costing: Costing, orders: pd.DataFrame, first: date, to: date, writing: Writing) -> list[Figure]:
    hours, money, months = orders["limiting_hours"].sum(), writing.currency, told.months
    before = _between(costing.months, month_start(first, months), first - timedelta(days=1))
    here, year = _between(costing.months, first, to), f", {months} months before"
    values = [
        ("Making margin", told.making_margin, money),
        ("Metal result", float(orders["metal_result"].sum()), money),
        ("Contribution an hour", float(orders["contribution"].sum() / hours) if hours > 0 else None, f"{money}/h"),
        ("Weight above quote", float(orders["weight_over_quote_money"].sum()), money),
        ("Result after all", float(here["result"].sum()), money),
    ]
    period, basis = f"{first:%Y-%m} to {to:%Y-%m}", _basis(orders)
    figures = [_figure(name, value, unit, period, len(orders), basis) for name, value, unit in values]
    if len(before) < months:
        return figures
    columns = {"Making margin": "making_margin", "Metal result": "metal_result", "Result after all": "result"}
    old, n = f"{before['month'].iloc[0]} to {before['month'].iloc[-1]}", int(before["orders"].sum())
    return figures + [_figure(name + year, float(before[column].sum()), money, old, n, basis) for name, column in columns.items()]


def _between(months: pd.DataFrame, first: date, to: date) -> pd.DataFrame:
    return months[months["month"].between(f"{first:%Y-%m}", f"{to:%Y-%m}")]


def _figure(name: str, value: float | None, unit: str, period: str, n: int, basis: str) -> Figure:
    return Figure(name=name, value=None if value is None else rounded(value), unit=unit, period=period, n=n, basis=basis)


def _basis(orders: pd.DataFrame) -> str:
    """Measured, unless most hours are standard ones or most losses follow the policy's percentage."""
    standard = (orders["hours_basis"] == "standard").mean() > 0.5
    policy = (orders["loss_basis"] == "policy").mean() > 0.5
    return "standard, not measured" if standard else "loss assumed" if policy else "measured"


def _tables(
    settings: Settings,
    costing: Costing,
    orders: pd.DataFrame,
    closed: pd.DataFrame,
    groups: pd.DataFrame,
    period: tuple[date, date],
    scarce: bool,
) -> dict[str, answers.Table]:
    loads = costing.loads.assign(limits=costing.loads["skill"] == costing.limiting_skill)
    loads = loads.assign(scarce=loads["limits"] & (scarce | (loads["load"] >= FULL)))
    frames = {
        "orders": (closed.sort_values("order_id"), tables.ORDERS),
        "months": (costing.months, tables.MONTHS),
        "bridge": (bridges(costing.orders, _between(costing.months, *period)["month"].tolist()), tables.BRIDGE),
        "groups": (groups, tables.GROUPS),
        "open_orders": (costing.open_orders.sort_values("order_id"), tables.OPEN_ORDERS),
        "price_parts": (tables.price_parts(orders), tables.PRICE_PARTS),
        "loads": (loads, tables.LOADS),
    }
    return {name: tables.made(frame, columns, settings.shop.currency) for name, (frame, columns) in frames.items()}


def _findings(costing: Costing) -> list[Found]:
    return [Found(level=one.level, code=one.code, text=one.text, where=one.where) for one in costing.findings]
