"""The sheet to quote from: what a line costs today, when it would be ready, how long the price stands, what deposit covers the metal."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd

from .costs import MakingCosts
from .lines import Lines
from .market import Floats
from .relist import rounded_up

ENOUGH_RUNS = 40
"""Simulated orders of a style × alloy from which its own days are told, else those of its style, else of all."""


def promise_days(new_orders: pd.DataFrame, lines: Lines, level: float) -> Floats:
    """Return the days from order to delivery that hold with chance `level`, line by line; NaN without simulated orders.

    Parameters
    ----------
    new_orders : DataFrame
        `Baseline.new_orders`; an order not delivered within the run counts as later than any other.
    lines : Lines
        Styles and alloys.
    level : float
        Share of promises to be kept.
    """
    flow = np.nan_to_num((new_orders["delivered_days"] - np.floor(new_orders["arrival_days"])).to_numpy(float), nan=np.inf)
    told = new_orders[["style", "alloy"]].astype(object).assign(flow=flow)
    everyone = _quantile(told["flow"], level)
    of_style = {key: _quantile(group, level) for key, group in told.groupby("style")["flow"] if len(group) >= ENOUGH_RUNS}
    of_both = {key: _quantile(group, level) for key, group in told.groupby(["style", "alloy"])["flow"] if len(group) >= ENOUGH_RUNS}
    keys = zip(lines.table["style"], lines.table["alloy"], strict=True)
    return np.array([of_both.get((style, alloy), of_style.get(style, everyone)) for style, alloy in keys], dtype=float)


def _quantile(flow: pd.Series, level: float) -> float:
    if not len(flow):
        return np.nan
    day = float(np.quantile(flow.to_numpy(float), level, method="inverted_cdf"))
    return float(np.ceil(day)) if np.isfinite(day) else np.nan


def quote_sheet(
    lines: Lines, repriced: pd.DataFrame, costs: MakingCosts, quote_days: Floats, days: Floats, as_of: date, most_days: int, step: float
) -> pd.DataFrame:
    """Return one row a line, for its usual piece at today's spot.

    Parameters
    ----------
    lines, repriced, costs
        The list, its prices at the target (`relist.price_list`), and what its pieces cost.
    quote_days : ndarray(float), shape (n,)
        Days the price may stand.
    days : ndarray(float), shape (n,)
        Days to promise.
    as_of : date
        Today.
    most_days : int
        The shop's own limit on the days a quote stands.
    step : float
        Deposits are rounded up to it.

    Returns
    -------
    DataFrame
        line, g_per_cm, length_cm, weight_g, metal (with loss and premium), hours, making_charge (price − metal), price, promise_on
        (earliest), valid_days, deposit (covers the metal).
    """
    metal, price = repriced["metal_now"].to_numpy(float), repriced["price_to_target"].to_numpy(float)
    start = np.datetime64(as_of, "D")
    whole = np.nan_to_num(days, nan=0.0).astype(np.int64)
    promise = np.where(np.isnan(days), np.datetime64("NaT"), start + whole.astype("timedelta64[D]"))
    table = lines.table
    return pd.DataFrame({
        "line": table["line"], "g_per_cm": table["g_per_cm"], "length_cm": table["length_cm"], "weight_g": table["weight_g"],
        "metal": metal, "hours": costs.hours, "making_charge": price - metal, "price": price,
        "promise_on": promise.astype("datetime64[s]"), "valid_days": np.minimum(quote_days, most_days),
        "deposit": rounded_up(metal, step),
    })  # fmt: skip


def at_length(sheet: pd.DataFrame, line: str, length_cm: float, step: float) -> pd.DataFrame:
    """Return the row of one line for another length; weight, metal, hours and making charge go by length, money is rounded up to `step`."""
    row = sheet[sheet["line"] == line]
    factor = length_cm / row["length_cm"].to_numpy(float)
    metal, charge = (row[name].to_numpy(float) * factor for name in ("metal", "making_charge"))
    price = rounded_up(metal + charge, step)
    return row.assign(
        length_cm=length_cm,
        weight_g=row["weight_g"] * factor,
        metal=metal,
        hours=row["hours"] * factor,
        making_charge=price - metal,
        price=price,
        deposit=rounded_up(metal, step),
    )
