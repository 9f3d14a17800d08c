"""What happens to the metal of each kind, as one sequence: the ledger's rows, and issue and true-up of every order.

Within a day what comes in stands before what goes out, and a count is the end of the day.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..intake.shop import Finding
from .metal_pool import Event, OrdersMetal, walk_pool
from .spot import Spot

Floats = NDArray[np.float64]
PHASES = {
    "customer_in": 0, "bought": 0, "borrowed": 0, "refined_back": 0, "priced": 1, "issue": 2, "sold": 2, "returned": 2,
    "customer_out": 2, "refining_sent": 2, "true_up": 3, "filings_sent": 4, "refining_charge": 4, "stock_count": 5,
}  # fmt: skip
"""Order of movements within a day; a true-up that gives metal back is among what comes in."""
NEVER = int(np.iinfo(np.int64).max)


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


def order_events(table: pd.DataFrame, use: pd.DataFrame) -> pd.DataFrame:
    """Return issue and true-up of every order that takes metal, columns of `Event` (spot still to come), metal and phase."""
    begun = np.flatnonzero(table["issued_on"].notna().to_numpy() & (table["own"] | table["customers"]).to_numpy())
    ended = begun[table["closed_on"].notna().to_numpy()[begun]]
    issue = _events("issue", table["issued_on"], begun, use["issued_g"], 0.0 * use["issued_g"], -use["customers_issued_g"])
    true_up = _events("true_up", table["closed_on"], ended, use["needed_g"] - use["issued_g"], use["filings_g"], use["customers_left_g"])
    events = pd.concat([issue, true_up], ignore_index=True)
    given_back = (events["kind"] == "true_up") & (events["fine_g"] < 0)
    return events.assign(metal=table["metal"].to_numpy()[events["order"]], phase=events["kind"].map(PHASES).mask(given_back, 0))


def _events(kind: str, days: pd.Series, rows: NDArray[np.int64], fine: pd.Series, filings: pd.Series, customers: pd.Series) -> pd.DataFrame:
    parts = {"fine_g": fine, "filings_g": filings, "customers_g": customers}
    grams = {name: values.to_numpy()[rows] for name, values in parts.items()}
    return pd.DataFrame({"kind": kind, "day": _ordinal(days.iloc[rows]), "order": rows, **grams, "money": np.nan, "lot": "", "row": rows})


def ledger_events(moves: pd.DataFrame) -> pd.DataFrame:
    """Return the ledger's rows in the same columns.

    A count is one row a day and metal; bought_forward is no movement yet; a charge without a metal stands with the first one.
    """
    usual = next((metal for metal in moves["metal"] if metal), "gold")
    rows = moves.assign(metal=moves["metal"].mask((moves["metal"] == "") & (moves["kind"] == "refining_charge"), usual))
    rows = rows[(rows["metal"] != "") & rows["kind"].isin(list(PHASES))]
    counts = rows[rows["kind"] == "stock_count"]
    rows = rows[rows["kind"] != "stock_count"]
    sign = rows["kind"].map({"customer_in": 1.0, "customer_out": -1.0}).fillna(0.0)
    plain = pd.DataFrame({
        "kind": rows["kind"], "day": _ordinal(rows["date"]), "order": -1, "fine_g": rows["fine_g"], "filings_g": 0.0,
        "customers_g": sign * rows["fine_g"], "money": rows["money"], "lot": rows["lot"].astype(object).fillna(""),
        "row": rows["row"], "metal": rows["metal"],
    })  # fmt: skip
    events = pd.concat([plain, _counts(counts)], ignore_index=True)
    return events.assign(phase=events["kind"].map(PHASES))


def _counts(counts: pd.DataFrame) -> pd.DataFrame:
    """Join the rows of one count; it has a cost only where every row has one."""
    days = counts.groupby(["metal", "date"])
    told = days.agg(fine_g=("fine_g", "sum"), row=("row", "min"), money=("money", "sum"), priced=("money", "count"), rows=("money", "size"))
    told = told.assign(money=told["money"].where(told["priced"] == told["rows"])).drop(columns=["priced", "rows"]).reset_index()
    told = told.assign(kind="stock_count", day=_ordinal(told["date"]), order=-1, filings_g=0.0, customers_g=0.0, lot="")
    return told.drop(columns="date")


def _ordinal(days: pd.Series) -> NDArray[np.int64]:
    return days.to_numpy("datetime64[D]").astype(np.int64)


def opening_day(events: pd.DataFrame) -> tuple[int, bool]:
    """Return the ordinal day on which a metal's pool opens, and whether by its first count.

    The first count opens it; without any count the first row of the ledger does, with an empty safe; without a ledger
    it never opens and metal is worth spot.
    """
    counts = events.loc[events["kind"] == "stock_count", "day"]
    if len(counts):
        return int(counts.min()), True
    rows = events.loc[events["order"] < 0, "day"]
    return (int(rows.min()), False) if len(rows) else (NEVER, False)


def pool_of(table: pd.DataFrame, use: pd.DataFrame, moves: pd.DataFrame, spot: Spot, method: str) -> tuple[pd.DataFrame, OrdersMetal]:
    """Walk the pools of all metals.

    Parameters
    ----------
    table, use : DataFrame
        From `pieces.pieces` and `metal_use`.
    moves : DataFrame
        From `ledger.ledger_entries`.
    spot : Spot
        Prices.
    method : str
        ``average`` or ``fifo``.

    Returns
    -------
    tuple of DataFrame and OrdersMetal
        Movements of all metals by metal and in sequence: metal, `metal_pool.COLUMNS`, with order_id; what orders took.
    """
    orders = OrdersMetal.empty(len(table))
    events = pd.concat([ledger_events(moves), order_events(table, use)], ignore_index=True)
    walked = []
    for metal in sorted(pd.unique(events["metal"])):
        mine = events[(events["metal"] == metal).to_numpy()]
        mine = mine.iloc[np.lexsort([mine[name].to_numpy() for name in ("row", "order", "phase", "day")])]
        mine = mine.assign(spot=spot.on(metal, mine["day"].to_numpy(np.int64).astype("datetime64[D]")))
        walked.append(walk_pool(mine[list(Event._fields)], opening_day(mine), method, orders).assign(metal=metal))
    if not walked:
        walked = [walk_pool(events.assign(spot=0.0)[list(Event._fields)], (NEVER, False), method, orders).assign(metal="")]
    movements = pd.concat(walked, ignore_index=True)
    names = np.array([*table["order_id"], None], dtype=object)
    return movements.assign(order_id=names[movements["order"].to_numpy(np.int64)]), orders


def pool_findings(movements: pd.DataFrame, moves: pd.DataFrame) -> tuple[Finding, ...]:
    """Return what the reader must know about the pool: below zero, no ledger, the cost at which it opens."""
    found = []
    for metal, rows in movements[movements["below_zero"].astype(bool)].groupby("metal"):
        text = (
            f"By the ledger the {metal} in the safe falls below zero on {rows['date'].iloc[0]:%Y-%m-%d} "
            f"({-rows['pool_g'].min():,.1f} g fine short at worst); metal is taken at its last cost until the next purchase. "
            "Look for a purchase that is not in metal_ledger."
        )
        found.append(Finding("warn", "pool_below_zero", text, "metal_ledger"))
    if not len(moves):
        text = "There is no metal_ledger; metal is worth the spot of the day it was given out. Keep the ledger to see what it really cost."
        found.append(Finding("note", "no_ledger", text, "metal_ledger"))
    counts = moves[moves["kind"] == "stock_count"].drop_duplicates("metal")
    for metal, day, row in counts.loc[counts["money"].isna(), ["metal", "date", "row"]].itertuples(index=False):
        text = f"The first count of {metal} has no cost; the pool opens at the spot of {day:%Y-%m-%d}. Write its cost to that row."
        found.append(Finding("note", "opening_at_spot", text, f"metal_ledger, row {row}"))
    return tuple(found)
