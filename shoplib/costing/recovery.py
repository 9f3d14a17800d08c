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


def loss_days(table: pd.DataFrame, lost: pd.DataFrame, weighed: pd.DataFrame, settings: Settings) -> pd.DataFrame:
    """Return when metal was lost: the drops weighed at the bench on their day, the rest of an order's loss at delivery.

    Filings are swept up as the work goes on; counted at delivery, a growing amount in process would pass for a better recovery.

    Parameters
    ----------
    table, lost : DataFrame
        From `pieces.pieces` and `losses_of_orders.gross_losses`.
    weighed : DataFrame
        From `weighings.weighed_visits`.
    settings : Settings
        loss_fine_share_percent of its stages.

    Returns
    -------
    DataFrame
        metal, day (datetime64), fine_g, measured (bool: weighed, or by the metal book).
    """
    worked = (table["own"] | table["customers"]).to_numpy()
    drops = weighed[weighed["drop_g"].notna() & ~weighed["unusual"] & worked[weighed["order"].to_numpy()]]
    order = drops["order"].to_numpy()
    share = np.array([stage.loss_fine_share_percent / 100.0 for stage in settings.stages])
    fine = table["phi_melted"].to_numpy()[order] * np.maximum(drops["drop_g"].to_numpy(), 0.0) * share[drops["stage"].to_numpy()]
    rest = lost["gross_loss_fine_g"].to_numpy() - total_by(order, fine, len(table))
    done = np.flatnonzero(table["delivered_on"].notna().to_numpy() & worked)
    measured = lost["loss_basis"].isin(MEASURED).to_numpy()
    metal, delivered = table["metal"].to_numpy(), table["delivered_on"].to_numpy("datetime64[s]")
    return pd.DataFrame({
        "metal": np.concatenate([metal[order], metal[done]]),
        "day": np.concatenate([drops["day"].to_numpy("datetime64[s]"), delivered[done]]),
        "fine_g": np.concatenate([fine, rest[done]]),
        "measured": np.concatenate([np.ones(len(order), dtype=bool), measured[done]]),
    })  # fmt: skip


def returned_share(table: pd.DataFrame, when: pd.DataFrame, moves: pd.DataFrame, settings: Settings) -> tuple[Floats, NDArray[np.object_]]:
    """Return ρ(1 − c) of every order and stage, and its basis.

    An order takes what the lots settled on or before its day had shown, so that a later settlement never changes a past
    month; differences are corrections of the month in which the lot is settled.

    Parameters
    ----------
    table : DataFrame
        Orders with metal and closed_on.
    when : DataFrame
        From `loss_days`.
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
        measured = _measured_on(table, when[(when["metal"] == metal).to_numpy()], lots[lots["metal"] == metal], metal)
        known = ~np.isnan(measured)
        share[known], basis[known] = measured[known, None], "lots"
    return share, basis


def _measured_on(table: pd.DataFrame, when: pd.DataFrame, lots: pd.DataFrame, metal: str) -> Floats:
    """Return the share shown by lots settled by each order's day, NaN before there is one or for another metal."""
    sent = lots["sent_on"].to_numpy("datetime64[D]")
    place = np.searchsorted(sent, when["day"].to_numpy("datetime64[D]"))
    place = np.where(place < len(sent), place, -1)
    fine = when["fine_g"].to_numpy()
    recorded = total_by(place, fine, len(sent))
    by_scale = total_by(place, fine * when["measured"].to_numpy(), len(sent))
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
