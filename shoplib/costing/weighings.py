"""Weighings on the job card: what each visit took off a piece, and what a whole order lost between scale and scale."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..settings import Settings
from .totals import total_by

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
FAR_OUT = 3.0
"""Tukey (1977), Exploratory Data Analysis: beyond the upper quartile by this many quartile distances is far out."""
LEAST_UNUSUAL_SHARE = 0.02
"""A drop under this share of the weight given is never called unusual; common practice, no source."""


def weighed_visits(frame: pd.DataFrame, visit: Ints, settings: Settings) -> pd.DataFrame:
    """Return one row a visit with its weights.

    Parameters
    ----------
    frame : DataFrame
        Entries in sequence, from `labour.entries`.
    visit : ndarray(int)
        From `labour.visits`.
    settings : Settings
        Its stages say which of them cut.

    Returns
    -------
    DataFrame
        order, stage, nth (visit of its order, from 0), day (last), weight_in_g (first), weight_out_g (last), solder_g,
        scrap_g, drop_g = in + solder − out − scrap (NaN unless weighed on both sides), unusual (bool), row (first).
    """
    grouped = frame[visit >= 0].groupby(visit[visit >= 0], sort=False)
    table = grouped.agg(
        order=("order", "first"), stage=("stage", "first"), day=("day", "last"), weight_in_g=("weight_in_g", "first"),
        weight_out_g=("weight_out_g", "last"), solder_g=("solder_g", "sum"), scrap_g=("scrap_back_g", "sum"), row=("row", "first"),
    )  # fmt: skip
    table["nth"] = table.groupby("order", sort=False).cumcount()
    table["drop_g"] = table["weight_in_g"] + table["solder_g"] - table["weight_out_g"] - table["scrap_g"]
    table["unusual"] = _unusual(table, np.array([stage.cuts for stage in settings.stages], dtype=bool))
    return table.reset_index(drop=True)


def _unusual(table: pd.DataFrame, cuts: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Mark drops far outside those of their cutting stage where no scrap is noted."""
    share = (table["drop_g"] / table["weight_in_g"]).to_numpy()
    stage = table["stage"].to_numpy()
    limit = np.full(len(cuts), np.inf)
    for k in np.flatnonzero(cuts):
        seen = share[(stage == k) & ~np.isnan(share)]
        if len(seen) >= 4:
            low, high = np.quantile(seen, [0.25, 0.75])
            limit[k] = max(high + FAR_OUT * (high - low), LEAST_UNUSUAL_SHARE)
    unusual: NDArray[np.bool_] = (share > limit[stage]) & (table["scrap_g"].to_numpy() == 0) if len(cuts) else np.zeros(len(table), bool)
    return unusual


def stage_drops(table: pd.DataFrame, n_orders: int, n_stages: int) -> Floats:
    """Return the g gross each stage took off each order, unusual drops left out, shape (n_orders, n_stages)."""
    counted = ~table["unusual"].to_numpy() & table["drop_g"].notna().to_numpy()
    place = np.where(counted, table["order"].to_numpy() * n_stages + table["stage"].to_numpy(), -1)
    return total_by(place, table["drop_g"].to_numpy(), n_orders * n_stages).reshape(n_orders, n_stages)


def given_out(table: pd.DataFrame, n_orders: int, settings: Settings) -> Floats:
    """Return the g gross first weighed to each order, NaN unless that was when metal was given out.

    The first weight in must stand at or before the first visit to a stage that takes metal, or at the first visit where no
    stage does: a card weighed only before polishing does not tell what the whole order lost.
    """
    takes = np.array([stage.takes_metal for stage in settings.stages], dtype=bool)
    metal_visit = _first(table[takes[table["stage"].to_numpy()]], "nth", n_orders) if len(takes) else np.full(n_orders, np.nan)
    weighed = table[table["weight_in_g"].notna()]
    in_time = _first(weighed, "nth", n_orders) <= np.where(np.isnan(metal_visit), 0, metal_visit)
    return np.where(in_time, _first(weighed, "weight_in_g", n_orders), np.nan)


def last_weight(table: pd.DataFrame, n_orders: int) -> Floats:
    """Return the last weight out of each order, g gross, NaN without one."""
    return _first(table[table["weight_out_g"].notna()].iloc[::-1], "weight_out_g", n_orders)


def _first(table: pd.DataFrame, column: str, n_orders: int) -> Floats:
    values = np.full(n_orders, np.nan)
    firsts = table.drop_duplicates("order")
    values[firsts["order"].to_numpy()] = firsts[column].to_numpy()
    return values
