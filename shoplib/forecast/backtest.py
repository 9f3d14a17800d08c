"""Rolling-origin backtest: what would have been said on past days, and what came.

At each origin every method forecasts the orders open then and those ordered in the four weeks after, from what was known
then. Orders called off later are left out, since no delivery could be right. Orders still open at the end are censored and never
dropped: the days waited so far stand for what happened, so a loss can only be understated; a date that may still hold counts as
its chance to.

Reference: L. J. Tashman, "Out-of-sample tests of forecasting accuracy", International Journal of Forecasting 16 (2000), 437–450.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np
import pandas as pd

from .plain_rules import LEVELS, QUANTILES, Days, day_count, days_of
from .scores import pinball
from .survival import chance_held

NEW_DAYS = 28
HORIZONS = ("open", "new")
Forecaster = Callable[[np.datetime64, pd.DataFrame], pd.DataFrame]
"""Takes an origin and the orders asked about; returns order_id, q50, q80, q95 in days after the origin."""

_LEVEL_NAMES = [str(int(100 * p)) for p in LEVELS]
COLUMNS = [
    "method",
    "origin",
    "horizon",
    "n",
    *(f"pinball_{p}" for p in _LEVEL_NAMES),
    *(f"coverage_{p}" for p in _LEVEL_NAMES),
    "bias_days",
]


def origins(first: np.datetime64, as_of: np.datetime64, settle_days: int, most: int = 12, warm_up_days: int = 180) -> Days:
    """Return up to `most` origins, a month or more apart, the last `settle_days` before `as_of`; fewer where history is short.

    Parameters
    ----------
    first, as_of : datetime64[D]
        First and last day of the history.
    settle_days : int
        Days after which most orders asked about have been delivered.
    most, warm_up_days : int
        Most origins; days of history before the first.
    """
    last = as_of - np.timedelta64(settle_days, "D")
    room = int((last - (first + np.timedelta64(warm_up_days, "D"))) / np.timedelta64(1, "D"))
    count = min(most, room // 28 + 1) if room >= 0 else 0
    step = min(room // max(count - 1, 1), 30) if count > 1 else 0
    return last - np.arange(count - 1, -1, -1) * np.timedelta64(step, "D") if count else np.array([], dtype="datetime64[D]")


def asked_at(orders: pd.DataFrame, origin: np.datetime64, horizon: str) -> pd.DataFrame:
    """Return the orders a forecast at `origin` is asked about: those ``open`` then, or the ``new`` ones of the four weeks after."""
    began, delivered, cancelled = (days_of(orders[name]) for name in ("ordered_on", "delivered_on", "cancelled_on"))
    if horizon == "new":
        chosen = (began > origin) & (began <= origin + np.timedelta64(NEW_DAYS, "D"))
    else:
        chosen = (began <= origin) & ~(delivered <= origin)
    return orders[chosen & np.isnat(cancelled)]


def forecasts(orders: pd.DataFrame, days: Iterable[np.datetime64], methods: dict[str, Forecaster], as_of: np.datetime64) -> pd.DataFrame:
    """Collect what each method says at each origin beside what happened.

    Returns
    -------
    DataFrame
        method, origin, horizon, order_id, q50, q80, q95, happened (days after the origin), censored.
    """
    parts = [
        _at(orders, origin, horizon, name, method, as_of) for origin in days for horizon in HORIZONS for name, method in methods.items()
    ]
    columns = ["method", "origin", "horizon", "order_id", *QUANTILES, "happened", "censored"]
    return pd.concat(parts, ignore_index=True)[columns] if parts else pd.DataFrame(columns=columns)


def _at(orders: pd.DataFrame, origin: np.datetime64, horizon: str, name: str, method: Forecaster, as_of: np.datetime64) -> pd.DataFrame:
    asked = asked_at(orders, origin, horizon)
    delivered = days_of(asked["delivered_on"])
    known = ~np.isnat(delivered) & (delivered <= as_of)
    said = asked[["order_id"]].merge(method(origin, asked), on="order_id", how="left", validate="one_to_one")
    happened = day_count(np.where(known, delivered, as_of), origin)
    return said.assign(method=name, origin=origin, horizon=horizon, happened=happened, censored=~known)


def score(said: pd.DataFrame) -> pd.DataFrame:
    """Return the backtest table: one row a method, origin and horizon, columns as `COLUMNS`; orders without a forecast are not counted."""
    rows = [
        _score_row(key, group) for key, group in said.dropna(subset=list(QUANTILES)).groupby(["method", "origin", "horizon"], sort=True)
    ]
    return pd.DataFrame(rows, columns=COLUMNS)


def _score_row(key: tuple[object, ...], group: pd.DataFrame) -> list[object]:
    came = group["happened"]
    losses = [float(pinball(came, group[q], level).mean()) for q, level in zip(QUANTILES, LEVELS, strict=True)]
    held = [float(chance_held(came, group[q], group["censored"]).mean()) for q in QUANTILES]
    return [*key, len(group), *losses, *held, float((group["q50"] - came).mean())]


def pooled(table: pd.DataFrame) -> pd.DataFrame:
    """Return the backtest pooled over origins, weighted by orders: one row a method and horizon."""
    numbers = [name for name in COLUMNS if name not in ("method", "origin", "horizon", "n")]
    weighted = table[numbers].mul(table["n"], axis=0).assign(n=table["n"], method=table["method"], horizon=table["horizon"])
    total = weighted.groupby(["method", "horizon"], sort=True).sum()
    return total[numbers].div(total["n"], axis=0).assign(n=total["n"]).reset_index()


def best_method(table: pd.DataFrame, horizon: str = "open") -> str:
    """Return the method with the least mean pinball loss over the three levels; the empty string when nothing was scored."""
    rows = pooled(table).query("horizon == @horizon")
    if rows.empty:
        return ""
    loss = rows[[f"pinball_{int(100 * p)}" for p in LEVELS]].mean(axis=1)
    return str(rows["method"].iloc[int(loss.to_numpy().argmin())])
