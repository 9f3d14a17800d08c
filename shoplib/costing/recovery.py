"""How much of the metal lost comes back: measured from settled lots of filings, else by stage, else by policy.

Settled lots measure ρ(1 − c) as one number: fine grams returned ÷ fine grams recorded as lost since the lot before. From
stages or policy the two are multiplied, and that is an assumption.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..settings import Settings
from .totals import total_by

Floats = NDArray[np.float64]
MEASURED = ("weighings", "metal_book")
LEAST_MEASURED_SHARE = 0.5
"""Lots measure recovery only where at least this share of the loss they came from was itself measured."""


def settled_lots(moves: pd.DataFrame) -> pd.DataFrame:
    """Return one row a lot of filings that came back: metal, lot, sent_on, settled_on (first return), settled_g fine."""
    named = moves[moves["lot"].notna()]
    sent = named[named["kind"] == "filings_sent"].groupby(["metal", "lot"])["date"].min()
    mixed = pd.MultiIndex.from_frame(named.loc[named["kind"] == "refining_sent", ["metal", "lot"]])
    back = named[named["kind"] == "refined_back"].groupby(["metal", "lot"]).agg(settled_on=("date", "min"), settled_g=("fine_g", "sum"))
    lots = back.join(sent.rename("sent_on"), how="inner")
    return lots[~lots.index.isin(mixed)].reset_index().sort_values(["metal", "sent_on", "lot"], kind="stable", ignore_index=True)


def returned_share(table: pd.DataFrame, lost: pd.DataFrame, moves: pd.DataFrame, settings: Settings) -> tuple[Floats, NDArray[np.object_]]:
    """Return ρ(1 − c) of every order and stage, and its basis.

    An order takes what the lots settled on or before its day had shown, so that a later settlement never changes a past
    month; differences are corrections of the month in which the lot is settled.

    Parameters
    ----------
    table : DataFrame
        Orders with metal and closed_on.
    lost : DataFrame
        From `losses_of_orders.gross_losses`.
    moves : DataFrame
        From `ledger.ledger_entries`.
    settings : Settings
        Recovery by stage and policy, and the refiner's share.

    Returns
    -------
    tuple of ndarray
        Share, shape (n_orders, n_stages + 1); basis, one of ``lots``, ``stages``, ``policy``.
    """
    policy = settings.policy
    own = [stage.recovery_percent for stage in settings.stages] + [None]
    percent = np.array([policy.filings_recovery_percent if value is None else value for value in own])
    assumed = percent / 100.0 * (1.0 - policy.refining_charge_percent / 100.0)
    share = np.tile(assumed, (len(table), 1))
    basis = np.full(len(table), "policy" if all(value is None for value in own) else "stages", dtype=object)
    lots = settled_lots(moves)
    for metal in pd.unique(lots["metal"]):
        measured = _measured_on(table, lost, lots[lots["metal"] == metal], metal)
        known = ~np.isnan(measured)
        share[known], basis[known] = measured[known, None], "lots"
    return share, basis


def _measured_on(table: pd.DataFrame, lost: pd.DataFrame, lots: pd.DataFrame, metal: str) -> Floats:
    """Return the share shown by lots settled by each order's day, NaN before there is one or for another metal."""
    sent = lots["sent_on"].to_numpy("datetime64[D]")
    delivered = table["delivered_on"].to_numpy("datetime64[D]")
    place = np.where(np.isnat(delivered) | (table["metal"] != metal).to_numpy(), -1, np.searchsorted(sent, delivered))
    place = np.where(place < len(sent), place, -1)
    fine = lost["gross_loss_fine_g"].to_numpy()
    recorded = total_by(place, fine, len(sent))
    by_scale = total_by(place, fine * lost["loss_basis"].isin(MEASURED).to_numpy(), len(sent))
    # The first lot holds filings of an unknown time before; it cannot be measured.
    usable = (np.arange(len(sent)) > 0) & (recorded > 0) & (by_scale >= LEAST_MEASURED_SHARE * recorded)
    settled_on = lots["settled_on"].to_numpy("datetime64[D]")
    order = np.argsort(settled_on, kind="stable")
    shown = _running_share((lots["settled_g"].to_numpy() * usable)[order], (recorded * usable)[order])
    closed = table["closed_on"].to_numpy("datetime64[D]")
    day = np.where(np.isnat(closed), np.datetime64("9999-12-31", "D"), closed)
    known = np.append(np.nan, shown)[np.searchsorted(settled_on[order], day, side="right")]
    return np.where((table["metal"] == metal).to_numpy(), known, np.nan)


def _running_share(settled: Floats, recorded: Floats) -> Floats:
    total = np.cumsum(recorded)
    share = np.divide(np.cumsum(settled), total, out=np.full(len(total), np.nan), where=total > 0)
    return np.where(share <= 1.0, share, np.nan)
