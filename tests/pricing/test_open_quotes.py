"""Quotes not answered yet, and what spot did to them since they were given."""

import numpy as np
import pytest

from shoplib.pricing.open_quotes import open_quotes

from .shops import market, tiny

LOSS = {"18k": 0.01, "18k white": 0.01, "925": 0.0}


def quote(number, day, won=None, alloy="18k", **cells):
    return {"quote_id": number, "quoted_on": day, "style": "curb", "alloy": alloy, "weight_g": 40.0, "price": 3000.0, "won": won, **cells}


def found(*rows):
    shop = tiny(quotes=rows)
    return open_quotes(shop, market(shop), LOSS)


def test_what_spot_took_since_it_was_given():
    """40 × 0.75 × 1.01 = 30.3 g: making charge 3,000 − 30.3 × 80 = 576.00 then, 3,000 − 30.3 × 88 = 333.60 now (worked by hand)."""
    one = found(quote("Q1", "2026-02-27")).iloc[0]
    assert one[["fine_g", "making_charge_when_quoted", "making_charge_now"]].to_list() == pytest.approx([30.3, 576.0, 333.6])


def test_answered_and_forgotten_quotes_are_not_open():
    """Won, lost, became an order, given 61 days ago, dated tomorrow: none of them."""
    rows = [quote("Q1", "2026-02-27", 1.0), quote("Q2", "2026-02-27", 0.0), quote("Q3", "2026-02-27", order_id="N1")]
    assert found(*rows, quote("Q4", "2026-01-25"), quote("Q5", "2026-03-28")).empty


def test_a_quote_lapses_by_the_shops_own_days():
    """Given 14 days ago it stands today for the last time, given 15 days ago it does not."""
    assert found(quote("Q1", "2026-03-13"), quote("Q2", "2026-03-12"))["stands"].to_list() == [True, False]


def test_all_metals_of_the_alloy_count():
    """White gold: 30.3 g gold at 88 and 40 × 0.125 × 1.01 g palladium at 30 make 2,817.90 (worked by hand)."""
    assert found(quote("Q1", "2026-03-20", alloy="18k white"))["metal_now"].to_list() == pytest.approx([30.3 * 88 + 5.05 * 30])


def test_a_metal_without_a_price_leaves_the_money_open():
    """Grams are known, money is not."""
    one = found(quote("Q1", "2026-03-20", alloy="925")).iloc[0]
    assert one["fine_g"] == pytest.approx(37.0) and np.isnan(one["making_charge_now"])
