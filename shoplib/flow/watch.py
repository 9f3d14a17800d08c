"""What is watched month by month: loss, right first time, hours per gram and weight over quote, each on its control chart."""

from __future__ import annotations

import numpy as np
import pandas as pd

from .control import Chart, individuals_chart, share_chart
from .months import Days, month_runs, months_until
from .rework_cost import lost_grams
from .visits import History
from .working_time import Hours

LEAST_MONTHS = 8
"""Under this many months nothing is called unusual; common practice, no source."""
LEAST_PIECES = 3
"""A month with fewer pieces gives no value."""
MEASURES = ("loss_permille", "first_pass", "hours_per_g", "weight_over_quote")


def chart_table(history: History) -> pd.DataFrame:
    """Return every value watched in the whole months of the past, with the limits of its chart.

    Returns
    -------
    DataFrame
        - measure: loss_permille (g lost per 1,000 g given, visits weighed on both sides), first_pass (share of orders delivered that
          were never sent back to the stage), hours_per_g (first visits ended), weight_over_quote (delivered ÷ quoted weight)
        - item (stage; style, and "all styles"), month (datetime64), value, n (pieces), centre, lower, upper (NaN: not judged), unusual
    """
    months = months_until(history, None)
    months = months[:-1] if month_runs(history) else months
    parts = [_losses(history), _first_pass(history), _hours_per_g(history), _weight_over_quote(history)]
    return pd.concat([_charted(name, part, months) for name, part in zip(MEASURES, parts, strict=True)], ignore_index=True)


def _losses(history: History) -> pd.DataFrame:
    table = history.visits
    lost = table[["stage", "ended", "weight_in_g"]].set_axis(["item", "day", "under"], axis=1)
    return lost.assign(over=lost_grams(history) * 1000.0).dropna()


def _first_pass(history: History) -> pd.DataFrame:
    """Return one row an order and stage it passed: over is 1 when it was sent back there."""
    table = history.visits[~history.visits["later"].to_numpy()]
    passed = table[["order", "stage"]].drop_duplicates().rename(columns={"stage": "item"})
    back = table.loc[table["is_return"], ["order", "charged_to"]].drop_duplicates().rename(columns={"charged_to": "item"})
    passed = passed.merge(back.assign(over=1.0), on=["order", "item"], how="left")
    day = history.shop["orders"]["delivered_on"].to_numpy()[passed["order"].to_numpy()]
    passed = passed.assign(day=day, over=passed["over"].fillna(0.0), under=1.0)
    closed: pd.DataFrame = passed[passed["day"].notna()]
    return closed


def _hours_per_g(history: History) -> pd.DataFrame:
    table, orders = history.visits, history.shop["orders"]
    weight = orders["finished_weight_g"].fillna(orders["quoted_weight_g"]).to_numpy()[table["order"].to_numpy()]
    rows = pd.DataFrame({"item": table["stage"], "day": table["ended"], "over": table["hours"], "under": weight})
    first = (table["number"] == 1).to_numpy() & ~table["later"].to_numpy()
    firsts: pd.DataFrame = rows[first].dropna()
    return firsts


def _weight_over_quote(history: History) -> pd.DataFrame:
    orders = history.shop["orders"]
    columns = ["style", "delivered_on", "finished_weight_g", "quoted_weight_g"]
    rows = orders[columns].set_axis(["item", "day", "over", "under"], axis=1).dropna()
    return pd.concat([rows.assign(item="all styles"), rows], ignore_index=True)


def _charted(measure: str, rows: pd.DataFrame, months: Days) -> pd.DataFrame:
    """Return one row an item and month: Σ over ÷ Σ under with the limits of the item's chart."""
    month = rows["day"].to_numpy("datetime64[M]")
    rows = rows.assign(month=month.astype("datetime64[s]"))[np.isin(month, months)]
    sums = rows.groupby(["item", "month"], sort=True).agg(over=("over", "sum"), under=("under", "sum"), n=("over", "size")).reset_index()
    parts = [_one_chart(measure, part) for _, part in sums.groupby("item", sort=True)]
    table = pd.concat(parts, ignore_index=True) if parts else _one_chart(measure, sums)
    columns = ["measure", "item", "month", "value", "n", "centre", "lower", "upper", "unusual"]
    return table.assign(measure=measure)[columns]


def _one_chart(measure: str, part: pd.DataFrame) -> pd.DataFrame:
    n, over, under = part["n"].to_numpy(), part["over"].to_numpy(float), part["under"].to_numpy(float)
    enough = (n >= LEAST_PIECES) & (under > 0)
    value = np.where(enough, over / np.where(under > 0, under, 1.0), np.nan)
    chart = _right_first_time(over, n) if measure == "first_pass" else individuals_chart(value)
    judged = np.full(len(part), bool(enough.sum() >= LEAST_MONTHS)) & enough
    lower, upper = np.where(judged, chart.lower, np.nan), np.where(judged, chart.upper, np.nan)
    return part.assign(value=chart.values, centre=chart.centre, lower=lower, upper=upper, unusual=chart.unusual & judged)


def _right_first_time(sent_back: Hours, orders: Hours) -> Chart:
    chart = share_chart(sent_back, orders)
    return Chart(1.0 - chart.values, 1.0 - chart.centre, 1.0 - chart.upper, 1.0 - chart.lower)
