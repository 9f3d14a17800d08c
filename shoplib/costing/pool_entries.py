"""What happens to the metal of each kind, as one sequence: the ledger's rows, and what every order takes and gives back.

Within a day what comes in stands before what goes out, and a count is the end of the day.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from ..intake.shop import Finding
from .metal_pool import COLUMNS, walk_pool
from .order_metal import PHASES, order_events, ordinal
from .pool_accounts import Event, OrdersMetal
from .spot import Spot

NEVER = int(np.iinfo(np.int64).max)


def ledger_events(moves: pd.DataFrame) -> pd.DataFrame:
    """Return the ledger's rows in the same columns.

    A count is one row a day and metal; bought_forward is no movement yet; a charge without a metal stands with the first one.
    Filings sent leave for every metal that came back under their lot.
    """
    usual = next((metal for metal in moves["metal"] if metal), "gold")
    rows = moves.assign(metal=moves["metal"].mask((moves["metal"] == "") & (moves["kind"] == "refining_charge"), usual))
    rows = pd.concat([rows[(rows["metal"] != "") & rows["kind"].isin(list(PHASES))], _other_metals_sent(rows)], ignore_index=True)
    counts = rows[rows["kind"] == "stock_count"]
    rows = rows[rows["kind"] != "stock_count"]
    sign = rows["kind"].map({"customer_in": 1.0, "customer_out": -1.0}).fillna(0.0)
    plain = pd.DataFrame({
        "kind": rows["kind"], "day": ordinal(rows["date"]), "order": -1, "fine_g": rows["fine_g"], "filings_g": 0.0,
        "customers_g": sign * rows["fine_g"], "money": rows["money"], "lot": rows["lot"].astype(object).fillna(""),
        "row": rows["row"], "metal": rows["metal"],
    })  # fmt: skip
    events = pd.concat([plain, _counts(counts)], ignore_index=True)
    return events.assign(phase=events["kind"].map(PHASES))


def _other_metals_sent(rows: pd.DataFrame) -> pd.DataFrame:
    """Return rows of filings sent for the other metals that came back under the same lot."""
    back = rows.loc[rows["kind"] == "refined_back", ["lot", "metal"]].dropna().drop_duplicates()
    sent = rows[(rows["kind"] == "filings_sent") & rows["lot"].notna()]
    copies = sent.drop_duplicates(["lot", "date"]).drop(columns="metal").merge(back, on="lot")
    written = pd.MultiIndex.from_frame(sent[["lot", "metal"]])
    return copies[~pd.MultiIndex.from_frame(copies[["lot", "metal"]]).isin(written)].assign(fine_g=0.0)[list(rows.columns)]


def _counts(counts: pd.DataFrame) -> pd.DataFrame:
    """Join the rows of one count: `money` the cost of those that have one, `unpriced_g` the grams of the others."""
    told = counts.assign(unpriced_g=counts["fine_g"].where(counts["money"].isna(), 0.0)).groupby(["metal", "date"])
    joined = told.agg(fine_g=("fine_g", "sum"), money=("money", "sum"), unpriced_g=("unpriced_g", "sum"), row=("row", "min")).reset_index()
    joined = joined.assign(kind="stock_count", day=ordinal(joined["date"]), order=-1, filings_g=0.0, customers_g=0.0, lot="")
    return joined.drop(columns="date")


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


def pool_of(
    table: pd.DataFrame,
    use: pd.DataFrame,
    parts: dict[str, pd.DataFrame],
    bench: pd.DataFrame,
    moves: pd.DataFrame,
    spot: Spot,
    method: str,
) -> tuple[pd.DataFrame, OrdersMetal]:
    """Walk the pools of all metals.

    Parameters
    ----------
    table, use : DataFrame
        From `pieces.pieces` and `order_metal.metal_use`.
    parts : dict of str to DataFrame
        Other priced parts of the alloys by metal, from `order_metal.part_use`; they move a pool only where the ledger has one
        for them, and only in orders begun after it opened.
    bench : DataFrame
        From `order_metal.bench_moves`.
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
    worked = (table["own"] | table["customers"]).to_numpy()
    main = order_events(table, use, np.where(worked, table["metal"].to_numpy(), ""), bench)
    ledger = ledger_events(moves)
    orders, walked = OrdersMetal.empty(len(table)), []
    for metal in sorted({*pd.unique(ledger["metal"]), *pd.unique(main["metal"])}):
        rows = ledger[(ledger["metal"] == metal).to_numpy()]
        opens, mine = opening_day(rows), table["metal"].to_numpy() == metal
        own = main[(main["metal"] == metal).to_numpy()]
        events = pd.concat([rows, own, *_part_events(table, parts, bench, metal, opens)], ignore_index=True)
        events = events.iloc[np.lexsort([events[name].to_numpy() for name in ("row", "order", "phase", "day")])]
        events = events.assign(
            spot=spot.on(metal, events["day"].to_numpy(np.int64).astype("datetime64[D]")), unpriced_g=events["unpriced_g"].fillna(0.0)
        )
        taken = OrdersMetal.empty(len(table))
        walked.append(walk_pool(events[list(Event._fields)], opens, method, taken).assign(metal=metal))
        orders.take_over(taken, mine)
    movements = pd.concat(walked, ignore_index=True) if walked else pd.DataFrame(columns=["metal", *COLUMNS])
    names = np.array([*table["order_id"], None], dtype=object)
    return movements.assign(order_id=names[movements["order"].to_numpy(np.int64)]), orders


def _part_events(
    table: pd.DataFrame, parts: dict[str, pd.DataFrame], bench: pd.DataFrame, metal: str, opens: tuple[int, bool]
) -> list[pd.DataFrame]:
    if metal not in parts or opens[0] == NEVER:
        return []
    after = ordinal(table["issued_on"]) >= opens[0] + opens[1]
    takes = after & (parts[metal]["issued_g"] + parts[metal]["needed_g"] > 0).to_numpy() & table["issued_on"].notna().to_numpy()
    share = (table[f"part_{metal}"] * table["own"]).to_numpy()[bench["order"].to_numpy()]
    given_back = bench.assign(fine_g=-share * bench["scrap_g"].to_numpy(), customers_g=0.0)
    return [order_events(table, parts[metal], np.where(takes, metal, "").astype(object), given_back, "part_")]


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
