"""Metal to buy week by week for eight weeks, and the deposits and balances that come in against it.

An order takes its metal at its first entry; those entries are simulated. What the safe holds at our price, and what was bought
forward, is used first.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from ..costing import Costing
from ..intake.shop import Shop
from ..workshop.baseline import NEAR_DAYS, Baseline
from .costs import gross_loss_by_alloy
from .exposure import House, agreed_prices
from .lines import YEAR, needed_grams
from .market import Floats, Market

WEEKS = NEAR_DAYS // 7


def issued_by_week(base: Baseline, shop: Shop, costing: Costing, market: Market) -> Floats:
    """Return the shop's own fine grams that orders take, by replication, week and metal, shape (R, WEEKS, M)."""
    issues, n = base.issues, len(base.nothing.delivered)
    codes, own = _alloys_of(base, costing)
    alloys = {alloy.code: alloy for alloy in shop.settings.alloys}
    known = own & np.isin(codes, list(alloys))
    grams = np.where(known, issues["grams"].to_numpy(float), 0.0)
    fine = needed_grams([code if use else next(iter(alloys)) for code, use in zip(codes, known, strict=True)], grams, alloys, market,
                        gross_loss_by_alloy(costing, shop.settings)) if alloys else np.zeros((len(issues), 0))  # fmt: skip
    week = np.clip(issues["start_days"].to_numpy(float) // 7, 0, WEEKS - 1).astype(np.int64)
    sums = np.zeros((n, WEEKS, len(market.metals)))
    np.add.at(sums, (issues["replication"].to_numpy(np.int64), week), fine)
    return sums


def _alloys_of(base: Baseline, costing: Costing) -> tuple[np.ndarray, np.ndarray]:
    """Return the alloy of each issue, and whether the metal is the shop's own."""
    w, known = base.workshop, costing.known.set_index("order_id")
    place, piece = base.issues["open"].to_numpy(np.int64), base.issues["piece"].to_numpy(np.int64)
    there = known.reindex(base.state.order_id)
    alloy_open = np.append(there["alloy"].astype(object).to_numpy(), "")
    own_open = np.append(there["own"].eq(True).to_numpy(), False)
    alloy_new = np.append(w.alloys[w.piece_alloy].astype(object), "")
    own_new = np.append(w.piece_metal > 0, False)
    is_open = place >= 0
    return np.where(is_open, alloy_open[place], alloy_new[piece]), np.where(is_open, own_open[place], own_new[piece])


def to_buy(issued_g: Floats, available_g: Floats) -> Floats:
    """Return the grams to buy in each week: what is taken beyond what is there.

    Parameters
    ----------
    issued_g : ndarray(float), shape (R, weeks)
        Taken in each week.
    available_g : ndarray(float), shape (weeks,)
        At our price and at hand by the end of each week, all told.
    """
    short = np.maximum.accumulate(np.maximum(np.cumsum(issued_g, axis=1) - available_g, 0.0), axis=1)
    return np.diff(short, axis=1, prepend=0.0)


def metal_to_buy(base: Baseline, shop: Shop, costing: Costing, market: Market, houses: list[House]) -> pd.DataFrame:
    """Return the metal to buy by week and metal, and the cash.

    Returns
    -------
    DataFrame
        week (first day), metal, fine_g (mean), low_g, high_g (80 %), money (at spot with the premium), issued_g (taken by orders,
        mean), deposits_and_balances_due (all metals together, the same in each row of a week).
    """
    issued, start = issued_by_week(base, shop, costing, market), market.as_of + np.timedelta64(1, "D")
    due = cash_due(base, shop, costing, market)
    weeks = (start + 7 * np.arange(WEEKS)).astype("datetime64[s]")
    parts = []
    for house in houses:
        k = market.place(house.metal)
        bought = to_buy(issued[:, :, k], _available(house, shop, start))
        low, high = np.quantile(bought, (0.1, 0.9), axis=0)
        money = bought.mean(axis=0) * market.now[k] * (1.0 + market.premium)
        parts.append(pd.DataFrame({
            "week": weeks, "metal": house.metal, "fine_g": bought.mean(axis=0), "low_g": low, "high_g": high, "money": money,
            "issued_g": issued[:, :, k].mean(axis=0), "deposits_and_balances_due": due,
        }))  # fmt: skip
    names = ["week", "metal", "fine_g", "low_g", "high_g", "money", "issued_g", "deposits_and_balances_due"]
    table = pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=names)
    return table.sort_values(["week", "metal"], kind="stable", ignore_index=True)


def _available(house: House, shop: Shop, start: np.datetime64) -> Floats:
    """Return what is at hand at our price by the end of each week: the safe, and forward purchases from their day on."""
    ledger = shop["metal_ledger"]
    forward = house.forward_g
    due = ledger.loc[(ledger["kind"] == "bought_forward").to_numpy(), "due_on"].to_numpy("datetime64[D]")
    due = due[~np.isnat(due) & (due >= start)]
    first = int((due.min() - start).astype(np.int64)) // 7 if len(due) and forward > 0 else 0
    return np.asarray(np.nan_to_num(house.safe_g) + np.where(np.arange(WEEKS) >= first, forward, 0.0))


def cash_due(base: Baseline, shop: Shop, costing: Costing, market: Market) -> Floats:
    """Return the deposits and balances to come in by week, money: open orders at P50 of their delivery, new ones on average."""
    return _open_balances(base, shop, costing, market) + _new_cash(base, shop, market)


def _open_balances(base: Baseline, shop: Shop, costing: Costing, market: Market) -> Floats:
    known = costing.known.set_index("order_id").reindex(base.state.order_id)
    payments = shop["payments"]
    paid = payments.groupby("order_id")["amount"].sum().reindex(base.state.order_id).to_numpy(float)
    paid = np.fmax(paid, known["deposit"].to_numpy(float))
    at_delivery = (known["metal_terms"] == "at_delivery").to_numpy() & known["own"].eq(True).to_numpy()
    spot = {metal: float(market.now[k]) for k, metal in enumerate(market.metals)}
    billed = known["phi"] * (known["weight_g"] - known["not_metal_g"]) * known["metal"].map(spot)
    agreed = np.nan_to_num(agreed_prices(costing, known.reset_index()))
    due = np.maximum(agreed + np.where(at_delivery, billed.fillna(0.0), 0.0) - np.nan_to_num(paid), 0.0)
    day = np.quantile(base.open_finish, 0.5, axis=0, method="inverted_cdf") if len(due) else np.zeros(0)
    near = day < NEAR_DAYS
    week = np.clip(day[near] // 7, 0, WEEKS - 1).astype(np.int64)
    return np.asarray(np.bincount(week, due[near], WEEKS), dtype=float)


def _new_cash(base: Baseline, shop: Shop, market: Market) -> Floats:
    """Return deposits of orders that come within the eight weeks, and balances of those among them that are delivered by then."""
    w, new, n = base.workshop, base.new_orders, len(base.nothing.delivered)
    share = deposit_share(shop, market.as_of)
    price = pd.DataFrame({"style": w.styles[w.piece_style], "alloy": w.alloys[w.piece_alloy], "price": w.piece_price})
    mean = price.groupby(["style", "alloy"])["price"].mean().rename("price").reset_index()
    each = new.astype({"style": object, "alloy": object}).merge(mean.astype({"style": object, "alloy": object}), how="left")
    money = each["price"].fillna(float(w.piece_price.mean()) if len(w.piece_price) else 0.0).to_numpy(float)
    total = np.zeros(WEEKS)
    for name, part in (("arrival_days", share), ("delivered_days", 1.0 - share)):
        day = each[name].to_numpy(float)
        near = (day >= 0) & (day < NEAR_DAYS)
        total += np.bincount((day[near] // 7).astype(np.int64), money[near] * part, WEEKS)
    return np.asarray(total / max(n, 1))


def deposit_share(shop: Shop, as_of: np.datetime64) -> float:
    """Return deposits ÷ prices of the orders of the last 12 months; 0 without one."""
    orders = shop["orders"]
    recent = orders["ordered_on"].to_numpy("datetime64[D]") > as_of - YEAR
    use = orders[recent & (orders["kind"] == "order").to_numpy()]
    price = float(use["price"].sum())
    return float(use["deposit"].sum()) / price if price > 0 else 0.0
