"""Metal to buy by week: what is taken beyond what is there."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from shoplib.pricing.metal_to_buy import deposit_share, to_buy

from .shops import TODAY, tiny


def test_stock_is_used_first():
    """10 g a week with 25 g at hand: nothing for two weeks, 5 in the third, 10 in the fourth (worked by hand)."""
    assert to_buy(np.full((1, 4), 10.0), np.full(4, 25.0)).tolist() == [[0.0, 0.0, 5.0, 10.0]]


def test_metal_bought_forward_comes_in_its_week():
    """20 g come in week 3: 5 and 10 are bought before, then 5 less than is taken are left over (worked by hand)."""
    assert to_buy(np.full((1, 4), 10.0), np.array([5.0, 5.0, 25.0, 25.0])).tolist() == [[5.0, 10.0, 0.0, 0.0]]


@given(arrays(float, (3, 8), elements=st.floats(0, 500)), st.floats(0, 2000))
def test_all_told_the_shortage_is_bought(issued, at_hand):
    """The sum over the weeks is what is taken beyond what was there, never less than zero in a week."""
    bought = to_buy(issued, np.full(8, at_hand))
    assert bought.sum(axis=1) == pytest.approx(np.maximum(issued.sum(axis=1) - at_hand, 0.0), abs=1e-6) and bought.min() >= 0.0


def test_deposits_as_a_share_of_prices():
    """300 + 0 of 1,000 + 2,000; an order of two years ago is left out (worked by hand)."""
    cells = {"style": "curb", "alloy": "18k", "quoted_weight_g": 40.0}
    rows = [("2026-01-05", 1000.0, 300.0), ("2026-02-05", 2000.0, None), ("2024-02-05", 5000.0, 5000.0)]
    orders = [
        {"order_id": f"N{k}", "ordered_on": day, "price": price, "deposit": paid, **cells} for k, (day, price, paid) in enumerate(rows)
    ]
    assert deposit_share(tiny(orders=orders), TODAY) == pytest.approx(0.1)
