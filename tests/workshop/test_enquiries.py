"""Enquiries: quotes with their answers, or orders where there are none."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from shoplib.intake.shop import Shop
from shoplib.workshop.asked import asked_in_orders, asked_in_quotes
from shoplib.workshop.axes import axes_of
from shoplib.workshop.enquiries import Enquiries, fit_enquiries
from tests.flow.shops import order, shop_of

AS_OF = np.datetime64("2026-03-27")
GOLD = [{"date": "2025-01-01", "metal": "gold", "price": 100.0, "per": "g", "currency": "EUR"}]
SHUT = np.zeros(0, "datetime64[D]")


def quote(number: int, won: float | None, day: str = "2026-02-02", **cells: Any) -> dict[str, Any]:
    return {"quote_id": f"Q{number}", "quoted_on": day, "style": "curb", "alloy": "18k", "weight_g": 10.0, "price": 1500.0, "lead_weeks": 4.0,
            "won": won, **cells}


def fit(shop: Shop) -> Enquiries:
    return fit_enquiries(shop, axes_of(shop), AS_OF, SHUT, np.random.default_rng(0), 20)


def test_metal_of_a_quote_is_weight_times_fineness_times_spot() -> None:
    """10 g of 750 at 100 a fine gram: 750."""
    shop = shop_of(quotes=[quote(1, 1.0)], metal_prices=GOLD)
    assert asked_in_quotes(shop, axes_of(shop), AS_OF).metal.tolist() == [750.0]


def test_a_quote_long_unanswered_counts_as_lost() -> None:
    """Blank for three months: lost; blank for a week: not known."""
    shop = shop_of(quotes=[quote(1, None, "2025-12-01"), quote(2, None, "2026-03-20")], metal_prices=GOLD)
    won = asked_in_quotes(shop, axes_of(shop), AS_OF).won
    assert won[0] == 0.0 and np.isnan(won[1])


def test_making_charges_are_priced_with_their_metal() -> None:
    """At delivery the price is the making charge: its metal comes on top; a customer's own metal costs nothing."""
    rows = [order("A", "2026-03-02", metal_terms="at_delivery", price=500.0, quoted_weight_g=10.0),
            order("B", "2026-03-02", metal_terms="customer_metal", price=500.0, quoted_weight_g=10.0)]
    shop = shop_of(orders=rows, metal_prices=GOLD)
    asked = asked_in_orders(shop, axes_of(shop))
    assert asked.price == pytest.approx([1250.0, 500.0]) and asked.metal == pytest.approx([750.0, 0.0])


def test_contribution_is_price_less_metal_and_what_does_not_come_back() -> None:
    """Loss 3 ÷ 97 of the metal, 92 % × 98.5 % of it back (policy's defaults): 750 − 750 × 0.0309 × 0.0938 = 747.8, worked by hand."""
    shop = shop_of(quotes=[quote(1, 1.0)], metal_prices=GOLD)
    assert asked_in_quotes(shop, axes_of(shop), AS_OF).contribution[0] == pytest.approx(1500 - 750 * (1 + 3 / 97 * (1 - 0.92 * 0.985)))


def test_without_quotes_every_order_is_taken() -> None:
    """Orders stand for enquiries, the answer to the wait is off, and it is said."""
    told = fit(shop_of(orders=[order(f"A{i}", "2026-02-02") for i in range(40)], metal_prices=GOLD))
    assert not told.has_quotes and np.isinf(told.pieces.win_logit).all() and not told.win_wait.any()
    assert "no_quotes" in [finding.code for finding in told.findings]


def test_orders_over_won_quotes_are_shown_and_doubted() -> None:
    """Forty orders against twenty won quotes: scaled by two, a caution."""
    quotes = [quote(i, float(i % 2), order_id=None) for i in range(40)]
    told = fit(shop_of(orders=[order(f"A{i}", "2026-02-02") for i in range(40)], quotes=quotes, metal_prices=GOLD))
    assert told.win_scale == 2.0
    assert [f.level for f in told.findings if f.code == "orders_over_quotes"] == ["warn"]


def test_a_metal_without_a_price_does_not_break_the_fit() -> None:
    """No price table row for the metal: the ratio of the usual piece stands in."""
    told = fit(shop_of(orders=[order("A")], quotes=[quote(i, float(i % 2)) for i in range(60)], metal_prices=[]))
    assert told.has_quotes and np.isfinite(told.pieces.win_logit).all()
