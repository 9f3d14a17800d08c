"""Spot as prices see it, and whether the metal or the currency moved it."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shoplib.pricing.market import moves, quoted_in, struck_prices

from .shops import TODAY, market, price, tiny

STRUCK = np.array(["2026-01-05"], "datetime64[D]")
dollars = st.floats(10, 500)
rates = st.floats(0.5, 2.0)


def in_dollars(then=60.0, now=66.0, rate_then=0.9, rate_now=0.85):
    prices = [price("2026-01-02", "gold", then, "USD"), price("2026-03-02", "gold", now, "USD")]
    fx = [{"date": "2026-01-02", "currency": "USD", "rate": rate_then}, {"date": "2026-03-02", "currency": "USD", "rate": rate_now}]
    return tiny(prices, fx=fx)


def moved(shop):
    return moves(shop, market(shop), STRUCK).set_index("metal").loc["gold"]


def test_metal_and_currency_are_told_apart():
    """60 USD × 0.90 = 54.00, 66 USD × 0.85 = 56.10: +3.889 %, of it +10 % by the metal and −5.556 % by the dollar (worked by hand)."""
    row = moved(in_dollars())
    assert row[["change_share", "from_metal_share", "from_currency_share"]].to_list() == pytest.approx([56.1 / 54 - 1, 0.1, 0.85 / 0.9 - 1])


def test_a_price_in_the_own_currency_is_all_metal():
    """80 to 88: +10 %, none of it by a currency (worked by hand)."""
    row = moved(tiny())
    assert row[["from_metal_share", "from_currency_share"]].to_list() == pytest.approx([0.1, 0.0])


@settings(max_examples=20)
@given(dollars, dollars, rates, rates)
def test_both_causes_together_are_the_move(then, now, rate_then, rate_now):
    """(1 + by the metal)(1 + by the currency) = 1 + change."""
    row = moved(in_dollars(then, now, rate_then, rate_now))
    assert (1 + row["from_metal_share"]) * (1 + row["from_currency_share"]) == pytest.approx(1 + row["change_share"])


def test_a_metal_without_prices_has_no_spot():
    """Silver is in an alloy, but nobody wrote a price down."""
    here = market()
    assert np.isnan(here.now[here.place("silver")])


def test_a_price_of_tomorrow_is_not_seen():
    """Spot of today stays 88 whatever is written for the day after."""
    later = market(tiny([price("2026-03-02", "gold", 88.0), price("2026-03-28", "gold", 500.0)]))
    assert later.now[later.place("gold")] == 88.0


def test_struck_prices_end_today():
    """The price of the day after is not among them."""
    days, prices, often = struck_prices(tiny([price("2026-03-02", "gold", 88.0), price("2026-03-28", "gold", 500.0)]), "gold", TODAY)
    assert (days.tolist(), prices.tolist(), often) == ([np.datetime64("2026-03-02").item()], [88.0], "daily")


def test_the_currency_is_that_of_the_last_price():
    """Written in euro first, in dollars since March."""
    shop = tiny([price("2026-01-02", "gold", 80.0), price("2026-03-02", "gold", 90.0, "USD")])
    assert quoted_in(shop, "gold", TODAY) == "USD"
