"""The shop's record of dates and what to say today: which method, corrected or not, for open and for new orders."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..intake.shop import Shop
from . import backtest, calibrate
from .lead_time import MODEL, said_at
from .plain_rules import LEVELS, QUANTILES, days_of, record_begins

Floats = NDArray[np.float64]
RECALIBRATED = "model_recalibrated"
LOSSES = [f"pinball_{int(100 * level)}" for level in LEVELS]
OPEN_RULES = ("recent", "recent_by_load", "promised")
NEW_RULES = ("recent", "recent_by_load")
"""The promise itself is no rule for what to promise."""


@dataclass(frozen=True)
class Record:
    """What was said on past days beside what came.

    Attributes
    ----------
    said : DataFrame
        As `backtest.forecasts`, methods model, recent, recent_by_load and promised.
    """

    said: pd.DataFrame

    def of(self, method: str, horizon: str) -> pd.DataFrame:
        """Return the rows of a method and horizon that made a forecast."""
        rows = self.said[(self.said["method"] == method) & (self.said["horizon"] == horizon)]
        return rows.dropna(subset=list(QUANTILES))


@dataclass(frozen=True)
class Choice:
    """What is used for one horizon: a method, and the factors its remaining days are multiplied by at each level."""

    method: str
    factors: Floats

    @property
    def corrected(self) -> bool:
        """Whether the factors change anything."""
        return bool((self.factors != 1.0).any())


def track_record(shop: Shop, as_of: date, seed: int, each: Callable[[list[np.datetime64]], list[pd.DataFrame]] | None = None) -> Record:
    """Forecast from past origins, each refitted on what was known then.

    Parameters
    ----------
    shop : Shop
        Whole.
    as_of : date
        Last day that counts: what came later is unknown.
    seed : int
        Seed of the runs.
    each : callable, optional
        Runs `said_at` over the origins, e.g. in several processes; left out: one after another.
    """
    last = np.datetime64(as_of, "D")
    days = past_origins(shop, last)
    parts = each(list(days)) if each is not None else [said_at(shop, day, last, seed) for day in days]
    return Record(pd.concat(parts, ignore_index=True) if parts else backtest.forecasts(shop["orders"], [], {}, last))


def past_origins(shop: Shop, last: np.datetime64) -> NDArray[np.datetime64]:
    """Return the origins from which the shop's past is forecast: late enough to have a history, early enough to be settled."""
    orders = shop["orders"]
    began, delivered = days_of(orders["ordered_on"]), days_of(orders["delivered_on"])
    known = ~np.isnat(delivered) & (delivered <= last)
    if not known.any():
        return np.array([], dtype="datetime64[D]")
    flows = (delivered - began)[known].astype(np.int64)
    settle = int(np.quantile(flows[-200:], 0.95)) + backtest.NEW_DAYS
    return backtest.origins(record_begins(began[began <= last]), last, settle)


def scored(record: Record, seed: int) -> pd.DataFrame:
    """Return the backtest table: every method, and the model corrected where its coverage asks for it, leave one origin out."""
    parts = [record.said]
    for horizon in backtest.HORIZONS:
        rows = record.of(MODEL, horizon)
        if len(rows) and calibrate.needs_correction(rows, seed):
            parts.append(calibrate.leave_one_out(rows).assign(method=RECALIBRATED))
    return backtest.score(pd.concat(parts, ignore_index=True))


def choose(record: Record, table: pd.DataFrame, horizon: str, seed: int) -> Choice:
    """Return what is used for a horizon: a plain rule only where it beat the model by more than its standard error over origins.

    Parameters
    ----------
    record, table : Record, DataFrame
        What was said, and its `scored` table.
    horizon : {'open', 'new'}
        Which orders.
    seed : int
        Of the bootstrap of coverage.
    """
    rows = table[table["horizon"] == horizon]
    ours = RECALIBRATED if (rows["method"] == RECALIBRATED).any() else MODEL
    loss = rows.assign(loss=rows[LOSSES].mean(axis=1)).pivot(index="origin", columns="method", values="loss")
    if ours in loss and len(loss) >= calibrate.FEWEST_ORIGINS:
        for rule in OPEN_RULES if horizon == "open" else NEW_RULES:
            gain = (loss[ours] - loss[rule]).dropna() if rule in loss else pd.Series(dtype=float)
            if len(gain) > 1 and gain.mean() > gain.std(ddof=1) / np.sqrt(len(gain)):
                return Choice(rule, np.ones(len(LEVELS)))
    factors = calibrate.factors(record.of(MODEL, horizon)) if ours == RECALIBRATED else np.ones(len(LEVELS))
    return Choice(MODEL, factors)


def plain_choice(table: pd.DataFrame, horizon: str) -> Choice:
    """Return the plain rule with the least loss on the shop's past, `recent_by_load` without one: for a shop that cannot be simulated."""
    rows = table[(table["horizon"] == horizon) & table["method"].isin(NEW_RULES)]
    loss = rows.assign(loss=rows[LOSSES].mean(axis=1)).groupby("method")["loss"].mean().dropna()
    return Choice(str(loss.idxmin()) if len(loss) else "recent_by_load", np.ones(len(LEVELS)))
