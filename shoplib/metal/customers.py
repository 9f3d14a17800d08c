"""Customers' own metal, order by order: received, in the piece, allowed for loss, given back, still owed."""

from __future__ import annotations

import numpy as np
import pandas as pd

from ..costing.totals import total_by
from ..settings import Settings
from .cards import Bench, Floats
from .fine import shares_of
from .ledger import fine_share


def customer_metal(bench: Bench, ledger: pd.DataFrame, loss_g: Floats, settings: Settings) -> pd.DataFrame:
    """Return one row an order in the customer's own metal.

    Parameters
    ----------
    bench : Bench
        From `cards.bench`.
    ledger : DataFrame
        Table `metal_ledger` as known.
    loss_g : ndarray, shape (n_orders,)
        What the customer's metal lost, g gross: net of recovery when the filings are the customer's, gross when the shop
        keeps them.
    settings : Settings
        Allowance, percent of the finished weight.

    Returns
    -------
    DataFrame
        order_id, metal, open (bool), received_g, piece_g, allowance_g (most loss the customer bears), loss_borne_g (what it
        bears: the loss, at most the allowance), returned_g, owed_g = received − piece − loss borne − returned; all g fine.
        Of an open order piece and loss are what its card shows so far.
    """
    pieces = bench.pieces
    rows = np.flatnonzero((pieces["metal_terms"] == "customer_metal").to_numpy() & pieces["cancelled_on"].isna().to_numpy())
    names = pieces["order_id"].astype(object).to_numpy()
    allowance = settings.policy.customer_metal_allowance_percent / 100.0
    out = []
    for metal in pd.unique(pieces["metal"].to_numpy()[rows]):
        share = shares_of(pieces, metal, settings)
        received, returned = (_by_order(ledger, kind, metal, names, settings) for kind in ("customer_in", "customer_out"))
        for k in rows[pieces["metal"].to_numpy()[rows] == metal]:
            piece = pieces["fine_g"].to_numpy()[k] if pieces["delivered_on"].notna().to_numpy()[k] else share[k] * bench.end_alloy_g[k]
            allowed = share[k] * pieces["weight_g"].to_numpy()[k] * allowance
            borne = min(share[k] * loss_g[k], allowed)
            owed = received[k] - piece - borne - returned[k]
            out.append((names[k], metal, bool(bench.on_bench[k]), received[k], piece, allowed, borne, returned[k], owed))
    columns = ["order_id", "metal", "open", "received_g", "piece_g", "allowance_g", "loss_borne_g", "returned_g", "owed_g"]
    return pd.DataFrame(out, columns=columns).sort_values("order_id", kind="stable", ignore_index=True)


def _by_order(ledger: pd.DataFrame, kind: str, metal: str, names: Floats, settings: Settings) -> Floats:
    grams = np.nan_to_num(ledger["gross_g"].to_numpy()) * fine_share(ledger, metal, settings)
    place = pd.Index(names).get_indexer(pd.Index(ledger["order_id"].astype(object)))
    here = (ledger["kind"] == kind).to_numpy() & (place >= 0)
    return np.asarray(total_by(place[here], grams[here], len(names)), dtype=float)
