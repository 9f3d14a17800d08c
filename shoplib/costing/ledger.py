"""The metal ledger in fine grams of each metal, and the loss it shows between two counts of the safe."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..settings import Settings
from ..units import FINEST, METALS
from .totals import total_by

Floats = NDArray[np.float64]
INTO_SAFE = ("bought", "customer_in", "borrowed", "refined_back")
OUT_OF_SAFE = ("sold", "customer_out", "returned", "refining_sent")
SHORTEST_STRETCH = np.timedelta64(28, "D")
"""Two counts nearer than this say nothing about loss: the work in process outweighs it."""
LARGEST_LOSS_SHARE = 0.3
"""A loss above this share of what was issued is a count or a row that is wrong."""


def ledger_entries(ledger: pd.DataFrame, settings: Settings) -> pd.DataFrame:
    """Return the ledger with `metal` a metal's name and `fine_g`, by day, as it stands on paper within a day.

    A blank fineness is the alloy's mark, 999.9 ‰ for a metal. Rows of an unknown metal keep metal "" and no grams.

    Returns
    -------
    DataFrame
        date, kind, metal, gross_g, fine_g (0 for a row of money alone), money (NaN where blank), lot, order_id, due_on, row.
    """
    fineness = {**dict.fromkeys(METALS, FINEST), **{alloy.code: alloy.fineness for alloy in settings.alloys}}
    names = {**{metal: metal for metal in METALS}, **{alloy.code: alloy.metal for alloy in settings.alloys}}
    written = ledger["metal"].astype(object)
    permille = ledger["fineness"].fillna(written.map(fineness).astype(float))
    fine = (ledger["gross_g"] * permille / 1000.0).fillna(0.0)
    table = ledger.assign(metal=written.map(names).fillna(""), money=ledger["cost"], fine_g=fine)
    columns = ["date", "kind", "metal", "gross_g", "fine_g", "money", "lot", "order_id", "due_on", "row"]
    return table[columns].sort_values(["date", "row"], kind="stable").reset_index(drop=True)


def issued_fine(table: pd.DataFrame, given_g: Floats, settings: Settings) -> Floats:
    """Return the g fine given out to each order at first: as weighed, else quoted ÷ (1 − policy loss); 0 while not begun."""
    quoted = table["quoted_weight_g"].fillna(table["weight_g"]).to_numpy()
    metal_g = np.maximum(quoted - (table["findings_g"] + table["not_metal_g"]).to_numpy(), 0.0)
    grams = np.where(np.isnan(given_g), metal_g / (1.0 - settings.policy.loss_percent / 100.0), given_g)
    begun = table["issued_on"].notna().to_numpy() & (table["own"] | table["customers"]).to_numpy()
    return np.where(begun, table["phi_melted"].to_numpy() * grams, 0.0)


def ledger_loss_share(table: pd.DataFrame, issued_g: Floats, moves: pd.DataFrame) -> Floats:
    """Return the gross loss ÷ metal worked that the ledger shows, for each order; NaN where two counts do not tell it.

    Between two counts of a metal: loss = opening + in − out − closing − delivered − growth of what is in process. An order
    takes the mean over stretches that ended on or before its day, so that a later count never changes a past month.

    Parameters
    ----------
    table : DataFrame
        Orders with metal, issued_on, closed_on, delivered_on, fine_g.
    issued_g : ndarray(float)
        From `issued_fine`.
    moves : DataFrame
        From `ledger_entries`.
    """
    share = np.full(len(table), np.nan)
    closed = table["closed_on"].to_numpy("datetime64[D]")
    day = np.where(np.isnat(closed), np.datetime64("9999-12-31", "D"), closed)
    for metal in pd.unique(table["metal"]):
        ends, lost, worked = _stretches(table, issued_g, moves[moves["metal"] == metal], metal)
        if len(ends):
            mine = np.flatnonzero((table["metal"] == metal).to_numpy())
            place = np.searchsorted(ends, day[mine], side="right")
            share[mine] = np.append(np.nan, np.cumsum(lost) / np.cumsum(worked))[place]
    return share


def _stretches(table: pd.DataFrame, issued_g: Floats, moves: pd.DataFrame, metal: str) -> tuple[NDArray[np.datetime64], Floats, Floats]:
    counted = moves[moves["kind"] == "stock_count"].groupby("date")["fine_g"].sum()
    days = counted.index.to_numpy("datetime64[D]")
    into = moves["kind"].isin(INTO_SAFE).to_numpy() * 1.0 - moves["kind"].isin(OUT_OF_SAFE).to_numpy() * 1.0
    net_in = _until(moves["date"].to_numpy("datetime64[D]"), into * moves["fine_g"].to_numpy(), days)
    mine = table["metal"].to_numpy() == metal
    closed, delivered = table["closed_on"].to_numpy("datetime64[D]"), table["delivered_on"].to_numpy("datetime64[D]")
    finished = _until(delivered, table["fine_g"].to_numpy() * mine, days)
    in_process = _until(table["issued_on"].to_numpy("datetime64[D]"), issued_g * mine, days) - _until(closed, issued_g * mine, days)
    lost = np.diff(net_in) - np.diff(counted.to_numpy()) - np.diff(finished) - np.diff(in_process)
    worked = lost + np.diff(finished)
    usable = (np.diff(days) >= SHORTEST_STRETCH) & (worked > 0) & (lost >= 0) & (lost <= LARGEST_LOSS_SHARE * worked)
    return days[1:][usable], lost[usable], worked[usable]


def _until(days: NDArray[np.datetime64], values: Floats, ends: NDArray[np.datetime64]) -> Floats:
    """Return the running total of `values` at the end of each of `ends`."""
    place = np.where(np.isnat(days), -1, np.searchsorted(ends, days, side="left"))
    return np.cumsum(total_by(np.where(place < len(ends), place, -1), values, len(ends)))
