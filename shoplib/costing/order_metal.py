"""The metal of each order: what it takes at issue, what moves while it is worked, and the true-up when it closes.

Solder comes out of the safe and clean scrap goes back to it on the day of the work; the rest is settled on delivery.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..settings import Settings
from .pieces import solder_fine
from .totals import ratio, total_by

Floats = NDArray[np.float64]
PHASES = {
    "customer_in": 0, "bought": 0, "borrowed": 0, "refined_back": 0, "priced": 1, "issue": 2, "part_issue": 2, "sold": 2,
    "returned": 2, "customer_out": 2, "refining_sent": 2, "bench": 3, "part_bench": 3, "true_up": 4, "part_true_up": 4,
    "filings_sent": 5, "refining_charge": 5, "stock_count": 6,
}  # fmt: skip
"""Order of movements within a day; what an order gives back is among what comes in, unless it was issued that day."""


def metal_use(table: pd.DataFrame, lost: pd.DataFrame, issued_g: Floats, shop_keeps_filings: bool, allowance: float) -> pd.DataFrame:
    """Return the shop's and the customers' fine grams in each order.

    Parameters
    ----------
    table : DataFrame
        From `pieces.pieces`.
    lost : DataFrame
        gross_loss_g, net_loss_g, gross_loss_fine_g, net_loss_fine_g.
    issued_g : ndarray(float)
        g fine given out at first, from `ledger.issued_fine`.
    shop_keeps_filings : bool
        Filings of customers' metal stay with the shop.
    allowance : float
        Loss a customer allows, share of the finished weight.

    Returns
    -------
    DataFrame
        issued_g (shop's, at issue), needed_g (shop's, once closed), filings_g (expected back, shop's), book_g =
        needed − filings (what the order is charged with), customers_issued_g, customers_left_g (back in the safe at closing).
    """
    own, customers = table["own"].to_numpy(), table["customers"].to_numpy()
    delivered, closed = table["delivered_on"].notna().to_numpy(), table["closed_on"].notna().to_numpy()
    gross, net = lost["gross_loss_fine_g"].to_numpy(), lost["net_loss_fine_g"].to_numpy()
    finished = np.where(delivered, table["fine_g"].to_numpy(), 0.0)
    allowed = table["phi_melted"].to_numpy() * allowance * table["weight_g"].to_numpy()
    made_good = np.maximum(0.0, (gross if shop_keeps_filings else net) - allowed) * (delivered & customers)
    back = (gross - net) * (own | (customers & delivered & shop_keeps_filings)) * closed
    needed = np.where(own & closed, finished + gross, made_good)
    theirs = np.where(customers, issued_g, 0.0)
    left = np.where(closed, theirs - np.where(delivered, finished + gross - made_good, gross), 0.0) * customers
    instant = closed & (table["issued_on"] == table["closed_on"]).to_numpy()
    issued = np.where(own, np.where(instant, needed, issued_g), 0.0)
    shop = {"issued_g": issued, "needed_g": needed, "filings_g": back, "book_g": needed - back}
    return pd.DataFrame({**shop, "customers_issued_g": theirs, "customers_left_g": left}, index=table.index)


def part_use(table: pd.DataFrame, lost: pd.DataFrame, issued_g: Floats, metal: str, spot_at_fix: Floats) -> pd.DataFrame:
    """Return the grams of one other priced part of the alloy in each order, in the columns of `metal_use`, and what is charged.

    Parameters
    ----------
    table, lost : DataFrame
        As for `metal_use`.
    issued_g : ndarray(float)
        g fine of the alloy's own metal given out at first.
    metal : str
        The part.
    spot_at_fix : ndarray(float)
        Its spot on the day each order's metal price was struck.
    """
    share = table[f"part_{metal}"].to_numpy() * table["own"].to_numpy()
    delivered, closed = table["delivered_on"].notna().to_numpy(), table["closed_on"].notna().to_numpy()
    gross, net = lost["gross_loss_g"].to_numpy(), lost["net_loss_g"].to_numpy()
    finished = np.where(delivered, table["alloy_g"].to_numpy(), 0.0)
    instant = closed & (table["issued_on"] == table["closed_on"]).to_numpy()
    needed = share * (finished + gross) * closed
    given = share * ratio(issued_g, table["phi_melted"].to_numpy())
    parts = {"issued_g": np.where(instant, needed, given), "needed_g": needed, "filings_g": share * (gross - net) * closed}
    none = {"customers_issued_g": 0.0, "customers_left_g": 0.0}
    return pd.DataFrame({**parts, **none, "charged": share * (finished + net) * spot_at_fix}, index=table.index)


def bench_moves(table: pd.DataFrame, frame: pd.DataFrame, settings: Settings) -> pd.DataFrame:
    """Return what went in and out of the safe between issue and closing, one row an order and day.

    Parameters
    ----------
    table : DataFrame
        From `pieces.pieces`.
    frame : DataFrame
        Entries, from `labour.entries`.
    settings : Settings
        Its solders.

    Returns
    -------
    DataFrame
        order, day (ordinal), scrap_g (clean scrap back, g gross), fine_g (the shop's metal taken: solder − scrap), customers_g
        (the customer's scrap back in the safe, g fine).
    """
    order, day = frame["order"].to_numpy(), frame["day"].to_numpy("datetime64[D]")
    start, end = (np.append(table[name].to_numpy("datetime64[D]"), np.datetime64("NaT"))[order] for name in ("issued_on", "closed_on"))
    scrap, solder = frame["scrap_back_g"].fillna(0.0).to_numpy(), solder_fine(frame, table, settings)
    during = (order >= 0) & (day >= start) & (np.isnat(end) | ((day <= end) & (start < end))) & (scrap + solder > 0)
    kept = pd.DataFrame({"order": order[during], "day": day[during].astype(np.int64), "scrap_g": scrap[during], "solder": solder[during]})
    moved = kept.groupby(["order", "day"], sort=True)[["scrap_g", "solder"]].sum().reset_index()
    rows = moved["order"].to_numpy()
    fine = table["phi_melted"].to_numpy()[rows] * moved["scrap_g"].to_numpy()
    own, customers = table["own"].to_numpy()[rows], table["customers"].to_numpy()[rows]
    return moved.assign(fine_g=(moved.pop("solder").to_numpy() - fine) * own, customers_g=fine * customers)


def order_events(
    table: pd.DataFrame, use: pd.DataFrame, metals: NDArray[np.object_], bench: pd.DataFrame, prefix: str = ""
) -> pd.DataFrame:
    """Return all movements of every order that takes metal, columns of `pool_accounts.Event` but spot, with metal and phase.

    Parameters
    ----------
    table : DataFrame
        From `pieces.pieces`.
    use : DataFrame
        From `metal_use` or `part_use`.
    metals : ndarray(object)
        Metal that each order takes, "" for none.
    bench : DataFrame
        From `bench_moves`.
    prefix : str
        Before the kinds, ``part_`` for other parts of the alloy.
    """
    begun = table["issued_on"].notna().to_numpy() & (metals != "")
    start, end = np.flatnonzero(begun), np.flatnonzero(begun & table["closed_on"].notna().to_numpy())
    during = bench[begun[bench["order"].to_numpy()]]
    moved, theirs = (total_by(during["order"].to_numpy(), during[name].to_numpy(), len(table)) for name in ("fine_g", "customers_g"))
    rest = use["needed_g"].to_numpy() - use["issued_g"].to_numpy() - moved
    charged = use["charged"].to_numpy() if "charged" in use else np.full(len(table), np.nan)
    issued = {"fine_g": use["issued_g"].to_numpy(), "customers_g": -use["customers_issued_g"].to_numpy()}
    closing = {"fine_g": rest, "filings_g": use["filings_g"].to_numpy(), "customers_g": use["customers_left_g"].to_numpy() - theirs}
    issue = pd.DataFrame({"order": start, "day": ordinal(table["issued_on"])[start], **{name: g[start] for name, g in issued.items()}})
    true_up = pd.DataFrame({"order": end, "day": ordinal(table["closed_on"])[end], **{name: g[end] for name, g in closing.items()}})
    events = pd.concat([
        issue.assign(kind=prefix + "issue"),
        during[["order", "day", "fine_g", "customers_g"]].assign(kind=prefix + "bench"),
        true_up.assign(kind=prefix + "true_up", money=charged[end]),
    ], ignore_index=True)  # fmt: skip
    rows = events["order"].to_numpy()
    given_back = (events["fine_g"] < 0) & (events["day"].to_numpy() > ordinal(table["issued_on"])[rows])
    phase = events["kind"].map(PHASES).mask(given_back, 0)
    events["filings_g"] = events["filings_g"].fillna(0.0)
    told: pd.DataFrame = events.assign(lot="", row=rows, metal=metals[rows], phase=phase)
    return told


def ordinal(days: pd.Series) -> NDArray[np.int64]:
    """Return days as ordinals of datetime64[D]."""
    return days.to_numpy("datetime64[D]").astype(np.int64)
