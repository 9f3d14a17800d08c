"""A melt from what the safe held at its last count: scrap first, then fine metal."""

from __future__ import annotations

import pandas as pd

from ...errors import UsageError, nearest
from ...intake.shop import Shop
from ...metal.alloying import OTHER, Stock, composition, melt_from_stock
from ...metal.whole import Whole
from ...settings import Alloy, Settings
from ...units import FINEST, METALS

FINE_FROM = 990.0
"""Fineness from which a metal in the count is fine metal to alloy with, per mille; poorer lots may be solder or unsorted."""
SCRAP_DISCOUNT = 0.98
"""Scrap costs a little less than fine metal, so that it is melted first; common practice, no source."""


def melt_table(shop: Shop, found: Whole, code: str | None, gross_g: float) -> pd.DataFrame:
    """Return what to take from stock for `gross_g` of an alloy: take, gross_g, fine_g; no rows without `code` or when stock is short.

    Raises
    ------
    UsageError
        The alloy is not in shop.toml.
    """
    columns = ["take", "gross_g", "fine_g"]
    if not code:
        return pd.DataFrame(columns=columns)
    alloy = alloy_of(code, shop.settings)
    held = stock(shop, found)
    taken = melt_from_stock(gross_g, composition(alloy), held) or {}
    shares = {item.name: item.shares.get(alloy.metal, 0.0) for item in held}
    return pd.DataFrame([(name, grams, grams * shares[name]) for name, grams in taken.items()], columns=columns)


def alloy_of(code: str, settings: Settings) -> Alloy:
    """Return the alloy of that code.

    Raises
    ------
    UsageError
        With the nearest code.
    """
    known = {alloy.code.lower(): alloy for alloy in settings.alloys}
    if code.lower() in known:
        return known[code.lower()]
    near = nearest(code, known)
    raise UsageError(
        "this alloy is not known", where="metal_balance.make_alloy", found=code, allowed=", ".join(alloy.code for alloy in settings.alloys),
        to_do=f"did you mean {known[near].code}?" if near else "",
    )  # fmt: skip


def stock(shop: Shop, found: Whole) -> list[Stock]:
    """Return what may go into a melt: each alloy and fine metal of the last count, and other metals without limit."""
    ledger = shop["metal_ledger"]
    counted = ledger[(ledger["kind"] == "stock_count") & (ledger["gross_g"] > 0)]
    counted = counted[counted["date"] == counted["date"].max()]
    spot = {one.metal: float(one.spot[-1]) for one in found.metals}
    known = {alloy.code: composition(alloy) for alloy in shop.settings.alloys}
    grams: dict[str, float] = {}
    for row in counted.itertuples():
        fineness = FINEST if pd.isna(row.fineness) else float(row.fineness)
        if row.metal in known or (row.metal in METALS and fineness >= FINE_FROM):
            grams[str(row.metal)] = grams.get(str(row.metal), 0.0) + float(row.gross_g)
    shares = {name: known.get(name, {name: FINEST / 1000.0, OTHER: 1.0 - FINEST / 1000.0}) for name in grams}
    scrap = {name: SCRAP_DISCOUNT if name in known else 1.0 for name in grams}
    held = [Stock(name, shares[name], grams[name], scrap[name] * _worth(shares[name], spot)) for name in sorted(grams)]
    return [*held, Stock(OTHER, {OTHER: 1.0})]


def _worth(shares: dict[str, float], spot: dict[str, float]) -> float:
    """Return money a gram gross of the fine metals in a metal; a metal without a price counts as one a gram."""
    prices = {metal: 1.0 if pd.isna(price) else price for metal, price in spot.items()}
    return sum(share * prices.get(metal, 1.0) for metal, share in shares.items() if metal != OTHER)
