"""Throughput: what limits the workshop, and what one more hour is worth."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
from pydantic import Field

from ...intake import as_of
from ...intake.shop import Shop
from .. import answer as answers
from ..answer import Answer, Figure, Table, rounded
from ..compose import compose
from ..margin.tables import made
from ..sentences import Writing
from . import tables
from .ahead import prepare
from .facts import Facts, Stretch, before, gather, shown_months, stretch, work_in_process_fine_g
from .findings import findings
from .headline import Told, headline, ranked
from .page import page

__all__ = ["QUESTION", "Parameters", "answer", "page", "prepare"]

QUESTION = "What limits the workshop, and what is one more hour worth?"
CURVE_REACH = 1.6
"""The curve is drawn to so many times the larger of work in process and critical work in process."""


class Parameters(answers.Parameters):
    """Parameters of the throughput report."""

    stage: str | None = Field(None, description="stage shown first in the control charts; left out: the one with most to see")


def answer(shop: Shop, parameters: Parameters) -> Answer:
    """Return what gets out, what limits it, and what rework and an absence cost.

    Parameters
    ----------
    shop : Shop
        The cleaned tables.
    parameters : Parameters
        Period, last day and the stage shown first.
    """
    last = parameters.as_of or as_of(shop)
    facts = gather(shop, last, parameters.period_months, parameters.seed)
    now, old = stretch(facts, facts.first, facts.to), before(facts, parameters.period_months)
    told = told_of(facts, now, parameters.period_months)
    writing = Writing.of(shop.settings)
    return compose(
        shop, "throughput", parameters, (facts.first, facts.to), headline(told, writing),
        [*_figures(facts, now, old), *_worth(told, writing)], _tables(shop, facts, parameters.period_months), findings(facts, now), last,
    )  # fmt: skip


def told_of(facts: Facts, now: Stretch, months: int) -> Told:
    """Return what the headline needs."""
    orders = facts.orders
    worth = float(orders["contribution"].mean()) if len(orders) else math.nan
    if facts.base is None:
        return Told((), math.nan, facts.reason, now.orders_a_week, now.orders, months, worth)
    demand, benches = ranked(facts.base.limits.table())
    return Told(benches, demand, "", now.orders_a_week, now.orders, months, worth)


def _figures(facts: Facts, now: Stretch, old: Stretch | None) -> list[Figure]:
    day, period = facts.past.as_of.isoformat(), f"{facts.first:%Y-%m} to {facts.to:%Y-%m}"
    inside = facts.past.shop["orders"]
    count = int((inside["delivered_on"].isna() & inside["cancelled_on"].isna()).sum())
    figures = [
        _figure("Orders a week", now.orders_a_week, "orders", period, now.orders),
        _figure("Work in process", float(count), "orders", day, count),
        _figure("Metal in process", work_in_process_fine_g(facts), "g fine", day, count, "quoted weight of open orders"),
        _figure("Days in the shop", now.flow_days, "days", period, now.orders),
        _figure("On a bench", now.bench_share, "share", period, now.orders),
        _figure("Right first time", now.right_first_time, "share", period, now.orders),
        _figure("On time", now.on_time, "share", period, now.due),
        _figure("On time by last promise", now.on_time_last, "share", period, now.due_last),
        _figure("Rework", float(facts.rework["cost"].sum()), facts.past.shop.settings.shop.currency, period,
                int(facts.rework["returns"].sum()), "delay simulated" if facts.base else "without delay"),
    ]  # fmt: skip
    return [*figures, *_usual_hour(facts, period), *(_earlier(old) if old else [])]


def _usual_hour(facts: Facts, period: str) -> list[Figure]:
    """Return what an hour at the limiting bench brings: contribution ÷ hours there of the orders delivered."""
    hours = float(facts.orders["limiting_hours"].sum())
    if facts.limiting is None or hours <= 0:
        return []
    money = float(facts.orders["contribution"].sum()) / hours
    return [_figure("An hour there brings", money, f"{facts.past.shop.settings.shop.currency}/h", period, len(facts.orders), "measured")]


def _earlier(old: Stretch) -> list[Figure]:
    values = [
        ("Orders a week", old.orders_a_week, "orders", old.orders), ("Days in the shop", old.flow_days, "days", old.orders),
        ("Right first time", old.right_first_time, "share", old.orders), ("On time", old.on_time, "share", old.due),
    ]  # fmt: skip
    return [_figure(f"{name}, before", value, unit, "as many months before", n) for name, value, unit, n in values]


def _figure(name: str, value: float, unit: str, period: str, n: int, basis: str = "counted") -> Figure:
    return Figure(name=name, value=rounded(value), unit=unit, period=period, n=n, basis=basis)


def _worth(told: Told, writing: Writing) -> list[Figure]:
    """Return what an hour a week more at the likeliest bench finishes a year, and its worth."""
    if not told.benches:
        return []
    top = told.benches[0]
    ends = (top.gain, top.low, top.high)
    shared = {"level": 0.8, "period": "a year", "basis": f"simulated, {top.skill}"}
    rows = [("One more hour a week", "orders", ends), ("Worth of that hour", writing.currency, tuple(end * told.worth for end in ends))]
    return [
        Figure(name=name, value=rounded(value), low=rounded(low), high=rounded(high), unit=unit, **shared)
        for name, unit, (value, low, high) in rows
    ]


def _tables(shop: Shop, facts: Facts, months: int) -> dict[str, Table]:
    frames = {
        "stages": (facts.stages, tables.STAGES),
        "months": (shown_months(facts, months), tables.MONTHS),
        "rework": (facts.rework, tables.REWORK),
        "without_one": (facts.without_one, tables.WITHOUT_ONE),
        "limits": (facts.limits, tables.LIMITS),
        "make_first": (facts.make_first, tables.MAKE_FIRST),
        "holds": (facts.holds, tables.HOLDS),
        "little": (pd.DataFrame([vars(facts.law)]), tables.LITTLE),
        "curve": (_curve(facts), tables.CURVE),
        "curve_point": (_point(facts), tables.CURVE_POINT),
        "control": (facts.control, tables.CONTROL),
    }
    return {name: made(frame, columns, shop.settings.shop.currency) for name, (frame, columns) in frames.items()}


def _curve(facts: Facts) -> pd.DataFrame:
    found = facts.curve
    if found is None:
        return pd.DataFrame(columns=[name for name, *_ in tables.CURVE])
    return found.line.curve(float(np.ceil(CURVE_REACH * max(found.law.wip_mean, found.line.critical_wip, 2.0))), 40)


def _point(facts: Facts) -> pd.DataFrame:
    names, found = [name for name, *_ in tables.CURVE_POINT], facts.curve
    if found is None:
        return pd.DataFrame(columns=names)
    line, wip = found.line, found.law.wip_mean
    practical = float(line.practical_worst_output([wip])[0])
    return pd.DataFrame([[wip, found.output_per_week, practical, line.rate, line.raw_time, line.critical_wip]], columns=names)
