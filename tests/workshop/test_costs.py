"""Costs beside the metal, per money of metal."""

from __future__ import annotations

import pytest

from shoplib.costing import cost
from shoplib.workshop import fitted
from shoplib.workshop.axes import axes_of
from shoplib.workshop.costs import measured_share, policy_share
from tests.flow.shops import AS_OF, order, shop_of

GOLD = [{"date": "2025-01-01", "metal": "gold", "price": 100.0, "per": "g", "currency": "EUR"}]


def test_without_a_past_the_policy_speaks() -> None:
    """Loss 3 ÷ 97 of the metal, less 92 % × 98.5 % of it back (policy's defaults, worked by hand)."""
    shop = shop_of(orders=[order("A")], metal_prices=GOLD)
    told = measured_share(cost(shop, AS_OF), shop, axes_of(shop))
    assert told == pytest.approx(policy_share(shop, axes_of(shop))) and told[0] == pytest.approx(3 / 97 * (1 - 0.92 * 0.985))


def test_stones_and_work_sent_out_are_measured() -> None:
    """Twenty orders of 40 g 18k (3,000 of metal) with stones for 300 each: a tenth of the metal more than the loss alone."""
    rows = [order(f"A{i}", "2026-02-02", delivered_on="2026-03-02", finished_weight_g=40.0, price=5000.0, stones_cost=300.0) for i in range(20)]
    shop, bare = shop_of(orders=rows, metal_prices=GOLD), shop_of(orders=[{**row, "stones_cost": 0.0} for row in rows], metal_prices=GOLD)
    with_stones, without = (measured_share(cost(one, AS_OF), one, axes_of(one))[0] for one in (shop, bare))
    assert with_stones - without == pytest.approx(0.1, abs=0.001)


def test_the_workshop_takes_the_measured_costs() -> None:
    """Contribution of a piece: price less metal and less the measured share of it."""
    rows = [order(f"A{i}", "2026-02-02", delivered_on="2026-03-02", finished_weight_g=40.0, price=5000.0, stones_cost=300.0) for i in range(40)]
    shop = shop_of(orders=rows, metal_prices=GOLD)
    costing = cost(shop, AS_OF)
    workshop = fitted(shop, AS_OF, draws=2, costing=costing).workshop
    assert workshop.piece_contribution[0] == pytest.approx(costing.orders["contribution"].mean(), rel=0.01)
