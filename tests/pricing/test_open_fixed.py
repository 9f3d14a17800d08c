"""Open orders at a fixed price, figure by figure as worked by hand (one order of 5,200.00 struck at 95.00, spot today 104.50)."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shoplib.pricing.open_fixed import FixedOrders, allocate

NEEDED, SPOT, FIX, COSTS = 0.75 * 60.6, 104.50, 95.00, 513.0


def order(own=20.0, price=5200.0):
    one = [np.array([value]) for value in (price, NEEDED, own, 93.0, COSTS, FIX)]
    return FixedOrders(*one)


def test_uncovered_grams():
    """45.450 needed less 20.000 in hand (worked by hand)."""
    assert order().uncovered_g[0] == pytest.approx(25.450, abs=1e-9)


def test_margin_at_the_fix():
    """5,200 − 45.45 × 95 − 513 = 369.25 (worked by hand)."""
    assert order().making_margin_at(FIX)[0] == pytest.approx(369.25, abs=1e-9)


def test_margin_with_all_metal_at_todays_spot():
    """5,200 − 45.45 × 104.50 − 513 = −62.525 (worked by hand)."""
    assert order().making_margin_at(SPOT)[0] == pytest.approx(-62.525, abs=1e-9)


def test_book_margin_if_the_rest_is_bought_today():
    """5,200 − 20 × 93 − 25.45 × 104.50 − 513 = 167.475 (worked by hand)."""
    assert order().book_margin_at(SPOT)[0] == pytest.approx(167.475, abs=1e-9)


def test_money_per_percent():
    """−25.45 × 1.045 (worked by hand): lost when spot rises."""
    assert order().money_per_percent(SPOT)[0] == pytest.approx(-26.59525, abs=1e-9)


def test_breakeven_spot():
    """2,827 ÷ 25.45 (worked by hand)."""
    assert order().breakeven_spot[0] == pytest.approx(111.080550, abs=1e-6)


def test_breakeven_spot_with_nothing_in_hand():
    """(5,200 − 513) ÷ 45.45 (worked by hand)."""
    assert order(own=0.0).breakeven_spot[0] == pytest.approx(103.124312, abs=1e-6)


def test_deposits_that_cover():
    """45.45 × 95 without and 25.45 × 95 with metal in hand (worked by hand)."""
    assert [order(own=own).deposit_that_covers[0] for own in (0.0, 20.0)] == pytest.approx([4317.75, 2417.75], abs=1e-9)


def test_a_deposit_spent_on_metal_moves_the_breakeven():
    """1,500 ÷ 95 more grams in hand at 95: 9.660526 g short, break-even 137.363116, book margin 317.475 (worked by hand)."""
    more = 1500.0 / 95.0
    cost = np.array([(20.0 * 93.0 + 1500.0) / (20.0 + more)])
    one = FixedOrders(np.array([5200.0]), np.array([NEEDED]), np.array([20.0 + more]), cost, np.array([COSTS]), np.array([FIX]))
    found = (one.uncovered_g[0], one.breakeven_spot[0], one.book_margin_at(SPOT)[0])
    assert found == pytest.approx((9.660526, 137.363116, 317.475), abs=1e-5)


def test_a_covered_order_has_no_breakeven():
    """Nothing to buy: no spot can turn it."""
    assert np.isnan(order(own=50.0).breakeven_spot[0])


@given(st.floats(3000, 9000), st.floats(0, 45))
def test_at_the_breakeven_spot_nothing_is_left(price, own):
    """Book margin at the break-even spot is zero, whatever price and grams in hand."""
    one = order(own=own, price=price)
    assert one.book_margin_at(one.breakeven_spot)[0] == pytest.approx(0.0, abs=1e-6)


def test_own_metal_first_then_stock_in_order():
    """10, 10, 10 needed; 4, 12, 0 issued; 9 in stock: 2 are left over from the second (worked by hand)."""
    assert allocate(np.array([10.0, 10.0, 10.0]), np.array([4.0, 12.0, 0.0]), 9.0).tolist() == [10.0, 10.0, 5.0]
