"""The metal of the invented workshop balances: what the books and the cards say is all there is."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from shoplib.intake.shop import Shop

PALLADIUM = {"18k white": 0.125}
IN = ("bought", "customer_in", "borrowed", "refined_back")
OUT = ("sold", "customer_out", "returned", "refining_sent")


def fine(rows: pd.DataFrame, metal: str) -> pd.Series:
    """Fine grams of ledger rows in one metal; a blank fineness of a metal is 999.9."""
    if metal == "palladium":
        share = rows["metal"].map(PALLADIUM).fillna((rows["metal"] == "palladium") * 0.9999)
    else:
        share = (rows["fineness"].fillna(999.9) / 1000).where(rows["metal"] != "palladium", 0.0)
    return (rows["gross_g"] * share).fillna(0.0)


def from_cards(shop: Shop, metal: str, after: pd.Timestamp, until: pd.Timestamp) -> float:
    """Fine grams that left the safe by the cards: given out at the melt and solder, less clean scrap."""
    alloys = {alloy.code: alloy for alloy in shop.settings.alloys}
    of_order = shop["orders"].set_index("order_id")["alloy"]
    cards = shop["labour"]
    cards = cards[(cards["date"] > after) & (cards["date"] <= until) & cards["order_id"].notna()]
    code = cards["order_id"].str.split("; ").str[0].map(of_order)
    phi = code.map({c: a.phi_melted if metal == "gold" else PALLADIUM.get(c, 0.0) for c, a in alloys.items()})
    first = cards["weight_in_g"].where((cards["stage"] == "melt") & ~cards["scrap_back_g"].gt(0), 0.0)
    net = ((first.fillna(0.0) - cards["scrap_back_g"].fillna(0.0)) * phi).sum()
    solders = {s.code: s.fineness / 1000 for s in shop.settings.solders}
    return float(net + (cards["solder"].map(solders) * cards["solder_g"]).sum() * (metal == "gold"))


@pytest.mark.parametrize("metal", ["gold", "palladium"])
def test_counts_close_within_weighing(shop: Shop, metal: str) -> None:
    """Between any two counts the safe explains itself to within 0.6 g: nothing is missing from the invented shop.

    Worked by hand: some 90 melts, 90 scraps and 90 solders a month, each off by at most a scale step and a quarter
    step of noise (sd 0.004 g), make 0.06 g; the ten drawers of two counts (sd 0.03 g each) make 0.10 g; 0.6 g is five times both.
    """
    ledger = shop["metal_ledger"]
    counts = ledger[ledger["kind"] == "stock_count"]
    counted = fine(counts, metal).groupby(counts["date"]).sum()
    days = [counted.index[0] - pd.Timedelta(days=1), *counted.index[1:]]
    gaps = []
    for before, after, opening, closing in zip(days, days[1:], counted.iloc[:-1], counted.iloc[1:], strict=False):
        rows = ledger[(ledger["date"] > before) & (ledger["date"] <= after)]
        moved = sum(fine(rows[rows["kind"] == kind], metal).sum() for kind in IN)
        moved -= sum(fine(rows[rows["kind"] == kind], metal).sum() for kind in OUT)
        gaps.append(opening + moved - from_cards(shop, metal, before, after) - closing)
    assert np.max(np.abs(gaps)) < 0.6


def test_every_kind_of_movement_occurs(shop: Shop) -> None:
    """The demo shows each kind of ledger row at least once."""
    kinds = {"bought", "sold", "customer_in", "customer_out", "refining_sent", "filings_sent", "refined_back", "refining_charge"}
    kinds |= {"borrowed", "returned", "priced", "bought_forward", "stock_count"}
    assert kinds == set(shop["metal_ledger"]["kind"])


def test_one_lot_is_overdue(shop: Shop) -> None:
    """One parcel of filings was due back before the last day and has not come."""
    ledger = shop["metal_ledger"]
    sent, back = ledger[ledger["kind"] == "filings_sent"], set(ledger.loc[ledger["kind"] == "refined_back", "lot"])
    late = sent[~sent["lot"].isin(back) & (sent["due_on"] < pd.Timestamp("2026-10-31"))]
    assert len(late) == 1


def test_the_loan_is_settled(shop: Shop) -> None:
    """Grams borrowed equal grams priced and grams returned."""
    grams = shop["metal_ledger"].groupby("kind")["gross_g"].sum()
    assert grams["borrowed"] == grams["priced"] + grams["returned"]


def test_cards_and_scale_agree(shop: Shop) -> None:
    """Of a delivered chain: first weight in + solder + parts − scrap − finished weight is a loss of 1 to 6 percent."""
    orders = shop["orders"]
    done = orders[(orders["kind"] == "order") & orders["delivered_on"].notna()].set_index("order_id")
    cards = shop["labour"]
    cards = cards[cards["order_id"].isin(done.index)]
    per = cards.groupby("order_id").agg(given=("weight_in_g", "first"), scrap=("scrap_back_g", "sum"), solder=("solder_g", "sum"))
    per = per[per.index.isin(cards.loc[(cards["stage"] == "melt") & cards["weight_in_g"].notna(), "order_id"])]
    per = per.join(done[["findings_g", "not_metal_g", "finished_weight_g"]])
    lost = per["given"] + per["solder"] + per["findings_g"] + per["not_metal_g"] - per["scrap"] - per["finished_weight_g"]
    assert (lost / per["given"]).between(0.01, 0.06).mean() > 0.995
