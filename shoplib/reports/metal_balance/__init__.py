"""Metal balance: where every fine gram went, and whether any is missing that weighing cannot explain."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date
from typing import Any

import numpy as np
import pandas as pd
from pydantic import Field

from ...costing import cost
from ...intake import as_of, until
from ...intake.shop import Shop
from ...metal.filings import recovery_by_lot
from ...metal.whole import OneMetal, Whole, whole
from ...settings import Metal, Settings
from .. import answer as answers
from ..answer import Answer, Figure, rounded
from ..compose import compose
from ..periods import whole_months
from ..sentences import Writing
from . import tables
from .findings import findings
from .headline import Told, headline
from .melting import alloy_of, melt_table
from .page import page

__all__ = ["QUESTION", "Parameters", "answer", "page"]

QUESTION = "Where is the metal?"


class Parameters(answers.Parameters):
    """Parameters of the metal balance."""

    metal: Metal | None = Field(None, description="metal shown first; left out: one that is missing, else the most delivered")
    make_alloy: str | None = Field(None, description="alloy to melt from stock, its code in shop.toml; left out: no melt sheet")
    make_g: float = Field(100.0, gt=0, le=100_000, description="weight of that melt, g gross")


def answer(shop: Shop, parameters: Parameters) -> Answer:
    """Return where every gram went up to the as-of date.

    Parameters
    ----------
    shop : Shop
        The cleaned tables.
    parameters : Parameters
        Last day, months looked at for losses and pieces, metal shown first, a melt to make.

    Raises
    ------
    UsageError
        An alloy to melt that shop.toml does not know.
    """
    if parameters.make_alloy:
        alloy_of(parameters.make_alloy, shop.settings)
    last = parameters.as_of or as_of(shop)
    first, to = whole_months(last, parameters.period_months)
    seen, costing = until(shop, last), cost(shop, last)
    found = whole(seen, costing)
    frames = tables.frames(seen, costing, found, pd.Timestamp(first), pd.Timestamp(to))
    frames["recovery"] = (_recovery(found, shop.settings), tables.RECOVERY)
    frames["melt"] = (melt_table(seen, found, parameters.make_alloy, parameters.make_g), tables.MELT)
    writing = Writing.of(shop.settings)
    shown = _shown(found, parameters.metal)
    frames["metals"] = (tables.metals_table(found, shown, shop.settings), tables.METALS)
    told = _told(shown, shop.settings)
    plain = {name: frame for name, (frame, _) in frames.items()}
    return compose(
        shop, "metal_balance", parameters, (first, to), headline(told, writing), _figures(shown, told, writing),
        {name: tables.made(frame, columns, writing.currency) for name, (frame, columns) in frames.items()},
        findings(seen, costing, found, plain, writing), last,
    )  # fmt: skip


def _shown(found: Whole, wanted: str | None) -> OneMetal | None:
    """Return the metal shown first: the one asked for, one that is missing, else the one most delivered in money."""
    named = [one for one in found.metals if one.metal == wanted]
    alarms = sorted((one for one in found.metals if one.missing.alarm), key=lambda one: -one.missing.grams * _price(one))
    most = sorted(found.metals, key=lambda one: -float(one.balance.rows["delivered"].sum()) * _price(one))
    return next(iter([*named, *alarms, *most]), None)


def _price(one: OneMetal) -> float:
    spot = float(one.spot[-1])
    return 1.0 if math.isnan(spot) else spot


def _told(one: OneMetal | None, settings: Settings) -> Told:
    if one is None:
        return Told("")
    rows, test = one.balance.rows, one.missing
    between = rows.iloc[one.balance.between]
    whole_row = one.balance.over_all()
    late = one.lots[one.lots["overdue_days"] > 0]
    total = between if len(between) else rows
    told = Told(
        one.metal, one.cannot_tell, test.alarm, test.at_once, delivered_g=float(total["delivered"].sum()),
        lost_g=float(total["recorded_loss"].sum()), assumed_g=float(total["assumed_loss"].sum()), spot=float(one.spot[-1]),
        drift_g=math.nan if whole_row is None else float(whole_row["unexplained_high"] - whole_row["unexplained"]),
        drift_months=math.nan if whole_row is None else (whole_row["to"] - whole_row["from"]).days / 30.4375,
        tolerance_permille=settings.policy.fineness_tolerance_permille, overdue_g=float(late["as_expected_g"].sum()),
    )  # fmt: skip
    if test.alarm:
        began, ended = _date(between["from"].iloc[test.first]), _date(between["to"].iloc[test.first])
        told = replace(told, missing_g=test.grams, began=began, ended=ended)
    if one.cannot_tell == "one_count":
        told = replace(told, from_=_date(rows["from"].iloc[0]))
    return _with_last_count(told, between) if len(between) else told


def _with_last_count(told: Told, between: pd.DataFrame) -> Told:
    row = between.iloc[-1]
    left, low, high = (float(row[name]) for name in ("unexplained", "unexplained_low", "unexplained_high"))
    return replace(told, from_=_date(row["from"]), to=_date(row["to"]), unexplained_g=left, low_g=low, high_g=high)


def _date(day: pd.Timestamp) -> date:
    return day.date()


def _recovery(found: Whole, settings: Settings) -> pd.DataFrame:
    policy = settings.policy
    expected = policy.filings_recovery_percent / 100.0 * (1.0 - policy.refining_charge_percent / 100.0)
    rows = [(one.metal, *(1000.0 * value for value in recovery_by_lot(one.lots)[:3]), recovery_by_lot(one.lots)[3]) for one in found.metals]
    table = pd.DataFrame(rows, columns=["metal", "recovered", "low", "high", "lots"]).assign(expected=1000.0 * expected)
    return table[table["lots"] > 0].reset_index(drop=True)


def shown_row(one: OneMetal) -> pd.Series[Any]:
    """Return the balance the figures and the bridge show: where metal went at once, else the last between two counts, else the last."""
    rows, between = one.balance.rows, one.balance.between
    last = between[-1] if len(between) else len(rows) - 1
    return rows.iloc[int(between[one.missing.first] if one.missing.alarm and one.missing.at_once else last)]


def _figures(one: OneMetal | None, told: Told, writing: Writing) -> list[Figure]:
    if one is None:
        return []
    row = shown_row(one)
    period = f"{row['from']:%Y-%m-%d} to {row['to']:%Y-%m-%d}"
    came_in = row[["bought", "customer_in", "borrowed", "refined_back"]].sum()
    worked = row["delivered"] + row["recorded_loss"]
    loss = row["recorded_loss"]
    basis = "loss assumed" if row["assumed_loss"] > 0.5 * loss else "weighed"
    spans = {"low": _plain(row["unexplained_low"]), "high": _plain(row["unexplained_high"]), "level": 0.95}
    values = [
        ("Came in", came_in, "g fine", "weighed"), ("Delivered", row["delivered"], "g fine", "weighed"),
        ("On the benches", row["in_process"], "g fine", "weighed"), ("Recorded loss", loss, "g fine", basis),
        ("Recorded loss, share", 1000.0 * loss / worked if worked > 0 else math.nan, "‰", basis),
        ("Recorded loss, money", loss * told.spot, writing.currency, basis),
        ("Spot", told.spot, f"{writing.currency}/g fine", "last price"),
    ]  # fmt: skip
    figures = [Figure(name=name, value=_plain(value), unit=unit, period=period, basis=kind) for name, value, unit, kind in values]
    unexplained = Figure(name="Unexplained", value=_plain(row["unexplained"]), unit="g fine", period=period, basis="weighed", **spans)
    return [*figures[:4], *_missing(one), unexplained, *figures[4:]]


def _missing(one: OneMetal) -> list[Figure]:
    """Return the figure the headline names when metal is missing: what the test says, with its range."""
    test, rows = one.missing, one.balance.rows.iloc[one.balance.between]
    if not test.alarm:
        return []
    period = f"{rows['from'].iloc[test.first]:%Y-%m-%d} to {rows['to'].iloc[test.last]:%Y-%m-%d}"
    ends = {"low": _plain(test.low), "high": _plain(test.high), "level": 0.95}
    return [Figure(name="Missing", value=_plain(test.grams), unit="g fine", period=period, basis="estimated", **ends)]


def _plain(value: float) -> float | None:
    return rounded(float(value)) if np.isfinite(value) else None
