"""Grams in the house against grams at our price: what the shop has sold but not bought, and what 1 % on spot does.

    ours_priced = safe (own, priced) + issued to orders + filings expected back + at the refiner
    net = ours_priced + bought forward − needed by open orders at a fixed price

Borrowed metal that is not priced, and customers' metal, are no cover. Work in process for orders billed at delivery is the shop's
own until then: it is in ours_priced, but covers no fixed order.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from ..costing import Costing
from ..costing.open_orders import expected_loss, recent_orders
from ..costing.totals import total_by
from ..intake.shop import Shop
from ..metal.ledger import fine_share
from ..units import METALS
from .lines import Flags
from .market import Floats, Market
from .open_fixed import FixedOrders, allocate, open_fixed_table


@dataclass(frozen=True)
class House:
    """Where the grams of one metal are, g fine; NaN where no ledger tells.

    Attributes
    ----------
    metal : str
    safe_g : float
        Own and priced, in the safe.
    borrowed_g : float
        In the safe, not priced yet.
    customers_g : float
        Customers', safe and benches.
    filings_g, refiner_g : float
        Filings and sweeps in the house, and metal at the refiner, as expected back.
    issued_g : ndarray(float), shape (n_orders,)
        Issued to each order of `Costing.known` that is open, the shop's own.
    forward_g, forward_cost_per_g : float
        Bought forward and not yet taken, and its price, money per g fine (NaN: not written).
    cost_per_g : float
        What a gram in the pool cost, money; spot without a ledger.
    """

    metal: str
    safe_g: float
    borrowed_g: float
    customers_g: float
    filings_g: float
    refiner_g: float
    issued_g: Floats
    forward_g: float
    forward_cost_per_g: float
    cost_per_g: float

    @property
    def in_house_g(self) -> float:
        """All grams in the house, whoever owns them."""
        return self.safe_g + self.borrowed_g + self.customers_g + self.filings_g + float(self.issued_g.sum())

    @property
    def ours_priced_g(self) -> float:
        """Grams that are the shop's own at a price of its own."""
        return self.safe_g + self.filings_g + self.refiner_g + float(self.issued_g.sum())

    @property
    def free_g(self) -> float:
        """Grams that may cover a fixed order beside those issued to it; 0 where nothing is known."""
        return max(0.0, float(np.nan_to_num(self.safe_g + self.filings_g + self.refiner_g))) + self.forward_g


def house_of(shop: Shop, costing: Costing, market: Market, metal: str) -> House:
    """Return where the grams of one metal are on the as-of day, by the pool of the costing."""
    known, ledger = costing.known, shop["metal_ledger"]
    fine = np.nan_to_num(ledger["gross_g"].to_numpy(float)) * fine_share(ledger, metal, shop.settings)
    pool = costing.pool[(costing.pool["metal"] == metal).to_numpy()]
    is_open = known["closed_on"].isna().to_numpy()
    order = pool["order"].to_numpy(np.int64)
    issued = np.maximum(0.0, -total_by(order, pool["fine_g"].to_numpy(float), len(known))) * is_open
    told = bool((ledger["kind"].isin(("bought", "stock_count", "borrowed")).to_numpy() & (fine > 0)).any()) and len(pool) > 0
    last = pool.iloc[-1] if len(pool) else None
    spot = float(market.now[market.place(metal)])
    owed = max(0.0, sum(sign * float(fine[(ledger["kind"] == kind).to_numpy()].sum()) for kind, sign in _OWED.items()))
    forward, forward_cost = _forward(ledger, fine, market.as_of)
    if not told or last is None:
        return House(metal, np.nan, 0.0, 0.0, 0.0, 0.0, issued, forward, forward_cost, spot)
    in_safe = max(0.0, float(last["pool_g"]))
    borrowed = min(owed, in_safe)
    theirs = max(0.0, float(last["customers_g"])) + _customers_on_bench(known, metal, is_open)
    return House(
        metal, in_safe - borrowed, borrowed, theirs, max(0.0, float(last["filings_g"])), _at_refiner(ledger, fine, pool), issued, forward,
        forward_cost, float(last["c_per_g"]),
    )  # fmt: skip


_OWED = {"borrowed": 1.0, "returned": -1.0, "priced": -1.0}


def _customers_on_bench(known: pd.DataFrame, metal: str, is_open: Flags) -> float:
    there = is_open & known["customers"].to_numpy() & known["issued_on"].notna().to_numpy() & (known["metal"] == metal).to_numpy()
    return float(known["fine_g"].to_numpy(float)[there].sum())


def _forward(ledger: pd.DataFrame, fine: Floats, as_of: np.datetime64) -> tuple[float, float]:
    """Return the grams bought forward that are still to come, and their price."""
    due = ledger["due_on"].to_numpy("datetime64[D]")
    rows = (ledger["kind"] == "bought_forward").to_numpy() & ~(due < as_of)
    grams, cost = float(fine[rows].sum()), float(ledger["cost"].to_numpy(float)[rows].sum())
    return grams, (cost / grams if grams > 0 else np.nan)


def _at_refiner(ledger: pd.DataFrame, fine: Floats, pool: pd.DataFrame) -> float:
    """Return what is at the refiner, g fine: scrap as sent, filings as they were expected when they left."""
    lots = ledger["lot"].astype(object)
    kind = ledger["kind"].to_numpy(object)
    back = set(lots[(kind == "refined_back") & (fine > 0)].dropna())
    out = lots.notna().to_numpy() & ~lots.isin(back).to_numpy() & (fine > 0)
    scrap = float(fine[out & (kind == "refining_sent")].sum())
    held = pool["filings_g"].to_numpy(float)
    before = np.concatenate([[0.0], held[:-1]])
    sent = (pool["kind"] == "filings_sent").to_numpy()
    left = {day: float(grams) for day, grams in zip(pool["date"].to_numpy("datetime64[D]")[sent], before[sent], strict=True) if grams > 0}
    days = np.unique(ledger["date"].to_numpy("datetime64[D]")[out & (kind == "filings_sent")])
    return scrap + sum(left.get(day, 0.0) for day in days)


def fixed_orders(known: pd.DataFrame) -> Flags:
    """Return True for open orders whose price holds metal at a fixed price, the shop's own."""
    fixed = (known["metal_terms"] == "fixed").to_numpy() & (known["kind"] == "order").to_numpy()
    return np.asarray(fixed & known["own"].to_numpy() & known["closed_on"].isna().to_numpy())


def net_loss_expected(costing: Costing) -> Floats:
    """Return the net fine grams each order of `known` will have lost, shape (n_orders,)."""
    known = costing.known
    recent = recent_orders(known, np.datetime64(costing.as_of, "D"))
    told = expected_loss(known, known[["gross_loss_g", "net_loss_fine_g"]], recent)[1]
    return np.asarray(np.maximum(told, known["net_loss_fine_g"].to_numpy(float)))


def needed_by_metal(costing: Costing, metal: str) -> Floats:
    """Return the fine grams of one metal each order of `known` takes, φm (W + L) with solder, shape (n_orders,)."""
    known, lost = costing.known, net_loss_expected(costing)
    fine = known["fine_g"].to_numpy(float) + lost
    own = (known["metal"] == metal).to_numpy()
    phi = known["phi_melted"].to_numpy(float)
    part = known[f"part_{metal}"].to_numpy(float)
    gross = known["alloy_g"].to_numpy(float) + np.divide(lost, phi, out=np.zeros(len(lost)), where=phi > 0)
    return np.where(own, fine, part * gross)


def exposure(houses: list[House], costing: Costing, market: Market) -> pd.DataFrame:
    """Return grams in the house against grams at our price, one row a metal.

    Returns
    -------
    DataFrame
        metal, in_house_g, ours_priced_g, needed_g, net_g, bought_forward_g, money_per_percent (negative: the shop loses when spot
        rises), spot, safe_g, issued_g, filings_g, refiner_g, borrowed_g, customers_g; NaN without a ledger, needed_g too without a price.
    """
    rows = []
    fixed = fixed_orders(costing.known)
    for house in houses:
        spot = float(market.now[market.place(house.metal)])
        needed = float(needed_by_metal(costing, house.metal)[fixed].sum()) if spot == spot else np.nan
        net = house.ours_priced_g + house.forward_g - needed
        rows.append((
            house.metal, house.in_house_g, house.ours_priced_g, needed, net, house.forward_g, net * spot / 100.0, spot, house.safe_g,
            float(house.issued_g.sum()), house.filings_g, house.refiner_g, house.borrowed_g, house.customers_g,
        ))  # fmt: skip
    return pd.DataFrame(rows, columns=list(EXPOSURE))


EXPOSURE = (
    "metal", "in_house_g", "ours_priced_g", "needed_g", "net_g", "bought_forward_g", "money_per_percent", "spot", "safe_g", "issued_g",
    "filings_g", "refiner_g", "borrowed_g", "customers_g",
)  # fmt: skip


def open_fixed(houses: list[House], costing: Costing, market: Market) -> pd.DataFrame:
    """Return the open orders at a fixed price with what spot does to them, columns of `open_fixed_table`."""
    parts = [_of_metal(house, costing, market) for house in houses]
    table = pd.concat(parts, ignore_index=True) if parts else _of_nothing()
    return table.sort_values("order_id", ignore_index=True)


def _of_nothing() -> pd.DataFrame:
    none = np.zeros(0)
    text = pd.Series([], dtype=object)
    return open_fixed_table(text, text, FixedOrders(none, none, none, none, none, none), none)


def _of_metal(house: House, costing: Costing, market: Market) -> pd.DataFrame:
    known = costing.known
    rows = np.flatnonzero(fixed_orders(known) & (known["metal"] == house.metal).to_numpy())
    rows = rows[np.lexsort([known["order_id"].to_numpy(object)[rows].astype(str), known["ordered_on"].to_numpy()[rows]])]
    here = known.iloc[rows]
    needed, issued = needed_by_metal(costing, house.metal)[rows], house.issued_g[rows]
    own = allocate(needed, issued, house.free_g)
    fix = here["fix_price_per_g"].to_numpy(float)
    loss_money = net_loss_expected(costing)[rows] * fix
    expected = costing.open_orders.set_index("order_id")["expected_cost"].reindex(here["order_id"]).to_numpy(float)
    own_cost = _own_cost(house, own, np.minimum(issued, needed), here)
    orders = FixedOrders(agreed_prices(costing, here), needed, own, own_cost, expected - loss_money, fix)
    spot = np.full(len(rows), float(market.now[market.place(house.metal)]))
    return open_fixed_table(here["order_id"], here["metal"], orders, spot)


def agreed_prices(costing: Costing, rows: pd.DataFrame) -> Floats:
    """Return the agreed price of open orders, money: `known` holds only what would be kept of a deposit until they are delivered."""
    return costing.open_orders.set_index("order_id")["price"].reindex(rows["order_id"]).to_numpy(float)


def _own_cost(house: House, own: Floats, issued: Floats, here: pd.DataFrame) -> Floats:
    """Return what a gram in hand for each order cost: issued ones as issued, the others as the pool, or as bought forward."""
    free = max(0.0, house.free_g - house.forward_g)
    forward = house.forward_cost_per_g if house.forward_cost_per_g == house.forward_cost_per_g else house.cost_per_g
    stock = (free * house.cost_per_g + house.forward_g * forward) / house.free_g if house.free_g > 0 else house.cost_per_g
    at_issue = here["cost_per_g"].fillna(house.cost_per_g).to_numpy(float)
    money = issued * at_issue + (own - issued) * stock
    return np.asarray(np.divide(money, own, out=np.full(len(own), house.cost_per_g), where=own > 0))


def houses_of(shop: Shop, costing: Costing, market: Market) -> list[House]:
    """Return the house of every metal of the shop's alloys, in the order gold, silver, platinum, palladium."""
    return [house_of(shop, costing, market, metal) for metal in METALS if metal in market.metals]
