"""What groups of orders bring: sums, and contribution per limiting hour with its range.

The range is that of a ratio of sums over orders drawn from the same group: Cochran (1977), Sampling Techniques, §6.3,
with Student's t on n − 1 degrees of freedom.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Floats = NDArray[np.float64]
BY = ("style", "alloy", "style_alloy", "customer_type", "metal_terms")
LEAST_RANKED = 5
LEVEL = 0.8
COLUMNS = (
    "by", "group", "n", "making_charge", "making_margin", "contribution", "contribution_per_limiting_hour", "low", "high",
    "limiting_hours", "hours", "rank",
)  # fmt: skip


def group_table(orders: pd.DataFrame, by: Sequence[str] = BY) -> pd.DataFrame:
    """Return the groups of `orders` by each of `by`.

    Parameters
    ----------
    orders : DataFrame
        Costed orders delivered in the period.
    by : sequence of str
        Which of `BY`.

    Returns
    -------
    DataFrame
        `COLUMNS`: sums of money; contribution_per_limiting_hour = sum ÷ sum of limiting hours (NaN without any), with its 80 %
        range; rank within `by`, from the highest, only for groups of at least five orders.
    """
    parts = [_by(orders, each, style_alloy(orders) if each == "style_alloy" else orders[each]) for each in by]
    return pd.concat([part for part in parts if len(part)] or parts, ignore_index=True)[list(COLUMNS)]


def style_alloy(orders: pd.DataFrame) -> pd.Series:
    """Return the group "style · alloy" of each order, the style alone where no alloy is written."""
    alloy = orders["alloy"].astype(object)
    return (orders["style"].astype(object) + " · " + alloy.fillna("")).where(alloy.notna(), orders["style"].astype(object))


def _by(orders: pd.DataFrame, by: str, names: pd.Series) -> pd.DataFrame:
    known = orders.assign(group=names.astype(object)).dropna(subset=["group"])
    columns = ["making_charge", "making_margin", "contribution", "limiting_hours", "hours"]
    grouped = known.groupby("group", sort=True)
    table = grouped[columns].sum().assign(n=grouped.size(), by=by).reset_index()
    money, hours = table["contribution"].to_numpy(), table["limiting_hours"].to_numpy()
    table["contribution_per_limiting_hour"] = np.divide(money, hours, out=np.full(len(table), np.nan), where=hours > 0)
    half = half_width(known, table)
    table["low"], table["high"] = table["contribution_per_limiting_hour"] - half, table["contribution_per_limiting_hour"] + half
    table["rank"] = table["contribution_per_limiting_hour"].where(table["n"] >= LEAST_RANKED).rank(ascending=False, method="first")
    return table.sort_values(["rank", "group"], kind="stable", na_position="last")


def half_width(orders: pd.DataFrame, table: pd.DataFrame) -> Floats:
    """Return half the 80 % range of contribution per limiting hour of each group of `table`, NaN for a single order."""
    from scipy.special import stdtrit

    place = pd.Index(table["group"]).get_indexer(pd.Index(orders["group"]))
    each = table["contribution_per_limiting_hour"].to_numpy()[place]
    off = orders["contribution"].to_numpy() - each * orders["limiting_hours"].to_numpy()
    squares = np.bincount(place, np.nan_to_num(off) ** 2, len(table))
    n = table["n"].to_numpy(dtype=np.float64)
    several = n > 1
    freedom = np.where(several, n - 1.0, 1.0)
    error = np.sqrt(squares * n / freedom) / np.where(table["limiting_hours"] > 0, table["limiting_hours"], np.nan)
    return np.where(several, stdtrit(freedom, 0.5 + LEVEL / 2.0) * error, np.nan)
