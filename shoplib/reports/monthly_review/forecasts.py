"""What is said of the month to come, and whether what was said last time came true.

To add a forecast: one entry in `MEASURES`, which tells what happened, and its range in `said`.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from ...costing import Costing
from ...errors import DataError
from ...intake.shop import Shop
from ..periods import month_start

LOW, MIDDLE, HIGH = 0.1, 0.5, 0.9
LEVEL = 0.8
COLUMNS = ["made_on", "what", "due_on", "low", "mid", "high", "level", "unit", "replayed"]
LAST_TIME = ["forecast_on", "what", "forecast_low", "forecast_mid", "forecast_high", "happened", "inside", "due_on", "unit"]


@dataclass(frozen=True)
class Facts:
    """What happened is told from the shop's tables and its costing, as known on the as-of date."""

    shop: Shop
    costing: Costing


Measure = Callable[[Facts, date, date], float]


def _between(days: pd.Series, made_on: date, due_on: date) -> pd.Series:
    return (days > pd.Timestamp(made_on)) & (days <= pd.Timestamp(due_on))


def _placed(facts: Facts, made_on: date, due_on: date) -> float:
    return float(_between(facts.shop["orders"]["ordered_on"], made_on, due_on).sum())


def _delivered(facts: Facts, made_on: date, due_on: date) -> float:
    return float(_between(facts.costing.orders["delivered_on"], made_on, due_on).sum())


def _margin(facts: Facts, made_on: date, due_on: date) -> float:
    orders = facts.costing.orders
    return float(orders.loc[_between(orders["delivered_on"], made_on, due_on), "making_margin"].sum())


def _cleared(facts: Facts, made_on: date, due_on: date) -> float:
    """Orders open on `made_on` that were delivered by `due_on`."""
    orders = facts.costing.orders
    return float((_between(orders["delivered_on"], made_on, due_on) & (orders["ordered_on"] <= pd.Timestamp(made_on))).sum())


MEASURES: dict[str, Measure] = {
    "orders placed": _placed,
    "orders delivered": _delivered,
    "making margin": _margin,
    "open orders delivered": _cleared,
}
"""What each forecast is of, and how what happened is counted."""


def due_day(last: date, months: int = 1) -> date:
    """Return the last day of the month `months` whole months after `last`."""
    return month_start(last + timedelta(days=1), -months) - timedelta(days=1)


def said(last: date, draws: dict[str, np.ndarray], units: dict[str, str], replayed: bool) -> pd.DataFrame:
    """Return table ``forecasts``: the 80 % range of each thing to come by the end of the next month.

    Parameters
    ----------
    last : date
        As-of date.
    draws : dict of str to ndarray
        Draws of each thing, keys of `MEASURES`.
    units : dict of str to str
        Their units.
    replayed : bool
        The forecast is made after the newest review already there.
    """
    rows = []
    for what in sorted(draws):
        low, middle, high = np.quantile(draws[what], (LOW, MIDDLE, HIGH), method="inverted_cdf")
        rows.append((last, what, due_day(last), float(low), float(middle), float(high), LEVEL, units[what], replayed))
    return pd.DataFrame(rows, columns=COLUMNS)


def margin_draws(delivered: np.ndarray, orders: pd.DataFrame, seed: int) -> np.ndarray:
    """Return draws of a month's making margin: simulated deliveries × orders drawn from those of the last twelve months.

    Parameters
    ----------
    delivered : ndarray(int), shape (R,)
        Orders delivered in the month, by replication.
    orders : DataFrame
        Costed orders of the last twelve months.
    seed : int
        Seed of the draws.
    """
    margins = orders["making_margin"].dropna().to_numpy()
    if not len(margins):
        return np.zeros(0)
    rng = np.random.default_rng([seed, 71])
    return np.array([rng.choice(margins, int(n)).sum() if n else 0.0 for n in delivered])


def read_review(path: Path) -> dict[str, Any]:
    """Return an earlier review's answers file.

    Raises
    ------
    DataError
        The file cannot be read or is no review.
    """
    try:
        content: dict[str, Any] = json.loads(path.read_text("utf-8"))
        if content["report"] == "monthly_review" and "forecasts" in content["tables"]:
            return content
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise DataError(
            "the earlier review cannot be read", where=path.name, found=type(error).__name__, to_do="name another with --previous"
        ) from error
    raise DataError("this is no answers file of a monthly review", where=path.name, to_do="name another with --previous")


def rows_of(review: dict[str, Any], table: str) -> pd.DataFrame:
    """Return a table of an answers file; no rows where it is missing."""
    part = review["tables"].get(table, {"columns": [], "rows": []})
    return pd.DataFrame(part["rows"], columns=[one["name"] for one in part["columns"]])


def scored(review: dict[str, Any], facts: Facts, last: date) -> pd.DataFrame:
    """Return table ``last_time``: the forecasts of an earlier review that fell due by `last`, and what came."""
    rows = []
    for one in rows_of(review, "forecasts").to_dict("records"):
        made_on, due_on = date.fromisoformat(one["made_on"]), date.fromisoformat(one["due_on"])
        if due_on > last or one["what"] not in MEASURES or one["low"] is None:
            continue
        happened = MEASURES[one["what"]](facts, made_on, due_on)
        inside = one["low"] <= happened <= one["high"]
        rows.append((made_on, one["what"], one["low"], one["mid"], one["high"], happened, bool(inside), due_on, one["unit"]))
    return pd.DataFrame(rows, columns=LAST_TIME)


def running_record(review: dict[str, Any] | None, new: pd.DataFrame) -> pd.DataFrame:
    """Return table ``record``: every forecast scored so far, those of earlier reviews first."""
    old = rows_of(review, "record") if review else pd.DataFrame(columns=LAST_TIME)
    new = new.assign(forecast_on=[str(day) for day in new["forecast_on"]], due_on=[str(day) for day in new["due_on"]])
    both = pd.concat([old.reindex(columns=LAST_TIME), new], ignore_index=True) if len(old) else new
    return both.drop_duplicates(["forecast_on", "what", "due_on"], keep="first", ignore_index=True)
