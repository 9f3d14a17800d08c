"""Grams in the house against grams at our price."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shoplib.costing import cost
from shoplib.pricing.exposure import House, exposure, houses_of, open_fixed

from .shops import AS_OF, market, tiny

grams = st.floats(0, 5000)


def ledger(kind, fine_g, day="2026-03-02", **cells):
    return {"date": day, "kind": kind, "metal": "gold", "gross_g": fine_g, "fineness": 1000.0, **cells}


COUNT = ledger("stock_count", 100.0, "2026-02-02", cost=8000.0)


def order(number, grams=40.0, terms="fixed", **cells):
    return {
        "order_id": number, "ordered_on": "2026-03-10", "style": "curb", "alloy": "18k", "price": 3300.0, "quoted_weight_g": grams,
        "metal_terms": terms, **cells,
    }  # fmt: skip


def told(*rows, orders=()):
    shop = tiny(metal_ledger=rows, orders=orders)
    here, costing = market(shop), cost(shop, AS_OF)
    houses = houses_of(shop, costing, here)
    return exposure(houses, costing, here).set_index("metal").loc["gold"], open_fixed(houses, costing, here)


def test_grams_counted_are_ours():
    """100 g counted, nothing sold: 100 g long, and 1 % of 88 on them is 88 (worked by hand)."""
    row, _ = told(COUNT)
    assert row[["in_house_g", "ours_priced_g", "net_g", "money_per_percent"]].to_list() == pytest.approx([100.0, 100.0, 100.0, 88.0])


def test_borrowed_metal_is_in_the_house_but_no_cover():
    """50 g borrowed and not priced: 150 g in the house, 100 g at our price (worked by hand)."""
    row, _ = told(COUNT, ledger("borrowed", 50.0))
    assert row[["in_house_g", "ours_priced_g", "borrowed_g"]].to_list() == pytest.approx([150.0, 100.0, 50.0])


def test_borrowed_metal_that_was_priced_is_cover():
    """20 of the 50 g were bought: 120 g at our price (worked by hand)."""
    row, _ = told(COUNT, ledger("borrowed", 50.0), ledger("priced", 20.0, cost=1760.0))
    assert row[["ours_priced_g", "borrowed_g"]].to_list() == pytest.approx([120.0, 30.0])


def test_metal_bought_forward_covers_before_it_comes():
    """30 g due in April: net 130 g, none of them in the house yet (worked by hand)."""
    row, _ = told(COUNT, ledger("bought_forward", 30.0, cost=2580.0, due_on="2026-04-15"))
    assert row[["in_house_g", "bought_forward_g", "net_g"]].to_list() == pytest.approx([100.0, 30.0, 130.0])


def test_a_fixed_order_needs_its_metal():
    """40 g of 18k: 30 g fine, before any order was delivered that tells a loss; those at delivery need none at a fixed price."""
    (fixed, _), (later, _) = told(COUNT, orders=[order("N1")]), told(COUNT, orders=[order("N1", terms="at_delivery")])
    assert (fixed["needed_g"], later["needed_g"]) == (pytest.approx(30.0), 0.0)


def test_more_sold_than_owned_loses_when_spot_rises():
    """Ten orders against 100 g: short, and 1 % on spot costs 1 % of 88 for each gram (worked by hand)."""
    row, _ = told(COUNT, orders=[order(f"N{k}") for k in range(10)])
    assert row["net_g"] < -190.0 and row["money_per_percent"] == pytest.approx(row["net_g"] * 0.88)


def test_stock_covers_orders_as_they_were_placed():
    """100 g for ten orders of 30 g and loss: three covered, the fourth in part, six not at all."""
    _, table = told(COUNT, orders=[order(f"N{k}", ordered_on=f"2026-03-{10 + k}") for k in range(10)])
    short = table["fine_g_uncovered"].to_numpy()
    assert (short[:3] == 0).all() and 0 < short[3] < short[4] and np.ptp(short[4:]) < 1e-9 and table["breakeven_spot"].isna().sum() == 3


def test_an_order_fixed_when_metal_was_dear_breaks_even_above_spot():
    """Its own figures: price less costs over grams (nothing in the house)."""
    _, table = told(orders=[order("N1")])
    one = table.iloc[0]
    assert one["breakeven_spot"] == pytest.approx((3300.0 - one["other_costs"]) / one["fine_g_needed"])


def test_without_a_ledger_grams_at_hand_are_not_known():
    """NaN, not zero; what orders need is known."""
    row, _ = told(orders=[order("N1")])
    assert np.isnan(row["net_g"]) and row["needed_g"] > 0


@given(grams, grams, grams, grams, grams, grams)
def test_all_grams_have_an_owner(safe, borrowed, customers, filings, refiner, issued):
    """In the house = ours without what is at the refiner + borrowed + customers'."""
    one = House("gold", safe, borrowed, customers, filings, refiner, np.array([issued]), 0.0, np.nan, 80.0)
    assert one.in_house_g == pytest.approx(one.ours_priced_g - refiner + borrowed + customers, abs=1e-6)
